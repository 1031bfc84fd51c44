"""From an installation to the settings record the controller runs on.

Thresholds are packed absolute, in the unit of the raw sample, so that the tick multiplies and divides by no setting.
Where rounding has to fall one way, it falls to the side on which the controller opens later or stops sooner.
"""

from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import TYPE_CHECKING

from oxlatch import settings as record
from oxlatch import vocabulary as words
from oxlatch_sim.inputs import INPUT_BITS
from oxlatch_tools.installation import Installation, InstallationError, Problem
from oxlatch_tools.installation_extras import (
    SENSOR_SPAN_MV,
    Packed,
    extra_fields,
    round_down,
    round_up,
    seconds_problem,
    sensor_mv,
)

if TYPE_CHECKING:
    from oxlatch_tools.planning.order import Order

_TICK_S = words.TICK_MS / 1000.0
_MEAN_SAMPLES = 200  # slopes of pressure are differences of sums over one second


def settings_of(installation: Installation) -> record.Settings:
    """The checked settings of an installation; InstallationError in words when a bound or a rule is broken."""
    fields = packed_fields(installation)
    problems = [Problem(*parts) for parts in seconds_problem(installation)]
    problems = problems or list(broken_bounds(fields)) or list(broken_rules(fields))
    settings = record.Settings()
    for name, packed in fields.items():
        setattr(settings, name, packed.value)
    if not problems and not record.in_bounds(settings):
        problems = [Problem("settings record", "breaks a rule of the controller", "a record the controller accepts")]
    if problems:
        raise InstallationError(installation.aircraft.name, problems)
    return settings


def record_bytes(settings: record.Settings) -> bytes:
    """The record as the controller stores it, with its CRC-32."""
    buffer = bytearray(record.RECORD_BYTES)
    record.pack(settings, buffer)
    return bytes(buffer)


def packed_fields(installation: Installation) -> dict[str, Packed]:
    """Every field that the installation decides; the others keep the record's defaults."""
    fields: dict[str, Packed] = {}
    for part in (_identity, _times, _throttle_and_speed, _oxidizer, _fuel, _bus):
        fields.update(part(installation))
    fields.update(extra_fields(installation))
    fields.update(_order(installation, fields))
    return fields


def lead_and_tail(installation: Installation) -> "Order":
    """Lead and tail in use, and what every stage needs over the tolerance box."""
    from oxlatch_tools.planning.order import order_of  # here, because planning itself needs this module

    fields = _oxidizer(installation) | _bus(installation)
    return order_of(installation, {name: packed.value for name, packed in fields.items()})


def _order(installation: Installation, fields: dict[str, Packed]) -> dict[str, Packed]:
    """Lead rounded up, tail down, and the longest time a stage is tried."""
    if list(broken_bounds(fields)):
        return {}
    order = lead_and_tail(installation)
    return {
        "lead_ticks": Packed(round_up(order.lead_s / _TICK_S), "timing.lead"),
        "tail_ticks": Packed(round_down(order.tail_s / _TICK_S), "timing.tail"),
        "lead_limit_ticks": Packed(order.lead_limit_ticks, "oxidizer_valve.opening"),
    }


def pattern_mask(installation: Installation) -> int:
    """Bit p is set when the selection with switch bits p was tested."""
    return sum(1 << sum(1 << (n - 1) for n in p) for p in installation.patterns() if installation.is_tested(p))


def fitted_mask(installation: Installation) -> int:
    """The record's bits for everything wired to the controller."""
    return words.FIT_ALWAYS | sum(INPUT_BITS[name] for name in installation.sensors.fitted)


def _identity(installation: Installation) -> dict[str, Packed]:
    digest = installation.digest
    return {
        "stages": Packed(len(installation.stages), "stages"),
        "fitted": Packed(fitted_mask(installation), "sensors.fitted"),
        "patterns": Packed(pattern_mask(installation), "tested.patterns"),
        "installation_high": Packed(int(digest[:4], 16), "digest"),
        "installation_low": Packed(int(digest[4:], 16), "digest"),
    }


