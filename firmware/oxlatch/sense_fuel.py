"""Fuel supply pressure, and the leak watch over the block between master and stage valves."""

from oxlatch.vocabulary import (  # fmt: skip
    BLOCK_CLEAN, BLOCK_CLIMBING, BLOCK_FALLING, BLOCK_FAULT, COIL_FUEL, COIL_MASTER_FUEL,
    FIT_FUEL_PRESSURE, FIT_MASTER_FUEL, FUEL_FAIL, FUEL_FAULT, FUEL_HIGH, FUEL_LOW, FUEL_OVER,
    FUEL_PERMIT, RAW_BLOCK_MV, RAW_FUEL_MV, SW_ACK,
)

LEAK_SETTLE_TICKS = 20  # the block settles this long before its leak watch takes a reference
LEAK_COUNT = 4
DRY_LOOKS = 3  # looks at an empty block while fuel is commanded: a valve opens and fills the block in two
BLOCK_EVERY_TICKS = 4  # the block is slow: it is looked at every fourth tick


def fuel_step(s, raw, c, v):
    """Fuel supply pressure: failed, in its band, high, over.

    `fuel_calm` says that the permit is earned and every other counter at rest.
    """
    x = raw[RAW_FUEL_MV]
    inside = c.fuel_low_mv <= x <= c.fuel_top_mv
    if s.fuel_calm and inside or not c.fitted & FIT_FUEL_PRESSURE:
        v.fuel = FUEL_PERMIT
        return
    if inside:
        s.fuel_fault_n = 0
        s.fuel_fail_n = 0
        s.fuel_cut_n = 0
        s.fuel_leave_n = 0
        s.fuel_high_n = 0
        s.fuel_over_n = 0
        if s.fuel_permit_n < c.fuel_permit_ticks:
            s.fuel_permit_n += 1
    else:
        s.fuel_permit_n = 0
        fuel_outside_step(s, x, c)
    s.fuel_calm = 0
    if s.fuel_fault_n > 1:
        v.fuel = FUEL_FAULT
    elif s.fuel_fail_n > 1 or s.fuel_cut_n >= c.fuel_cut_ticks:
        v.fuel = FUEL_FAIL
    elif s.fuel_over_n > 1:
        v.fuel = FUEL_OVER
    elif s.fuel_high_n >= c.fuel_high_ticks:
        v.fuel = FUEL_HIGH
    elif s.fuel_permit_n >= c.fuel_permit_ticks:
        v.fuel = FUEL_PERMIT
        s.fuel_calm = 1
    else:
        v.fuel = FUEL_PERMIT if s.fuel_ok and s.fuel_leave_n < c.fuel_leave_ticks else FUEL_LOW
    s.fuel_ok = 1 if v.fuel == FUEL_PERMIT else 0


def fuel_outside_step(s, x, c):
    """Counters of the fuel channel for a sample outside its band."""
    if s.fuel_leave_n < c.fuel_leave_ticks:
        s.fuel_leave_n += 1
    if x < c.sensor_low_mv or x > c.sensor_high_mv:
        s.fuel_fault_n = 2 if s.fuel_fault_n else 1
    else:
        s.fuel_fault_n = 0
    if x >= c.fuel_fail_mv:
        s.fuel_fail_n = 0
    else:
        s.fuel_fail_n = 2 if s.fuel_fail_n else 1
    if x >= c.fuel_cut_mv:
        s.fuel_cut_n = 0
    elif s.fuel_cut_n < c.fuel_cut_ticks:
        s.fuel_cut_n += 1
    if x <= c.fuel_over_mv:
        s.fuel_over_n = 0
    else:
        s.fuel_over_n = 2 if s.fuel_over_n else 1
    if x <= c.fuel_high_mv:
        s.fuel_high_n = 0
    elif s.fuel_high_n < c.fuel_high_ticks:
        s.fuel_high_n += 1


def block_step(s, raw, c):
    """The leak watch: with every fuel valve shut, the block may neither fall nor fill.

    A fall within the watch means a stage valve leaks; filling after it was bled means the master
    valve leaks. A finding stays until fuel is next commanded or the pilot acknowledges. While fuel is
    commanded an empty block means that the master valve has not opened, or that its hose is gone.
    """
    if not c.fitted & FIT_MASTER_FUEL:
        return
    x = raw[RAW_BLOCK_MV]
    s.leak_watch = 0
    if s.driven & (COIL_FUEL | COIL_MASTER_FUEL) or s.switches & SW_ACK:
        s.watch_n = 0
        s.block_fall_n = 0
        s.block_climb_n = 0
        s.block_bled = 0
        s.block_found = BLOCK_CLEAN
    elif s.watch_n < LEAK_SETTLE_TICKS:
        s.watch_n += BLOCK_EVERY_TICKS
        s.block_ref = x
    else:
        leak_step(s, x, c)
    if not s.driven & COIL_FUEL or x >= c.fuel_fail_mv:
        s.block_dry_n = 0
    elif s.block_dry_n < DRY_LOOKS:
        s.block_dry_n += 1
    if c.sensor_low_mv <= x <= c.sensor_high_mv:
        s.block_fault_n = 0
        s.block_level = s.block_found
    elif s.block_fault_n:
        s.block_level = BLOCK_FAULT
    else:
        s.block_fault_n = 1


def leak_step(s, x, c):
    """One look at the settled block: falling within the watch, or filling after it was bled."""
    if s.watch_n < LEAK_SETTLE_TICKS + c.leak_watch_ticks:
        s.watch_n += BLOCK_EVERY_TICKS
        s.leak_watch = 1
        s.block_fall_n = 0 if s.block_ref - x <= c.block_drop_mv else s.block_fall_n + 1
        if s.block_fall_n >= LEAK_COUNT:
            s.block_fall_n = LEAK_COUNT
            s.block_found = BLOCK_FALLING
    if x < c.fuel_fail_mv:
        s.block_bled = 1
    s.block_climb_n = s.block_climb_n + 1 if s.block_bled and x > c.fuel_low_mv else 0
    if s.block_climb_n >= LEAK_COUNT:
        s.block_climb_n = LEAK_COUNT
        s.block_found = BLOCK_CLIMBING
