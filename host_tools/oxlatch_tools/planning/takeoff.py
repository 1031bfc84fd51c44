"""The take-off page: without boost, with boost, and with boost lost at the worst second, side by side.

When boost is lost the pilot either stops or goes on; for each second the shorter of the two distances counts, and the
worst second is the one at which even that is longest.
"""

import dataclasses
import math
from dataclasses import dataclass

from oxlatch_sim.physics import atmosphere
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_aircraft import Airfield
from oxlatch_tools.planning.air import air_at, least_base_power_w
from oxlatch_tools.planning.altitude import today
from oxlatch_tools.planning.page import COMPUTED, Column, Figure, Finding, Page, Table, pattern_name
from oxlatch_tools.planning.roll import (
    REACTION_S,
    ROTATION_S,
    SURFACE_SOURCE,
    Airframe,
    Point,
    Runway,
    Thrust,
    cleared_at_m,
    lifted_at_m,
    propeller_thrust_n,
    stopping_m,
    take_off,
)
from oxlatch_tools.planning.stage_flow import Pattern

LOSS_STEP_S = 1.0
FIXED_PITCH_STANDING = 0.88  # part of rated power that a fixed-pitch propeller lets through standing: judgement
THRUST_SOURCE = "momentum theory, elementary; fitted to the handbook's ground roll"


@dataclass(frozen=True)
class Loss:
    """Boost lost at one second: where going on clears the height, and where the aircraft stands when stopping."""

    second: float
    go_m: float
    stop_m: float

    @property
    def needed_m(self) -> float:
        """The shorter of the two."""
        return min(self.go_m, self.stop_m)


@dataclass(frozen=True)
class Departure:
    """All take-offs from one field on its day."""

    field: Airfield
    density_altitude_m: float
    pattern: Pattern | None
    base_w: float
    boosted_w: float
    plain: tuple[float, float, float]
    boosted: tuple[float, float, float]
    losses: tuple[Loss, ...]
    thrust_factor: float

    @property
    def worst(self) -> Loss | None:
        """The second at which losing boost asks for the longest runway; None without boost."""
        return max(self.losses, key=lambda loss: loss.needed_m, default=None)

    def verdict(self) -> str:
        """Words for the table: what fits into the runway."""
        length = self.field.length
        if self.plain[1] <= length:
            return "fits without boost"
        if self.pattern is None or self.boosted[1] > length:
            return "does not fit"
        worst = self.worst
        if worst is not None and worst.needed_m <= length:
            return "needs boost; if lost, stop or go fits"
        return "needs boost; if lost, does not fit"


def airframe(installation: Installation, tow: bool = True) -> Airframe:
    """Mass and coefficients of the take-off section."""
    data = installation.takeoff
    return Airframe(
        mass_kg=data.mass,
        wing_m2=data.wing_area,
        lift_roll=data.lift_ground,
        drag_roll=data.drag_ground,
        lift_climb=data.lift_climb,
        drag_climb=data.drag_climb,
        tow_kg=data.tow_mass if tow else 0.0,
        tow_drag_ratio=data.tow_drag_ratio,
    )


def thrust_of(installation: Installation, power_w: float, density: float, factor: float) -> Thrust:
    """Thrust against airspeed at a shaft power; tabulated per metre a second, because it is asked for so often."""
    propeller = installation.propeller
    lift_off = airframe(installation).lift_off_speed(density)

    def exact(airspeed: float) -> float:
        share = 1.0
        if propeller.kind == "fixed-pitch":
            share = FIXED_PITCH_STANDING + (1 - FIXED_PITCH_STANDING) * min(airspeed / (1.3 * lift_off), 1.0)
        return factor * propeller_thrust_n(share * power_w, airspeed, density, propeller.diameter, propeller.efficiency)

    table = [exact(float(speed)) for speed in range(121)]

    def thrust(airspeed: float) -> float:
        place = min(max(airspeed, 0.0), 119.999)
        index = int(place)
        return table[index] + (place - index) * (table[index + 1] - table[index])

    return thrust


def thrust_factor(installation: Installation) -> float:
    """Factor on the computed thrust that reproduces the handbook's ground roll; 1 when the file has none."""
    wanted = installation.takeoff.handbook_roll
    if wanted is None:
        return 1.0
    density = atmosphere.SEA_LEVEL_DENSITY_KG_M3
    plane, runway = airframe(installation, tow=False), Runway("hard", 0.0, 0.0, density, 0.0)
    low, high = 0.2, 2.0
    for _ in range(24):
        middle = (low + high) / 2
        thrust = thrust_of(installation, installation.engine.rated_power, density, middle)
        if lifted_at_m(take_off(plane, runway, thrust)) > wanted:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def departure(installation: Installation, field: Airfield, factor: float, tow: bool = True) -> Departure:
    """No boost, boost, and boost lost at every second, from one field; `factor` from `thrust_factor`."""
    air = air_at(field)
    choice = today(installation, field.elevation, field.pressure, field.temperature, field.dew_point)
    base_w = least_base_power_w(installation, air)
    added_w = installation.pattern_power_w(choice.pattern) if choice.pattern else 0.0
    plane = airframe(installation, tow)
    runway = Runway(field.surface, field.slope, field.headwind, air.density_kg_m3, field.obstacle)
    weak = thrust_of(installation, base_w, runway.density, factor)
    plain = take_off(plane, runway, weak)
    boosted, losses = plain, tuple[Loss, ...]()
    if choice.pattern:
        boosted = take_off(plane, runway, thrust_of(installation, base_w + added_w, runway.density, factor))
        losses = _losses(plane, runway, weak, boosted)
    return Departure(
        field=field,
        density_altitude_m=air.density_altitude_m,
        pattern=choice.pattern,
        base_w=base_w,
        boosted_w=base_w + added_w,
        plain=_summary(plain, runway),
        boosted=_summary(boosted, runway),
        losses=losses,
        thrust_factor=factor,
    )


