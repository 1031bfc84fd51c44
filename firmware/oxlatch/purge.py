"""The purge: how it becomes valid, how long it stays so, and what voids it."""

from oxlatch.core import enter, stop
from oxlatch.vocabulary import (  # fmt: skip
    BUS_HARD, COIL_PURGE, CONTACT_OPEN, LEAD_IN, LINE_DEAD, LINE_GOOD, LINE_LOST, OUT_PURGE, OUT_RUN,
    PURGING, RUN_DOWN, SUPPLY_FAULT, WAITING,
)


def void_purge(s):
    """Forget any purge, also one that waits for its confirmation."""
    s.purge_valid = 0
    s.purge_left = 0
    s.confirm_left = 0


def purge_step(s, v, c):
    """Age the purge, take its confirmation, and void it when the line can no longer be trusted."""
    if s.purge_left:
        s.purge_left -= 1
    if not s.purge_left:
        s.purge_valid = 0
    if s.confirm_left:
        s.confirm_left -= 1
        if s.ack_n == 1 and s.state == WAITING:
            s.confirm_left = 0
            s.purge_valid = 1
            s.purge_left = c.purge_valid_ticks
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
        if s.purge_press_n == 1 and (s.state < LEAD_IN or s.state > RUN_DOWN):
            void_purge(s)


def purge_wanted(s, v, c):
    """Whether the button has been held just long enough, throttle back, with pressure and volts to purge with."""
    return (
        s.purge_press_n == c.purge_press_ticks
        and v.contact == CONTACT_OPEN
        and v.line >= LINE_LOST
        and v.bus > BUS_HARD
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
    """One tick of a purge; it counts only if it ran its whole time in one press at good pressure."""
    if s.timer < c.purge_max_ticks:
        s.timer += 1
    if v.missing & COIL_PURGE:
        s.purge_flaw = 1
    if v.line < LINE_GOOD:
        s.purge_good_n = 0
    elif s.purge_good_n < c.purge_good_ticks:
        s.purge_good_n += 1
    broken = s.purge_flaw or v.contact != CONTACT_OPEN or v.line == LINE_DEAD or v.supply == SUPPLY_FAULT
    if not broken and v.purge and s.timer < c.purge_max_ticks:
        return
    if not broken and s.timer >= c.purge_ticks and s.purge_good_n >= c.purge_good_ticks:
        s.confirm_left = c.purge_confirm_ticks
    stop(s)
    enter(s, WAITING)
