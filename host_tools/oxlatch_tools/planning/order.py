"""Which valve goes first and by how much: lead, tail and stagger from valve times and branch volumes.

The simulator's own parts are run alone, at every corner of the tolerance box: the shortest lead at which fuel reaches
no nozzle before its oxidizer, the shortest tail at which it leaves none after it. The file may state longer ones,
measured on the bench; without a statement the computed ones are packed for the controller.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from oxlatch.settings import Settings
from oxlatch.vocabulary import TICK_MS
from oxlatch_sim.plant.parameters import PlantParameters
from oxlatch_sim.stagger import StageStagger, staggers
from oxlatch_tools.installation import Installation, InstallationError, Problem
from oxlatch_tools.installation_plant import plant_parameters
from oxlatch_tools.planning.page import Column, Finding, Table

SHORTEST_TAIL_MS = 5.0
"""No tail shorter than one tick, so that the order of shutting stands in the commands too: engineering judgement."""
LONGEST_TRY_TICKS = 16
"""The record's own bound: 80 ms."""
COMPUTED_WORD = "computed"
FILE_WORD = "installation file"
SOURCE = "valve, coil and branch models of the simulator; Dyer and equilibrium flux, elementary mechanics"
FORMULA = "per stage the largest difference of first flows (5 % and 50 % of rated) over every corner of the box"


@dataclass(frozen=True)
class Order:
    """What is packed, where it comes from, and what every stage needs. `lead_s` and `tail_s` hold for all stages.

    `problem` says why nothing could be computed; `stages` is empty then, and the file states both times.
    """

    lead_s: float
    tail_s: float
    lead_from: str
    tail_from: str
    stages: tuple[StageStagger, ...]
    problem: str = ""

    @property
    def lead_needed_s(self) -> float:
        """The longest lead that any stage needs."""
        return max(stage.lead_ms for stage in self.stages) / 1000.0

    @property
    def lead_limit_ticks(self) -> int:
        """How long a stage is tried before it is given up: twice what the slowest healthy proof takes, within bounds.

        Twice is engineering judgement; every tick more is oxidizer alone when a proof fails.
        """
        proved_ms = max((stage.proved_ms for stage in self.stages), default=LONGEST_TRY_TICKS * TICK_MS)
        lead_ticks = math.ceil(1000.0 * self.lead_s / TICK_MS - 1e-9)
        return min(max(math.ceil(2.0 * proved_ms / TICK_MS), lead_ticks + 2), LONGEST_TRY_TICKS)

    @property
    def tail_needed_s(self) -> float:
        """The longest tail that any stage needs."""
        return max(SHORTEST_TAIL_MS, *(stage.tail_ms for stage in self.stages)) / 1000.0


BOX_LIMITS = ("supply_permit_mv", "supply_top_mv", "bus_permit_mv", "bus_surge_mv")
"""Settings that bound the tolerance box: pressures and voltages at which the controller becomes ready."""


def order_of(installation: Installation, limits: Mapping[str, int]) -> Order:
    """Lead and tail of an installation; `limits` gives the settings that bound the tolerance box.

    Errors: InstallationError when a fluid of a stage does not flow within 0.4 s at some corner and the file leaves
    lead or tail out.
    """
    timing = installation.timing
    try:
        stages = _needed(plant_parameters(installation), tuple(limits[name] for name in BOX_LIMITS))
    except ValueError as error:
        if timing.lead is not None and timing.tail is not None:
            return Order(timing.lead, timing.tail, FILE_WORD, FILE_WORD, (), str(error))
        problem = Problem("stages", f"{error}, somewhere in the tolerance box", "valves and branches that flow sooner")
        raise InstallationError(installation.aircraft.name, [problem]) from error
    order = Order(0.0, 0.0, COMPUTED_WORD, COMPUTED_WORD, stages)
    if timing.lead is None:
        order = replace(order, lead_s=order.lead_needed_s)
    else:
        order = replace(order, lead_s=timing.lead, lead_from=FILE_WORD)
    if timing.tail is None:
        return replace(order, tail_s=order.tail_needed_s)
    return replace(order, tail_s=timing.tail, tail_from=FILE_WORD)


