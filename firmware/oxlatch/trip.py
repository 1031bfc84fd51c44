"""Faults: act on the strongest, keep the first cause and the highest latch, clear by the rules of the latch."""

from oxlatch.core import STORE_ARMED, STORE_NOTHING, enter, stop
from oxlatch.purge import void_purge
from oxlatch.reasons import (  # fmt: skip
    DETENT_CHATTERS, DETENT_STUCK, LATCH_2_0, LATCH_2_1, LATCH_3_0, LATCH_3_1, LATCH_4_0, LATCH_4_1,
    LOCKED_UNTIL_TESTED, POWER_LOST_ARMED, RPM_LOST, TICK_STALLED,
)
from oxlatch.vocabulary import CONTACT_OPEN, GAP, HELD, RAIL_DEAD, REST, RPM_STOPPED, SERVICE, TRIP

# Found at start-up and standing until cleared, so they may not stand in the way of their own clearing.
BOOT_LOCKS = LOCKED_UNTIL_TESTED | POWER_LOST_ARMED


def note_cause(s, c):
    """Keep the first cause, raise the latch, and remember what makes a second time worse."""
    if s.why0 & LATCH_4_0 or s.why1 & LATCH_4_1:
        latch = 4
    elif s.why0 & LATCH_3_0 or s.why1 & LATCH_3_1:
        latch = 3
    elif s.why0 & LATCH_2_0 or s.why1 & LATCH_2_1:
        latch = 2
    else:
        latch = 1
    if not s.cause0 and not s.cause1:
        s.cause0 = s.why0 & (~s.why0 + 1)
        if not s.cause0:
            s.cause1 = s.why1 & (~s.why1 + 1)
    if latch > s.latch:
        s.latch = latch
    if latch > 1:
        void_purge(s)
    if latch > 2:
        s.store = s.latch
    if s.why0 & (RPM_LOST | DETENT_CHATTERS):
        s.hold_off_left = c.hold_off_ticks
    if s.why0 & DETENT_STUCK:
        s.stuck_before = 1
    if s.why1 & TICK_STALLED:
        s.stalled = 1


def trip(s, c):
    """All commands off and latched."""
    stop(s)
    note_cause(s, c)
    enter(s, TRIP)


def to_rest(s):
    """Disarm in good order."""
    stop(s)
    void_purge(s)
    s.arm_left = 0
    if s.store == STORE_ARMED:
        s.store = STORE_NOTHING
    enter(s, REST)


def forgive(s):
    """Drop the latch and its cause."""
    s.latch = 0
    s.cause0 = 0
    s.cause1 = 0


def end_trip(s, v):
    """The latch is over: back to REST, or to HELD while the throttle is not seen back."""
    forgive(s)
    to_rest(s)
    if v.contact != CONTACT_OPEN:
        enter(s, HELD)


def test_passes(s, v, c):
    """The tests that rows of the third latch name, asked all at once: rail dead, proofs open, contact open."""
    return v.rail == RAIL_DEAD and not v.proof and s.open_n >= c.contact_open_ticks


def service_wanted(s, v):
    """The host asks for SERVICE and nothing can move: master off, engine stopped, rail dead."""
    return v.service and not v.master and v.rpm == RPM_STOPPED and v.rail == RAIL_DEAD


def tripped(s, v, c):
    """One tick of TRIP: later causes raise the latch; the rule of the latch ends it."""
    if s.why0 or s.why1:
        note_cause(s, c)
    if service_wanted(s, v):
        s.arm_left = 0
        enter(s, SERVICE)
    elif s.latch == 1:
        if s.off_n >= c.master_off_ticks:
            end_trip(s, v)
        elif s.open_n >= c.release_ticks:
            if s.disarm:
                end_trip(s, v)
            else:
                forgive(s)
                enter(s, GAP)
    elif s.latch == 2:
        if not s.why0 and not s.why1 and s.off_n >= c.disarm_ticks:
            end_trip(s, v)
    elif s.latch == 3 and not s.why0 and not s.why1 & ~BOOT_LOCKS:
        if not v.master and v.rpm == RPM_STOPPED and s.ack_n >= c.ack_hold_ticks and test_passes(s, v, c):
            end_trip(s, v)
            s.store = STORE_NOTHING
            s.boot_cleared = 1
            s.no_show = 0
            s.stuck_before = 0
