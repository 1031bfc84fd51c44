"""Verdicts to standing reasons, one bit each: everything that is wrong at once, not the first found.

Words 0 and 1 are faults: what stops a flow, or trips at rest. Word 2 and the lower part of word 3 hold
the waits that keep READY away, the rest of word 3 the notes. The sequencer reads the words and their
strongest class, never the verdicts behind them.
"""

from oxlatch.core import INJECT_FITTED
from oxlatch.permits_extras import bench_faults, extra_reasons, extra_waits, needed, purge_notes, row_patterns
from oxlatch.reasons import (  # fmt: skip
    ABOVE_ROW, ALL_STOP_0, ALL_STOP_1, ARM_TIME_OVER, ARM_TIME_SOON, BENCH_KEY_FITTED, BUDGET_SHORT,
    BUDGET_USED, BUS_FAILED, BUS_HIGH_WAIT, BUS_LOW_WAIT, BUS_SAGS, BUS_SURGES, COIL_AT_LIMIT, COIL_SHORTED,
    COIL_UNASKED, COIL_WARM, CYCLE_MASTER, DETENT_CHATTERS, DETENT_DISAGREES, DETENT_STUCK,
    DETENT_STUCK_AGAIN, F_CURRENT_LOST, F_MASTER_LEAKS, F_PRESSURE_HIGH, F_PRESSURE_LOST, F_PRESSURE_LOW,
    F_PRESSURE_OVER, F_PRESSURE_RICH, F_SIGNAL_BAD, F_SIGNAL_LOST, F_STAGE_LEAKS, HARD_0, HARD_1, HOLD_OFF,
    INPUT_NOT_FITTED, KNOCK_HEARD, LEAK_WATCH_OPEN, LINE_TRAPPED_LIQUID, LOCKED_OUT, LOCKED_UNTIL_TESTED,
    MASTER_IS_OFF, NOTHING_SELECTED, ONE_TICK_LATE, OVERSPEED, O_CURRENT_LOST, O_PROOF_LOST, O_SLOW_TO_SHUT,
    O_STUCK_OPEN, PATTERN_NOT_ALLOWED, POWER_LOST_ARMED, PROOF_NOT_OPEN, PURGE_CONFIRM, PURGE_HELD_LONG,
    PURGE_NEEDED, PURGE_NO_CURRENT, RAIL_NOT_LIVE, RAIL_STAYS_LIVE, RELEASE_THROTTLE, RPM_LOST,
    SELECTION_MOVING, SELECTOR_IGNORED, SETTINGS_BOUNDS, SETTINGS_CORRUPT, SETTINGS_VERSION, SETTLING,
    STORE_UNREADABLE, STRAP_FITTED, SUPPLY_COLLAPSES, SUPPLY_RAN_LOW, SUPPLY_RAN_OUT, SUPPLY_SIGNAL_BAD,
    SUPPLY_SIGNAL_LOST, SUPPLY_SOON_LOW, SUPPLY_TOO_HIGH, SUPPLY_TOO_LOW, THROTTLE_NEVER_LOW,
    THROTTLE_SIGNAL_BAD, THROTTLE_SIGNAL_LOST, TICKS_LATE, TICK_STALLED, TICK_STALLED_AGAIN, TIME_IS_UP,
    TIME_SOON_UP, WAITS_3,
)
from oxlatch.vocabulary import (  # fmt: skip
    ALL_STOP, BENCH_DRY, BENCH_GAS, BLOCK_CLEAN, BLOCK_CLIMBING, BLOCK_FALLING, BLOCK_FAULT, BOOT_BOUNDS_BAD,
    BOOT_CRC_BAD, BOOT_LOCKED_L3, BOOT_LOCKED_L4, BOOT_LOST_ARMED, BOOT_STORE_UNREADABLE, BOOT_VERSION_BAD,
    BUS_CUT, BUS_HARD, BUS_PERMIT, BUS_SURGE, COIL_MASTER_OX, COIL_OX, CONTACT_FAULT, CONTACT_OPEN,
    EXTRA_KNOCK, FIT_AIR, FIT_ALWAYS, FIT_BUDGET, FIT_PROOF, FUEL_FAIL, FUEL_FAULT, FUEL_FIRST, FUEL_OVER,
    FUEL_PERMIT, GAP, HARD, HELD, LEAD_IN, LINE_TRAPPED, PURGING, PUSH_BLOCKED, PUSH_SPENT, RAIL_LIVE,
    RAIL_WELDED, READY, REFUSE, REST, RPM_HOLD, RPM_OVER, RUN, SHUT_CLEAN, SHUT_SLOW, SHUT_STUCK, SUPPLY_CUT,
    SUPPLY_EMPTY, SUPPLY_FAULT, SUPPLY_HIGH, SUPPLY_PERMIT, TELL, THROTTLE_FAULT, TIME_HARD, TIME_LATE,
    WAITING,
)


