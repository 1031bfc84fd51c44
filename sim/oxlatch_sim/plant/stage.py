"""One stage: its two valves, its two branches, its proof switch and what leaves its nozzles."""

from oxlatch_sim.plant.branch import FuelBranch, OxidizerBranch
from oxlatch_sim.plant.exposure import Exposure
from oxlatch_sim.plant.parameters import HardwareParameters, SensorSet, StageParameters
from oxlatch_sim.plant.sensors import CHATTERING, GOOD, SLOW, STUCK_ON
from oxlatch_sim.plant.valve import Valve

SLOW_STEPS = 120
"""Plant steps by which a slow proof switch lags."""


class Stage:
    """Holds the parts of one stage and their wired interlock: the fuel driver needs oxidizer current and proof."""

    def __init__(
        self,
        parameters: StageParameters,
        sensors: SensorSet,
        hardware: HardwareParameters,
        fuel_density_kg_m3: float,
        coil_k: float,
    ) -> None:
        self.parameters = parameters
        self.hardware = hardware
        self.oxidizer_valve = Valve(parameters.oxidizer_valve, coil_k)
        self.fuel_valve = Valve(parameters.fuel_valve, coil_k)
        if not hardware.fast_fuel_clamps:
            self.fuel_valve.clamp_v = parameters.oxidizer_valve.clamp_v
        self.oxidizer_branch = OxidizerBranch(parameters.oxidizer_branch)
        self.fuel_branch = FuelBranch(parameters.fuel_branch, fuel_density_kg_m3)
        self.exposure = Exposure(parameters.rated_oxidizer_kg_s, parameters.rated_fuel_kg_s)
        self.fuel_asked = False
        self.proof = False
        self.proof_on_pa = sensors.proof_on_pa
        self.proof_off_pa = sensors.proof_off_pa
        self.oxidizer_kg_s = 0.0
        self.given_oxidizer_kg = 0.0
        self.given_fuel_kg = 0.0
        self.moving = True
        self.proof_fault = GOOD
        self._proof_count = 0
        self._slow_count = 0
        self.wired_and = hardware.hardware_and

    def ask(self, oxidizer: bool, fuel: bool) -> None:
        """What the controller drives; the fuel coil follows through the wired interlock."""
        self.oxidizer_valve.command(oxidizer)
        self.fuel_asked = fuel
        self.interlock()

    def interlock(self) -> None:
        """FU coil = command and OX current above hold and proof, each where fitted."""
        fuel = self.fuel_asked
        if fuel and self.wired_and:
            fuel = self.oxidizer_valve.holds() and (self.proof_wired() or not self.hardware.proof_switches)
        self.fuel_valve.command(fuel)

    def proof_wired(self) -> bool:
        """The proof switch as the wired interlock sees it."""
        fault = self.proof_fault
        if fault in (GOOD, SLOW):
            return self.proof
        if fault == CHATTERING:
            return self.proof and self._proof_count % 28 < 14
        return fault == STUCK_ON

    def sense_proof(self, feed_pa: float) -> None:
        """The switch after the oxidizer valve, with its hysteresis."""
        pressure = self.oxidizer_branch.ratio * feed_pa
        risen = pressure > (self.proof_off_pa if self.proof else self.proof_on_pa)
        if self.proof_fault:
            self._proof_count += 1
            self.moving = True
            if self.proof_fault == SLOW and risen != self.proof:
                self._slow_count += 1
                if self._slow_count < SLOW_STEPS:
                    return
        self._slow_count = 0
        self.proof = risen
