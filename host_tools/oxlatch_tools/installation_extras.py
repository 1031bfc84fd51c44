"""The part of the settings record that belongs to inputs beyond the core: temperatures, air, budget, coils, bench."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from oxlatch import vocabulary as words
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_checks import impact_pressure_pa
from oxlatch_tools.installation_control import PressureSensor

ATMOSPHERE_PA = 101_325.0
SENSOR_LOW_MV, SENSOR_SPAN_MV = 500.0, 4000.0
TICK_S = words.TICK_MS / 1000.0
TURN_TICKS = 8
"""Slow quantities are looked at once in so many ticks."""
FIRST_SATURATION_K, SATURATION_STEP_K, SATURATION_STEPS = 263.15, 5.0, 10
COIL_DOWN = 10
"""Units by which the coil estimate falls in a tick: fine enough that the rise is right to a few per cent."""


@dataclass(frozen=True)
class Packed:
    """One field of the record with the entry of the installation file that it comes from."""

    value: int
    source: str


def extra_fields(installation: Installation) -> dict[str, Packed]:
    """Every field that an input beyond the core decides; those of inputs that are not fitted keep their defaults."""
    fitted = set(installation.sensors.fitted)
    fields = _times(installation) | _coils(installation)
    if "bottle temperature" in fitted:
        fields |= _bottle(installation)
    if "air data" in fitted:
        fields |= _air(installation)
    if "airspeed" in fitted:
        fields |= _airspeed(installation)
    if "bottle budget" in fitted:
        fields |= _budget(installation)
    return fields


def sensor_mv(sensor: PressureSensor, pressure_pa: float, is_absolute: bool) -> float:
    """Signal of a ratiometric sensor at a pressure given absolute or above the outside air, in millivolts."""
    offset = {(True, "gauge"): -ATMOSPHERE_PA, (False, "absolute"): ATMOSPHERE_PA}
    seen = pressure_pa + offset.get((is_absolute, sensor.reference), 0.0)
    return SENSOR_LOW_MV + SENSOR_SPAN_MV * seen / sensor.full_scale


def round_up(value: float) -> int:
    """The next whole number, forgiving what arithmetic adds."""
    return math.ceil(value - 1e-6)


def round_down(value: float) -> int:
    """The whole number below, forgiving what arithmetic takes."""
    return math.floor(value + 1e-6)


def _times(installation: Installation) -> dict[str, Packed]:
    timing, limits, supply = installation.timing, installation.limits, installation.sensors.supply
    return {
        "vent_ticks": Packed(round_down(timing.vent / TICK_S), "timing.vent"),
        "bench_ticks": Packed(round_down(timing.bench / TICK_S), "timing.bench"),
        "outlet_cold_dk": Packed(round_down(10.0 * limits.outlet_cold), "limits.outlet_cold"),
        # a line is empty at 1 bar above the outside air at sea level; higher up a little more is left in it
        "line_empty_mv": Packed(round_up(sensor_mv(supply, 1e5, is_absolute=False)), "sensors.supply"),
    }


def _coils(installation: Installation) -> dict[str, Packed]:
    """Rise, fall and limits of the coil estimate from the duty of the least patient stage coil."""
    limited = [
        valve
        for valve in (installation.oxidizer_valve, installation.fuel_valve)
        if valve.duty_on is not None and valve.duty_off is not None
    ]
    if not limited:
        return {}
    on_s = min(valve.duty_on for valve in limited if valve.duty_on is not None)
    off_s = max(valve.duty_off for valve in limited if valve.duty_off is not None)
    up = round_up(COIL_DOWN * off_s / on_s)
    top = round_down(on_s / TICK_S) * up
    longest = round_up(installation.timing.longest_run / TICK_S) * up
    source = "oxidizer_valve.duty_on"
    return {
        "coil_heat_up": Packed(up, "oxidizer_valve.duty_off"),
        "coil_heat_down": Packed(COIL_DOWN, source),
        "coil_heat_start": Packed(top - longest, source),
        "coil_heat_top": Packed(top, source),
    }


def _bottle(installation: Installation) -> dict[str, Packed]:
    from oxlatch_tools.planning.flux import saturation_pa  # loads the property tables

    limits, supply = installation.limits, installation.sensors.supply
    per_pa = SENSOR_SPAN_MV / supply.full_scale
    soaked = round_up(installation.timing.soaked / TICK_S / TURN_TICKS)
    fields = {
        "bottle_top_dk": Packed(round_down(10.0 * limits.bottle_warm), "limits.bottle_warm"),
        "bottle_red_dk": Packed(round_down(10.0 * limits.bottle_red), "limits.bottle_red"),
        "match_mv": Packed(round_down(per_pa * limits.bottle_mismatch), "limits.bottle_mismatch"),
        "match_turns": Packed(soaked, "timing.soaked"),
    }
    for step in range(SATURATION_STEPS):
        pressure_pa = saturation_pa(FIRST_SATURATION_K + SATURATION_STEP_K * step)
        signal = sensor_mv(supply, pressure_pa, is_absolute=True)
        fields[f"sat_{step}_mv"] = Packed(round(signal), "sensors.supply.full_scale")
    return fields


def _air(installation: Installation) -> dict[str, Packed]:
    from oxlatch_tools.planning.rows import density_rows  # here, because planning itself needs this module

    rows = density_rows(installation)
    fields = {"patterns": Packed(rows[0].mask, "ceiling.power")}
    for number, row in enumerate(rows[1:], start=1):
        fields[f"patterns_{number}"] = Packed(row.mask, "ceiling.power")
        fields[f"density_{number}"] = Packed(row.below, "ceiling.power")
    turns = round_up(installation.timing.thinner_air / TICK_S / TURN_TICKS)
    fields["row_turns"] = Packed(turns, "timing.thinner_air")
    return fields


def _airspeed(installation: Installation) -> dict[str, Packed]:
    sensor = installation.sensors.airspeed
    assert sensor is not None, "checked when the file was read"
    share = impact_pressure_pa(installation.aircraft.boost_airspeed_limit) / sensor.full_scale
    signal = SENSOR_LOW_MV + SENSOR_SPAN_MV * share
    return {"airspeed_top_mv": Packed(round_down(signal), "aircraft.boost_airspeed_limit")}


def _budget(installation: Installation) -> dict[str, Packed]:
    from oxlatch_tools.planning.stock import RESERVE_S, purge_flow_kg_s, stage_flow_kg_s, usable_kg

    fields = {
        "bottle_full_g": Packed(round_down(1000.0 * usable_kg(installation)), "bottle.charge"),
        "flow_purge": Packed(_per_tick(purge_flow_kg_s(installation)), "feed.purge_jet"),
    }
    for number in range(1, words.STAGES_MAX + 1):
        is_there = number <= len(installation.stages)
        flow = _per_tick(stage_flow_kg_s(installation, number)) if is_there else 0
        source = f"stages[{number}].power"
        fields[f"flow_{number}"] = Packed(flow, source)
        fields[f"need_{number}"] = Packed(round_up(flow * RESERVE_S / TICK_S), source)
    return fields


def _per_tick(flow_kg_s: float) -> int:
    """Flow in 1/1024 g per tick, rounded up."""
    return round_up(flow_kg_s * 1000.0 * 1024.0 * TICK_S)


def seconds_problem(installation: Installation) -> Iterator[tuple[str, str, str]]:
    """Where coil duty and other times of the file do not fit together: field, what was found, what is allowed."""
    longest = installation.timing.longest_run
    for name in ("oxidizer_valve", "fuel_valve"):
        duty = getattr(installation, name).duty_on
        if duty is not None and duty <= longest:
            yield f"{name}.duty_on", f"{duty:g} s", f"more than timing.longest_run, {longest:g} s"