def _times(installation: Installation) -> dict[str, Packed]:
    timing = installation.timing
    later = {"stagger_ticks": "stagger", "gap_ticks": "gap", "purge_ticks": "purge"}
    sooner = {
        "run_ticks": "longest_run",
        "purge_valid_ticks": "purge_valid",
        "purge_after_run_ticks": "purge_valid_after_run",
        "arm_ticks": "armed",
        "arm_warn_ticks": "armed_warn",
    }
    fields = {name: Packed(round_up(getattr(timing, key) / _TICK_S), f"timing.{key}") for name, key in later.items()}
    for name, key in sooner.items():
        fields[name] = Packed(round_down(getattr(timing, key) / _TICK_S), f"timing.{key}")
    warn = timing.longest_run - timing.warn_before
    fields["run_warn_ticks"] = Packed(round_down(warn / _TICK_S), "timing.warn_before")
    return fields


def _throttle_and_speed(installation: Installation) -> dict[str, Packed]:
    sensors, limits, engine = installation.sensors, installation.limits, installation.engine
    span = sensors.throttle_open - sensors.throttle_closed
    fields: dict[str, Packed] = {}
    for part in ("full", "drop", "low", "half"):
        volts = sensors.throttle_closed + span * getattr(limits, f"throttle_{part}")
        fields[f"throttle_{part}_mv"] = Packed(round_up(1000 * volts), f"limits.throttle_{part}")
    # a chop is 300 % of the travel a second, seen over eight ticks
    fields["throttle_chop_mv"] = Packed(round_down(1000 * span * 3.0 * 8 * _TICK_S), "sensors.throttle_open")
    fields["rpm_cut"] = Packed(round_up(engine.boost_speed_cut), "engine.boost_speed_cut")
    fields["rpm_min"] = Packed(round_up(engine.boost_speed_low), "engine.boost_speed_low")
    fields["rpm_max"] = Packed(round_down(engine.boost_speed_high), "engine.boost_speed_high")
    return fields


def _oxidizer(installation: Installation) -> dict[str, Packed]:
    sensor, limits = installation.sensors.supply, installation.limits
    fields: dict[str, Packed] = {}
    upper = ("supply_top", "supply_over", "line_trapped")
    names = [name for name in type(limits).model_fields if name.startswith(("supply_", "line_"))]
    for name in names:
        signal = sensor_mv(sensor, getattr(limits, name), is_absolute=True)
        fields[f"{name}_mv"] = Packed(round_down(signal) if name in upper else round_up(signal), f"limits.{name}")
    per_bar = SENSOR_SPAN_MV * 1e5 / sensor.full_scale
    source = "sensors.supply.full_scale"
    # 2 bar in one second, and 6 bar in ten
    fields["supply_fall_sum_mv"] = Packed(round_down(2 * per_bar * _MEAN_SAMPLES), source)
    fields["line_fall_sum_mv"] = Packed(round_down(6 * per_bar * _MEAN_SAMPLES), source)
    return fields


def _fuel(installation: Installation) -> dict[str, Packed]:
    sensor, limits, level = installation.sensors.fuel, installation.limits, installation.fuel.set_pressure
    shares = {
        "fuel_fail_mv": (-limits.fuel_fail, "fuel_fail", round_up),
        "fuel_cut_mv": (-limits.fuel_cut, "fuel_cut", round_up),
        "fuel_low_mv": (-limits.fuel_band, "fuel_band", round_up),
        "fuel_top_mv": (limits.fuel_band, "fuel_band", round_down),
        "fuel_high_mv": (limits.fuel_high, "fuel_high", round_down),
        "fuel_over_mv": (limits.fuel_over, "fuel_over", round_down),
    }
    fields: dict[str, Packed] = {}
    rounding: Callable[[float], int]
    for name, (share, key, rounding) in shares.items():
        signal = sensor_mv(sensor, level * (1 + share), is_absolute=False)
        fields[name] = Packed(rounding(signal), f"limits.{key}")
    per_pa = SENSOR_SPAN_MV / sensor.full_scale
    fields["block_drop_mv"] = Packed(round_down(per_pa * level * limits.block_drop), "limits.block_drop")
    fields["block_climb_mv"] = Packed(round_down(per_pa * level * limits.block_climb), "limits.block_climb")
    return fields


