"""What the pilot's hands have been doing: contact, master, acknowledge, selectors, and the clocks they start."""

from oxlatch.vocabulary import CONTACT_CLOSED, CONTACT_OPEN, PUSH_JUDGED, PUSH_READY, PUSH_SPENT, READY, WAKE


def contact_step(s, v, c):
    """Follow the detent contact: how long open, and whether a closing edge is worth judging.

    An edge counts only when it comes while READY; any other push is spent and must open first.
    """
    if v.contact == CONTACT_OPEN:
        if s.open_n < c.release_ticks:
            s.open_n += 1
        if s.open_n >= c.contact_open_ticks:
            s.push = PUSH_READY
            s.push_why = 0
    else:
        s.open_n = 0
        if v.contact == CONTACT_CLOSED and s.push == PUSH_READY:
            s.push = PUSH_JUDGED if s.state == READY else PUSH_SPENT
            s.push_n = 0
            return
    if s.push == PUSH_JUDGED:
        if v.contact != CONTACT_CLOSED or s.state != READY:
            s.push = PUSH_SPENT
        elif s.push_n < c.push_judge_ticks:
            s.push_n += 1


def pilot_step(s, v, c):
    """Timers of the other hands-on things: master, acknowledge, selectors, arming, hold-off."""
    if v.master:
        s.off_n = 0
    else:
        s.disarm = 1
        if s.off_n < c.disarm_ticks:
            s.off_n += 1
    if not v.ack:
        s.ack_n = 0
    elif s.ack_n < c.ack_hold_ticks:
        s.ack_n += 1
    if v.sel != s.sel_last:
        s.sel_last = v.sel
        s.sel_n = 0
    elif s.sel_n < c.selection_ticks:
        s.sel_n += 1
    if s.arm_left:
        s.arm_left -= 1
    if s.hold_off_left:
        s.hold_off_left -= 1
    if s.starts_n:
        s.starts_n -= 1
    if v.chatter and s.state != WAKE:
        s.hold_off_left = c.hold_off_ticks
