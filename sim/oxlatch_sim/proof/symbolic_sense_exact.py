"""Each verdict spelled out from the runs of raw samples: what it is, neither more nor less.

The lemmas say what a pilot and an inspector want to know. These say the rest, so that no change of a
channel goes unseen.
"""

# mypy: disallow-untyped-defs=False

from __future__ import annotations

from oxlatch.sense_fuel import LEAK_COUNT
from oxlatch.vocabulary import (
    BLOCK_CLIMBING,
    BUS_CUT,
    BUS_HARD,
    BUS_LOW,
    BUS_PERMIT,
    BUS_SURGE,
    COIL_OX,
    CONTACT_CLOSED,
    CONTACT_FAULT,
    CONTACT_OPEN,
    CONTACT_UNSURE,
    FIT_MASTER_FUEL,
    FIT_RAIL,
    FIT_THROTTLE,
    FUEL_FAIL,
    FUEL_PERMIT,
    OUT_RUN,
    RAIL_DEAD,
    RAIL_LIVE,
    RAIL_WEAK,
    RAIL_WELDED,
    RAW_BOOT,
    RAW_SERVICE,
    RAW_SUPPLY_MV,
    RAW_THROTTLE_MV,
    RPM_HOLD,
    RPM_LOW,
    RPM_OVER,
    RPM_SILENT,
    RPM_STOPPED,
    RPM_WINDOW,
    SHUT_CLEAN,
    SHUT_SLOW,
    SHUT_STUCK,
    SUPPLY_CUT,
    SUPPLY_EMPTY,
    SUPPLY_FAULT,
    SUPPLY_HIGH,
    SUPPLY_LEAVE,
    SUPPLY_LOW,
    SUPPLY_PERMIT,
    SW_DETENT_NC,
    SW_DETENT_NO,
    SW_PROOF_SHIFT,
    THROTTLE_DROP,
    THROTTLE_FAULT,
    THROTTLE_FULL,
    THROTTLE_HOLD,
)
from oxlatch_sim.proof.symbolic_engine import claim
from oxlatch_sim.proof.symbolic_sense_claims import stays_dry


def proof_holds(past, v):
    """A proof that is up stays up through a single odd sample, and comes up with two."""
    now = past.x[0] >> SW_PROOF_SHIFT
    before = past.x[1] >> SW_PROOF_SHIFT
    return not v.proof or v.proof == (past.proof & (now | before)) | (now & before)


def contact_verdict(sense, past, v, c):
    """The contact is what the debounced poles agree on; on nothing for a while: unsure; for longer: fault."""
    if sense.switches & SW_DETENT_NC:
        return v.contact == CONTACT_OPEN
    if sense.switches & SW_DETENT_NO:
        return v.contact == CONTACT_CLOSED
    return v.contact == (CONTACT_UNSURE if past.unsure <= c.contact_fault_ticks else CONTACT_FAULT)


def contact_findings(past, v, c):
    """Stuck, chattering and held too long are found exactly when their runs and counts pass their limits."""
    if v.contact_stuck != (past.stuck > c.detent_stuck_ticks) or v.purge_held != (past.held > c.purge_stuck_ticks):
        return False
    return v.chatter == (past.chatter > c.chatter_limit_ticks)


def shut_verdict(past, v, c):
    """A proof that stays up after its coil, or without it while the master is on, is slow, then stuck, exactly when
    its run passes the limits.
    """
    if past.unshut > c.shut_stuck_ticks:
        return v.shut == SHUT_STUCK
    return v.shut == (SHUT_SLOW if past.unshut > c.shut_slow_ticks else SHUT_CLEAN)


def throttle_verdict(past, v, c):
    """Fault before drop before full, else hold."""
    if not c.fitted & FIT_THROTTLE:
        return v.throttle == THROTTLE_FULL and v.throttle_low_seen
    if past.throttle_outside > 1:
        return v.throttle == THROTTLE_FAULT
    if past.throttle_drop > 1:
        return v.throttle == THROTTLE_DROP
    return v.throttle == (THROTTLE_FULL if past.throttle_full >= c.throttle_full_ticks else THROTTLE_HOLD)


def rpm_verdict(past, v, c):
    """Stopped before silent before low before over before in the window, else hold."""
    if past.silent >= c.rpm_stopped_ticks:
        return v.rpm == RPM_STOPPED
    if past.silent or past.noise >= c.rpm_low_ticks:
        return v.rpm == RPM_SILENT
    if past.rpm_low >= c.rpm_low_ticks or past.rpm_fall >= c.rpm_fall_ticks:
        return v.rpm == RPM_LOW
    if past.rpm_over >= c.rpm_over_ticks:
        return v.rpm == RPM_OVER
    return v.rpm == (RPM_WINDOW if past.rpm_steady >= c.rpm_window_ticks else RPM_HOLD)


def supply_verdict(past, v, c):
    """Fault, empty, cut, leave, high in this order; else the permit once earned, else low."""
    if past.supply_outside > 1:
        return v.supply == SUPPLY_FAULT
    if past.supply_empty > 1:
        return v.supply == SUPPLY_EMPTY
    if past.supply_cut >= c.supply_cut_ticks:
        return v.supply == SUPPLY_CUT
    if past.supply_leave >= c.supply_leave_ticks:
        return v.supply == SUPPLY_LEAVE
    if past.supply_over >= c.supply_leave_ticks:
        return v.supply == SUPPLY_HIGH
    earned = past.supply == SUPPLY_PERMIT or past.supply_inside >= c.supply_permit_ticks
    return v.supply == (SUPPLY_PERMIT if earned else SUPPLY_LOW)


