"""Fuel supply: pump, regulator, master valve, and the block that the stage valves share. Pressures above ambient."""

from oxlatch_sim.plant.parameters import FuelSupplyParameters
from oxlatch_sim.plant.valve import Valve

LOWEST_BLOCK_PA = -0.9e5
SOFT = 1.0e4
"""Below a pressure difference of about 7 Pa the root law becomes a straight line, so that flow can come to rest."""


class FuelSupply:
    """Regulated pressure upstream of the master valve, and the block behind it with its small compliance."""

    def __init__(self, parameters: FuelSupplyParameters, master_fitted: bool, coil_k: float) -> None:
        self.parameters = parameters
        self.master_fitted = master_fitted
        self.master = Valve(parameters.master_valve, coil_k)
        self.pump_on = True
        self.set_pa = parameters.set_pa
        self.droop_share = 1.0
        self.surge_pa = 0.0
        self.supply_pa = parameters.set_pa
        self.block_pa = parameters.set_pa
        self.engine_kg_s = 0.0
        self.block_leak_kg_s = 0.0
        self.swell_pa_s = 0.0
        self.steady = True

    def step(self, dt: float, drawn_kg_s: float) -> None:
        """Advance both pressures by `dt` while the stage valves draw `drawn_kg_s`."""
        p = self.parameters
        target = 0.0
        lag = p.pump_decay_s
        if self.pump_on:
            target = self.set_pa + self.surge_pa - self.droop_share * p.droop_pa_s_kg * drawn_kg_s
            lag = p.regulator_lag_s
            target = max(target, 0.0)
        elif drawn_kg_s <= 0.0:
            lag = 10.0 * p.pump_decay_s
        before = self.supply_pa
        self.supply_pa = before + (target - before) * dt / (lag + dt)
        moved = self.supply_pa - before
        if not self.master_fitted:
            self.block_pa = self.supply_pa
            self.steady = -20.0 < moved < 20.0
            return
        area = self.master.area_m2
        block = self.block_pa
        if area == 0.0 and drawn_kg_s == 0.0 and self.block_leak_kg_s == 0.0:
            self.block_pa = block + self.swell_pa_s * dt
            self.steady = -20.0 < moved < 20.0
            return
        self._block(dt, drawn_kg_s + self.block_leak_kg_s, area)
        change = self.block_pa - block
        self.steady = -20.0 < moved < 20.0 and -20.0 < change < 20.0

    def _block(self, dt: float, drawn_kg_s: float, area: float) -> None:
        """Mass balance of the block, linearised in its own pressure so that a small block stays stable."""
        density = self.parameters.density_kg_m3
        across = self.supply_pa - self.block_pa
        double = 2.0 * density
        root = (double * abs(across) + SOFT) ** 0.5
        inflow = area * double * across / root
        slope = area * density / root if double * abs(across) > SOFT else area * double / root
        stiffness = self.parameters.block_m3_pa * density
        change = (inflow - drawn_kg_s) * dt / (stiffness + slope * dt)
        # A manifold below ambient can pull the block below it too, but never below vacuum.
        self.block_pa = max(self.block_pa + change, LOWEST_BLOCK_PA)