def permits_step(s, v, c):
    """Write the four words of standing reasons and the strongest fault class into core state `s`."""
    s.why0 = 0
    s.why1 = 0
    s.why2 = 0
    s.why3 = 0
    state = s.state
    if v.shut < SHUT_CLEAN or v.rail == RAIL_WELDED or v.block < BLOCK_CLEAN:
        always_faults(s, v)
    if v.short | v.stray | v.time | v.late | v.boot | v.purge_held | v.leak_watch or v.line == LINE_TRAPPED:
        rare_reasons(s, v)
    if v.extras:
        extra_reasons(s, v)
    if BENCH_GAS <= state <= BENCH_DRY:
        bench_faults(s, v)
    elif s.ask_ox or state == LEAD_IN or state == RUN:
        flow_faults(s, v, c)
        engine_faults(s, v, c)
    elif state == READY or state == WAITING or state == GAP:
        waits(s, v, c)
        supply_waits(s, v, c)
    elif state == PURGING:
        if v.bus == BUS_HARD:
            s.why0 |= BUS_FAILED
        purge_notes(s, v, c)
    elif state == HELD:
        s.why2 = CYCLE_MASTER
    elif state == REST:
        s.why2 = MASTER_IS_OFF if c.fitted & FIT_ALWAYS == FIT_ALWAYS else MASTER_IS_OFF | INPUT_NOT_FITTED
    if s.arm_left and s.arm_left <= c.arm_ticks - c.arm_warn_ticks:
        s.why3 |= ARM_TIME_SOON
    if s.inject == INJECT_FITTED:
        s.why3 |= STRAP_FITTED
    if not s.why0 | s.why1:
        s.reaction = REFUSE if s.why2 or s.why3 & WAITS_3 else TELL
    elif s.why0 & HARD_0 or s.why1 & HARD_1:
        s.reaction = HARD
    elif s.why0 & ALL_STOP_0 or s.why1 & ALL_STOP_1:
        s.reaction = ALL_STOP
    else:
        s.reaction = FUEL_FIRST


def always_faults(s, v):
    """Faults that count in every state: a valve or the rail that does not shut, fuel that leaks."""
    if v.shut == SHUT_STUCK:
        s.why0 |= O_STUCK_OPEN
    elif v.shut == SHUT_SLOW:
        s.why3 |= O_SLOW_TO_SHUT
    if v.rail == RAIL_WELDED:
        s.why0 |= RAIL_STAYS_LIVE
    if v.block == BLOCK_FALLING:
        s.why0 |= F_STAGE_LEAKS
    elif v.block == BLOCK_CLIMBING:
        s.why0 |= F_MASTER_LEAKS


def rare_reasons(s, v):
    """Faults and notes that count in every state and whose verdict is zero when all is well."""
    if v.short:
        s.why1 |= COIL_SHORTED
    if v.stray:
        s.why1 |= COIL_UNASKED
    if v.time == TIME_HARD:
        s.why1 |= TICK_STALLED_AGAIN if s.stalled else TICK_STALLED
    elif v.time == TIME_LATE:
        s.why1 |= TICKS_LATE
    if v.purge_held and v.master and not s.vent_n:
        s.why1 |= PURGE_HELD_LONG
    if v.late:
        s.why3 |= ONE_TICK_LATE
    if v.leak_watch:
        s.why3 |= LEAK_WATCH_OPEN
    if v.line == LINE_TRAPPED:
        s.why3 |= LINE_TRAPPED_LIQUID
    if v.boot:
        boot_faults(s, v)


def boot_faults(s, v):
    """What start-up found: bad settings stay bad until the next reset, locks until they are cleared."""
    if v.boot & BOOT_CRC_BAD:
        s.why1 |= SETTINGS_CORRUPT
    if v.boot & BOOT_VERSION_BAD:
        s.why1 |= SETTINGS_VERSION
    if v.boot & BOOT_BOUNDS_BAD:
        s.why1 |= SETTINGS_BOUNDS
    if s.boot_cleared:
        return
    if v.boot & BOOT_STORE_UNREADABLE:
        s.why1 |= STORE_UNREADABLE
    if v.boot & BOOT_LOCKED_L4:
        s.why1 |= LOCKED_OUT
    if v.boot & BOOT_LOCKED_L3:
        s.why1 |= LOCKED_UNTIL_TESTED
    if v.boot & BOOT_LOST_ARMED:
        s.why1 |= POWER_LOST_ARMED


def flow_faults(s, v, c):
    """What stops a flow: oxidizer, fuel, coils and volts."""
    if v.supply <= SUPPLY_CUT:
        if v.supply == SUPPLY_FAULT:
            s.why1 |= SUPPLY_SIGNAL_LOST
        elif v.supply == SUPPLY_EMPTY:
            s.why0 |= SUPPLY_RAN_OUT
        else:
            s.why0 |= SUPPLY_RAN_LOW
    elif v.supply_warn:
        s.why3 |= SUPPLY_SOON_LOW
    if v.falling:
        s.why0 |= SUPPLY_COLLAPSES
    if c.fitted & FIT_PROOF and s.ask_fuel & ~v.proof:
        s.why0 |= O_PROOF_LOST
    if v.missing:
        if v.missing & (COIL_OX | COIL_MASTER_OX):
            s.why0 |= O_CURRENT_LOST
        if v.missing & ~(COIL_OX | COIL_MASTER_OX):
            s.why0 |= F_CURRENT_LOST
    if s.ask_ox and v.rail < RAIL_LIVE:
        s.why0 |= RAIL_NOT_LIVE
    if v.fuel <= FUEL_FAIL:
        if v.fuel == FUEL_FAULT:
            s.why1 |= F_SIGNAL_LOST
        else:
            s.why0 |= F_PRESSURE_LOST
    elif v.fuel > FUEL_PERMIT:
        if v.fuel == FUEL_OVER:
            s.why0 |= F_PRESSURE_OVER
        else:
            s.why3 |= F_PRESSURE_RICH
    if v.bus <= BUS_CUT:
        s.why0 |= BUS_FAILED if v.bus == BUS_HARD else BUS_SAGS
    elif v.bus == BUS_SURGE:
        s.why1 |= BUS_SURGES


