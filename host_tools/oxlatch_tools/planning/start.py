"""The first and last tenths of a second of one stage: when each fluid reaches the nozzles, and how lean it is
meanwhile.

Times from the moment the oxidizer valve is commanded. "At the nozzles" means half of the final flow. The metering jets
sit at the valve block; the tubes from there to the nozzles hold flashed mixture at a few bar, so what leaves the
nozzles follows the jets with one time constant.
"""

import math
from dataclasses import dataclass

from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_settings import lead_and_tail
from oxlatch_tools.planning.air import NITROUS_OXYGEN, air_at, air_flow_kg_s
from oxlatch_tools.planning.flow import Feed
from oxlatch_tools.planning.flux import liquid_flux, saturation_pa, valve_area
from oxlatch_tools.planning.stage_flow import Pattern, fuel_kg_s, oxidizer_kg_s

TICK_S = 0.005
PROOF_SAMPLES = 2
TUBE_DENSITY = 15.0  # kg/m3 at 2 to 3 bar, half vapour by mass: computed with CoolProp
AIR_RATIO = 14.6  # air to CH1.87 that burns completely, by mass
NITROUS_RATIO = AIR_RATIO * 0.2314 / NITROUS_OXYGEN  # the same for nitrous, by its oxygen
BUDGET_S = 0.090


@dataclass(frozen=True)
class StageStart:
    """Times of one stage, s."""

    oxidizer_at_nozzle: float
    fuel_commanded: float
    fuel_at_nozzle: float
    oxidizer_gone: float
    fuel_gone: float

    @property
    def opening_alone(self) -> float:
        """Oxidizer without fuel at the start; less than 0 would be fuel first."""
        return self.fuel_at_nozzle - self.oxidizer_at_nozzle

    @property
    def closing_alone(self) -> float:
        """Oxidizer without fuel at the end, from release."""
        return self.oxidizer_gone - self.fuel_gone


def branch_m3(bore: float, length: float, count: int) -> float:
    """Volume of all branches of one fluid."""
    return count * math.pi / 4 * bore**2 * length


def stage_start(installation: Installation, feed: Feed, number: int) -> StageStart:
    """Times of one stage started alone with the bottle at the tune temperature."""
    stage, order = installation.stages[number - 1], lead_and_tail(installation)
    oxidizer = installation.oxidizer_valve.opening + _half_s(installation, feed, number)
    proved = oxidizer + PROOF_SAMPLES * TICK_S if "oxidizer proof" in installation.sensors.fitted else 0.0
    commanded = math.ceil(max(order.lead_s, proved) / TICK_S - 1e-9) * TICK_S
    fuel_volume = branch_m3(stage.fuel_branch_bore, stage.fuel_branch_length, stage.nozzles)
    empty = fuel_volume * stage.fuel_branch_empty * installation.fuel.density
    through_valve = valve_area(installation.fuel_valve) * feed.fuel_flux
    opening = installation.fuel_valve.opening
    if installation.master_fuel_valve is not None:
        opening = max(opening, installation.master_fuel_valve.opening)
    return StageStart(
        oxidizer_at_nozzle=oxidizer,
        fuel_commanded=commanded,
        fuel_at_nozzle=commanded + opening + empty / through_valve,
        oxidizer_gone=order.tail_s + installation.oxidizer_valve.closing + _half_s(installation, feed, number),
        fuel_gone=installation.fuel_valve.closing,
    )


def _half_s(installation: Installation, feed: Feed, number: int) -> float:
    """Time in which the flow at the nozzles reaches half of its end value, or falls to half: ln 2 time constants."""
    stage = installation.stages[number - 1]
    volume = branch_m3(stage.oxidizer_branch_bore, stage.oxidizer_branch_length, stage.nozzles)
    area = feed.stages[number - 1].oxidizer_m2
    flux = liquid_flux(feed.block_pa(saturation_pa(installation.jets.tune_temperature), area))
    return math.log(2.0) * TUBE_DENSITY * volume / (area * flux)


def richness(installation: Installation, oxidizer: float, fuel: float) -> float:
    """Fuel over what burns completely, engine and stages together, at the first field of the file; 1 is exact."""
    air = air_flow_kg_s(installation, air_at(installation.airfields[0]))
    base_fuel = air / installation.engine.air_fuel_ratio
    return (base_fuel + fuel) / (air / AIR_RATIO + oxidizer / NITROUS_RATIO)


def leanest_in_start(installation: Installation, pattern: Pattern) -> float:
    """Least richness while stages open one after another and each fuel is late."""
    found = []
    for count in range(1, len(pattern) + 1):
        opened, fuelled = pattern[:count], pattern[: count - 1]
        found.append(
            richness(
                installation,
                oxidizer_kg_s(installation, opened),
                fuel_kg_s(installation, fuelled) if fuelled else 0.0,
            )
        )
    return min(found)
