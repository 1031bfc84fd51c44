"""Which pattern fits under the ceiling, against pressure altitude and temperature.

One table serves card and picture: rows of pressure altitude, columns of outside air
temperature, each cell valid from its row and column up to the next. In a cell the base engine is reckoned at the corner
where it makes most power (lowest and coldest), oxygen enrichment at the corner where the air is thinnest.
"""

from dataclasses import dataclass

from oxlatch_sim.physics import atmosphere, engine
from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.air import (
    LAPSE_FORMULA,
    LAPSE_SOURCE,
    Air,
    air_at,
    air_flow_kg_s,
    air_of,
    lapses,
    most_base_power_w,
    oxygen_added,
)
from oxlatch_tools.planning.electrical import opens
from oxlatch_tools.planning.fuel_supply import carries
from oxlatch_tools.planning.page import COMPUTED, Column, Figure, Finding, Page, Table, pattern_name
from oxlatch_tools.planning.stage_flow import Pattern, oxidizer_kg_s

ROW_STEP_M = 1000 * atmosphere.FOOT_M
ROWS_M = tuple(step * ROW_STEP_M for step in range(-1, 16))
COLUMN_STEP_K = 10.0
COLUMNS_K = tuple(253.15 + COLUMN_STEP_K * step for step in range(7))


@dataclass(frozen=True)
class Room:
    """What one place and day allow."""

    base_power_w: float
    room_w: float
    allowed: tuple[Pattern, ...]
    refused: tuple[tuple[Pattern, str], ...]

    def strongest(self, installation: Installation) -> Pattern | None:
        """The allowed pattern of most power; None when there is none."""
        return max(self.allowed, key=installation.pattern_power_w, default=None)


