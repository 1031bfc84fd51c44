"""Every combination of stages side by side: power, flows, current, seconds, cooling, mixture, altitude, tests."""

from itertools import pairwise

from oxlatch_sim.physics import combustion
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_settings import lead_and_tail
from oxlatch_tools.planning.air import air_at, air_flow_kg_s, oxygen_added, standard_air
from oxlatch_tools.planning.altitude import room, standing_refusals
from oxlatch_tools.planning.electrical import loads
from oxlatch_tools.planning.endurance import Endurance
from oxlatch_tools.planning.flow import Feed
from oxlatch_tools.planning.order import order_findings, order_table
from oxlatch_tools.planning.page import COMMON, COMPUTED, Column, Figure, Finding, Page, Table, pattern_name
from oxlatch_tools.planning.stage_flow import Pattern, fuel_kg_s, oxidizer_kg_s
from oxlatch_tools.planning.start import BUDGET_S, leanest_in_start, richness, stage_start
from oxlatch_tools.presentation import quantity_text

SAME_SUM_W = 500.0
USELESS_STEP = 0.01  # of rated power: judgement
BAND_STEP_M = 50.0
BAND_TOP_M = 5000.0
COOLING_SOURCE = "enthalpy balance, full evaporation: an upper bound; real cooling may be half of it"


def duplicates(installation: Installation) -> list[tuple[Pattern, Pattern]]:
    """Pairs of patterns of nearly the same power."""
    ordered = sorted(installation.patterns(), key=installation.pattern_power_w)
    return [
        (first, second)
        for first, second in pairwise(ordered)
        if installation.pattern_power_w(second) - installation.pattern_power_w(first) < SAME_SUM_W
    ]


def altitude_band_m(installation: Installation, pattern: Pattern) -> tuple[float, float] | None:
    """Lowest and highest standard altitude at which a pattern is allowed; None when nowhere up to 5000 m."""
    standing = standing_refusals(installation)
    if pattern in standing:
        return None
    heights = [-300.0 + BAND_STEP_M * step for step in range(int((BAND_TOP_M + 300) / BAND_STEP_M) + 1)]
    allowed = [
        height for height in heights if pattern in room(installation, standard_air(height), standing=standing).allowed
    ]
    return (allowed[0], allowed[-1]) if allowed else None


def charge_cooling_k(installation: Installation, pattern: Pattern) -> float:
    """Fall of charge temperature at the first field with everything evaporated."""
    air = air_at(installation.airfields[0])
    breathed = air_flow_kg_s(installation, air)
    intake = air.pressure_pa * (1 - installation.engine.manifold_loss)
    charge = combustion.boosted_charge(
        breathed,
        air.temperature_k,
        intake,
        oxidizer_kg_s(installation, pattern),
        installation.jets.tune_temperature,
    )
    return air.temperature_k - charge.temperature_k


