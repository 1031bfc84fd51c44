"""Lamps and the four-word text: what the pilot sees of the state and its reasons."""

from oxlatch.core import INJECT_FITTED
from oxlatch.reasons import O_STUCK_OPEN, RULES, TIME_SOON_UP, TOLD_3
from oxlatch.vocabulary import (  # fmt: skip
    LAMP_BLINK, LAMP_CHECK_SHIFT, LAMP_FLOW_SHIFT, LAMP_ON, LAMP_PURGE_SHIFT, LAMP_READY_SHIFT,
    LAMP_STOP_SHIFT, LAMP_TONE, LEAD_IN, REST, RUN, SERVICE, TRIP, WAKE,
)

_AMBER = LAMP_ON << LAMP_CHECK_SHIFT
_WHITE = LAMP_ON << LAMP_FLOW_SHIFT
_ALL = _AMBER | _WHITE | LAMP_ON << LAMP_READY_SHIFT | LAMP_ON << LAMP_STOP_SHIFT | LAMP_ON << LAMP_PURGE_SHIFT

BENCH_PATTERN = LAMP_BLINK << LAMP_CHECK_SHIFT | LAMP_BLINK << LAMP_FLOW_SHIFT

# one word per state, in the order of the states
LAMPS = (
    _ALL,  # WAKE: lamp test
    0,  # REST: dark
    _AMBER,  # HELD
    _AMBER,  # WAITING
    LAMP_BLINK << LAMP_CHECK_SHIFT | LAMP_ON << LAMP_PURGE_SHIFT,  # PURGING
    LAMP_ON << LAMP_READY_SHIFT,  # READY
    _WHITE,  # LEAD-IN
    _WHITE,  # RUN
    _AMBER,  # RUN-DOWN
    _AMBER,  # GAP
    LAMP_ON << LAMP_STOP_SHIFT,  # TRIP, blinking from latch 3 up
    LAMP_BLINK << LAMP_CHECK_SHIFT,  # SERVICE
    BENCH_PATTERN,  # BENCH-GAS
    BENCH_PATTERN,  # BENCH-DRY
)

# bit of a word of reasons -> row of RULES, one table per word
TEXT_ROWS = tuple({row[1]: at for at, row in enumerate(RULES) if row[0] == word} for word in range(4))
_TEXT_0, _TEXT_1, _TEXT_2, _TEXT_3 = TEXT_ROWS


def text_row(s):
    """The row of RULES to show: the first cause in TRIP, else the first standing reason, else -1."""
    if s.state == TRIP and s.cause0 | s.cause1:
        return _TEXT_0[s.cause0] if s.cause0 else _TEXT_1[s.cause1]
    if s.why0:
        return _TEXT_0[s.why0 & (~s.why0 + 1)]
    if s.why1:
        return _TEXT_1[s.why1 & (~s.why1 + 1)]
    if s.why2:
        return _TEXT_2[s.why2 & (~s.why2 + 1)]
    if s.why3:
        return _TEXT_3[s.why3 & (~s.why3 + 1)]
    return -1


def lamps_step(s, out):
    """Write lamps and text of core state `s` into `out`; nothing to do while nothing shown has changed."""
    faults = s.why0 | s.why1 | s.cause0 | s.cause1
    if not faults and s.state == out.shown_state and s.why2 == out.shown_waits and s.why3 == out.shown_notes:
        return
    out.shown_state = -1 if faults else s.state
    out.shown_waits = s.why2
    out.shown_notes = s.why3
    lamps = LAMPS[s.state] if 0 <= s.state < len(LAMPS) else LAMPS[TRIP]
    if s.why3 & TOLD_3 and s.state != WAKE and s.state != REST and s.state < SERVICE:
        if not lamps & (LAMP_BLINK << LAMP_CHECK_SHIFT):
            lamps |= _AMBER
        lamps |= LAMP_TONE
    if s.state == TRIP:
        if s.latch > 2:
            lamps = (lamps & ~(3 << LAMP_STOP_SHIFT)) | (LAMP_BLINK << LAMP_STOP_SHIFT)
        if (s.why0 | s.cause0) & O_STUCK_OPEN:
            lamps |= LAMP_TONE
    elif s.why3 & TIME_SOON_UP and (s.state == LEAD_IN or s.state == RUN):
        lamps = (lamps & ~(3 << LAMP_FLOW_SHIFT)) | (LAMP_BLINK << LAMP_FLOW_SHIFT)
    if s.inject == INJECT_FITTED and s.state != WAKE:
        lamps = (lamps & LAMP_TONE) | BENCH_PATTERN
    out.lamps = lamps
    out.text = text_row(s)