@lru_cache(maxsize=32)
def _needed(plant: PlantParameters, limits: tuple[int, ...]) -> tuple[StageStagger, ...]:
    settings = Settings()
    for name, value in zip(BOX_LIMITS, limits, strict=True):
        setattr(settings, name, value)
    return tuple(staggers(plant, settings))


COLUMNS = (
    Column("stage", "Stage"),
    Column("lead", "Lead needed", "milliseconds"),
    Column("tail", "Tail needed", "milliseconds"),
    Column("opening_low", "O alone, opening, from", "milliseconds"),
    Column("opening_high", "to", "milliseconds"),
    Column("closing_low", "O alone, closing, from", "milliseconds"),
    Column("closing_high", "to", "milliseconds"),
    Column("margin", "O outlasts F when both go off at once, by at least", "milliseconds"),
    Column("residual", "F left to drain, up to", "small volume"),
)


def order_table(installation: Installation, order: Order) -> Table:
    """Per stage what is needed and what stays, over the tolerance box, with the lead and tail in use."""
    proof = "oxidizer proof" in installation.sensors.fitted
    rows: list[tuple[str | float | None, ...]] = []
    for stage in order.stages:
        opening = stage.opening_oxidizer_only_ms(1000.0 * order.lead_s, proof)
        closing = stage.closing_oxidizer_only_ms(1000.0 * order.tail_s)
        times_ms = (stage.lead_ms, stage.tail_ms, *opening, *closing, stage.fuel_margin_all_stop_ms)
        rows.append((f"{stage.stage}", *(each / 1000.0 for each in times_ms), stage.residual_fuel_m3))
    note = (
        f"In use for every stage: lead {1e3 * order.lead_s:.0f} ms ({order.lead_from}), tail "
        f"{1e3 * order.tail_s:.0f} ms ({order.tail_from}). The box: bottle and bus as far as the controller becomes "
        "ready, valve times 0.8 to 1.25 times, branch volumes 0.8 to 1.25 times (judgement). "
        + (
            f"Fuel also waits for the oxidizer's proof; without it a stage is given up after "
            f"{TICK_MS * order.lead_limit_ticks} ms."
            if proof
            else "No proof is fitted: the lead alone decides."
        )
    )
    return Table("order", "Order of the valves over the tolerance box", COLUMNS, rows, FORMULA, SOURCE, note)


def order_findings(installation: Installation, order: Order) -> list[Finding]:
    """Where lead, tail or stagger of the file do not fit what the valves and branches need."""
    if order.problem:
        allowed = "flow within 0.4 s at every corner of the tolerance box"
        return [Finding("exceeded", "stages", order.problem, allowed, "Lead and tail are not checked.")]
    proof = "oxidizer proof" in installation.sensors.fitted
    found = []
    for key, used_s, needed_s, change in (
        ("lead", order.lead_s, order.lead_needed_s, "Fuel would come first at some corner."),
        ("tail", order.tail_s, order.tail_needed_s, "Fuel would outlast oxidizer at some corner."),
    ):
        if used_s < needed_s - 1e-9:
            allowed = f"{1e3 * needed_s:.0f} ms or more, or left out to be computed"
            found.append(Finding("exceeded", f"timing.{key}", f"{1e3 * used_s:.0f} ms", allowed, change))
        elif used_s > needed_s + 1e-9:
            allowed = f"{1e3 * needed_s:.0f} ms is enough over the tolerance box"
            more = "What is longer is oxidizer alone."
            found.append(Finding("note", f"timing.{key}", f"{1e3 * used_s:.0f} ms", allowed, more))
    late_ms = max(stage.proved_ms for stage in order.stages)
    if proof and late_ms > LONGEST_TRY_TICKS * TICK_MS:
        allowed = f"up to {LONGEST_TRY_TICKS * TICK_MS} ms over the tolerance box"
        found.append(Finding("exceeded", "oxidizer_valve.opening", f"proof comes after {late_ms:.0f} ms", allowed))
    settled_ms = max(stage.both_flow_ms(1000.0 * order.lead_s, proof) for stage in order.stages)
    if 1e3 * installation.timing.stagger < settled_ms:
        found.append(
            Finding(
                "exceeded",
                "timing.stagger",
                f"{1e3 * installation.timing.stagger:.0f} ms",
                f"{settled_ms:.0f} ms or more: both fluids of one stage flow before the next one opens",
            )
        )
    return found