def varied_take_off(
    installation: Installation, field: Airfield, factor: float, mass_kg: float, power_w: float
) -> tuple[float, float, float]:
    """Roll, distance and seconds over the obstacle without boost, with mass and shaft power added; tow included."""
    air = air_at(field)
    plane = airframe(installation)
    plane = dataclasses.replace(plane, mass_kg=plane.mass_kg + mass_kg)
    runway = Runway(field.surface, field.slope, field.headwind, air.density_kg_m3, field.obstacle)
    power = least_base_power_w(installation, air) + power_w
    return _summary(take_off(plane, runway, thrust_of(installation, power, runway.density, factor)), runway)


def _summary(points: list[Point], runway: Runway) -> tuple[float, float, float]:
    """Ground roll, distance over the obstacle, seconds to it."""
    cleared = cleared_at_m(points, runway)
    return lifted_at_m(points), cleared, points[-1].time_s if math.isfinite(cleared) else math.inf


def _losses(plane: Airframe, runway: Runway, weak: Thrust, boosted: list[Point]) -> tuple[Loss, ...]:
    found = []
    due = 0.0
    for point in boosted:
        if point.time_s + 1e-9 < due:
            continue
        due = point.time_s + LOSS_STEP_S
        go = cleared_at_m(take_off(plane, runway, weak, point), runway)
        stop = math.inf if point.is_airborne else stopping_m(runway, point)
        found.append(Loss(point.time_s, go, stop))
    return tuple(found)


def departures(installation: Installation) -> list[Departure]:
    """One for each field of the file, in its order."""
    factor = thrust_factor(installation)
    return [departure(installation, field, factor) for field in installation.airfields]


def takeoff_page(installation: Installation, found: list[Departure], seconds_left: dict[Pattern, float]) -> Page:
    """The page, from departures and the seconds each pattern lasts to the pressure cut."""
    home = found[0]
    worst = home.worst
    tow = installation.takeoff.tow_mass > 0
    page = Page(
        "takeoff",
        "Can I take off, and what if boost is lost?",
        [
            f"At {home.field.name}{' with tow' if tow else ''}, over the obstacle: no boost {{plain}}, with boost "
            "{boosted}, "
            "boost lost at the worst second {lost}; runway {length}.",
            "The third figure is the take-off to plan with. A take-off that fits only while boost lasts is no plan.",
        ],
        figures=_figures(installation, home, worst, seconds_left),
        tables=[_main(found), _leave(found), _lost_table(home)],
    )
    page.findings = list(_findings(found, seconds_left))
    page.assumptions = [
        "Base power: the smaller of the two estimates, humidity counted; full throttle and full rich.",
        f"Rotation {ROTATION_S:g} s; reaction before braking {REACTION_S:g} s; the tow is released when stopping.",
        "Climb at lift-off speed, no gain in speed, no ground effect, steady wind.",
        "Engine and pilot perform as the handbook's did; no margin is added. Add your own.",
        f"Surface: {SURFACE_SOURCE}.",
    ]
    if installation.propeller.kind == "fixed-pitch":
        page.assumptions.append(
            f"A fixed-pitch propeller lets {FIXED_PITCH_STANDING:.0%} of the power through standing, all of it at "
            "1.3 times "
            "lift-off speed (judgement)."
        )
    page.cautions = [
        "These distances are estimates for comparison. The handbook and your own measured take-offs decide.",
        "Boost that quits takes its power away at once: nose down first, then decide.",
    ]
    return page


