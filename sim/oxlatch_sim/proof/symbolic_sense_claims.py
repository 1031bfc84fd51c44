"""One lemma per channel and direction: what a verdict guarantees about the last raw samples.

"Stop" lemmas say that enough bad samples always bring the stopping verdict, in the tick of the last of
them. "Start" lemmas say that a permitting verdict never comes without enough good samples.
"""

# mypy: disallow-untyped-defs=False

from __future__ import annotations

from oxlatch.sense_fuel import DRY_LOOKS, LEAK_COUNT
from oxlatch.vocabulary import (
    BLOCK_CLIMBING,
    BLOCK_FALLING,
    BLOCK_FAULT,
    BUS_CUT,
    BUS_HARD,
    BUS_PERMIT,
    BUS_SURGE,
    COIL_OX,
    CONTACT_CLOSED,
    CONTACT_OPEN,
    FIT_CURRENTS,
    FIT_FUEL_PRESSURE,
    FIT_MASTER_FUEL,
    FIT_PROOF,
    FIT_RAIL,
    FIT_THROTTLE,
    FUEL_FAIL,
    FUEL_FAULT,
    FUEL_OVER,
    FUEL_PERMIT,
    LINE_DEAD,
    LINE_EMPTY,
    LINE_LOST,
    LINE_THIN,
    LINE_TRAPPED,
    LINE_WEAK,
    RAIL_DEAD,
    RAIL_LIVE,
    RAIL_WELDED,
    RAW_ELAPSED,
    RAW_SUPPLY_MV,
    RPM_HOLD,
    RPM_LOW,
    RPM_OVER,
    RPM_SILENT,
    RPM_STOPPED,
    RPM_WINDOW,
    SUPPLY_CUT,
    SUPPLY_EMPTY,
    SUPPLY_FAULT,
    SUPPLY_LEAVE,
    SUPPLY_PERMIT,
    SW_DETENT_NC,
    SW_DETENT_NO,
    SW_PROOF_SHIFT,
    SW_SEL_SHIFT,
    THROTTLE_DROP,
    THROTTLE_FAULT,
    THROTTLE_FULL,
    TIME_GOOD,
    TIME_HARD,
    TIME_LATE,
)
from oxlatch_sim.proof.symbolic_engine import claim

SWITCH_BITS = 0x0F7F & ~(SW_DETENT_NO | SW_DETENT_NC)


def switches_stop(sense, past):
    """A switch that is off in two samples in a row is off."""
    return not sense.switches & ~(past.x[0] | past.x[1])


def switches_start(sense, past):
    """A switch comes on only after six samples on in a row."""
    six = past.x[0] & past.x[1] & past.x[2] & past.x[3] & past.x[4] & past.x[5]
    return not sense.switches & ~past.switches & ~six


def switches_hold(sense, past):
    """A switch that is on stays on through a single odd sample, and comes on after six."""
    six = past.x[0] & past.x[1] & past.x[2] & past.x[3] & past.x[4] & past.x[5]
    return not (past.switches & (past.x[0] | past.x[1]) | six) & ~sense.switches


def switch_verdicts(sense, v):
    """The switch verdicts are the bits of the debounced word."""
    w = v.master | v.purge << 1 | v.ack << 2 | v.bench << 5 | v.inject << 6 | v.sel << SW_SEL_SHIFT
    return w == sense.switches & SWITCH_BITS


def contact_stops(past, v):
    """Poles that do not agree closed for two samples in a row: not closed."""
    return v.contact != CONTACT_CLOSED or past.not_closed < 2


def contact_starts(past, v):
    """Closed, or open, only after six samples of agreeing poles, or back from a single odd one."""
    if v.contact == CONTACT_CLOSED and past.contact != CONTACT_CLOSED:
        bit = SW_DETENT_NO
    elif v.contact == CONTACT_OPEN and past.contact != CONTACT_OPEN:
        bit = SW_DETENT_NC
    else:
        return True
    for i in range(6):
        if not past.x[i] & bit:
            return past.switches & bit
    return True


def contact_open_poles_never_close(past, v):
    """Poles that never agree closed never give a closed contact."""
    for i in range(6):
        if past.x[i] & SW_DETENT_NO:
            return True
    return v.contact != CONTACT_CLOSED


def proof_both_ways(past, v, c):
    """A proof needs two equal samples both ways, and is never there when not fitted."""
    now = past.x[0] >> SW_PROOF_SHIFT
    before = past.x[1] >> SW_PROOF_SHIFT
    if not c.fitted & FIT_PROOF:
        return v.proof == 0
    return not v.proof & ~(now | before) and not v.proof & ~past.proof & ~(now & before)


