"""The bench modes: oxidizer valves alone, engine stopped, bench key in. The gate keeps all fuel off.

BENCH-GAS is for inert gas behind the valves: a push opens the selected stages one after the other, PURGE
opens the purge valve. BENCH-DRY is for coil currents with no gas in the line.
"""

from oxlatch.core import enter, stop
from oxlatch.trip import to_rest
from oxlatch.vocabulary import (  # fmt: skip
    BENCH_DRY, BENCH_GAS, CONTACT_CLOSED, LINE_DEAD, OUT_PURGE, OUT_RUN, RAIL_LIVE, RPM_STOPPED,
    THROTTLE_HOLD,
)


def begin_bench(s, v):
    """ACK held chooses gas, PURGE alone dry; the contact must be seen open before a push counts."""
    stop(s)
    enter(s, BENCH_GAS if v.ack else BENCH_DRY)
    s.bench_n = 0


def bench(s, v, c):
    """One tick of a bench mode; its time, its key, its master, a turning engine or gas where none may be end it."""
    s.timer += 1
    gas = v.line > LINE_DEAD and s.state == BENCH_DRY
    if s.timer >= c.bench_ticks or not v.bench or not v.master or v.rpm != RPM_STOPPED or gas:
        to_rest(s)
    elif v.contact == CONTACT_CLOSED and v.throttle >= THROTTLE_HOLD and 0 < s.bench_n < c.bench_push_ticks:
        bench_push(s, v, c)
    else:
        stop(s)
        if s.bench_n > 1:
            s.bench_n = 0  # a push that was let go, or took its time, is over
        if s.open_n >= c.contact_open_ticks:
            bench_purge(s, v, c)


def bench_purge(s, v, c):
    """Contact open: the next push counts; with gas, PURGE opens the purge valve for no longer than ever."""
    s.bench_n = 1
    s.stagger_n = c.stagger_ticks
    if s.state == BENCH_GAS and s.purge_press_n >= c.purge_press_ticks and s.vent_n < c.purge_max_ticks:
        s.vent_n += 1
        s.ask_bits = OUT_RUN | OUT_PURGE


def bench_push(s, v, c):
    """Contact closed: once the rail is live, open the stages selected at the push in order, staggered as in flight."""
    if s.bench_n == 1:
        s.latched = v.sel
    s.bench_n += 1
    s.ask_bits = OUT_RUN
    if s.stagger_n < c.stagger_ticks:
        s.stagger_n += 1
    elif v.rail == RAIL_LIVE:
        wanted = s.latched & ~s.ask_ox
        s.ask_ox |= wanted & (~wanted + 1)
        s.stagger_n = 0
