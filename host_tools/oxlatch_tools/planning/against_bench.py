"""The plan beside a run of the simulator: the same pattern flown on the virtual bench by the controller's own code.

Jets and line loss are the plan's in both; everything that happens in time (bottle, line, valves, branches, fuel
supply) is worked out twice, by the plan in closed form or coarse steps and by the simulator millisecond by millisecond.
"""

from dataclasses import dataclass
from typing import Any

from oxlatch.vocabulary import FIT_BUDGET, RUN
from oxlatch_sim.altitude_row import allow_everywhere
from oxlatch_sim.bench import Bench
from oxlatch_sim.routine import Routine
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_plant import plant_parameters
from oxlatch_tools.installation_settings import settings_of
from oxlatch_tools.planning.blowdown import Trace
from oxlatch_tools.planning.page import Cell, Column, Finding, Page, Table, pattern_name
from oxlatch_tools.planning.plan import Plan
from oxlatch_tools.planning.stage_flow import Pattern
from oxlatch_tools.presentation import quantity_text

AGREEMENT = 0.03
PROBES_S = (2.0, 10.0, 25.0)
LONGEST_RUN_TICKS = 24_000
TICKS_PER_S = 200
PURGE_EXTRA_S = 0.05


@dataclass(frozen=True)
class Comparison:
    """One number both ways."""

    name: str
    planned: float
    simulated: float
    kind: str

    @property
    def difference(self) -> float:
        """Planned over simulated, less one."""
        return self.planned / self.simulated - 1


def compare(plan: Plan, pattern: Pattern) -> list[Comparison]:
    """Pressure, flows and mixture at a few seconds, and the seconds until flow ends by itself, up to 120 s."""
    installation = plan.installation
    bench = _flowing(installation, pattern)
    trace = plan.endurance[pattern].trace
    fuel = plan.feed.fuel_kg_s(pattern)
    found: list[Comparison] = []
    probes = [second for second in PROBES_S if second < 0.9 * trace.seconds_to_cut()]
    ticks = 0
    while bench.controller.core.state == RUN:
        second = ticks / TICKS_PER_S
        if probes and second >= probes[0]:
            found += _probed(bench, trace, pattern, fuel, probes.pop(0))
        bench.step()
        ticks += 1
    seconds = trace.seconds_to_cut()
    if seconds < 0.95 * LONGEST_RUN_TICKS / TICKS_PER_S:
        found.append(Comparison("Seconds until flow ends", seconds, ticks / TICKS_PER_S, "tenths"))
    return found


def _flowing(installation: Installation, pattern: Pattern) -> Bench:
    """A bench that has just begun to flow, with the longest run out of the way."""
    settings: Any = settings_of(installation)
    settings.run_ticks, settings.run_warn_ticks = LONGEST_RUN_TICKS, LONGEST_RUN_TICKS - 1
    # The simulator takes any pattern; whether it was tested on the engine is another matter.
    settings.fitted &= ~FIT_BUDGET  # physics against physics: the count of the controller ends a run earlier
    allow_everywhere(settings, settings.patterns | 1 << sum(1 << (number - 1) for number in pattern))
    bench = Bench(plant_parameters(installation), settings)
    routine = Routine(bench, bench.step)
    routine.armed(pattern)
    bench.set_switch("purge", True)
    routine.wait(installation.timing.purge + PURGE_EXTRA_S)
    bench.set_switch("purge", False)
    routine.wait(0.5)
    bench.set_switch("ack", True)
    routine.wait(0.2)
    bench.set_switch("ack", False)
    routine.wait(0.5)
    routine.lined_up()
    bench.push()
    routine.until("RUN", lambda: bench.controller.core.state == RUN)
    return bench


def _probed(bench: Bench, trace: Trace, pattern: Pattern, fuel: float, second: float) -> list[Comparison]:
    stages = [bench.plant.stages[number - 1] for number in pattern]
    oxidizer = sum(stage.oxidizer_kg_s for stage in stages)
    petrol = sum(stage.fuel_branch.out_kg_s for stage in stages)
    flow = trace.at(second, trace.oxidizer_kg_s)
    where = f"at {second:g} s"
    return [
        Comparison(f"Bottle {where}", trace.at(second, trace.bottle_pa), bench.plant.bottle.pressure_pa, "pressure"),
        Comparison(f"Valve block {where}", trace.at(second, trace.block_pa), bench.plant.line.pressure_pa, "pressure"),
        Comparison(f"O flow {where}", flow, oxidizer, "flow"),
        Comparison(f"F flow {where}", fuel, petrol, "flow"),
        Comparison(f"Mixture O:F {where}", flow / fuel, oxidizer / petrol, "ratio"),
    ]


def compared_patterns(plan: Plan) -> list[Pattern]:
    """The weakest and the strongest tested pattern; of all patterns when none is tested."""
    installation = plan.installation
    tested = [pattern for pattern in installation.patterns() if installation.is_tested(pattern)]
    ordered = sorted(tested or installation.patterns(), key=installation.pattern_power_w)
    return [ordered[0], ordered[-1]] if len(ordered) > 1 else ordered


def agreement_page(plan: Plan) -> Page:
    """One table a pattern, and a finding for each number beyond the agreed 3 %."""
    page = Page(
        "simulator",
        "Does the simulator agree?",
        ["The same patterns flown on the virtual bench by the controller's own code, jets and line loss as planned."],
    )
    for pattern in compared_patterns(plan):
        found = compare(plan, pattern)
        page.tables.append(comparison_table(plan, pattern, found))
        for item in found:
            if abs(item.difference) > AGREEMENT:
                words = f"plan and simulator differ by {item.difference:+.1%}"
                page.findings.append(
                    Finding("exceeded", f"stages {pattern_name(pattern)}: {item.name}", words, f"{AGREEMENT:.0%}")
                )
    page.assumptions = [
        "Agreement shows that two models of one physics are worked out alike, not that either is right: weigh and "
        "time it."
    ]
    return page


def comparison_table(plan: Plan, pattern: Pattern, found: list[Comparison]) -> Table:
    """The numbers both ways."""
    units = plan.installation.aircraft.units
    rows: list[tuple[Cell, ...]] = [
        (
            item.name,
            quantity_text(item.planned, item.kind, units),
            quantity_text(item.simulated, item.kind, units),
            item.difference,
            "yes" if abs(item.difference) <= AGREEMENT else "NO",
        )
        for item in found
    ]
    columns = (
        Column("what", "What"),
        Column("planned", "Plan"),
        Column("simulated", "Simulator"),
        Column("difference", "Difference", "fraction"),
        Column("agrees", f"Within {AGREEMENT:.0%}"),
    )
    return Table(f"bench_{pattern_name(pattern)}", f"Plan and simulator, stage {pattern_name(pattern)}", columns, rows)
