"""Bus volts and the coil rail to verdicts."""

from oxlatch.vocabulary import (  # fmt: skip
    BUS_CUT, BUS_HARD, BUS_LOW, BUS_PERMIT, BUS_SURGE, FIT_RAIL, OUT_RUN, RAIL_DEAD, RAIL_LIVE, RAIL_WEAK,
    RAIL_WELDED, RAW_BUS_MV, RAW_RAIL_MV,
)

CALM_DEAD = 1
CALM_LIVE = 2


def volts_step(s, raw, c, v):
    """Bus volts: failed, sagging, low, permitted, surging. `bus_calm` says every counter is at rest."""
    x = raw[RAW_BUS_MV]
    if s.bus_calm and c.bus_permit_mv <= x <= c.bus_surge_mv:
        v.bus = BUS_PERMIT
        return
    if x >= c.bus_cut_mv:
        s.bus_cut_n = 0
        s.bus_hard_n = 0
    else:
        if s.bus_cut_n < c.bus_cut_ticks:
            s.bus_cut_n += 1
        if x >= c.bus_hard_mv:
            s.bus_hard_n = 0
        else:
            s.bus_hard_n = 2 if s.bus_hard_n else 1
    if x <= c.bus_surge_mv:
        s.bus_surge_n = 0
    elif s.bus_surge_n < c.bus_cut_ticks:
        s.bus_surge_n += 1
    if (x >= c.bus_permit_mv) == (s.bus_ok == 1):
        s.bus_ok_n = 0
    elif s.bus_ok_n < c.bus_leave_ticks:
        s.bus_ok_n += 1
    else:
        s.bus_ok = 1 - s.bus_ok
        s.bus_ok_n = 0
    s.bus_calm = 0
    if s.bus_hard_n > 1:
        v.bus = BUS_HARD
    elif s.bus_cut_n >= c.bus_cut_ticks:
        v.bus = BUS_CUT
    elif s.bus_surge_n >= c.bus_cut_ticks:
        v.bus = BUS_SURGE
    elif s.bus_ok:
        v.bus = BUS_PERMIT
        if not s.bus_cut_n and not s.bus_surge_n and not s.bus_ok_n:
            s.bus_calm = 1
    else:
        v.bus = BUS_LOW


def rail_step(s, raw, c, v):
    """The coil rail: live, dead, in between, or live long after the run switch was released.

    `rail_calm` says that one more sample of the same kind changes nothing.
    """
    run = s.driven_bits & OUT_RUN
    if not c.fitted & FIT_RAIL:
        v.rail = RAIL_LIVE if run else RAIL_DEAD
        return
    x = raw[RAW_RAIL_MV]
    if x <= c.rail_dead_mv:
        if s.rail_calm == CALM_DEAD:
            v.rail = RAIL_DEAD
            return
    elif s.rail_calm == CALM_LIVE and run and x >= c.rail_live_mv:
        v.rail = RAIL_LIVE
        return
    if x <= c.rail_dead_mv:
        s.rail_dead_n = 2 if s.rail_dead_n else 1
        s.rail_weld_n = 0
    else:
        s.rail_dead_n = 0
        if run:
            s.rail_weld_n = 0
        elif s.rail_weld_n < c.rail_weld_ticks:
            s.rail_weld_n += 1
    if x >= c.rail_live_mv:
        s.rail_weak_n = 0
        s.rail_live_n = 2 if s.rail_live_n else 1
        if s.rail_live_n > 1:
            s.rail_live = 1
    else:
        s.rail_live_n = 0
        s.rail_weak_n = 2 if s.rail_weak_n else 1
        if s.rail_weak_n > 1:
            s.rail_live = 0
    s.rail_calm = 0
    if s.rail_weld_n >= c.rail_weld_ticks:
        v.rail = RAIL_WELDED
    elif s.rail_live:
        v.rail = RAIL_LIVE
        if s.rail_live_n > 1 and not s.rail_weld_n:
            s.rail_calm = CALM_LIVE
    elif s.rail_dead_n > 1:
        v.rail = RAIL_DEAD
        s.rail_calm = CALM_DEAD
    else:
        v.rail = RAIL_WEAK
