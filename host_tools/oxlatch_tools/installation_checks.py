"""Contradictions between fields of one installation that are each allowed on their own.

Only what makes the file meaningless is refused here. What can be computed but exceeds a limit is a finding of the plan.
"""

from collections.abc import Iterator
from itertools import pairwise
from typing import TYPE_CHECKING

from oxlatch_tools.installation_lines import Location

if TYPE_CHECKING:
    from oxlatch_tools.installation import Installation

Contradiction = tuple[Location, str, str]

_ASCENDING = (
    (
        "limits",
        (
            "supply_empty",
            "supply_cut",
            "supply_leave",
            "supply_warn",
            "supply_permit",
            "supply_top",
            "supply_over",
        ),
    ),
    ("limits", ("line_dead", "line_weak", "line_lost", "line_thin", "line_trapped")),
    ("limits", ("throttle_half", "throttle_low", "throttle_drop", "throttle_full")),
    ("limits", ("fuel_band", "fuel_cut", "fuel_fail")),
    ("limits", ("fuel_band", "fuel_high", "fuel_over")),
    ("limits", ("block_drop", "block_climb")),
    ("engine", ("boost_speed_cut", "boost_speed_low", "boost_speed_high")),
    ("electrical", ("hard", "lowest", "permit", "in_flight", "surge")),
    ("timing", ("armed_warn", "armed")),
    ("timing", ("warn_before", "longest_run")),
    ("bottle", ("lowest_temperature", "start_temperature", "highest_temperature")),
    ("bottle", ("service_pressure", "relief_pressure")),
    ("jets", ("oxidizer_discharge_low", "oxidizer_discharge", "oxidizer_discharge_high")),
    ("oxidizer", ("mixture_rich", "mixture", "mixture_lean")),
    ("sensors", ("throttle_closed", "throttle_open")),
    ("aircraft", ("forward_limit", "aft_limit")),
    ("limits", ("bottle_warm", "bottle_red")),
    ("timing", ("purge", "vent")),
)
_MAY_BE_EQUAL = {"oxidizer_discharge", "oxidizer_discharge_high", "start_temperature", "highest_temperature"}


def contradictions(installation: "Installation") -> Iterator[Contradiction]:
    """Every contradiction as (location, what was found, what is allowed)."""
    yield from _orders(installation)
    yield from _engine(installation)
    yield from _stages(installation)
    yield from _bottle(installation)
    yield from _sensors(installation)
    yield from _tests(installation)
    yield from _fuel(installation)
    yield from _valves(installation)
    yield from _extras(installation)


def _orders(installation: "Installation") -> Iterator[Contradiction]:
    for section, names in _ASCENDING:
        table = getattr(installation, section)
        for lower, upper in pairwise(names):
            low, high = getattr(table, lower), getattr(table, upper)
            if low is None or high is None or low < high or (low == high and upper in _MAY_BE_EQUAL):
                continue
            found = f"is not above {section}.{lower} ({high:g} against {low:g} in SI units)"
            yield (section, upper), found, f"more than {section}.{lower}"


def _engine(installation: "Installation") -> Iterator[Contradiction]:
    engine, ceiling = installation.engine, installation.ceiling
    if ceiling.power <= engine.rated_power:
        found = f"{ceiling.power / 1e3:g} kW leaves no room above the base engine's {engine.rated_power / 1e3:g} kW"
        yield ("ceiling", "power"), found, "more than engine.rated_power"
    if ceiling.propeller_power is not None and ceiling.propeller_power < engine.rated_power:
        yield (
            ("ceiling", "propeller_power"),
            "is below the base engine's power",
            "at least engine.rated_power",
        )


def _stages(installation: "Installation") -> Iterator[Contradiction]:
    stages = installation.stages
    for index in range(1, len(stages)):
        if stages[index].power < stages[index - 1].power:
            found = f"{stages[index].power / 1e3:g} kW is less than the stage before it"
            yield ("stages", index, "power"), found, "stages in ascending power"
    for index, stage in enumerate(stages):
        if stage.delivery == "port" and stage.nozzles != installation.engine.cylinders:
            found = f"{stage.nozzles} nozzles at the ports of {installation.engine.cylinders} cylinders"
            yield ("stages", index, "nozzles"), found, "one nozzle a cylinder for delivery at the port"
        if any(stage.name == other.name for other in stages[:index]):
            yield (
                ("stages", index, "name"),
                f'"{stage.name}" is used twice',
                "a name of its own for each stage",
            )


def _bottle(installation: "Installation") -> Iterator[Contradiction]:
    bottle = installation.bottle
    density = bottle.charge / bottle.volume
    if density > bottle.fill_limit * (1 + 1e-9):
        found = f"{bottle.charge:g} kg in {bottle.volume * 1e3:g} L is {density / 1e3:.3f} kg/L"
        yield ("bottle", "charge"), found, f"up to bottle.fill_limit, {bottle.fill_limit / 1e3:g} kg/L"


