"""How many seconds, how many launches, how cold and how hot: the bottle page."""

from oxlatch_sim.physics import lines, nitrous
from oxlatch_sim.physics.tables import property_tables
from oxlatch_sim.physics.validity import PhysicsRangeError
from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.blowdown import BLOWDOWN_SOURCE, connected
from oxlatch_tools.planning.bottle_limits import CHECK_K, EXPOSURE_K, bottle_findings, needed_purge_s, pressure_at
from oxlatch_tools.planning.endurance import Endurance, endurance, shown_pattern
from oxlatch_tools.planning.flow import Feed
from oxlatch_tools.planning.flux import FLUX_SOURCE, liquid_flux, saturation_pa
from oxlatch_tools.planning.mass import mass_findings, mass_table
from oxlatch_tools.planning.page import COMPUTED, Column, Figure, Page, Table, pattern_name
from oxlatch_tools.planning.stage_flow import Pattern
from oxlatch_tools.planning.stock import stock_table

EQUATION = "Lemmon and Span, J. Chem. Eng. Data 51 (2006) 785-850"


def shock_pa(installation: Installation, feed: Feed, temperature_k: float) -> float:
    """Pressure rise in the feed line when the flow of all stages stops within a wave's return."""
    kelvin = min(temperature_k, 303.0)
    every = tuple(range(1, len(installation.stages) + 1))
    area = feed.oxidizer_m2(every)
    flow = area * liquid_flux(feed.block_pa(saturation_pa(kelvin), area))
    density = nitrous.liquid_density_kg_m3(kelvin)
    speed = lines.velocity_m_s(flow, density, installation.feed.bore)
    return lines.hydraulic_shock_pa(density, nitrous.liquid_sound_speed_m_s(kelvin), speed)


def bottle_page(installation: Installation, feed: Feed, found: dict[Pattern, Endurance]) -> Page:
    """The page."""
    shown = found[shown_pattern(installation)]
    bottle = installation.bottle
    _count, sets = connected(installation)
    page = Page(
        "bottle",
        "How long does a bottle last, and between which temperatures?",
        [
            f"Stage {pattern_name(shown.pattern)} flows for {{seconds}} from {{start}} until {shown.ended_by} and "
            "uses {usable} "
            f"of {{charge}}; {shown.launches} uses of {{use}} from one filling. When it ends, power falls back to "
            "no boost.",
            "Ready between {coldest} and {hottest} of bottle temperature.",
        ],
        figures=_figures(installation, feed, shown),
        tables=[
            _patterns(found),
            _temperatures(installation, feed),
            _trace_table(shown, feed),
            mass_table(installation),
        ],
    )
    if "bottle budget" in installation.sensors.fitted:
        page.tables.append(stock_table(installation))
    page.findings = [*bottle_findings(installation, feed, found), *mass_findings(installation)]
    page.assumptions = [
        f"Wall heat capacity {bottle.wall_heat:.0f} J/K, {bottle.wall_conductance:.0f} W/K to the contents, per "
        "bottle.",
        f"{installation.feed.purges_per_use} purge of {installation.timing.purge:g} s before each use.",
        "Liquid is drawn in the attitude of use until it uncovers the tube."
        if bottle.siphon
        else "No siphon: vapour is drawn, and pressure collapses about five times as fast.",
        "Launches: the bottle is warm through again before each; back to back there are fewer.",
        f"{bottle.count} bottle(s), used {bottle.use}; {sets} set(s).",
    ]
    page.cautions = [
        "Fill by weight on a scale, never by pressure; only whoever is allowed to, by the supplier's procedure.",
        "Never heat a bottle with a flame or above 52 °C (125 °F). Relief outlet overboard, never into the cabin.",
        "The gas displaces air and dulls the mind. Frostbite from liquid.",
    ]
    return page


