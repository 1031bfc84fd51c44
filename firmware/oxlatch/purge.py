"""The purge: how it becomes valid, how long it stays so, and what voids it."""

from oxlatch.core import enter, stop
from oxlatch.vocabulary import (  # fmt: skip
    BUS_HARD, COIL_PURGE, CONTACT_OPEN, FIT_VENT_DOWN, LEAD_IN, LINE_DEAD, LINE_EMPTY, LINE_GOOD, LINE_LOST,
    OUT_PURGE, OUT_RUN, OUTLETS_COLD, PURGING, RPM_STOPPED, RUN_DOWN, SUPPLY_FAULT, WAITING,
)


def void_purge(s):
    """Forget any purge, also one that waits for its confirmation."""
    s.purge_valid = 0
    s.purge_left = 0
    s.confirm_left = 0


def accept_purge(s, c):
    """The purge counts from now on."""
    s.confirm_left = 0
    s.purge_valid = 1
    s.purge_left = c.purge_valid_ticks


def purge_step(s, v, c):
    """Age the purge, take its confirmation, and void it when the line can no longer be trusted."""
    if s.purge_left:
        s.purge_left -= 1
    if not s.purge_left:
        s.purge_valid = 0
    if s.confirm_left:
        s.confirm_left -= 1
        if s.ack_n == 1 and s.state == WAITING:
            accept_purge(s, c)
    if v.line > LINE_LOST:
        s.line_lost_n = 0
    elif s.line_lost_n < c.purge_void_ticks:
        s.line_lost_n += 1
    if s.line_lost_n >= c.purge_void_ticks or v.line_lost or v.supply == SUPPLY_FAULT or not v.master:
        void_purge(s)
    if not v.purge:
        s.purge_press_n = 0
    elif s.purge_press_n <= c.purge_press_ticks:
        s.purge_press_n += 1
        if s.purge_press_n == 1:
            s.vent_n = 0
            if s.state < LEAD_IN or s.state > RUN_DOWN:
                void_purge(s)


def may_vent(v, c):
    """Whether the purge valve may empty what is left in the line: on the ground, below a purge's own pressure."""
    if not c.fitted & FIT_VENT_DOWN or v.rpm != RPM_STOPPED or v.supply == SUPPLY_FAULT:
        return 0
    return 1 if LINE_EMPTY < v.line < LINE_LOST else 0


def purge_wanted(s, v, c):
    """Whether the button has been held just long enough, throttle back, with pressure and volts to purge with."""
    return (
        s.purge_press_n == c.purge_press_ticks
        and v.contact == CONTACT_OPEN
        and v.bus > BUS_HARD
        and (v.line >= LINE_LOST or may_vent(v, c))
    )


def begin_purge(s):
    """Open the purge valve; whatever purge there was is void."""
    void_purge(s)
    stop(s)
    enter(s, PURGING)
    s.purge_good_n = 0
    s.purge_flaw = 0
    s.ask_bits = OUT_RUN | OUT_PURGE


def purging(s, v, c):
    """One tick of a purge; it counts only if it ran its whole time in one press at good pressure.

    Venting the line is a purge that may run longer and lower, and never counts.
    """
    if s.timer < c.purge_max_ticks:
        s.timer += 1
    if v.missing & COIL_PURGE:
        s.purge_flaw = 1
    if v.line < LINE_GOOD:
        s.purge_good_n = 0
    elif s.purge_good_n < c.purge_good_ticks:
        s.purge_good_n += 1
    vents = may_vent(v, c)
    if vents:
        s.vent_n += 1
    broken = s.purge_flaw or v.contact != CONTACT_OPEN or v.supply == SUPPLY_FAULT
    if not vents and v.line <= LINE_DEAD:
        broken = 1
    in_time = s.timer < c.purge_max_ticks or vents
    if not broken and v.purge and in_time and s.vent_n < c.vent_ticks:
        return
    if not broken and not s.vent_n and s.timer >= c.purge_ticks and s.purge_good_n >= c.purge_good_ticks:
        if v.outlets == OUTLETS_COLD:
            accept_purge(s, c)
        else:
            s.confirm_left = c.purge_confirm_ticks
    stop(s)
    enter(s, WAITING)