def engine_faults(s, v, c):
    """What stops a flow: engine, throttle, contact and the clocks of the run."""
    if v.extras & EXTRA_KNOCK:
        s.why1 |= KNOCK_HEARD
    if v.rpm < RPM_HOLD:
        s.why0 |= RPM_LOST
    elif v.rpm == RPM_OVER:
        s.why1 |= OVERSPEED
    if v.chatter:
        s.why0 |= DETENT_CHATTERS
    if v.throttle == THROTTLE_FAULT:
        s.why0 |= THROTTLE_SIGNAL_LOST
    if s.run_n >= c.run_warn_ticks:
        s.why3 |= TIME_SOON_UP
        if s.run_n >= c.run_ticks:
            s.why1 |= TIME_IS_UP
    if s.coil_heat > c.coil_heat_start:
        s.why3 |= TIME_SOON_UP
        if s.coil_heat >= c.coil_heat_top:
            s.why1 |= COIL_AT_LIMIT
    if c.fitted & FIT_BUDGET:
        if s.budget < needed(s.latched, c):
            s.why3 |= TIME_SOON_UP
        if not s.budget:
            s.why1 |= BUDGET_USED
    if c.fitted & FIT_AIR and s.latched and not (row_patterns(v.row, c) >> s.latched) & 1:
        s.why3 |= ABOVE_ROW
    if v.sel & ~s.latched and s.latched:
        s.why3 |= SELECTOR_IGNORED


def waits(s, v, c):
    """What keeps READY away, apart from pressures and volts."""
    why = s.push_why
    if not s.arm_left:
        why |= ARM_TIME_OVER
    if s.push == PUSH_BLOCKED or s.push == PUSH_SPENT or (s.state != READY and v.contact != CONTACT_OPEN):
        why |= RELEASE_THROTTLE
    if v.contact == CONTACT_FAULT:
        why |= DETENT_DISAGREES
    if v.contact_stuck:
        s.why0 |= DETENT_STUCK_AGAIN if s.stuck_before else DETENT_STUCK
    if v.throttle == THROTTLE_FAULT:
        why |= THROTTLE_SIGNAL_BAD
    if not v.throttle_low_seen:
        why |= THROTTLE_NEVER_LOW
    if not v.sel:
        why |= NOTHING_SELECTED
    elif not (row_patterns(v.row, c) >> v.sel) & 1:
        why |= PATTERN_NOT_ALLOWED
    if s.sel_n < c.selection_ticks:
        why |= SELECTION_MOVING
    if s.confirm_left:
        why |= PURGE_CONFIRM
    elif not s.purge_valid:
        why |= PURGE_NEEDED
    if s.purge_flaw:
        why |= PURGE_NO_CURRENT
    if v.proof:
        why |= PROOF_NOT_OPEN
    if s.hold_off_left:
        why |= HOLD_OFF
    if v.bench:
        why |= BENCH_KEY_FITTED
    s.why2 = why
    if v.extras:
        extra_waits(s, v)
    if s.coil_heat > c.coil_heat_start:
        s.why3 |= COIL_WARM
    if c.fitted & FIT_BUDGET and s.budget < needed(v.sel, c):
        s.why3 |= BUDGET_SHORT


def supply_waits(s, v, c):
    """What keeps READY away: bottle, fuel and volts; and, when nothing else does, the settling time."""
    why = s.why2
    if v.supply != SUPPLY_PERMIT:
        if v.supply == SUPPLY_FAULT:
            why |= SUPPLY_SIGNAL_BAD
        else:
            why |= SUPPLY_TOO_HIGH if v.supply == SUPPLY_HIGH else SUPPLY_TOO_LOW
    if v.fuel != FUEL_PERMIT:
        if v.fuel == FUEL_FAULT:
            why |= F_SIGNAL_BAD
        else:
            why |= F_PRESSURE_HIGH if v.fuel > FUEL_PERMIT else F_PRESSURE_LOW
    if v.block == BLOCK_FAULT:
        why |= F_SIGNAL_BAD
    if v.bus != BUS_PERMIT:
        why |= BUS_HIGH_WAIT if v.bus == BUS_SURGE else BUS_LOW_WAIT
    s.why2 = why if why or s.why3 & WAITS_3 or s.ready_n >= c.ready_ticks else SETTLING