def _figures(installation: Installation, feed: Feed, shown: Endurance) -> list[Figure]:
    bottle, start = installation.bottle, installation.bottle.start_temperature
    _count, sets = connected(installation)
    one_purge = (
        feed.purge_m2 * liquid_flux(feed.block_pa(saturation_pa(start), feed.purge_m2)) * installation.timing.purge
    )
    return [
        Figure(
            "seconds",
            "Seconds, strongest tested pattern",
            shown.seconds,
            "tenths",
            "blowdown",
            BLOWDOWN_SOURCE,
        ),
        Figure(
            "run_out",
            "Seconds to the end of the liquid",
            _or_nan(shown.trace.run_out_s, sets),
            "tenths",
            "blowdown",
            BLOWDOWN_SOURCE,
        ),
        Figure("usable", "Usable mass of that pattern", shown.usable_kg, "mass", "mass drawn by then", COMPUTED),
        Figure("charge", "Charge of all bottles", bottle.count * bottle.charge, "mass", "installation file"),
        Figure(
            "gross",
            "Full weight of one bottle",
            bottle.tare + bottle.charge,
            "mass",
            "tare + charge",
            COMPUTED,
        ),
        Figure(
            "most_charge",
            "Largest charge of one bottle",
            bottle.fill_limit * bottle.volume,
            "mass",
            "fill limit·volume",
            "49 CFR 173.304a, fill by weight",
        ),
        Figure("use", "Length of a use", installation.mission.seconds_per_use, "time", "installation file"),
        Figure("purge_mass", "One purge takes", one_purge, "mass", "flow·time", FLUX_SOURCE),
        Figure(
            "purge_needed",
            "Purge needed",
            needed_purge_s(installation, feed, start),
            "tenths",
            "max(2.5 s, 1.5·V·ρ/flow)",
            "judgement; measure it",
        ),
        Figure(
            "shock",
            "Hydraulic shock when all valves shut at once",
            shock_pa(installation, feed, start),
            "pressure",
            "ρ·c·Δv in the feed line, bubble-free: an upper bound",
            "Joukowsky; sound speed of Lemmon and Span 2006",
        ),
        Figure(
            "trapped",
            "Liquid trapped between two shut valves, per kelvin",
            lines.trapped_liquid_slope_pa_k(min(start, 300.0)),
            "pressure",
            "dp/dT at constant volume: relief wherever two valves can isolate liquid",
            EQUATION,
        ),
        *_temperature_figures(installation),
    ]


def _temperature_figures(installation: Installation) -> list[Figure]:
    bottle, limits = installation.bottle, installation.limits
    saturation = property_tables().saturation
    start = bottle.start_temperature
    return [
        Figure("start", "Start temperature", start, "temperature", "installation file"),
        Figure(
            "start_pressure",
            "Pressure at start",
            pressure_at(installation, start),
            "pressure",
            "vapour pressure",
            EQUATION,
        ),
        Figure(
            "coldest",
            "Coldest to become ready",
            saturation.temperature_k(limits.supply_permit),
            "temperature",
            "vapour pressure = permit",
            EQUATION,
        ),
        Figure(
            "hottest",
            "Hottest to become ready",
            _temperature_of(installation, limits.supply_top),
            "temperature",
            "pressure of a full bottle = top",
            EQUATION,
        ),
        Figure(
            "pressure_hot",
            "Full bottle at its highest temperature",
            pressure_at(installation, bottle.highest_temperature),
            "pressure",
            "p(ρ, T)",
            EQUATION,
        ),
        Figure(
            "pressure_52",
            "Full bottle at 52 °C (125 °F)",
            pressure_at(installation, EXPOSURE_K),
            "pressure",
            "p(ρ, T)",
            EQUATION,
        ),
        Figure(
            "pressure_55",
            "Full bottle at 55 °C (131 °F)",
            pressure_at(installation, CHECK_K),
            "pressure",
            "p(ρ, T)",
            EQUATION,
        ),
    ]


def _or_nan(value: float | None, factor: int) -> float:
    return float("nan") if value is None else factor * value