def _bus(installation: Installation) -> dict[str, Packed]:
    electrical = installation.electrical
    return {
        "bus_hard_mv": Packed(round_up(1000 * electrical.hard), "electrical.hard"),
        "bus_cut_mv": Packed(round_up(1000 * electrical.lowest), "electrical.lowest"),
        "bus_permit_mv": Packed(round_up(1000 * electrical.permit), "electrical.permit"),
        "bus_surge_mv": Packed(round_down(1000 * electrical.surge), "electrical.surge"),
        # contacts and drivers may lose a sixth of the lowest bus before the rail counts as weak
        "rail_live_mv": Packed(round_up(1000 * electrical.lowest * 5 / 6), "electrical.lowest"),
    }


def broken_bounds(fields: dict[str, Packed]) -> Iterator[Problem]:
    """Each field outside the bounds of the record, in words."""
    for name, unit, low, high, _default in record.FIELDS:
        packed = fields.get(name)
        if packed is not None and not low <= packed.value <= high:
            found = f"gives {packed.value} {unit} for {name} of the settings record"
            yield Problem(packed.source, found, f"{low} to {high} {unit}")


ASCENDING = (
    ("lead_ticks", "lead_limit_ticks"),
    ("arm_warn_ticks", "arm_ticks"),
    ("run_warn_ticks", "run_ticks"),
    ("throttle_half_mv", "throttle_low_mv", "throttle_drop_mv", "throttle_full_mv"),
    ("rpm_cut", "rpm_min", "rpm_max"),
    ("coil_heat_start", "coil_heat_top"),
    ("bottle_top_dk", "bottle_red_dk"),
    tuple(f"sat_{step}_mv" for step in range(10)),
    ("line_empty_mv", "line_dead_mv", "line_weak_mv", "line_lost_mv", "line_thin_mv", "line_trapped_mv"),
    ("bus_hard_mv", "bus_cut_mv", "bus_permit_mv", "bus_surge_mv"),
    ("rail_dead_mv", "rail_live_mv"),
    ("shut_slow_ticks", "shut_stuck_ticks"),
    (
        "supply_empty_mv",
        "supply_cut_mv",
        "supply_leave_mv",
        "supply_warn_mv",
        "supply_permit_mv",
        "supply_top_mv",
    ),
    ("supply_top_mv", "supply_over_mv"),
    ("supply_top_mv", "line_trapped_mv"),
    ("fuel_fail_mv", "fuel_cut_mv", "fuel_low_mv", "fuel_top_mv", "fuel_high_mv", "fuel_over_mv"),
)
NOT_DESCENDING = (
    ("tail_ticks", "run_off_ticks"),
    ("purge_good_ticks", "purge_ticks", "purge_max_ticks"),
    ("purge_after_run_ticks", "purge_valid_ticks"),
    ("contact_open_ticks", "release_ticks"),
    ("master_off_ticks", "disarm_ticks"),
    ("line_thin_mv", "supply_permit_mv"),
    ("sensor_low_mv", "supply_empty_mv"),
    ("supply_over_mv", "sensor_high_mv"),
    ("sensor_low_mv", "fuel_fail_mv"),
    ("fuel_over_mv", "sensor_high_mv"),
    ("purge_max_ticks", "vent_ticks"),
    ("sensor_low_mv", "airspeed_top_mv", "sensor_high_mv"),
)
THINNING = tuple(f"density_{row}" for row in range(5, 0, -1))
"""Where air is measured: every row of the altitude table begins in thinner air than the one before."""


def broken_rules(fields: dict[str, Packed]) -> Iterator[Problem]:
    """Each rule between fields that is broken, in words; the rules are those of the settings record."""
    defaults = {field[0]: Packed(field[4], "default") for field in record.FIELDS}
    every = defaults | fields
    air = every["fitted"].value & words.FIT_AIR
    top = 1 << (1 << every["stages"].value)
    for name in ("patterns", *(f"patterns_{row}" for row in range(1, words.ROWS))) if air else ("patterns",):
        if every[name].value >= top:
            yield Problem(every[name].source, f"gives {every[name].value} for {name}", f"less than {top}")
    for chains, least in (((*ASCENDING, THINNING) if air else ASCENDING, 1), (NOT_DESCENDING, 0)):
        for chain in chains:
            for lower, upper in pairwise(chain):
                low, high = every[lower], every[upper]
                if high.value - low.value < least:
                    found = f"gives {high.value} for {upper}, against {low.value} for {lower} (from {low.source})"
                    yield Problem(high.source, found, f"{upper} {'above' if least else 'at least'} {lower}")
