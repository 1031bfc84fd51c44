"""What the last raw samples were: the proof's own memory of the past, beside that of the firmware.

Each word counts for how many consecutive samples something has been true of the raw samples, written
from the meaning of the channel and not from its code. The lemmas compare the verdicts with these runs.
Written in the firmware's own subset, so that it is translated by the same translator.
"""

# mypy: disallow-untyped-defs=False

from oxlatch.sense_supply import SECONDS_MAX, TREND_SAMPLES
from oxlatch.vocabulary import (
    COIL_FUEL,
    COIL_MASTER_FUEL,
    COIL_OX,
    COIL_PURGE,
    FIT_DETENT_NC,
    FIT_FUEL_PRESSURE,
    FIT_THROTTLE,
    FUEL_FAIL,
    FUEL_FAULT,
    FUEL_HIGH,
    FUEL_LOW,
    FUEL_OVER,
    FUEL_PERMIT,
    OUT_RUN,
    RAW_BLOCK_MV,
    RAW_BUS_MV,
    RAW_CURRENTS,
    RAW_ELAPSED,
    RAW_FUEL_MV,
    RAW_PULSE_AGE_MS,
    RAW_RAIL_MV,
    RAW_RPM,
    RAW_SHORTS,
    RAW_SUPPLY_MV,
    RAW_SWITCHES,
    RAW_THROTTLE_MV,
    SW_ACK,
    SW_DETENT_NC,
    SW_DETENT_NO,
    SW_MASTER,
    SW_PURGE,
)

RUN_MAX = 16383  # longer than any setting a run is compared with
HISTORY = 6  # words kept of switches and commanded coils, this tick's included
SUMS = 10  # whole seconds of line pressure kept
SLOPE = 8  # samples kept of throttle and engine speed, before this tick's

PAST_RUNS = (
    "not_closed",  # poles do not agree closed
    "unsure",  # debounced poles neither open nor closed
    "stuck",  # closed with the throttle low
    "held",  # purge button
    "unshut",  # a proof up, watched, and its coil not driven now
    "throttle_outside",  # throttle signal off its rails
    "throttle_drop",  # below the drop threshold, or chopped
    "throttle_full",
    "silent",  # no pulse for too long
    "rpm_low",
    "rpm_fall",
    "rpm_over",
    "rpm_steady",  # inside, and no rise that no engine makes lately
    "rpm_inside",  # pulses arrive and the speed is in the window
    "supply_outside",
    "supply_empty",
    "supply_cut",  # below the cut and not looking away after an opening
    "supply_leave",
    "supply_over",
    "supply_inside",
    "fuel_outside",
    "fuel_fail",
    "fuel_cut",
    "fuel_over",
    "fuel_high",
    "fuel_inside",
    "fuel_not_inside",
    "bus_hard",
    "bus_cut",
    "bus_surge",
    "bus_permit",
    "bus_not_permit",
    "rail_not_live",
    "rail_live",
    "rail_not_dead",
    "rail_dead",
    "rail_unasked",  # above dead with the run switch off
    "late",
    "block_outside",  # looks at the block, every fourth tick
    "block_down",
    "block_up",
    "block_dry",  # looks at an empty block with fuel commanded
)

PAST_WORDS = (
    "chatter",  # fills with every edge of the contact, drains with time
    "noise",  # fills with every rise that no engine makes, drains with time
    "watched",  # stages whose oxidizer was driven, or the master on, while their proof has been up
    "bus_good",
    "rail_good",
    "fuel",  # what the fuel supply pressure alone gives
    "seconds",  # whole seconds of line pressure since a valve moved
    "blank",  # ticks left in which a line dip is expected
    "bled",  # the block was seen empty since fuel was last commanded
    "look",  # this tick looked at the block
    "second",  # a whole second of line pressure ended in this tick
    "second_n",
    "second_sum",
    "last_sum",
    "before_sum",
    "oldest_sum",
    "sums_at",
    "sum_coils",
    "short_1",
    "short_0",
    # verdicts and words before this tick
    "switches",
    "proof",
    "current",
    "contact",
    "supply",
    "found",
    "falling",
    "line_lost",
)