def _temperature_of(installation: Installation, pressure_pa: float) -> float:
    low, high = 230.0, 340.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if pressure_at(installation, middle) < pressure_pa else (low, middle)
    return (low + high) / 2


def _patterns(found: dict[Pattern, Endurance]) -> Table:
    rows = [
        (
            pattern_name(item.pattern),
            item.seconds,
            item.ended_by,
            item.usable_kg,
            item.oxidizer_start,
            item.oxidizer_end,
            item.mixture_start,
            item.mixture_end,
            float(item.launches),
        )
        for item in found.values()
    ]
    columns = (
        Column("pattern", "Stages"),
        Column("seconds", "Seconds", "time"),
        Column("ended_by", "Ended by"),
        Column("usable", "Usable", "mass"),
        Column("oxidizer_start", "O at start", "flow"),
        Column("oxidizer_end", "O at end", "flow"),
        Column("mixture_start", "O:F at start", "ratio"),
        Column("mixture_end", "O:F at end", "ratio"),
        Column("launches", "Uses", "count"),
    )
    return Table("patterns", "Every pattern from a full bottle", columns, rows, "blowdown", BLOWDOWN_SOURCE)


def _temperatures(installation: Installation, feed: Feed) -> Table:
    bottle = installation.bottle
    pattern = shown_pattern(installation)
    rows: list[tuple[str | float | None, ...]] = []
    cases = (
        ("coldest", bottle.lowest_temperature),
        ("start", bottle.start_temperature),
        ("hottest", bottle.highest_temperature),
    )
    for name, temperature in cases:
        pressure = pressure_at(installation, temperature)
        if not installation.limits.supply_permit <= pressure <= installation.limits.supply_top:
            why = "too cold: not ready" if pressure < installation.limits.supply_permit else "too hot: not ready"
            rows.append((name, temperature, pressure, None, why, None, None))
            continue
        try:
            item = endurance(installation, feed, pattern, temperature, with_launches=False)
        except PhysicsRangeError:
            rows.append((name, temperature, pressure, None, "outside the model", None, None))
            continue
        rows.append((name, temperature, pressure, item.seconds, item.ended_by, item.mixture_start, item.mixture_end))
    columns = (
        Column("case", "Bottle"),
        Column("temperature", "Temperature", "temperature"),
        Column("pressure", "Pressure", "pressure"),
        Column("seconds", "Seconds", "time"),
        Column("ended_by", "Ended by"),
        Column("mixture_start", "O:F at start", "ratio"),
        Column("mixture_end", "O:F at end", "ratio"),
    )
    title = f"Cold, start, hot: stage {pattern_name(pattern)}"
    return Table("temperatures", title, columns, rows, "blowdown", BLOWDOWN_SOURCE)


def _trace_table(shown: Endurance, feed: Feed) -> Table:
    trace = shown.trace
    fuel = feed.fuel_kg_s(shown.pattern)
    end = trace.time_s[-1]
    rows = []
    for index in range(25):
        second = end * index / 24
        flow = trace.at(second, trace.oxidizer_kg_s) if index else trace.oxidizer_kg_s[0]
        rows.append(
            (
                second,
                trace.at(second, trace.bottle_pa) if index else trace.bottle_pa[0],
                trace.at(second, trace.block_pa) if index else trace.block_pa[0],
                trace.at(second, trace.temperature_k) if index else trace.temperature_k[0],
                flow,
                flow / fuel,
                trace.at(second, trace.mass_kg) if index else trace.mass_kg[0],
            )
        )
    columns = (
        Column("second", "Second", "tenths"),
        Column("bottle", "Bottle", "pressure"),
        Column("block", "Valve block", "pressure"),
        Column("temperature", "Contents", "temperature"),
        Column("oxidizer", "O", "flow"),
        Column("mixture", "O:F", "ratio"),
        Column("left", "Left in bottle", "mass"),
    )
    title = f"Stage {pattern_name(shown.pattern)} from the start temperature, one set of bottles"
    return Table("trace", title, columns, rows, "blowdown", BLOWDOWN_SOURCE)