@dataclass(frozen=True)
class AltitudeTable:
    """For each row and column, the allowed patterns as a mask: bit p for the selection with switch bits p."""

    rows_m: tuple[float, ...]
    columns_k: tuple[float, ...]
    masks: tuple[tuple[int, ...], ...]

    def mask_at(self, pressure_altitude_m: float, temperature_k: float) -> int:
        """Allowed patterns at a place and day; 0 below the first row or column and above the last."""
        row = int((pressure_altitude_m - self.rows_m[0]) // ROW_STEP_M)
        column = int((temperature_k - self.columns_k[0]) // COLUMN_STEP_K)
        if not (0 <= row < len(self.rows_m) and 0 <= column < len(self.columns_k)):
            return 0
        return self.masks[row][column]


def power_limit_w(installation: Installation) -> tuple[float, str]:
    """The lowest of ceiling, propeller, mount and crank limits at rated speed, and which one it is."""
    ceiling, speed = installation.ceiling, installation.engine.rated_speed
    limits = [(ceiling.power, "ceiling")]
    if ceiling.propeller_power is not None:
        limits.append((ceiling.propeller_power, "propeller"))
    for torque, name in ((ceiling.mount_torque, "mount"), (ceiling.crank_torque, "crank")):
        if torque is not None:
            limits.append((torque / engine.torque_n_m(1.0, speed), name))
    return min(limits)


def highest_tested_w(installation: Installation) -> float:
    """Power of the strongest pattern that was tested; 0 when none was."""
    tested = [installation.pattern_power_w(p) for p in installation.patterns() if installation.is_tested(p)]
    return max(tested, default=0.0)


def standing_refusals(installation: Installation) -> dict[Pattern, str]:
    """Patterns refused in any air, with the reason: never run, or beyond fuel supply or bus."""
    refused = {}
    for pattern in installation.patterns():
        if not installation.is_tested(pattern):
            refused[pattern] = "not tested"
        elif not carries(installation, pattern):
            refused[pattern] = "more than the fuel supply carries"
        elif not opens(installation, pattern):
            refused[pattern] = "more than the bus carries"
    return refused


def room(
    installation: Installation, dense: Air, thin: Air | None = None, standing: dict[Pattern, str] | None = None
) -> Room:
    """What fits: base power in the `dense` air, oxygen enrichment in the `thin` air (the same when not given).

    `standing` saves working out again what no air changes.
    """
    limit_w, limit_name = power_limit_w(installation)
    base_w = most_base_power_w(installation, dense)
    air_kg_s = air_flow_kg_s(installation, thin or dense)
    refused = dict(standing_refusals(installation) if standing is None else standing)
    for pattern in installation.patterns():
        if pattern in refused:
            continue
        if installation.pattern_power_w(pattern) > limit_w - base_w:
            refused[pattern] = f"above the {limit_name}"
        elif oxygen_added(oxidizer_kg_s(installation, pattern), air_kg_s) > installation.ceiling.enrichment_cap:
            refused[pattern] = "too much oxygen for so thin air"
    allowed = tuple(pattern for pattern in installation.patterns() if pattern not in refused)
    return Room(base_w, limit_w - base_w, allowed, tuple(refused.items()))


def pattern_bits(pattern: Pattern) -> int:
    """Switch bits of a pattern."""
    return sum(1 << (number - 1) for number in pattern)


def altitude_table(installation: Installation) -> AltitudeTable:
    """The one table behind card and picture."""
    standing = standing_refusals(installation)
    masks = tuple(tuple(_cell(installation, row, column, standing) for column in COLUMNS_K) for row in ROWS_M)
    return AltitudeTable(ROWS_M, COLUMNS_K, masks)


def _cell(installation: Installation, row_m: float, column_k: float, standing: dict[Pattern, str]) -> int:
    dense = Air(atmosphere.standard_pressure_pa(row_m), column_k)
    thin = Air(atmosphere.standard_pressure_pa(row_m + ROW_STEP_M), column_k + COLUMN_STEP_K)
    return sum(1 << pattern_bits(pattern) for pattern in room(installation, dense, thin, standing).allowed)


def strongest_of(installation: Installation, mask: int) -> Pattern | None:
    """The strongest pattern of a mask; None when it is empty."""
    allowed = [pattern for pattern in installation.patterns() if mask >> pattern_bits(pattern) & 1]
    return max(allowed, key=installation.pattern_power_w, default=None)


@dataclass(frozen=True)
class Today:
    """The one-line answer for a place and day."""

    air: Air
    base_w: float
    pattern: Pattern | None
    boosted_w: float
    limit_w: float


def today(
    installation: Installation,
    elevation_m: float,
    altimeter_pa: float,
    temperature_k: float,
    dew_point_k: float | None = None,
) -> Today:
    """Pattern for today, from the same table as the card."""
    air = air_of(elevation_m, altimeter_pa, temperature_k, dew_point_k)
    mask = altitude_table(installation).mask_at(air.pressure_altitude_m, air.temperature_k)
    pattern = strongest_of(installation, mask)
    base_w = most_base_power_w(installation, air)
    added_w = installation.pattern_power_w(pattern) if pattern else 0.0
    return Today(air, base_w, pattern, base_w + added_w, power_limit_w(installation)[0])


def altitude_page(installation: Installation) -> Page:
    """Density altitude, base power, room and patterns for every field of the file and for the standard atmosphere."""
    home = installation.airfields[0]
    air = air_at(home)
    found = room(installation, air)
    choice = today(installation, home.elevation, home.pressure, home.temperature, home.dew_point)
    page = Page(
        "altitude",
        "Which stages fit under the ceiling here and today?",
        [
            f"At {home.name}: density altitude {{density_altitude}}, base engine at most {{base_power}}, "
            "room below the limit {room}.",
            f"Strongest pattern of the table there: {_named(choice.pattern)}. Without boost the engine makes at most "
            "{base_power}, and that is what remains when boost is lost.",
        ],
        figures=_figures(installation, home.name, air, found),
        tables=[_fields(installation), _standard(installation), _card(installation)],
    )
    if "air data" in installation.sensors.fitted:
        from oxlatch_tools.planning.rows import rows_table  # builds on this module

        page.tables.append(rows_table(installation))
    if choice.pattern is None:
        page.findings.append(
            Finding(
                "note",
                "altitude",
                f"no pattern is allowed at {home.name} on the day named",
                "a tested pattern that fits",
            )
        )
    page.assumptions = [
        "Power is reckoned at rated speed and full throttle, mixture full rich.",
        "A stage adds the same power at any altitude: its jets are choked or carry liquid.",
        "The table is read with pressure altitude (altimeter on 1013.25 hPa or 29.92 inHg) and outside air "
        "temperature, each rounded down to the row and column printed.",
        "Below the first row or column and above the last, nothing is allowed.",
    ]
    page.cautions = [
        "Reading the row of the high strip after returning to a low field allows too much. Read again at each place.",
    ]
    return page


def _figures(installation: Installation, name: str, air: Air, found: Room) -> list[Figure]:
    limit_w, limit_name = power_limit_w(installation)
    return [
        Figure(
            "density_altitude",
            f"Density altitude at {name}",
            air.density_altitude_m,
            "altitude",
            "altitude at which the standard atmosphere is as dense, humidity counted",
            "ICAO Doc 7488 / ISO 2533 / US Standard Atmosphere 1976",
        ),
        Figure(
            "pressure_altitude",
            f"Pressure altitude at {name}",
            air.pressure_altitude_m,
            "altitude",
            "altimeter set to 1013.25 hPa (29.92 inHg)",
            "the same",
        ),
        Figure(
            "base_power",
            "Base power, larger estimate",
            found.base_power_w,
            "power",
            LAPSE_FORMULA,
            LAPSE_SOURCE,
        ),
        Figure(
            "limit",
            f"Power limit ({limit_name})",
            limit_w,
            "power",
            "lowest of ceiling, propeller, mount, crank",
        ),
        Figure("room", "Room below the limit", found.room_w, "power", "limit − base power", COMPUTED),
        Figure(
            "tested",
            "Highest tested sum",
            highest_tested_w(installation),
            "power",
            "installation file, [tested]",
        ),
        Figure(
            "enrichment_cap",
            "Cap on added oxygen",
            installation.ceiling.enrichment_cap,
            "whole per cent",
            "0.3635·m(nitrous) / 0.2314·m(air), jets do not thin with the air",
            "atomic masses; builder's own cap",
        ),
    ]


def _named(pattern: Pattern | None) -> str:
    return f"stage {pattern_name(pattern)}" if pattern else "none"


def _fields(installation: Installation) -> Table:
    rows = []
    for field in installation.airfields:
        air = air_at(field)
        choice = today(installation, field.elevation, field.pressure, field.temperature, field.dew_point)
        by_density, by_pressure = lapses(air)
        rated = installation.engine.rated_power
        rows.append(
            (
                field.name,
                field.elevation,
                field.temperature,
                air.density_altitude_m,
                rated * by_density,
                rated * by_pressure,
                choice.limit_w - choice.base_w,
                pattern_name(choice.pattern) if choice.pattern else "none",
                choice.boosted_w,
            )
        )
    columns = (
        Column("field", "Field"),
        Column("elevation", "Elevation", "altitude"),
        Column("temperature", "Air", "temperature"),
        Column("density_altitude", "Density altitude", "altitude"),
        Column("base_density", "No boost, by density", "power"),
        Column("base_pressure", "No boost, by p/√T", "power"),
        Column("room", "Room", "power"),
        Column("pattern", "Pattern"),
        Column("boosted", "With boost", "power"),
    )
    note = "Boost lost: the power without boost remains, the smaller of the two estimates to be reckoned with."
    return Table("fields", "The fields of this file", columns, rows, LAPSE_FORMULA, LAPSE_SOURCE, note)


def _standard(installation: Installation) -> Table:
    rows = []
    for feet in (0, 2000, 4000, 6000, 8000, 10000, 12500, 15000):
        altitude_m = feet * atmosphere.FOOT_M
        air = Air(atmosphere.standard_pressure_pa(altitude_m), atmosphere.standard_temperature_k(altitude_m))
        here = room(installation, air)
        best = here.strongest(installation)
        added = installation.pattern_power_w(best) if best else 0.0
        enrichment = oxygen_added(installation.oxidizer.per_power * added, air_flow_kg_s(installation, air))
        rows.append(
            (
                f"{feet:,} ft / {altitude_m:,.0f} m".replace(",", "\u202f"),
                here.base_power_w,
                here.room_w,
                pattern_name(best) if best else "none",
                here.base_power_w + added,
                enrichment,
            )
        )
    columns = (
        Column("altitude", "Standard altitude"),
        Column("base", "No boost", "power"),
        Column("room", "Room", "power"),
        Column("pattern", "Strongest tested pattern that fits"),
        Column("boosted", "With boost", "power"),
        Column("enrichment", "Oxygen added", "whole per cent"),
    )
    return Table("standard", "In the standard atmosphere", columns, rows, LAPSE_FORMULA, LAPSE_SOURCE)


def _card(installation: Installation) -> Table:
    table = altitude_table(installation)
    celsius = [f"{column - 273.15:.0f} °C / {1.8 * (column - 273.15) + 32:.0f} °F" for column in table.columns_k]
    rows = []
    for row_m, masks in zip(table.rows_m, table.masks, strict=True):
        cells = [pattern_name(strongest_of(installation, mask) or ()) or "–" for mask in masks]
        rows.append((f"{row_m / atmosphere.FOOT_M:,.0f} ft / {row_m:,.0f} m".replace(",", "\u202f"), *cells))
    columns = (
        Column("altitude", "Pressure altitude from"),
        *(Column(f"t{index}", f"from {text}") for index, text in enumerate(celsius)),
    )
    note = (
        "Strongest pattern by stage number; a dash: no boost. The card prints this table."
    )
    return Table("card", "The table of the card", columns, rows, LAPSE_FORMULA, LAPSE_SOURCE, note)