class Past:
    """Runs, and words of the last ticks; index 0 is this tick's."""

    def __init__(self) -> None:
        for name in PAST_RUNS + PAST_WORDS:
            setattr(self, name, 0)
        self.x = [0] * HISTORY  # switch words with agreed poles
        self.coil = [0] * HISTORY  # coil current words
        self.driven = [0] * HISTORY  # coils commanded
        self.throttle = [0] * SLOPE  # index 0 is the last tick's
        self.rpm = [0] * SLOPE
        self.sums = [0] * SUMS


class Fed:
    """What the gate commanded in the previous tick: any coils at all."""

    def __init__(self) -> None:
        self.driven = 0
        self.driven_bits = 0


def feed(sense, fed):
    """Hand the commanded coils to sense, as the controller does after every tick."""
    sense.driven = fed.driven
    sense.driven_bits = fed.driven_bits


def longer(run, true):
    """A run one sample later."""
    if not true:
        return 0
    return run + 1 if run < RUN_MAX else run


def is_closed(x, c):
    """The detent poles agree that the throttle is in its detent."""
    return x & SW_DETENT_NO and not (x & SW_DETENT_NC and c.fitted & FIT_DETENT_NC)


def is_open(x, c):
    """The detent poles agree that the throttle is out of its detent."""
    return not x & SW_DETENT_NO and (x & SW_DETENT_NC or not c.fitted & FIT_DETENT_NC)


def remember(past, sense, v, raw, fed, c):
    """Before the tick: keep what it will change, and shift the words of the last ticks."""
    past.switches = sense.switches
    past.proof = sense.proof
    past.current = sense.current
    past.contact = v.contact
    past.supply = v.supply
    past.found = sense.block_found
    past.falling = sense.falling
    past.line_lost = sense.line_lost
    for i in range(5):
        past.x[5 - i] = past.x[4 - i]
        past.coil[5 - i] = past.coil[4 - i]
        past.driven[5 - i] = past.driven[4 - i]
    x = raw[RAW_SWITCHES] & ~(SW_DETENT_NO | SW_DETENT_NC)
    if is_closed(raw[RAW_SWITCHES], c):
        x |= SW_DETENT_NO
    elif is_open(raw[RAW_SWITCHES], c):
        x |= SW_DETENT_NC
    past.x[0] = x
    past.coil[0] = raw[RAW_CURRENTS]
    past.driven[0] = fed.driven
    past.short_1 = past.short_0
    past.short_0 = raw[RAW_SHORTS]


def contact_past(past, raw, c, sense):
    """Runs of contact, purge button and proofs, from the debounced words."""
    past.not_closed = longer(past.not_closed, not past.x[0] & SW_DETENT_NO)
    past.unsure = longer(past.unsure, not sense.switches & (SW_DETENT_NO | SW_DETENT_NC))
    low = c.fitted & FIT_THROTTLE and raw[RAW_THROTTLE_MV] < c.throttle_low_mv
    past.stuck = longer(past.stuck, past.x[0] & SW_DETENT_NO and low)
    past.held = longer(past.held, sense.switches & SW_PURGE)
    if (past.x[0] ^ past.x[1]) & SW_DETENT_NO:
        past.chatter += c.chatter_cost_ticks
        if past.chatter > c.chatter_limit_ticks + c.chatter_cost_ticks:
            past.chatter = c.chatter_limit_ticks + c.chatter_cost_ticks
    elif past.chatter:
        past.chatter -= 1
    past.watched = (past.watched & sense.proof) | (past.driven[0] & COIL_OX)
    if sense.switches & SW_MASTER:
        past.watched |= sense.proof
    past.unshut = longer(past.unshut, past.watched & sense.proof & ~past.driven[0])