def stages_page(installation: Installation, feed: Feed, found: dict[Pattern, Endurance]) -> Page:
    """The page."""
    order = lead_and_tail(installation)
    patterns = installation.patterns()
    distinct = len(patterns) - len(duplicates(installation))
    tested = [pattern for pattern in patterns if installation.is_tested(pattern)]
    page = Page(
        "stages",
        "Which combinations are there, and what does each do?",
        [
            f"{len(installation.stages)} stages give {len(patterns)} patterns, {distinct} of them distinct in power; "
            f"{len(tested)} tested, {len(patterns) - len(tested)} not. Untested patterns cannot be armed.",
            "Without boost, and when boost is lost, the row for no stage holds.",
            "Oxidizer opens {lead} before fuel and shuts {tail} after it, for every stage; up to {residual} of fuel "
            "stays behind a shut stage valve and can drain.",
        ],
        figures=[
            Figure(
                "per_power",
                "Nitrous per added power",
                installation.oxidizer.per_power * 1e3,
                "flow",
                "installation file",
                "0.51 to 0.69 g/s per kW by energy balance",
            ),
            Figure(
                "mixture",
                "Target mixture O:F",
                installation.oxidizer.mixture,
                "ratio",
                "installation file",
                COMMON,
            ),
            Figure("lead", "Oxidizer before fuel", order.lead_s, "milliseconds", order.lead_from),
            Figure("tail", "Oxidizer after fuel", order.tail_s, "milliseconds", order.tail_from),
            Figure(
                "residual",
                "Fuel left to drain, largest stage",
                max((stage.residual_fuel_m3 for stage in order.stages), default=None),
                "small volume",
                "largest branch of the tolerance box × part found empty at a start",
            ),
            Figure(
                "stagger",
                "From stage to stage",
                installation.timing.stagger,
                "milliseconds",
                "installation file",
            ),
        ],
        tables=[_patterns(installation, found), _starts(installation, feed), order_table(installation, order)],
    )
    page.findings = _findings(installation) + _start_findings(installation, feed) + order_findings(installation, order)
    page.assumptions = [
        "Flows are nominal; the jets page tells how far they may be off.",
        "Richness is fuel over what burns completely, for engine and stages together, at the first field of the file.",
        "Cooling is reckoned with everything evaporated before the valves: an upper bound.",
        "The power given for a flow is a lower bound: by energy, decomposition counted, the same flow may make up "
        "to a third more.",
    ]
    page.cautions = [
        "Equal stages repeat sums; stages of n, 2n, 4n give seven distinct ones.",
        "Never arm a combination that was not run on the ground, step by step, on this engine.",
        "Charge cooling of 10 to 20 K in humid air can ice an intake: watch manifold pressure and exhaust temperature.",
    ]
    return page


def _patterns(installation: Installation, found: dict[Pattern, Endurance]) -> Table:
    air = air_flow_kg_s(installation, air_at(installation.airfields[0]))
    rows: list[tuple[str | float | None, ...]] = [
        ("none", 0.0, 0.0, 0.0, 0.0, None, 0.0, 0.0, richness(installation, 0.0, 0.0), None, "always", "–")
    ]
    for pattern in installation.patterns():
        oxidizer, fuel = oxidizer_kg_s(installation, pattern), fuel_kg_s(installation, pattern)
        rows.append(
            (
                pattern_name(pattern),
                installation.pattern_power_w(pattern),
                oxidizer,
                fuel / installation.fuel.density,
                loads(installation, pattern).total,
                found[pattern].seconds,
                charge_cooling_k(installation, pattern),
                oxygen_added(oxidizer, air),
                richness(installation, oxidizer, fuel),
                leanest_in_start(installation, pattern),
                _band_text(installation, pattern),
                _tested_text(installation, pattern),
            )
        )
    columns = (
        Column("pattern", "Stages"),
        Column("power", "Adds", "power"),
        Column("oxidizer", "O", "flow"),
        Column("fuel", "F", "fuel flow"),
        Column("current", "Coils", "current"),
        Column("seconds", "Seconds", "time"),
        Column("cooling", "Charge cooler by up to", "temperature difference"),
        Column("enrichment", "Oxygen added", "whole per cent"),
        Column("richness", "Richness, all flowing", "ratio"),
        Column("leanest", "Leanest in the start", "ratio"),
        Column("band", "Allowed, standard altitude"),
        Column("tested", "Tested on"),
    )
    formula = "flow = per_power·P; richness = (fuel) / (air/14.6 + nitrous/9.3)"
    return Table("patterns", "Every pattern, at the first field", columns, rows, formula, COOLING_SOURCE)


def _band_text(installation: Installation, pattern: Pattern) -> str:
    band = altitude_band_m(installation, pattern)
    if band is None:
        return "nowhere"
    units = installation.aircraft.units
    low = "any" if band[0] <= -299 else quantity_text(band[0], "altitude", units)
    high = "up" if band[1] >= BAND_TOP_M else quantity_text(band[1], "altitude", units)
    return f"{low} to {high}" if high != "up" else f"{low} and {high}"


def _tested_text(installation: Installation, pattern: Pattern) -> str:
    dates = [entry.date for entry in installation.tested.patterns if tuple(sorted(entry.stages)) == pattern]
    return str(max(dates)) if dates else "UNTESTED"