def supply_warning(raw, v, c):
    """The warning is that of this sample."""
    return v.supply_warn == (raw[RAW_SUPPLY_MV] < c.supply_warn_mv)


def trend_findings(sense, past, c):
    """Collapse and line loss are found at the end of a second that fell too far, and forgotten at the next."""
    if not past.second:
        moved = sense.phase & 3 == 3 and past.second_n == 1 and not past.seconds
        falling = sense.falling == (0 if moved else past.falling)
        return falling and sense.line_lost == (0 if moved else past.line_lost)
    flowing = past.sum_coils & COIL_OX and past.seconds > 2
    if sense.falling != (flowing and past.before_sum - past.last_sum > c.supply_fall_sum_mv):
        return False
    shut = not past.sum_coils and past.seconds > 11
    return sense.line_lost == (shut and past.oldest_sum - past.last_sum > c.line_fall_sum_mv)


def fuel_verdict(past, v, c):
    """Failed while the block stays empty behind commanded fuel; else what the supply pressure gives: fault, fail,
    over, high in this order, the permit once earned and not left for long, else low.
    """
    return v.fuel == (FUEL_FAIL if stays_dry(past, c) else past.fuel)


def block_climb_found(sense, past, c):
    """Four looks in a row at a block that fills after it was empty are always found."""
    if not c.fitted & FIT_MASTER_FUEL or not past.look:
        return True
    return sense.block_climb_n < LEAK_COUNT or sense.block_found == BLOCK_CLIMBING


def passed_through(raw, sense, v):
    """Boot word, service word and the slow channels' findings are handed on as they are."""
    if v.boot != raw[RAW_BOOT] or v.service != raw[RAW_SERVICE]:
        return False
    if v.falling != sense.falling or v.line_lost != sense.line_lost or v.leak_watch != sense.leak_watch:
        return False
    return v.block == sense.block_level


def low_throttle_is_seen(raw, sense, v, c):
    """A throttle once seen below half counts as seen from then on, and from the next tick in the verdict."""
    if not c.fitted & FIT_THROTTLE:
        return v.throttle_low_seen
    x = raw[RAW_THROTTLE_MV]
    inside = c.sensor_low_mv <= x < c.throttle_half_mv and x <= c.sensor_high_mv
    return (not inside or sense.throttle_low_seen) and v.throttle_low_seen <= sense.throttle_low_seen


def bus_verdict(past, v, c):
    """Failed, sagging, surging in this order; else permitted or low, each only after the leave time of the other."""
    if past.bus_hard > 1:
        return v.bus == BUS_HARD
    if past.bus_cut >= c.bus_cut_ticks:
        return v.bus == BUS_CUT
    if past.bus_surge >= c.bus_cut_ticks:
        return v.bus == BUS_SURGE
    return v.bus == (BUS_PERMIT if past.bus_good else BUS_LOW)


def rail_verdict(past, v, fed, c):
    """Welded before live before dead, else weak; without the input what is commanded is believed."""
    if not c.fitted & FIT_RAIL:
        return v.rail == (RAIL_LIVE if fed.driven_bits & OUT_RUN else RAIL_DEAD)
    if past.rail_unasked >= c.rail_weld_ticks:
        return v.rail == RAIL_WELDED
    if past.rail_good:
        return v.rail == RAIL_LIVE
    return v.rail == (RAIL_DEAD if past.rail_dead > 1 else RAIL_WEAK)


def contact_closes(past, v):
    """The contact closes."""
    return v.contact == CONTACT_CLOSED and past.contact != CONTACT_CLOSED


def every_channel_permits(v):
    """Every channel permits a push at once."""
    if v.contact != CONTACT_CLOSED or v.throttle != THROTTLE_FULL or v.rpm != RPM_WINDOW:
        return False
    return v.supply == SUPPLY_PERMIT and v.fuel == FUEL_PERMIT and v.bus == BUS_PERMIT and v.rail == RAIL_LIVE


def all_channels_calm(sense):
    """Every channel that has a short cut takes it."""
    return sense.rpm_calm and sense.supply_calm and sense.fuel_calm and sense.bus_calm and sense.throttle_calm


WITNESSES = (
    claim("sense: contact closes", "witness", contact_closes),
    claim("sense: every channel permits", "witness", every_channel_permits),
    claim("sense: all channels calm", "witness", all_channels_calm),
)

EXACT_CLAIMS = (
    claim("sense: proof holds", "exact", proof_holds),
    claim("sense: contact verdict", "exact", contact_verdict),
    claim("sense: contact findings", "exact", contact_findings),
    claim("sense: shut verdict", "exact", shut_verdict),
    claim("sense: throttle verdict", "exact", throttle_verdict),
    claim("sense: rpm verdict", "exact", rpm_verdict),
    claim("sense: supply verdict", "exact", supply_verdict),
    claim("sense: supply warning", "exact", supply_warning),
    claim("sense: trend findings", "exact", trend_findings),
    claim("sense: fuel verdict", "exact", fuel_verdict),
    claim("sense: block climb found", "exact", block_climb_found),
    claim("sense: passed through", "exact", passed_through),
    claim("sense: low throttle is seen", "exact", low_throttle_is_seen),
    claim("sense: bus verdict", "exact", bus_verdict),
    claim("sense: rail verdict", "exact", rail_verdict),
)