def engine_past(past, raw, c):
    """Runs of throttle and engine speed."""
    x = raw[RAW_THROTTLE_MV]
    past.throttle_outside = longer(past.throttle_outside, x < c.sensor_low_mv or x > c.sensor_high_mv)
    dropped = x < c.throttle_drop_mv or past.throttle[7] - x > c.throttle_chop_mv
    past.throttle_drop = longer(past.throttle_drop, dropped)
    past.throttle_full = longer(past.throttle_full, x >= c.throttle_full_mv)
    rpm = raw[RAW_RPM]
    silent = raw[RAW_PULSE_AGE_MS] >= c.pulse_age_ms
    past.silent = longer(past.silent, silent)
    past.rpm_low = longer(past.rpm_low, rpm < c.rpm_cut)
    past.rpm_fall = longer(past.rpm_fall, past.rpm[7] - rpm > c.rpm_fall)
    past.rpm_over = longer(past.rpm_over, rpm > c.rpm_max)
    past.rpm_inside = longer(past.rpm_inside, not silent and c.rpm_min <= rpm <= c.rpm_max)
    if rpm - past.rpm[7] <= c.rpm_rise:
        past.noise = past.noise - 1 if past.noise else 0
    elif past.noise < c.rpm_low_ticks:
        past.noise += 1
    past.rpm_steady = longer(past.rpm_steady, past.rpm_inside and not past.noise)
    for i in range(7):
        past.throttle[7 - i] = past.throttle[6 - i]
        past.rpm[7 - i] = past.rpm[6 - i]
    past.throttle[0] = x
    past.rpm[0] = rpm


def supply_past(past, raw, c):
    """Runs of the oxidizer line pressure."""
    x = raw[RAW_SUPPLY_MV]
    if past.driven[0] & ~past.driven[1] & COIL_OX:
        past.blank = c.supply_blank_ticks
    elif past.blank:
        past.blank -= 1
    past.supply_outside = longer(past.supply_outside, x < c.sensor_low_mv or x > c.sensor_high_mv)
    past.supply_empty = longer(past.supply_empty, x < c.supply_empty_mv)
    past.supply_cut = longer(past.supply_cut, x < c.supply_cut_mv and not past.blank)
    past.supply_leave = longer(past.supply_leave, x < c.supply_leave_mv)
    past.supply_over = longer(past.supply_over, x > c.supply_over_mv)
    past.supply_inside = longer(past.supply_inside, c.supply_permit_mv <= x <= c.supply_top_mv)


def trend_past(past, raw, sense):
    """Sums of the line pressure over whole seconds with no valve moving, a sample every fourth tick."""
    past.second = 0
    if sense.phase & 3 != 3:
        return
    coils = past.driven[0] & (COIL_OX | COIL_PURGE)
    if coils != past.sum_coils:
        past.sum_coils = coils
        past.second_n = 0
        past.second_sum = 0
        past.seconds = 0
    past.second_n += 1
    past.second_sum += raw[RAW_SUPPLY_MV]
    if past.second_n == TREND_SAMPLES:
        second_ends(past)


def second_ends(past):
    """Keep the sum of the second that ends, beside the one before it and the one of ten seconds ago."""
    past.second = 1
    past.before_sum = past.last_sum
    past.last_sum = past.second_sum
    past.oldest_sum = past.sums[past.sums_at]
    past.sums[past.sums_at] = past.second_sum
    past.sums_at = past.sums_at + 1 if past.sums_at < SUMS - 1 else 0
    past.second_n = 0
    past.second_sum = 0
    if past.seconds < SECONDS_MAX:
        past.seconds += 1


def fuel_past(past, raw, c):
    """Runs of the fuel supply pressure."""
    x = raw[RAW_FUEL_MV]
    inside = c.fuel_low_mv <= x <= c.fuel_top_mv
    past.fuel_outside = longer(past.fuel_outside, x < c.sensor_low_mv or x > c.sensor_high_mv)
    past.fuel_fail = longer(past.fuel_fail, x < c.fuel_fail_mv)
    past.fuel_cut = longer(past.fuel_cut, x < c.fuel_cut_mv)
    past.fuel_over = longer(past.fuel_over, x > c.fuel_over_mv)
    past.fuel_high = longer(past.fuel_high, x > c.fuel_high_mv)
    past.fuel_inside = longer(past.fuel_inside, inside)
    past.fuel_not_inside = longer(past.fuel_not_inside, not inside)
    past.fuel = fuel_level(past, c)


