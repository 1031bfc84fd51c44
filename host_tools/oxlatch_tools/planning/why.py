"""Why this at all: other ways to the same end beside it, in mass, heat, duty and what happens when each fails."""

import math

from oxlatch_sim.physics import combustion
from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.air import air_at, least_base_power_w
from oxlatch_tools.planning.endurance import Endurance
from oxlatch_tools.planning.mass import balance
from oxlatch_tools.planning.page import COMPUTED, Cell, Column, Figure, Page, Table, pattern_name
from oxlatch_tools.planning.stage_flow import Pattern, oxidizer_kg_s
from oxlatch_tools.planning.stages import COOLING_SOURCE, charge_cooling_k
from oxlatch_tools.planning.takeoff import Departure, varied_take_off

COMPRESSOR_EFFICIENCY = 0.7  # judgement; ideal would be 1
HEATING_SOURCE = "isentropic, γ = 1.4, compressor 70 % (judgement)"


def why_page(installation: Installation, home: Departure, found: dict[Pattern, Endurance]) -> Page:
    """The page."""
    mission = installation.mission
    pattern = home.pattern
    worst = home.worst
    page = Page(
        "why",
        "Is it worth it?",
        [
            f"At {home.field.name}, over the obstacle: no boost {{plain}}, with boost {{boosted}}, boost lost at "
            "the worst second "
            "{lost}. A field-length problem that is really weight is solved by less weight.",
            f"{mission.uses_per_year} uses of {mission.seconds_per_use:.0f} s a year are {{minutes}} of boost and "
            "{yearly} of "
            "nitrous.",
        ],
        figures=_figures(installation, home, found),
        tables=[_alternatives(installation, home), _missions(home)],
    )
    page.assumptions = [
        "Alternatives are the file's own figures; their distances are reckoned without boost on the same field and "
        "day.",
        "Compression heating is for the pressure that would give the same power as the pattern allowed at home.",
    ]
    page.cautions = [
        "How this can hurt: fuel without oxidizer can explode in the intake, oxidizer without fuel burns pistons, "
        "a hot bottle "
        "bursts or vents, the gas dulls the mind, and power can vanish at any second.",
        "Not approved, not certified, no substitute for the engine maker, the authority, the gas supplier or a test.",
    ]
    if pattern is None or worst is None:
        page.assumptions.append("No pattern is allowed at home on the day named: boost is shown as no boost.")
    return page


def _figures(installation: Installation, home: Departure, found: dict[Pattern, Endurance]) -> list[Figure]:
    mission = installation.mission
    pattern = home.pattern or max(installation.patterns(), key=installation.pattern_power_w)
    per_use = oxidizer_kg_s(installation, pattern) * mission.seconds_per_use
    yearly = mission.uses_per_year * per_use
    worst = home.worst
    system = balance(installation, 1.0)
    launches = found[pattern].launches
    return [
        Figure("plain", "No boost, over the obstacle", home.plain[1], "distance", "see the take-off page"),
        Figure("boosted", "With boost, over the obstacle", home.boosted[1], "distance", "see the take-off page"),
        Figure(
            "lost", "Boost lost at the worst second", worst.needed_m if worst else home.plain[1], "distance", "the same"
        ),
        Figure("system_mass", "Mass of the whole system, full", system.mass_kg, "mass", "sum of parts", COMPUTED),
        Figure(
            "minutes",
            "Boost in a year",
            mission.uses_per_year * mission.seconds_per_use,
            "time",
            "uses·length",
            COMPUTED,
        ),
        Figure("yearly", "Nitrous in a year, purges left out", yearly, "heavy mass", "flow·time", COMPUTED),
        Figure(
            "fillings",
            "Fillings in a year",
            math.ceil(mission.uses_per_year / launches) if launches else math.nan,
            "count",
            "uses / uses per filling",
            COMPUTED,
        ),
        Figure(
            "cooling",
            f"Charge cooler by up to, stage {pattern_name(pattern)}",
            charge_cooling_k(installation, pattern),
            "temperature difference",
            "m(air)·cp·ΔT = m(nitrous)·Δh",
            COOLING_SOURCE,
        ),
        Figure(
            "heating",
            "Charge hotter by, compressor of the same power",
            compression_heating_k(installation, pattern),
            "temperature difference",
            "T·((p2/p1)^0.286 − 1)/η",
            HEATING_SOURCE,
        ),
    ]


def compression_heating_k(installation: Installation, pattern: Pattern) -> float:
    """Warming of the charge by a compressor that adds the same share of power at the first field."""
    air = air_at(installation.airfields[0])
    base = least_base_power_w(installation, air)
    rise = air.pressure_pa * installation.pattern_power_w(pattern) / base
    return combustion.compression_heating_k(air.temperature_k, air.pressure_pa, rise, COMPRESSOR_EFFICIENCY)


def _alternatives(installation: Installation, home: Departure) -> Table:
    system = balance(installation, 1.0).mass_kg

    def distance_with(mass: float, power: float) -> float:
        return varied_take_off(installation, home.field, home.thrust_factor, mass - system, power)[1]

    rows: list[tuple[Cell, ...]] = [
        ("No system, no boost", 0.0, 0.0, _never(distance_with(0.0, 0.0)), "as it is", "Nothing can fail."),
    ]
    for item in installation.alternatives:
        distance = distance_with(item.mass, item.power)
        heat = "hotter" if item.kind == "forced induction" else "as it is"
        rows.append((item.name, item.mass, item.power, _never(distance), heat, item.failure))
    added = home.boosted_w - home.base_w
    worst = home.worst.needed_m if home.worst else home.plain[1]
    rows.append(
        (
            "Nitrous, boost lasting",
            system,
            added,
            _never(home.boosted[1]),
            "cooler",
            "Power falls back at once; valves that stick can hurt engine and people.",
        )
    )
    rows.append(
        ("Nitrous, boost lost at the worst second", None, 0.0, _never(worst), "–", "This is the case to plan with.")
    )
    columns = (
        Column("way", "Way"),
        Column("mass", "Mass added", "mass"),
        Column("power", "Power gained", "power"),
        Column("distance", "Over obstacle, home", "distance"),
        Column("heat", "Charge"),
        Column("failure", "When it fails"),
    )
    note = "The take-off mass of the file counts with the system aboard; the other ways are reckoned without it."
    return Table(
        "alternatives",
        "Ways to the same end",
        columns,
        rows,
        "take-off page with mass and power changed",
        COMPUTED,
        note,
    )


def _never(distance: float) -> Cell:
    return "never" if math.isinf(distance) else distance


def _missions(home: Departure) -> Table:
    worst = home.worst
    rows: list[tuple[Cell, ...]] = [
        ("No boost", home.base_w, _never(home.plain[0]), _never(home.plain[1])),
        ("Boost", home.boosted_w, _never(home.boosted[0]), _never(home.boosted[1])),
        ("Boost lost at the worst second", home.base_w, None, _never(worst.needed_m if worst else home.plain[1])),
    ]
    columns = (
        Column("case", "Case"),
        Column("power", "Shaft power", "power"),
        Column("roll", "Ground roll", "distance"),
        Column("distance", "Over obstacle or stopped", "distance"),
    )
    return Table(
        "mission", f"Three columns of one mission: {home.field.name}", columns, rows, "take-off page", COMPUTED
    )