def _figures(
    installation: Installation, home: Departure, worst: Loss | None, seconds_left: dict[Pattern, float]
) -> list[Figure]:
    handbook = installation.takeoff.handbook_roll
    fitted = "its ground roll" if handbook else "no handbook roll given"
    left = seconds_left.get(home.pattern, math.nan) if home.pattern else math.nan
    motion = "m·dV/dt = T − D − μ(W − L) − W·slope, steps of 0.1 s"
    return [
        Figure("plain", "No boost, over the obstacle", home.plain[1], "distance", motion, THRUST_SOURCE),
        Figure("boosted", "With boost, over the obstacle", home.boosted[1], "distance", motion, THRUST_SOURCE),
        Figure(
            "lost",
            "Boost lost at the worst second",
            worst.needed_m if worst else home.plain[1],
            "distance",
            "largest over all seconds of the shorter of going on and stopping",
            COMPUTED,
        ),
        Figure(
            "worst_second",
            "Worst second",
            worst.second if worst else math.nan,
            "tenths",
            "the same",
            COMPUTED,
        ),
        Figure("length", "Runway", home.field.length, "distance", "installation file"),
        Figure("seconds_needed", "Seconds of boost to the obstacle", home.boosted[2], "tenths", motion, COMPUTED),
        Figure("seconds_left", "Seconds the bottle gives that pattern", left, "tenths", "see the bottle page"),
        Figure("thrust_factor", "Factor on computed thrust", home.thrust_factor, "ratio", f"reproduces {fitted}"),
    ]


def _main(found: list[Departure]) -> Table:
    rows: list[tuple[object, ...]] = []
    for item in found:
        worst = item.worst
        cases: list[tuple[str, float, float, float, float]] = [("no boost", item.base_w, *item.plain)]
        if item.pattern:
            cases.append((f"boost, stage {pattern_name(item.pattern)}", item.boosted_w, *item.boosted))
        for name, power, ground, cleared, seconds in cases:
            rows.append((item.field.name, name, power, ground, cleared, seconds, item.field.length - cleared))
        if worst:
            rows.append(
                (
                    item.field.name,
                    f"boost lost at {worst.second:.1f} s, {'stop' if worst.stop_m < worst.go_m else 'go on'}",
                    item.base_w,
                    None,
                    worst.needed_m,
                    None,
                    item.field.length - worst.needed_m,
                )
            )
    columns = (
        Column("field", "Field"),
        Column("case", "Case"),
        Column("power", "Shaft power", "power"),
        Column("ground_roll", "Ground roll", "distance"),
        Column("cleared", "Over obstacle or stopped", "distance"),
        Column("seconds", "Time", "tenths"),
        Column("left", "Runway left", "distance"),
    )
    return Table("cases", "No boost, boost, boost lost", columns, [tuple(_finite(row)) for row in rows])


def _finite(row: tuple[object, ...]) -> list[float | str | None]:
    cells: list[float | str | None] = []
    for value in row:
        if isinstance(value, float) and math.isinf(value):
            cells.append("never" if value > 0 else "none")
        else:
            cells.append(value if isinstance(value, float | str) else None)
    return cells


def _leave(found: list[Departure]) -> Table:
    rows = []
    for item in found:
        worst = item.worst.needed_m if item.worst else item.plain[1]
        cells = (
            item.field.name,
            item.density_altitude_m,
            item.field.length,
            item.plain[1],
            item.boosted[1] if item.pattern else None,
            worst,
            item.verdict(),
        )
        rows.append(tuple(_finite(cells)))
    columns = (
        Column("field", "Field"),
        Column("density_altitude", "Density altitude", "altitude"),
        Column("length", "Runway", "distance"),
        Column("plain", "No boost", "distance"),
        Column("boosted", "Boost", "distance"),
        Column("lost", "Boost lost, worst", "distance"),
        Column("verdict", "Leaving again"),
    )
    note = "Work this out for the destination before landing there."
    return Table("leave", "Can I leave again?", columns, rows, note=note)


def _lost_table(home: Departure) -> Table:
    rows = [tuple(_finite((loss.second, loss.go_m, loss.stop_m, loss.needed_m))) for loss in home.losses]
    columns = (
        Column("second", "Lost at", "tenths"),
        Column("go", "Going on: over obstacle", "distance"),
        Column("stop", "Stopping: stands at", "distance"),
        Column("needed", "Shorter of the two", "distance"),
    )
    return Table("lost", f"Boost lost at second N, {home.field.name}", columns, rows)


def _findings(found: list[Departure], seconds_left: dict[Pattern, float]) -> list[Finding]:
    findings = []
    factor = found[0].thrust_factor
    if not 0.5 <= factor <= 1.15:
        findings.append(
            Finding(
                "exceeded",
                "takeoff.handbook_roll",
                f"needs {factor:.2f} of the computed thrust",
                "0.50 to 1.15",
                "Check mass, lift coefficients, propeller and handbook roll against one another.",
            )
        )
    for item in found:
        where = f"airfields: {item.field.name}"
        if item.verdict() != "fits without boost":
            change = "Less load, a cooler hour or a longer field; work out leaving before landing there."
            is_home_lost = item is found[0] and item.verdict().endswith("does not fit")
            allowed = "a take-off that fits without boost"
            findings.append(Finding("exceeded" if is_home_lost else "note", where, item.verdict(), allowed, change))
        left = seconds_left.get(item.pattern) if item.pattern else None
        if left is not None and left < item.boosted[2]:
            findings.append(
                Finding(
                    "note",
                    where,
                    f"the bottle lasts {left:.0f} s, the obstacle is {item.boosted[2]:.0f} s away",
                    "a bottle that outlasts the take-off",
                    "Boost will be lost on the way; only the worst-second figure counts.",
                )
            )
    return findings
