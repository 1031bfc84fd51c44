"""Lead and tail of each stage from physics: when each fluid reaches and leaves its nozzles over the tolerance box.

Lead: the shortest delay from oxidizer to fuel command at which fuel reaches neither 5 % nor half of its rated flow
before its oxidizer does. Tail: the shortest delay from fuel to oxidizer off at which it outlasts it in neither sense.
Both at every corner of the box, in whole controller ticks. What stays is oxidizer alone, at opening and at closing, and
the fuel left in the branch.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil

from oxlatch.settings import Settings
from oxlatch.vocabulary import TICK_MS
from oxlatch_sim.corners import all_corners, corner_plant
from oxlatch_sim.physics.tables import property_tables
from oxlatch_sim.plant.feed_flux import feed_flux
from oxlatch_sim.plant.parameters import PlantParameters
from oxlatch_sim.plant.stage import Stage

STEP_S = 2.5e-4
LONGEST_S = 0.4
SETTLED_S = 0.10
PROOF_SAMPLES_MS = 2.0 * TICK_MS
SHORTEST_LEAD_MS = 20.0
"""No lead shorter than this, whatever is computed: engineering judgement."""


@dataclass(frozen=True)
class StageTimes:
    """Milliseconds from a command until a flow passes 5 %, or half, of its rated value.

    `proof_ms` is the time until the proof switch makes.
    """

    oxidizer_on_ms: float
    oxidizer_half_on_ms: float
    proof_ms: float
    fuel_on_ms: float
    fuel_half_on_ms: float
    fuel_off_ms: float
    fuel_half_off_ms: float
    oxidizer_off_ms: float
    oxidizer_half_off_ms: float


@dataclass(frozen=True)
class StageStagger:
    """What the order of the valves of one stage should be, and what it leaves."""

    stage: int
    lead_ms: float
    tail_ms: float
    fuel_margin_all_stop_ms: float
    """By how much oxidizer outlasts fuel at the worst corner when both go off at once; negative is fuel alone."""
    residual_fuel_m3: float
    """Largest fuel volume that a shut branch can still drain."""
    times: tuple[StageTimes, ...]
    """One entry per corner of the box."""

    def opening_oxidizer_only_ms(self, lead_ms: float, waits_for_proof: bool) -> tuple[float, float]:
        """Shortest and longest time with oxidizer alone at the opening, over the box, with this lead."""
        alone = [
            _fuel_command_ms(each, lead_ms, waits_for_proof) + each.fuel_on_ms - each.oxidizer_on_ms
            for each in self.times
        ]
        return min(alone), max(alone)

    def closing_oxidizer_only_ms(self, tail_ms: float) -> tuple[float, float]:
        """Shortest and longest time with oxidizer alone at the end, over the box, with this tail."""
        alone = [tail_ms + each.oxidizer_off_ms - each.fuel_off_ms for each in self.times]
        return min(alone), max(alone)

    @property
    def proved_ms(self) -> float:
        """Longest time over the box from the oxidizer command until the proof counts for the controller."""
        return _whole_ticks(max(each.proof_ms for each in self.times) + PROOF_SAMPLES_MS)

    def both_flow_ms(self, lead_ms: float, waits_for_proof: bool) -> float:
        """Longest time over the box from the oxidizer command until half of both rated flows leaves the nozzles."""
        return max(
            max(_fuel_command_ms(each, lead_ms, waits_for_proof) + each.fuel_half_on_ms, each.oxidizer_half_on_ms)
            for each in self.times
        )


def _fuel_command_ms(times: StageTimes, lead_ms: float, waits_for_proof: bool) -> float:
    """The tick in which the fuel valve is commanded."""
    proved_ms = times.proof_ms + PROOF_SAMPLES_MS if waits_for_proof else 0.0
    return _whole_ticks(max(lead_ms, proved_ms))


def staggers(plant: PlantParameters, settings: Settings, corners: list[str] | None = None) -> list[StageStagger]:
    """Lead and tail of every stage over the box, or over the named corners.

    Errors: ValueError when a fluid of a stage does not flow within 0.4 s at some corner.
    """
    names = corners if corners is not None else all_corners()
    boxed = {_as_filled(corner_plant(name, plant, settings), plant): None for name in names}
    return [_stagger(index, list(boxed)) for index in range(len(plant.stages))]


def _as_filled(corner: PlantParameters, plant: PlantParameters) -> PlantParameters:
    """The corner with a full bottle: its content changes nothing here, and corners alike in all else are run once."""
    return replace(corner, bottle=replace(corner.bottle, fill_kg=plant.bottle.fill_kg))


def _stagger(index: int, boxed: list[PlantParameters]) -> StageStagger:
    times = [stage_times(plant, index) for plant in boxed]
    late_ms = max(
        max(each.oxidizer_on_ms - each.fuel_on_ms, each.oxidizer_half_on_ms - each.fuel_half_on_ms) for each in times
    )
    lead_ms = max(SHORTEST_LEAD_MS, _whole_ticks(late_ms))
    margin_ms = min(each.oxidizer_off_ms - each.fuel_off_ms for each in times)
    half_margin_ms = min(each.oxidizer_half_off_ms - each.fuel_half_off_ms for each in times)
    tail_ms = _whole_ticks(-min(margin_ms, half_margin_ms))
    return StageStagger(
        stage=index + 1,
        lead_ms=lead_ms,
        tail_ms=tail_ms,
        fuel_margin_all_stop_ms=margin_ms,
        residual_fuel_m3=max(_drains_m3(plant, index) for plant in boxed),
        times=tuple(times),
    )


def _drains_m3(plant: PlantParameters, index: int) -> float:
    branch = plant.stages[index].fuel_branch
    return branch.drain_share * branch.volume_m3


def _whole_ticks(wanted_ms: float) -> float:
    return float(TICK_MS * ceil(max(wanted_ms, 0.0) / TICK_MS - 1e-9))


def stage_times(plant: PlantParameters, index: int) -> StageTimes:
    """Times of one stage on its own, fed at bottle and set pressure, from a bench of its parts alone."""
    electrical = plant.electrical
    stage = Stage(
        plant.stages[index], plant.sensors, plant.hardware, plant.fuel.density_kg_m3, electrical.coil_temperature_k
    )
    stage.wired_and = False
    temperature_k = plant.bottle.temperature_k
    feed_pa = property_tables().saturation.pressure_pa(temperature_k)
    flux, density = feed_flux().liquid(feed_pa, temperature_k)
    for valve in (stage.oxidizer_valve, stage.fuel_valve):
        valve.rail(electrical.set_v)

    def step() -> None:
        valve, fuel_valve = stage.oxidizer_valve, stage.fuel_valve
        valve.differential_pa = feed_pa * (1.0 - stage.oxidizer_branch.ratio)
        valve.step(STEP_S)
        fuel_valve.differential_pa = plant.fuel.set_pa
        fuel_valve.step(STEP_S)
        stage.oxidizer_branch.step(STEP_S, valve.area_m2, flux, density)
        stage.fuel_branch.step(STEP_S, fuel_valve.area_m2, plant.fuel.set_pa, 0.0)
        stage.sense_proof(feed_pa)

    stage.ask(True, True)
    on = _crossings(stage, step, rising=True)
    for _ in range(round(SETTLED_S / STEP_S)):
        step()
    stage.ask(False, False)
    off = _crossings(stage, step, rising=False)
    return StageTimes(
        oxidizer_on_ms=on["oxidizer"],
        oxidizer_half_on_ms=on["half the oxidizer"],
        proof_ms=on["proof"],
        fuel_on_ms=on["fuel"],
        fuel_half_on_ms=on["half the fuel"],
        fuel_off_ms=off["fuel"],
        fuel_half_off_ms=off["half the fuel"],
        oxidizer_off_ms=off["oxidizer"],
        oxidizer_half_off_ms=off["half the oxidizer"],
    )


def _crossings(stage: Stage, step: Callable[[], None], rising: bool) -> dict[str, float]:
    """When each flow passes its threshold, ms."""
    exposure = stage.exposure
    found: dict[str, float] = {}
    for count in range(1, round(LONGEST_S / STEP_S) + 1):
        step()
        oxidizer, fuel = stage.oxidizer_branch.out_kg_s, stage.fuel_branch.out_kg_s
        now = {
            "oxidizer": oxidizer > exposure.oxidizer_threshold,
            "half the oxidizer": oxidizer > 0.5 * stage.parameters.rated_oxidizer_kg_s,
            "fuel": fuel > exposure.fuel_threshold,
            "half the fuel": fuel > 0.5 * stage.parameters.rated_fuel_kg_s,
            "proof": stage.proof,
        }
        for name, above in now.items():
            if above == rising:
                found.setdefault(name, 1000.0 * STEP_S * count)
        if len(found) == len(now):
            return found
    missing = [name for name in ("oxidizer", "fuel", "proof") if name not in found]
    does = "begin" if rising else "end"
    raise ValueError(f"stage {', '.join(missing) or 'flow'} does not {does} within {LONGEST_S:g} s")