def current_both_ways(past, v, c):
    """A coil current needs two equal samples both ways."""
    if not c.fitted & FIT_CURRENTS:
        return v.current == 0
    return not v.current & ~(past.coil[0] | past.coil[1]) and not v.current & ~past.current & ~(
        past.coil[0] & past.coil[1]
    )


def missing_current(past, v, c):
    """Missing exactly when commanded for four ticks and absent in the last two samples."""
    if not c.fitted & FIT_CURRENTS:
        return v.missing == 0
    driven = past.driven[0] & past.driven[1] & past.driven[2]
    return v.missing == driven & past.driven[3] & ~(past.coil[0] | past.coil[1])


def stray_current(past, v, c):
    """Stray only when present in two samples with no command in the last six ticks."""
    if not c.fitted & FIT_CURRENTS:
        return v.stray == 0
    recent = past.driven[0] | past.driven[1] | past.driven[2] | past.driven[3] | past.driven[4] | past.driven[5]
    return not v.stray & ~(past.coil[0] & past.coil[1] & ~recent)


def shorted_coil(past, v, c):
    """Shorted exactly when over the trip current in two samples."""
    return v.short == (past.short_0 & past.short_1 if c.fitted & FIT_CURRENTS else 0)


def throttle_stops(past, v, c):
    """Two samples off the rails: fault; two dropped or chopped: drop."""
    if not c.fitted & FIT_THROTTLE:
        return True
    if past.throttle_outside >= 2:
        return v.throttle == THROTTLE_FAULT
    return past.throttle_drop < 2 or v.throttle == THROTTLE_DROP


def throttle_starts(past, v, c):
    """Full only after the whole time at full."""
    return v.throttle != THROTTLE_FULL or not c.fitted & FIT_THROTTLE or past.throttle_full >= c.throttle_full_ticks


def rpm_stops(past, v, c):
    """One silent sample, or low, falling or over for its time, always shows."""
    if past.silent and v.rpm > RPM_SILENT:
        return False
    if (past.rpm_low >= c.rpm_low_ticks or past.rpm_fall >= c.rpm_fall_ticks) and v.rpm > RPM_LOW:
        return False
    return past.rpm_over < c.rpm_over_ticks or v.rpm == RPM_OVER or v.rpm < RPM_HOLD


def rpm_starts(past, v, c):
    """In the window, or stopped, only after the whole time of such samples."""
    if v.rpm == RPM_STOPPED:
        return past.silent >= c.rpm_stopped_ticks
    return v.rpm != RPM_WINDOW or past.rpm_inside >= c.rpm_window_ticks


def supply_stops(past, v, c):
    """Off its rails or empty for two samples, under the cut or the leave level for their times, always
    shows.
    """
    if past.supply_outside >= 2:
        return v.supply == SUPPLY_FAULT
    if past.supply_empty >= 2:
        return v.supply == SUPPLY_EMPTY
    if past.supply_cut >= c.supply_cut_ticks:
        return v.supply == SUPPLY_CUT
    return past.supply_leave < c.supply_leave_ticks or v.supply == SUPPLY_LEAVE


def supply_starts(past, v, c):
    """The permit is earned only by the whole time inside its band."""
    if v.supply != SUPPLY_PERMIT or past.supply == SUPPLY_PERMIT:
        return True
    return past.supply_inside >= c.supply_permit_ticks


def line_bands(raw, v, c):
    """The purge's pressure band is that of this sample, empty when the signal is bad."""
    x = raw[RAW_SUPPLY_MV]
    if x < c.sensor_low_mv or x > c.sensor_high_mv or x < c.line_empty_mv:
        return v.line == LINE_EMPTY
    if v.line == LINE_DEAD:
        return x < c.line_dead_mv
    if v.line == LINE_WEAK:
        return c.line_dead_mv <= x < c.line_weak_mv
    if v.line == LINE_LOST:
        return c.line_weak_mv <= x < c.line_lost_mv
    if v.line == LINE_THIN:
        return c.line_lost_mv <= x < c.line_thin_mv
    return x >= c.line_thin_mv and (v.line == LINE_TRAPPED) == (x >= c.line_trapped_mv)


def supply_falls(sense, past, c):
    """Collapse only when two whole seconds of flow differ by more than the setting."""
    if not sense.falling or (past.falling and not past.second):
        return True
    return past.second and past.sum_coils & COIL_OX and past.before_sum - past.last_sum > c.supply_fall_sum_mv


def line_is_lost(sense, past):
    """Line loss is found only at the end of a whole second with every valve shut."""
    return not sense.line_lost or (past.line_lost and not past.second) or (past.second and not past.sum_coils)


def stays_dry(past, c):
    """Fuel is commanded and the block behind the master fuel valve has been empty for three looks."""
    return c.fitted & FIT_MASTER_FUEL and past.block_dry >= DRY_LOOKS