def _sensors(installation: "Installation") -> Iterator[Contradiction]:
    sensors = installation.sensors
    if not {"contact second pole", "throttle position"} & set(sensors.fitted):
        yield (
            ("sensors", "fitted"),
            "has neither second contact pole nor throttle position",
            "at least one of the two",
        )
    if ("master fuel valve" in sensors.fitted) != (installation.master_fuel_valve is not None):
        yield (
            ("sensors", "fitted"),
            '"master fuel valve" and the table master_fuel_valve disagree',
            "both or neither",
        )
    if len(set(sensors.fitted)) != len(sensors.fitted):
        yield ("sensors", "fitted"), "names an input twice", "each input once"
    highest = sensors.supply.full_scale + (101325.0 if sensors.supply.reference == "gauge" else 0.0)
    if installation.limits.line_trapped >= highest:
        found = f"{sensors.supply.full_scale / 1e5:g} bar does not reach limits.line_trapped"
        yield ("sensors", "supply", "full_scale"), found, "more than limits.line_trapped"
    over = installation.fuel.set_pressure * (1 + installation.limits.fuel_over)
    if over >= sensors.fuel.full_scale:
        yield (
            ("sensors", "fuel", "full_scale"),
            "does not reach the highest fuel pressure",
            f"more than {over / 1e5:.3g} bar",
        )
    if sensors.fuel.reference != "gauge":
        yield (
            ("sensors", "fuel", "reference"),
            '"absolute"',
            '"gauge": fuel pressure is set against the outside air',
        )


def _tests(installation: "Installation") -> Iterator[Contradiction]:
    count = len(installation.stages)
    for index, entry in enumerate(installation.tested.patterns):
        if max(entry.stages) > count or len(set(entry.stages)) != len(entry.stages):
            yield (
                ("tested", "patterns", index, "stages"),
                f"{entry.stages}",
                f"different stages from 1 to {count}",
            )
    for index, shot in enumerate(installation.tested.shots):
        if shot.stage > count:
            yield ("tested", "shots", index, "stage"), f"{shot.stage} does not exist", f"1 to {count}"
    for index, spread in enumerate(installation.tested.spreads):
        location: Location = ("tested", "spreads", index)
        if spread.stage > count:
            yield location + ("stage",), f"{spread.stage} does not exist", f"1 to {count}"
        for name in ("without_boost", "with_boost"):
            values = getattr(spread, name)
            if len(values) != installation.engine.cylinders:
                allowed = f"one value for each of {installation.engine.cylinders} cylinders"
                yield location + (name,), f"{len(values)} values", allowed


def _fuel(installation: "Installation") -> Iterator[Contradiction]:
    points = installation.fuel.pump
    for index in range(1, len(points)):
        if points[index].flow <= points[index - 1].flow or points[index].pressure > points[index - 1].pressure:
            found = "does not continue a falling curve"
            yield ("fuel", "pump", index), found, "flow ascending, pressure not rising"


def _valves(installation: "Installation") -> Iterator[Contradiction]:
    for name in ("oxidizer_valve", "fuel_valve", "purge_valve", "master_fuel_valve", "master_oxidizer_valve"):
        valve = getattr(installation, name)
        if valve is None:
            continue
        if not valve.drop_out < valve.pull_in_free <= valve.pull_in:
            found = f"{valve.drop_out:g} V, {valve.pull_in_free:g} V, {valve.pull_in:g} V do not ascend"
            yield (name, "pull_in"), found, "drop_out below pull_in_free, and that not above pull_in"
        if (valve.duty_on is None) != (valve.duty_off is None):
            given = "duty_on" if valve.duty_off is None else "duty_off"
            yield (name, given), "stands alone", "duty_on and duty_off together, or neither"


def _extras(installation: "Installation") -> Iterator[Contradiction]:
    """Inputs beyond the core against the tables that describe them."""
    sensors, fitted = installation.sensors, set(installation.sensors.fitted)
    here: Location = ("sensors", "fitted")
    if ("master oxidizer valve" in fitted) != (installation.master_oxidizer_valve is not None):
        yield here, '"master oxidizer valve" and the table master_oxidizer_valve disagree', "both or neither"
    if ("airspeed" in fitted) != (sensors.airspeed is not None):
        yield here, '"airspeed" and the entry sensors.airspeed disagree', "both or neither"
    if "purge outlet 2" in fitted and "purge outlet 1" not in fitted:
        yield here, '"purge outlet 2" without "purge outlet 1"', "the first outlet, or both"
    if "ignition retard" in fitted and installation.engine.ignition != "retarding":
        yield here, f'"ignition retard" with engine.ignition = "{installation.engine.ignition}"', '"retarding"'
    if sensors.airspeed is not None and fitted >= {"airspeed"}:
        needed_pa = impact_pressure_pa(installation.aircraft.boost_airspeed_limit)
        if needed_pa > 0.9 * sensors.airspeed.full_scale:
            found = f"{sensors.airspeed.full_scale:g} Pa is too little for {needed_pa:.0f} Pa at the airspeed limit"
            yield ("sensors", "airspeed", "full_scale"), found, f"{needed_pa / 0.9:.0f} Pa or more"


def impact_pressure_pa(indicated_m_s: float) -> float:
    """Pitot less static pressure at an indicated airspeed, incompressible, standard density at sea level (ISO 2533)."""
    return 0.5 * 1.225 * indicated_m_s**2
