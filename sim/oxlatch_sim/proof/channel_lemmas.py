"""The channels of sense and what each verdict guarantees, in terms of runs of samples.

A run counts for how many samples in a row something has been true. The lemmas say two things: a verdict that
stops appears as soon as its run is long enough, and one that permits appears only after its whole run.
"""

from itertools import pairwise
from typing import Any

from oxlatch import sense, sense_engine, sense_fuel, sense_supply, sense_volts
from oxlatch import vocabulary as k
from oxlatch_sim.proof.channels import Channel, Sample

Runs = tuple[int, ...]
BLOCK_LOOKS = 2  # looks in a row that make a leak, here
LONG = 9  # runs are cut here; every count of the small settings is shorter


def longer(run: int, true: bool) -> int:
    """A run after one more sample."""
    return min(run + 1, LONG) if true else 0


def around(raw_index: int, *thresholds: int) -> list[Sample]:
    """One sample just below every threshold, one on it, one just above."""
    values = sorted({value + step for value in thresholds for step in (-1, 0, 1)})
    return [Sample(((raw_index, value),), facts=(value,)) for value in values]


def between(raw_index: int, *thresholds: int) -> list[Sample]:
    """One sample in every band that the thresholds cut out."""
    ends = [min(thresholds) - 200, *sorted(thresholds), max(thresholds) + 200]
    values = [(low + high) // 2 for low, high in pairwise(ends)]
    return [Sample(((raw_index, value),), facts=(value,)) for value in values]


# --- switches ---------------------------------------------------------------------------------------


def _button(_c: Any) -> list[Sample]:
    return [Sample(((k.RAW_SWITCHES, on * k.SW_PURGE | k.SW_DETENT_NC),), facts=(on,)) for on in (0, 1)]


def _button_past(past: Runs, sample: Sample, _c: Any) -> Runs:
    on = sample.facts[0] == 1
    off = longer(past[1], not on)
    return longer(past[0], on), off, longer(past[2], off < 2)


def _button_holds(before: Runs, now: Runs, past: Runs, c: Any) -> bool:
    on, off, steady = past
    stopped = off < 2 or not now[0]
    started = not now[0] or before[0] or on >= 6
    told = on < 6 or now[0] == 1
    kept = not before[0] or off >= 2 or now[0] == 1
    held = not now[1] or (off < 2 and steady > c.purge_stuck_ticks)
    return bool(stopped and started and told and kept and held)


# --- detent contact ---------------------------------------------------------------------------------

POLES = (0, k.SW_DETENT_NO, k.SW_DETENT_NC, k.SW_DETENT_NO | k.SW_DETENT_NC)


def _poles(c: Any) -> list[Sample]:
    found = []
    for poles in POLES:
        for throttle in (c.throttle_low_mv - 1, c.throttle_low_mv):
            facts = (int(poles == k.SW_DETENT_NO), int(poles == k.SW_DETENT_NC), int(throttle < c.throttle_low_mv))
            found.append(Sample(((k.RAW_SWITCHES, poles), (k.RAW_THROTTLE_MV, throttle)), facts=facts))
    return found


def _poles_past(past: Runs, sample: Sample, _c: Any) -> Runs:
    closed, opened, low = sample.facts
    return (
        longer(past[0], bool(closed)),
        longer(past[1], not closed),
        longer(past[2], bool(opened)),
        longer(past[3], not opened),
        longer(past[4], bool(closed and low)),
    )


def _poles_hold(before: Runs, now: Runs, past: Runs, c: Any) -> bool:
    closed, not_closed, opened, not_opened, closed_low = past
    contact, stuck = now
    if contact == k.CONTACT_CLOSED and (not_closed >= 2 or (before[0] != k.CONTACT_CLOSED and closed < 6)):
        return False
    if contact == k.CONTACT_OPEN and (not_opened >= 2 or (before[0] != k.CONTACT_OPEN and opened < 6)):
        return False
    if (closed >= 6 and contact != k.CONTACT_CLOSED) or (opened >= 6 and contact != k.CONTACT_OPEN):
        return False
    return not stuck or closed_low > c.detent_stuck_ticks


# --- proof and coils --------------------------------------------------------------------------------


def _proofs(_c: Any) -> list[Sample]:
    return [
        Sample(
            ((k.RAW_SWITCHES, proof << k.SW_PROOF_SHIFT),), (("driven", driven), ("proof", proof)), facts=(proof, driven)
        )
        for proof in (0, 1)
        for driven in (0, 1)
    ]


def _proofs_past(past: Runs, sample: Sample, _c: Any) -> Runs:
    proof, driven = sample.facts
    return (longer(past[0], bool(proof and not driven)),)


def _proofs_hold(_before: Runs, now: Runs, past: Runs, c: Any) -> bool:
    if now[0] == k.SHUT_STUCK:
        return past[0] > c.shut_stuck_ticks
    return now[0] != k.SHUT_SLOW or past[0] > c.shut_slow_ticks


def _coils(_c: Any) -> list[Sample]:
    return [
        Sample(((k.RAW_CURRENTS, on), (k.RAW_SHORTS, short)), (("driven", driven),), facts=(on, driven, short))
        for on in (0, 1)
        for driven in (0, 1)
        for short in (0, 1)
    ]


def _coils_past(past: Runs, sample: Sample, _c: Any) -> Runs:
    on, driven, short = sample.facts
    return (
        longer(past[0], bool(on)),
        longer(past[1], not on),
        longer(past[2], bool(driven)),
        longer(past[3], not driven),
        longer(past[4], bool(short)),
    )


def _coils_hold(before: Runs, now: Runs, past: Runs, _c: Any) -> bool:
    on, off, driven, undriven, short = past
    current, missing, stray, shorted = now
    return bool(
        (off < 2 or not current)
        and (on < 2 or current)
        and (not current or before[0] or on >= 2)
        and missing == (driven >= 4 and off >= 2)
        and (not stray or (on >= 2 and undriven >= 6))
        and (stray or on < 2 or undriven < 7)
        and shorted == (short >= 2)
    )


# --- throttle and engine speed ----------------------------------------------------------------------


def _throttles(c: Any) -> list[Sample]:
    marks = (c.sensor_low_mv - 1, c.throttle_drop_mv - 1, c.throttle_drop_mv, c.throttle_full_mv)
    return [Sample(((k.RAW_THROTTLE_MV, value),), facts=(value,)) for value in marks]


def _throttles_past(past: Runs, sample: Sample, c: Any) -> Runs:
    value = sample.facts[0]
    outside = value < c.sensor_low_mv or value > c.sensor_high_mv
    return (
        longer(past[0], outside),
        longer(past[1], value < c.throttle_drop_mv),
        longer(past[2], value >= c.throttle_full_mv),
    )


def _throttles_hold(_before: Runs, now: Runs, past: Runs, c: Any) -> bool:
    outside, low, full = past
    if outside >= 2:
        return now[0] == k.THROTTLE_FAULT
    if low >= 2:
        return now[0] == k.THROTTLE_DROP
    return now[0] != k.THROTTLE_FULL or full >= c.throttle_full_ticks


def _speeds(c: Any) -> list[Sample]:
    found = []
    for rpm, age in ((c.rpm_cut - 1, 0), (c.rpm_min, 0), (c.rpm_max + 1, 0), (c.rpm_min, c.pulse_age_ms)):
        facts = (int(age >= c.pulse_age_ms), int(rpm < c.rpm_cut), int(rpm > c.rpm_max), int(c.rpm_min <= rpm <= c.rpm_max))
        found.append(Sample(((k.RAW_RPM, rpm), (k.RAW_PULSE_AGE_MS, age)), facts=facts))
    return found


def _speeds_past(past: Runs, sample: Sample, _c: Any) -> Runs:
    silent, low, over, inside = sample.facts
    return (
        longer(past[0], bool(silent)),
        longer(past[1], bool(low)),
        longer(past[2], bool(over)),
        longer(past[3], bool(inside and not silent)),
    )


def _speeds_hold(_before: Runs, now: Runs, past: Runs, c: Any) -> bool:
    silent, low, over, inside = past
    rpm = now[0]
    if silent and rpm > k.RPM_SILENT:
        return False
    if low >= c.rpm_low_ticks and rpm > k.RPM_LOW:
        return False
    if over >= c.rpm_over_ticks and k.RPM_LOW < rpm < k.RPM_OVER:
        return False
    if rpm == k.RPM_STOPPED:
        return silent >= c.rpm_stopped_ticks
    return rpm != k.RPM_WINDOW or inside >= c.rpm_window_ticks


# --- oxidizer and fuel pressure, leaks --------------------------------------------------------------


def _supplies(c: Any) -> list[Sample]:
    bands = between(
        k.RAW_SUPPLY_MV, c.sensor_low_mv, c.supply_empty_mv, c.supply_cut_mv, c.supply_leave_mv, c.supply_permit_mv, c.supply_over_mv
    )
    return [Sample(band.raw, (("driven", driven),), (*band.facts, driven)) for band in bands for driven in (0, 1)]


def _supplies_past(past: Runs, sample: Sample, c: Any) -> Runs:
    value, driven = sample.facts
    blank = c.supply_blank_ticks if driven and not past[6] else max(0, past[5] - 1)
    return (
        longer(past[0], value < c.sensor_low_mv or value > c.sensor_high_mv),
        longer(past[1], value < c.supply_empty_mv),
        longer(past[2], value < c.supply_cut_mv and not blank),
        longer(past[3], value < c.supply_leave_mv),
        longer(past[4], c.supply_permit_mv <= value <= c.supply_top_mv),
        blank,
        driven,
    )


def _supplies_hold(before: Runs, now: Runs, past: Runs, c: Any) -> bool:
    outside, empty, cut, leave, inside = past[:5]
    supply = now[0]
    if outside >= 2:
        return supply == k.SUPPLY_FAULT
    if empty >= 2:
        return supply == k.SUPPLY_EMPTY
    if cut >= c.supply_cut_ticks:
        return supply == k.SUPPLY_CUT
    if leave >= c.supply_leave_ticks:
        return supply == k.SUPPLY_LEAVE
    return supply != k.SUPPLY_PERMIT or before[0] == k.SUPPLY_PERMIT or inside >= c.supply_permit_ticks


PRESSED, FALLEN = 3000, 1000  # two line pressures further apart than the small limits of a fall


def _collapses(_c: Any) -> list[Sample]:
    return [
        Sample(((k.RAW_SUPPLY_MV, value),), (("driven", driven),), (value, driven))
        for value in (PRESSED, FALLEN)
        for driven in (0, k.COIL_OX & 1)
    ]


def _collapses_past(past: Runs, sample: Sample, _c: Any) -> Runs:
    value, driven = sample.facts
    return longer(past[0], bool(driven)), past[2], value


def _collapses_hold(_before: Runs, now: Runs, past: Runs, _c: Any) -> bool:
    seconds, before, value = past
    fell = before == PRESSED and value == FALLEN
    return bool(now[0]) == bool(fell and seconds >= 3)


def _leaving(_c: Any) -> list[Sample]:
    return [Sample(((k.RAW_SUPPLY_MV, value),), facts=(value,)) for value in (PRESSED, FALLEN)]


def _leaving_past(past: Runs, sample: Sample, _c: Any) -> Runs:
    """Seconds so far, and of each of the last ten whether the line was pressed, as bits."""
    return min(past[0] + 1, 12), (past[1] << 1 | (sample.facts[0] == PRESSED)) & 2047


def _leaving_hold(_before: Runs, now: Runs, past: Runs, _c: Any) -> bool:
    seconds, pressed = past
    fell = pressed >> 10 & 1 and not pressed & 1
    return bool(now[0]) == bool(seconds > 11 and fell)


def _blocks(c: Any) -> list[Sample]:
    values = (c.sensor_low_mv - 1, c.fuel_fail_mv - 1, c.fuel_low_mv - 1 - c.block_drop_mv, c.fuel_low_mv + 1)
    coils = (0, k.COIL_MASTER_FUEL)
    return [
        Sample(((k.RAW_BLOCK_MV, value),), (("driven", driven), ("switches", ack)), (value, driven, ack))
        for value in values
        for driven, ack in ((coils[0], 0), (coils[1], 0), (0, k.SW_ACK))
    ]


def _blocks_past(past: Runs, sample: Sample, c: Any) -> Runs:
    value, driven, ack = sample.facts
    shut = not driven and not ack
    return (
        longer(past[0], shut),
        longer(past[1], value < c.sensor_low_mv),
        longer(past[2], shut and value > c.fuel_low_mv),
        longer(past[3], shut and value <= c.fuel_low_mv),
        max(past[2], past[3]),
    )


def _blocks_hold(before: Runs, now: Runs, past: Runs, _c: Any) -> bool:
    shut, outside, up, down, before_it = past
    level = now[0]
    if level == k.BLOCK_FAULT:
        return outside >= 2
    if level == k.BLOCK_CLEAN or before[0] == level:
        return shut > 0 or outside > 0 or level == k.BLOCK_CLEAN
    looks = up if level == k.BLOCK_CLIMBING else down
    # A look off the rails counts as a fall, and the finding shows at the next good look.
    return shut > BLOCK_LOOKS and (looks >= BLOCK_LOOKS or before_it >= BLOCK_LOOKS)


def _fuels(c: Any) -> list[Sample]:
    return between(
        k.RAW_FUEL_MV, c.sensor_low_mv, c.fuel_fail_mv, c.fuel_cut_mv, c.fuel_low_mv, c.fuel_top_mv, c.fuel_high_mv, c.fuel_over_mv
    )


def _fuels_past(past: Runs, sample: Sample, c: Any) -> Runs:
    value = sample.facts[0]
    inside = c.fuel_low_mv <= value <= c.fuel_top_mv
    return (
        longer(past[0], value < c.sensor_low_mv or value > c.sensor_high_mv),
        longer(past[1], value < c.fuel_fail_mv),
        longer(past[2], value < c.fuel_cut_mv),
        longer(past[3], value > c.fuel_over_mv),
        longer(past[4], inside),
        longer(past[5], not inside),
    )


def _fuels_hold(before: Runs, now: Runs, past: Runs, c: Any) -> bool:
    outside, fail, cut, over, inside, not_inside = past
    fuel = now[0]
    if outside >= 2:
        return fuel == k.FUEL_FAULT
    if fail >= 2 or cut >= c.fuel_cut_ticks:
        return fuel == k.FUEL_FAIL
    if over >= 2:
        return fuel == k.FUEL_OVER
    if fuel != k.FUEL_PERMIT:
        return inside < c.fuel_permit_ticks
    return inside >= c.fuel_permit_ticks or (before[0] == k.FUEL_PERMIT and not_inside < c.fuel_leave_ticks)


# --- volts and time ---------------------------------------------------------------------------------


def _buses(c: Any) -> list[Sample]:
    return between(k.RAW_BUS_MV, c.bus_hard_mv, c.bus_cut_mv, c.bus_permit_mv, c.bus_surge_mv)


def _buses_past(past: Runs, sample: Sample, c: Any) -> Runs:
    value = sample.facts[0]
    return (
        longer(past[0], value < c.bus_hard_mv),
        longer(past[1], value < c.bus_cut_mv),
        longer(past[2], value > c.bus_surge_mv),
        longer(past[3], value >= c.bus_permit_mv),
        longer(past[4], value < c.bus_permit_mv),
    )


def _buses_hold(before: Runs, now: Runs, past: Runs, c: Any) -> bool:
    hard, cut, surge, permit, low = past
    bus = now[0]
    if hard >= 2:
        return bus == k.BUS_HARD
    if cut >= c.bus_cut_ticks:
        return bus == k.BUS_CUT
    if surge >= c.bus_cut_ticks:
        return bus == k.BUS_SURGE
    if bus == k.BUS_PERMIT and before[0] == k.BUS_LOW:
        return permit > c.bus_leave_ticks
    return bus != k.BUS_PERMIT or low <= c.bus_leave_ticks


def _rails(c: Any) -> list[Sample]:
    bands = between(k.RAW_RAIL_MV, c.rail_dead_mv, c.rail_live_mv)
    return [Sample(band.raw, (("driven_bits", run),), (*band.facts, run)) for band in bands for run in (0, k.OUT_RUN)]


def _rails_past(past: Runs, sample: Sample, c: Any) -> Runs:
    value, run = sample.facts
    dead = value <= c.rail_dead_mv
    live = value >= c.rail_live_mv
    return (
        longer(past[0], live),
        longer(past[1], not live),
        longer(past[2], dead),
        longer(past[3], not dead and not run),
    )


def _rails_hold(before: Runs, now: Runs, past: Runs, c: Any) -> bool:
    live, not_live, dead, unasked = past
    rail = now[0]
    if unasked >= c.rail_weld_ticks:
        return rail == k.RAIL_WELDED
    if not_live >= 2 and rail == k.RAIL_LIVE:
        return False
    if rail == k.RAIL_LIVE and before[0] < k.RAIL_LIVE:
        return live >= 2 or before[0] == k.RAIL_WELDED
    return rail != k.RAIL_DEAD or dead >= 2


def _times(_c: Any) -> list[Sample]:
    return [Sample(((k.RAW_ELAPSED, ticks),), facts=(ticks,)) for ticks in (0, 1, 2, 3, 4, 5)]


def _times_past(past: Runs, sample: Sample, _c: Any) -> Runs:
    ticks = sample.facts[0]
    return longer(past[0], ticks > 1), longer(past[1], ticks > 3)


def _times_hold(_before: Runs, now: Runs, past: Runs, _c: Any) -> bool:
    late, hard = past
    if hard:
        return now[0] == k.TIME_HARD and now[1] == 1
    if late >= 2:
        return now[0] == k.TIME_LATE
    return now[0] == k.TIME_GOOD and now[1] == (1 if late else 0)


CHANNELS = (
    Channel("switch", "two samples off: off; on only after six; a press counts as held only after its time",
            sense.switches_step, _button, ("purge", "purge_held"), (0, 0, 0), _button_past, _button_holds),
    Channel("contact", "closed or open only after six agreeing samples, left after two; stuck only after its time",
            sense.switches_step, _poles, ("contact", "contact_stuck"), (0, 0, 0, 0, 0), _poles_past, _poles_hold),
    Channel("proof", "a proof that stays up is slow, then stuck, only after its times without a command",
            sense.coils_step, _proofs, ("shut",), (0,), _proofs_past, _proofs_hold,
            {"shut_slow_ticks": 2, "shut_stuck_ticks": 4}),
    Channel("coil", "present after two samples, missing and stray only after two samples and the settling time",
            sense.coils_step, _coils, ("current", "missing", "stray", "short"), (0, 0, 0, LONG, 0), _coils_past, _coils_hold),
    Channel("throttle", "two samples off the rails or dropped always show; full only after the whole time at full",
            sense_engine.throttle_step, _throttles, ("throttle",), (0, 0, 0), _throttles_past, _throttles_hold),
    Channel("rpm", "silence shows at once, low and over after their times; the window only after its whole time",
            sense_engine.rpm_step, _speeds, ("rpm",), (0, 0, 0, 0), _speeds_past, _speeds_hold),
    Channel("supply", "outside and empty show after two samples, cut and leave after their times; permit is earned",
            sense_supply.supply_step, _supplies, ("supply",), (0, 0, 0, 0, 0, 0, 0), _supplies_past, _supplies_hold),
    Channel("collapse", "a collapse is found exactly when a whole second of flow is lower than the one before, after two",
            sense_supply.trend_step, _collapses, ("falling",), (0, 0, 0), _collapses_past, _collapses_hold,
            {"supply_fall_sum_mv": 1000, "line_fall_sum_mv": 1000}, {"TREND_SAMPLES": 1}, ("sum_ring", "sum_at", "line_lost")),
    Channel("line", "a lost line is found exactly when it stands lower than ten seconds before, everything shut since",
            sense_supply.trend_step, _leaving, ("line_lost",), (0, 0), _leaving_past, _leaving_hold,
            {"supply_fall_sum_mv": 1000, "line_fall_sum_mv": 1000}, {"TREND_SAMPLES": 1, "SECONDS_MAX": 12}),
    Channel("block", "a leak is found only after its looks in a row with everything shut; a bad signal after two",
            sense_fuel.block_step, _blocks, ("block",), (0, 0, 0, 0, 0), _blocks_past, _blocks_hold,
            {"leak_watch_ticks": 8}, {"LEAK_SETTLE_TICKS": 4, "LEAK_COUNT": BLOCK_LOOKS}),
    Channel("fuel", "outside, failed and over show after two samples, cut after its time; permit is earned",
            sense_fuel.fuel_step, _fuels, ("fuel",), (0, 0, 0, 0, 0, 0), _fuels_past, _fuels_hold),
    Channel("bus", "failed shows after two samples, sag and surge after their time; permit is earned and kept",
            sense_volts.volts_step, _buses, ("bus",), (0, 0, 0, 0, 0), _buses_past, _buses_hold),
    Channel("rail", "live, dead and lost after two samples; live without a command for its time: welded",
            sense_volts.rail_step, _rails, ("rail",), (0, 0, 0, 0), _rails_past, _rails_hold),
    Channel("time", "one late tick is told, two in a row are late, one of 20 ms is hard",
            sense.sense_step, _times, ("time", "late"), (0, 0), _times_past, _times_hold),
)  # fmt: skip