def fuel_level(past, c):
    """Fault, fail, over, high in this order; else the permit once earned and not left for long, else low."""
    if not c.fitted & FIT_FUEL_PRESSURE:
        return FUEL_PERMIT
    if past.fuel_outside > 1:
        return FUEL_FAULT
    if past.fuel_fail > 1 or past.fuel_cut >= c.fuel_cut_ticks:
        return FUEL_FAIL
    if past.fuel_over > 1:
        return FUEL_OVER
    if past.fuel_high >= c.fuel_high_ticks:
        return FUEL_HIGH
    kept = past.fuel == FUEL_PERMIT and past.fuel_not_inside < c.fuel_leave_ticks
    return FUEL_PERMIT if kept or past.fuel_inside >= c.fuel_permit_ticks else FUEL_LOW


def block_past(past, raw, c, sense):
    """Runs of the looks at the fuel block."""
    past.look = 1 if sense.phase & 3 == 1 else 0
    if not past.look:
        return
    x = raw[RAW_BLOCK_MV]
    past.block_dry = longer(past.block_dry, past.driven[0] & COIL_FUEL and x < c.fuel_fail_mv)
    past.block_outside = longer(past.block_outside, x < c.sensor_low_mv or x > c.sensor_high_mv)
    if past.driven[0] & (COIL_FUEL | COIL_MASTER_FUEL) or sense.switches & SW_ACK:
        past.bled = 0
        past.block_down = 0
        past.block_up = 0
        return
    past.block_down = longer(past.block_down, sense.block_ref - x > c.block_drop_mv)
    if x < c.fuel_fail_mv:
        past.bled = 1
    past.block_up = longer(past.block_up, past.bled and x > c.fuel_low_mv)


def volts_past(past, raw, c, fed):
    """Runs of bus volts, rail volts and time."""
    x = raw[RAW_BUS_MV]
    past.bus_hard = longer(past.bus_hard, x < c.bus_hard_mv)
    past.bus_cut = longer(past.bus_cut, x < c.bus_cut_mv)
    past.bus_surge = longer(past.bus_surge, x > c.bus_surge_mv)
    past.bus_permit = longer(past.bus_permit, x >= c.bus_permit_mv)
    past.bus_not_permit = longer(past.bus_not_permit, x < c.bus_permit_mv)
    if past.bus_permit > c.bus_leave_ticks:
        past.bus_good = 1
    elif past.bus_not_permit > c.bus_leave_ticks:
        past.bus_good = 0
    x = raw[RAW_RAIL_MV]
    past.rail_not_live = longer(past.rail_not_live, x < c.rail_live_mv)
    past.rail_live = longer(past.rail_live, x >= c.rail_live_mv)
    past.rail_not_dead = longer(past.rail_not_dead, x > c.rail_dead_mv)
    past.rail_dead = longer(past.rail_dead, x <= c.rail_dead_mv)
    if past.rail_live > 1:
        past.rail_good = 1
    elif past.rail_not_live > 1:
        past.rail_good = 0
    past.rail_unasked = longer(past.rail_unasked, x > c.rail_dead_mv and not fed.driven_bits & OUT_RUN)
    past.late = longer(past.late, raw[RAW_ELAPSED] > 1)


def runs_past(past, raw, c, fed, sense):
    """All runs, after the tick that saw the same raw samples."""
    contact_past(past, raw, c, sense)
    engine_past(past, raw, c)
    supply_past(past, raw, c)
    trend_past(past, raw, sense)
    fuel_past(past, raw, c)
    block_past(past, raw, c, sense)
    volts_past(past, raw, c, fed)
