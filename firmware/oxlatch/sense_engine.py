"""Throttle position and engine speed to verdicts.

Both are compared with their value eight ticks ago, kept in a ring, to see a chop or a dying engine.
"""

from oxlatch.vocabulary import (  # fmt: skip
    FIT_THROTTLE, RAW_PULSE_AGE_MS, RAW_RPM, RAW_THROTTLE_MV, RPM_HOLD, RPM_LOW, RPM_OVER, RPM_SILENT,
    RPM_STOPPED, RPM_WINDOW, THROTTLE_DROP, THROTTLE_FAULT, THROTTLE_FULL, THROTTLE_HOLD,
)

CALM_BACK = 1
CALM_FULL = 2


def throttle_step(s, raw, c, v):
    """Throttle position: signal in its rails, dropped or chopped, full long enough to start.

    `throttle_calm` says that one more sample of the same kind changes nothing.
    """
    if not c.fitted & FIT_THROTTLE:
        v.throttle = THROTTLE_FULL
        v.throttle_low_seen = 1
        return
    x = raw[RAW_THROTTLE_MV]
    ring = s.throttle_ring
    before = ring[s.phase]
    ring[s.phase] = x
    v.throttle_low_seen = s.throttle_low_seen
    if s.throttle_calm == CALM_BACK:
        if c.sensor_low_mv <= x < c.throttle_half_mv:
            v.throttle = THROTTLE_DROP
            return
    elif s.throttle_calm == CALM_FULL and c.throttle_full_mv <= x <= c.sensor_high_mv:
        if before - x <= c.throttle_chop_mv:
            v.throttle = THROTTLE_FULL
            return
    s.throttle_calm = 0
    if x < c.sensor_low_mv or x > c.sensor_high_mv:
        s.throttle_fault_n = 2 if s.throttle_fault_n else 1
    else:
        s.throttle_fault_n = 0
        if x < c.throttle_half_mv:
            s.throttle_low_seen = 1
    if x < c.throttle_drop_mv or before - x > c.throttle_chop_mv:
        s.throttle_drop_n = 2 if s.throttle_drop_n else 1
    else:
        s.throttle_drop_n = 0
    if x < c.throttle_full_mv:
        s.throttle_full_n = 0
    elif s.throttle_full_n < c.throttle_full_ticks:
        s.throttle_full_n += 1
    if s.throttle_fault_n > 1:
        v.throttle = THROTTLE_FAULT
    elif s.throttle_drop_n > 1:
        v.throttle = THROTTLE_DROP
        if c.sensor_low_mv <= x < c.throttle_half_mv:
            s.throttle_calm = CALM_BACK
    elif s.throttle_full_n >= c.throttle_full_ticks:
        v.throttle = THROTTLE_FULL
        if not s.throttle_fault_n and not s.throttle_drop_n:
            s.throttle_calm = CALM_FULL
    else:
        v.throttle = THROTTLE_HOLD


def rpm_step(s, raw, c, v):
    """Engine speed: stopped, silent or impossible, low or quitting, in the window, over.

    `rpm_calm` says that the window is earned and every other counter at rest.
    """
    rpm = raw[RAW_RPM]
    silent = raw[RAW_PULSE_AGE_MS] >= c.pulse_age_ms
    ring = s.rpm_ring
    change = rpm - ring[s.phase]
    ring[s.phase] = rpm
    steady = -c.rpm_fall <= change <= c.rpm_rise
    if s.rpm_calm and steady and c.rpm_min <= rpm <= c.rpm_max and not silent:
        v.rpm = RPM_WINDOW
        return
    if not silent:
        s.rpm_stopped_n = 0
    elif s.rpm_stopped_n < c.rpm_stopped_ticks:
        s.rpm_stopped_n += 1
    if rpm >= c.rpm_cut:
        s.rpm_low_n = 0
    elif s.rpm_low_n < c.rpm_low_ticks:
        s.rpm_low_n += 1
    if change >= -c.rpm_fall:
        s.rpm_fall_n = 0
    elif s.rpm_fall_n < c.rpm_fall_ticks:
        s.rpm_fall_n += 1
    if change > c.rpm_rise:
        if s.rpm_noise_n < c.rpm_low_ticks:
            s.rpm_noise_n += 1
    elif s.rpm_noise_n:
        s.rpm_noise_n -= 1
    if rpm <= c.rpm_max:
        s.rpm_over_n = 0
    elif s.rpm_over_n < c.rpm_over_ticks:
        s.rpm_over_n += 1
    if silent or s.rpm_noise_n or rpm < c.rpm_min or rpm > c.rpm_max:
        s.rpm_window_n = 0
    elif s.rpm_window_n < c.rpm_window_ticks:
        s.rpm_window_n += 1
    rpm_verdict(s, c, v, silent)


def rpm_verdict(s, c, v, silent):
    """Strongest statement first."""
    s.rpm_calm = 0
    if s.rpm_stopped_n >= c.rpm_stopped_ticks:
        v.rpm = RPM_STOPPED
    elif silent or s.rpm_noise_n >= c.rpm_low_ticks:
        v.rpm = RPM_SILENT
    elif s.rpm_low_n >= c.rpm_low_ticks or s.rpm_fall_n >= c.rpm_fall_ticks:
        v.rpm = RPM_LOW
    elif s.rpm_over_n >= c.rpm_over_ticks:
        v.rpm = RPM_OVER
    elif s.rpm_window_n >= c.rpm_window_ticks:
        v.rpm = RPM_WINDOW
        if not s.rpm_fall_n:
            s.rpm_calm = 1
    else:
        v.rpm = RPM_HOLD