def _starts(installation: Installation, feed: Feed) -> Table:
    rows: list[tuple[str | float | None, ...]] = []
    for number in range(1, len(installation.stages) + 1):
        start = stage_start(installation, feed, number)
        rows.append(
            (
                f"{number}",
                start.oxidizer_at_nozzle,
                start.fuel_commanded,
                start.fuel_at_nozzle,
                start.opening_alone,
                start.fuel_gone,
                start.oxidizer_gone,
                start.closing_alone,
            )
        )
    columns = (
        Column("stage", "Stage"),
        Column("oxidizer", "O at nozzles", "milliseconds"),
        Column("commanded", "F commanded", "milliseconds"),
        Column("fuel", "F at nozzles", "milliseconds"),
        Column("opening", "O alone, opening", "milliseconds"),
        Column("fuel_gone", "F gone", "milliseconds"),
        Column("oxidizer_gone", "O gone", "milliseconds"),
        Column("closing", "O alone, closing", "milliseconds"),
    )
    note = (
        f"From command and from release. Budget for O alone: {BUDGET_S * 1e3:.0f} ms, about two engine cycles "
        "(judgement). Valve times are the file's" + ("." if installation.tested.valve_times else ", NOT MEASURED.")
    )
    return Table(
        "starts",
        "Start and end of one stage",
        columns,
        rows,
        "valve times + branch filling; lead and proof in whole ticks",
        COMPUTED,
        note,
    )


def _findings(installation: Installation) -> list[Finding]:
    found = []
    for first, second in duplicates(installation):
        found.append(
            Finding(
                "note",
                f"stages {pattern_name(first)} and {pattern_name(second)}",
                "add the same power",
                "distinct sums",
                "Change a stage, or leave one pattern unused.",
            )
        )
    ordered = sorted({installation.pattern_power_w(pattern) for pattern in installation.patterns()})
    for low, high in pairwise(ordered):
        if SAME_SUM_W <= high - low < USELESS_STEP * installation.engine.rated_power:
            found.append(
                Finding("note", "stages", f"a step of only {(high - low) / 1e3:.1f} kW", "steps worth a switch")
            )
    for pattern in installation.patterns():
        if not installation.is_tested(pattern):
            found.append(
                Finding(
                    "note",
                    f"stages {pattern_name(pattern)}",
                    "not tested",
                    "a completed ground test",
                    "It stays locked until the file records its test.",
                )
            )
    if not any(installation.is_tested(pattern) for pattern in installation.patterns()):
        found.append(
            Finding(
                "exceeded",
                "tested.patterns",
                "no tested figures",
                "at least one tested pattern",
                "Nothing can be armed; every card is a draft.",
            )
        )
    return found


def _start_findings(installation: Installation, feed: Feed) -> list[Finding]:
    found = []
    budget = f"up to {BUDGET_S * 1e3:.0f} ms"
    for number in range(1, len(installation.stages) + 1):
        start = stage_start(installation, feed, number)
        opening, closing = start.opening_alone, start.closing_alone
        cases = (
            (
                opening > BUDGET_S,
                f"oxidizer alone for {opening * 1e3:.0f} ms at the opening",
                budget,
                "Shorter or finer fuel branches, nozzle check valves, a faster fuel valve.",
            ),
            (
                closing > BUDGET_S,
                f"oxidizer alone for {closing * 1e3:.0f} ms at the end",
                budget,
                "Shorter or finer oxidizer branches, a shorter tail.",
            ),
            (closing < 0, "fuel outlasts oxidizer", "fuel gone first", "A longer tail, or a faster fuel clamp."),
            (
                opening < 0,
                f"fuel {-opening * 1e3:.0f} ms before oxidizer",
                "oxidizer first",
                "A longer lead, or an oxidizer proof.",
            ),
        )
        found += [
            Finding("exceeded", f"stages[{number}]", words, allowed, change)
            for is_broken, words, allowed, change in cases
            if is_broken
        ]
    return found
