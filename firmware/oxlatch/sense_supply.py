"""Oxidizer line pressure to verdicts: levels that stop or permit, bands of the purge, trends over seconds."""

from oxlatch.vocabulary import (  # fmt: skip
    COIL_OX, COIL_PURGE, LINE_DEAD, LINE_EMPTY, LINE_GOOD, LINE_LOST, LINE_THIN, LINE_TRAPPED, LINE_WEAK,
    RAW_SUPPLY_MV, SUPPLY_CUT, SUPPLY_EMPTY, SUPPLY_FAULT, SUPPLY_HIGH, SUPPLY_LEAVE, SUPPLY_LOW,
    SUPPLY_PERMIT,
)

TREND_SAMPLES = 50  # a second of every fourth tick
SECONDS_MAX = 20


def supply_step(s, raw, c, v):
    """Oxidizer line pressure: the level that stops, permits or refuses, and the band a purge needs.

    `supply_calm` says that the permit is earned and every counter at rest, so that one more sample
    inside the permitted band changes nothing.
    """
    x = raw[RAW_SUPPLY_MV]
    ox = s.driven & COIL_OX
    opened = ox & ~s.supply_ox
    s.supply_ox = ox
    if s.supply_calm and c.supply_permit_mv <= x <= c.supply_top_mv and not opened:
        v.supply = SUPPLY_PERMIT
        v.supply_warn = 0
        v.line = LINE_GOOD
        return
    # An opening valve makes the line dip; the cut looks away for a moment, "empty" never does.
    if opened:
        s.supply_blank_n = c.supply_blank_ticks
    elif s.supply_blank_n:
        s.supply_blank_n -= 1
    if x >= c.supply_leave_mv:
        s.supply_leave_n = 0
        s.supply_cut_n = 0
        s.supply_empty_n = 0
    else:
        supply_low_step(s, x, c)
    if x <= c.supply_over_mv:
        s.supply_high_n = 0
    elif s.supply_high_n < c.supply_leave_ticks:
        s.supply_high_n += 1
    if x < c.supply_permit_mv or x > c.supply_top_mv:
        s.supply_permit_n = 0
    elif s.supply_permit_n < c.supply_permit_ticks:
        s.supply_permit_n += 1
    bad = x < c.sensor_low_mv or x > c.sensor_high_mv
    if not bad:
        s.supply_fault_n = 0
    else:
        s.supply_fault_n = 2 if s.supply_fault_n else 1
    supply_verdict(s, c, v)
    v.supply_warn = 1 if x < c.supply_warn_mv else 0
    v.line = LINE_EMPTY if bad else line_band(x, c)


def supply_low_step(s, x, c):
    """Counters of the supply channel for a sample below the level that leaves READY."""
    if s.supply_leave_n < c.supply_leave_ticks:
        s.supply_leave_n += 1
    if x >= c.supply_cut_mv or s.supply_blank_n:
        s.supply_cut_n = 0
    elif s.supply_cut_n < c.supply_cut_ticks:
        s.supply_cut_n += 1
    if x >= c.supply_empty_mv:
        s.supply_empty_n = 0
    else:
        s.supply_empty_n = 2 if s.supply_empty_n else 1


def supply_verdict(s, c, v):
    """Strongest statement first; the permit, once earned, is lost only to a sustained one."""
    s.supply_calm = 0
    if s.supply_fault_n > 1:
        v.supply = SUPPLY_FAULT
    elif s.supply_empty_n > 1:
        v.supply = SUPPLY_EMPTY
    elif s.supply_cut_n >= c.supply_cut_ticks:
        v.supply = SUPPLY_CUT
    elif s.supply_leave_n >= c.supply_leave_ticks:
        v.supply = SUPPLY_LEAVE
    elif s.supply_high_n >= c.supply_leave_ticks:
        v.supply = SUPPLY_HIGH
    elif s.supply_permit_n >= c.supply_permit_ticks:
        v.supply = SUPPLY_PERMIT
        if not s.supply_blank_n:
            s.supply_calm = 1
    else:
        v.supply = SUPPLY_PERMIT if s.supply_ok else SUPPLY_LOW
    s.supply_ok = 1 if v.supply == SUPPLY_PERMIT else 0


def line_band(x, c):
    """The pressure band a purge looks at, for a sample inside the sensor's rails."""
    if x >= c.line_thin_mv:
        return LINE_GOOD if x < c.line_trapped_mv else LINE_TRAPPED
    if x >= c.line_lost_mv:
        return LINE_THIN
    if x >= c.line_weak_mv:
        return LINE_LOST
    if x >= c.line_dead_mv:
        return LINE_WEAK
    return LINE_DEAD if x >= c.line_empty_mv else LINE_EMPTY


def trend_step(s, raw, c):
    """Sums over whole seconds: collapse while flowing, loss of line pressure while shut."""
    driven = s.driven & (COIL_OX | COIL_PURGE)
    if driven != s.sum_driven:
        s.sum_driven = driven
        s.sum = 0
        s.sum_n = 0
        s.seconds = 0
        s.falling = 0
        s.line_lost = 0
    s.sum += raw[RAW_SUPPLY_MV]
    s.sum_n += 1
    if s.sum_n < TREND_SAMPLES:
        return
    # The first second after a valve moved is its transient: it is neither compared nor kept.
    s.falling = 0
    s.line_lost = 0
    if driven & COIL_OX:
        if s.seconds > 1 and s.sum_before - s.sum > c.supply_fall_sum_mv:
            s.falling = 1
    elif not driven and s.seconds > 10 and s.sum_ring[s.sum_at] - s.sum > c.line_fall_sum_mv:
        s.line_lost = 1
    s.sum_ring[s.sum_at] = s.sum
    s.sum_at = 0 if s.sum_at >= 9 else s.sum_at + 1
    s.sum_before = s.sum
    s.sum = 0
    s.sum_n = 0
    if s.seconds < SECONDS_MAX:
        s.seconds += 1