def fuel_stops(past, v, c):
    """Off its rails, failed or over for two samples, or under the cut for its time, always shows; and so does a
    block that stays empty for three looks behind commanded fuel.
    """
    if stays_dry(past, c):
        return v.fuel == FUEL_FAIL
    if not c.fitted & FIT_FUEL_PRESSURE:
        return True
    if past.fuel_outside >= 2:
        return v.fuel == FUEL_FAULT
    if past.fuel_fail >= 2 or past.fuel_cut >= c.fuel_cut_ticks:
        return v.fuel == FUEL_FAIL
    return past.fuel_over < 2 or v.fuel == FUEL_OVER


def fuel_starts(sense, past, v, c):
    """Permitted only after its whole time inside the band, or not outside it for long since."""
    if v.fuel != FUEL_PERMIT or not c.fitted & FIT_FUEL_PRESSURE:
        return True
    return past.fuel_inside >= c.fuel_permit_ticks or past.fuel_not_inside < c.fuel_leave_ticks


def block_finds(sense, past, c):
    """A leak is found only after four looks in a row, a signal fault after two."""
    if not c.fitted & FIT_MASTER_FUEL:
        return True
    if sense.block_level == BLOCK_FAULT and past.block_outside < 2:
        return False
    if sense.block_found == past.found:
        return True
    if sense.block_found == BLOCK_FALLING:
        return past.look and past.block_down >= LEAK_COUNT
    return sense.block_found != BLOCK_CLIMBING or (past.look and past.block_up >= LEAK_COUNT)


def bus_stops(past, v, c):
    """Failed for two samples, sagging or surging for their time, always shows."""
    if past.bus_hard >= 2:
        return v.bus == BUS_HARD
    if past.bus_cut >= c.bus_cut_ticks:
        return v.bus == BUS_CUT
    return past.bus_surge < c.bus_cut_ticks or v.bus == BUS_SURGE


def bus_starts(past, v, c):
    """Permitted only while not below the permit for longer than the leave time."""
    if v.bus != BUS_PERMIT:
        return True
    return past.bus_not_permit <= c.bus_leave_ticks


def rail_both_ways(past, v, c):
    """Live and dead need two samples; live with the run switch off for its time is welded."""
    if not c.fitted & FIT_RAIL:
        return True
    if past.rail_unasked >= c.rail_weld_ticks:
        return v.rail == RAIL_WELDED
    if v.rail == RAIL_LIVE:
        return past.rail_not_live < 2
    return v.rail != RAIL_DEAD or past.rail_dead >= 2


def time_stops(raw, past, v):
    """20 ms is hard in that tick, two late ticks in a row stop, and a good tick is good."""
    if raw[RAW_ELAPSED] > 3:
        return v.time == TIME_HARD
    if raw[RAW_ELAPSED] > 1:
        return v.late and (past.late < 2 or v.time == TIME_LATE)
    return v.time == TIME_GOOD


CLAIMS = (
    claim("sense: switches stop", "lemma", switches_stop),
    claim("sense: switches start", "lemma", switches_start),
    claim("sense: switches hold", "lemma", switches_hold),
    claim("sense: switch verdicts", "lemma", switch_verdicts),
    claim("sense: contact stops", "lemma", contact_stops),
    claim("sense: contact starts", "lemma", contact_starts),
    claim("sense: open poles", "I11", contact_open_poles_never_close),
    claim("sense: proof", "lemma", proof_both_ways),
    claim("sense: current", "lemma", current_both_ways),
    claim("sense: missing current", "lemma", missing_current),
    claim("sense: stray current", "lemma", stray_current),
    claim("sense: shorted coil", "lemma", shorted_coil),
    claim("sense: throttle stops", "lemma", throttle_stops),
    claim("sense: throttle starts", "lemma", throttle_starts),
    claim("sense: engine stops", "lemma", rpm_stops),
    claim("sense: engine starts", "lemma", rpm_starts),
    claim("sense: supply stops", "lemma", supply_stops),
    claim("sense: supply starts", "lemma", supply_starts),
    claim("sense: line bands", "lemma", line_bands),
    claim("sense: supply falls", "lemma", supply_falls),
    claim("sense: line is lost", "lemma", line_is_lost),
    claim("sense: fuel stops", "lemma", fuel_stops),
    claim("sense: fuel starts", "lemma", fuel_starts),
    claim("sense: block finds", "lemma", block_finds),
    claim("sense: bus stops", "lemma", bus_stops),
    claim("sense: bus starts", "lemma", bus_starts),
    claim("sense: rail", "lemma", rail_both_ways),
    claim("sense: time", "lemma", time_stops),
)
