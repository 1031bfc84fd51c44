"""Temperature of what leaves the purge outlet: air stays warm, oxidizer throttled to the atmosphere gets very cold.

Throttling keeps the enthalpy. Saturated liquid ends as a mixture at its boiling point, -88.5 C at one atmosphere;
saturated vapour from 30 bar up ends between -58 and -89 C, computed with CoolProp. A cold outlet therefore
says that no air is left, not that the line holds liquid.
"""

from functools import lru_cache

from scipy.optimize import brentq

from oxlatch_sim.physics import nitrous
from oxlatch_sim.physics.grid import UniformTable
from oxlatch_sim.plant.bottle import AIR, LIQUID
from oxlatch_sim.plant.parameters import AMBIENT_PA

LOW_PA, HIGH_PA, STEP_PA = 10.0e5, 70.0e5, 5.0e5
SENSOR_LAG_S = 0.3
WARMING_LAG_S = 6.0


class PurgeOutlet:
    """Temperature at the outlet as a sensor on it follows what leaves, and warms again when nothing does."""

    def __init__(self, ambient_k: float) -> None:
        self.ambient_k = ambient_k
        self.temperature_k = ambient_k

    def step(self, dt: float, flow_kg_s: float, phase: int, pressure_pa: float) -> None:
        """Advance by `dt` while this flow of this phase passes."""
        if flow_kg_s > 0.0:
            target_k, lag_s = outlet_k(phase, pressure_pa, self.ambient_k), SENSOR_LAG_S
        elif self.temperature_k == self.ambient_k:
            return
        else:
            target_k, lag_s = self.ambient_k, WARMING_LAG_S
        gap_k = target_k - self.temperature_k
        self.temperature_k = target_k if -0.01 < gap_k < 0.01 else self.temperature_k + gap_k * dt / (lag_s + dt)


@lru_cache(maxsize=1)
def throttled_vapour_k() -> UniformTable:
    """Outlet temperature of saturated vapour against line pressure, 10 to 70 bar, at one atmosphere outside."""
    boiling_k = nitrous.saturation_temperature_k(AMBIENT_PA)
    coldest = nitrous.vapour_enthalpy_j_kg(boiling_k)
    values = []
    for index in range(round((HIGH_PA - LOW_PA) / STEP_PA) + 1):
        enthalpy = nitrous.vapour_enthalpy_j_kg(nitrous.saturation_temperature_k(LOW_PA + index * STEP_PA))
        values.append(boiling_k if enthalpy <= coldest else _gas_at(enthalpy, boiling_k))
    return UniformTable("purge outlet temperature", LOW_PA, STEP_PA, values)


def outlet_k(phase: int, pressure_pa: float, ambient_k: float) -> float:
    """Temperature at the outlet while this phase stands at the block at this pressure."""
    if phase == AIR:
        return ambient_k
    boiling_k = nitrous.saturation_temperature_k(AMBIENT_PA)
    if phase == LIQUID:
        return boiling_k
    return throttled_vapour_k()(min(max(pressure_pa, LOW_PA), HIGH_PA))


def _gas_at(enthalpy_j_kg: float, boiling_k: float) -> float:
    def excess(temperature_k: float) -> float:
        return nitrous.state_at_pressure_temperature(AMBIENT_PA, temperature_k).enthalpy_j_kg - enthalpy_j_kg

    return float(brentq(excess, boiling_k + 0.01, 320.0, xtol=1e-3))
