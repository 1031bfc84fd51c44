"""The rules of the reasons: why the controller refuses, stops or warns, and what each does.

Reasons are data. Each is one bit in one of four words; the words and the bits are in the order in
which reasons are shown, and within the fault words that order is the order of the hazard rows, so
"the lowest standing bit" is "the lowest hazard row". Masks per class and latch are derived here
once, at import, so the tick only ever tests a word against a mask. What a reason says to people stands
in the simulator's `reason_words`, row for row: the board never needs it.

The words:
    0, 1  faults: while flowing they stop it; at rest they trip
    2     waits: nothing opens while one stands; they clear themselves
    3     more waits (WAITS_3), then notes: told, logged, never acted on
"""

from oxlatch.vocabulary import ALL_STOP, FUEL_FIRST, HARD, REFUSE, TELL

WORDS = 4

# word 0: faults of hazard rows 1 to 27
O_NOT_PROVED = 1 << 0
O_NOT_PROVED_AGAIN = 1 << 1
O_PROOF_LOST = 1 << 2
O_CURRENT_LOST = 1 << 3
SUPPLY_RAN_LOW = 1 << 4
SUPPLY_RAN_OUT = 1 << 5
F_STAGE_LEAKS = 1 << 6
F_MASTER_LEAKS = 1 << 7
F_CURRENT_LOST = 1 << 8
F_PRESSURE_LOST = 1 << 9
RPM_LOST = 1 << 10
O_STUCK_OPEN = 1 << 11
RAIL_STAYS_LIVE = 1 << 12
RAIL_NOT_LIVE = 1 << 13
DETENT_STUCK = 1 << 14
DETENT_STUCK_AGAIN = 1 << 15
DETENT_CHATTERS = 1 << 16
THROTTLE_SIGNAL_LOST = 1 << 17
BOTTLE_OVERHEATED = 1 << 18
SUPPLY_COLLAPSES = 1 << 19
CONTENT_DOUBTFUL = 1 << 20
F_PRESSURE_OVER = 1 << 21
BUS_FAILED = 1 << 22
BUS_SAGS = 1 << 23

# word 1: faults of hazard rows 28 to 70
BUS_SURGES = 1 << 0
POWER_LOST_ARMED = 1 << 1
TICK_STALLED = 1 << 2
TICK_STALLED_AGAIN = 1 << 3
TICKS_LATE = 1 << 4
PURGE_HELD_LONG = 1 << 5
SETTINGS_CORRUPT = 1 << 6
SETTINGS_VERSION = 1 << 7
SETTINGS_BOUNDS = 1 << 8
SUPPLY_SIGNAL_LOST = 1 << 9
F_SIGNAL_LOST = 1 << 10
COIL_SHORTED = 1 << 11
COIL_UNASKED = 1 << 12
KNOCK_HEARD = 1 << 13
OVERSPEED = 1 << 14
TIME_IS_UP = 1 << 15
BUDGET_USED = 1 << 16
COIL_AT_LIMIT = 1 << 17
FIRE_SEEN = 1 << 18
STATE_CORRUPT = 1 << 19
LOCKED_OUT = 1 << 20
STORE_UNREADABLE = 1 << 21
LOCKED_UNTIL_TESTED = 1 << 22

# word 2: waits
CYCLE_MASTER = 1 << 0
INPUT_NOT_FITTED = 1 << 1
MASTER_IS_OFF = 1 << 2
ARM_TIME_OVER = 1 << 3
RELEASE_THROTTLE = 1 << 4
DETENT_DISAGREES = 1 << 5
THROTTLE_SIGNAL_BAD = 1 << 6
THROTTLE_NEVER_LOW = 1 << 7
NOTHING_SELECTED = 1 << 8
SELECTION_MOVING = 1 << 9
PATTERN_NOT_ALLOWED = 1 << 10
PURGE_NEEDED = 1 << 11
PURGE_CONFIRM = 1 << 12
SUPPLY_SIGNAL_BAD = 1 << 13
SUPPLY_TOO_LOW = 1 << 14
SUPPLY_TOO_HIGH = 1 << 15
F_SIGNAL_BAD = 1 << 16
F_PRESSURE_LOW = 1 << 17
F_PRESSURE_HIGH = 1 << 18
BUS_LOW_WAIT = 1 << 19
BUS_HIGH_WAIT = 1 << 20
PROOF_NOT_OPEN = 1 << 21
HOLD_OFF = 1 << 22
SETTLING = 1 << 23
PUSH_NOT_FULL = 1 << 24
PUSH_RPM_LOW = 1 << 25
PUSH_RPM_HIGH = 1 << 26
PUSH_RPM_SIGNAL = 1 << 27
PURGE_NO_CURRENT = 1 << 28
BENCH_KEY_FITTED = 1 << 29

# word 3: waits, then notes
BOTTLE_TEMP_BAD = 1 << 0
BOTTLE_WARM = 1 << 1
BUDGET_SHORT = 1 << 2
COIL_WARM = 1 << 3
MIXTURE_NOT_RICH = 1 << 4
RETARD_MISSING = 1 << 5
AIRSPEED_HIGH = 1 << 6
AIRSPEED_BAD = 1 << 7
SUPPLY_SOON_LOW = 1 << 8
O_SLOW_TO_SHUT = 1 << 9
LINE_TRAPPED_LIQUID = 1 << 10
ARM_TIME_SOON = 1 << 11
TIME_SOON_UP = 1 << 12
ONE_TICK_LATE = 1 << 13
F_PRESSURE_RICH = 1 << 14
SELECTOR_IGNORED = 1 << 15
ABOVE_ROW = 1 << 16
AIR_SIGNAL_BAD = 1 << 17
OUTLET_SIGNAL_BAD = 1 << 18
ONE_OUTLET_WARM = 1 << 19
KEEP_PURGING = 1 << 20
PURGE_LONG_ENOUGH = 1 << 21
VENTING = 1 << 22
LEAK_WATCH_OPEN = 1 << 23
STRAP_FITTED = 1 << 24
BENCH_NO_FUEL = 1 << 25
REFILL_ENTERED = 1 << 26

# word, bit, class, latch
RULES = (
    (0, O_NOT_PROVED, ALL_STOP, 2),
    (0, O_NOT_PROVED_AGAIN, ALL_STOP, 3),
    (0, O_PROOF_LOST, ALL_STOP, 2),
    (0, O_CURRENT_LOST, ALL_STOP, 2),
    (0, SUPPLY_RAN_LOW, ALL_STOP, 2),
    (0, SUPPLY_RAN_OUT, ALL_STOP, 2),
    (0, F_STAGE_LEAKS, ALL_STOP, 3),
    (0, F_MASTER_LEAKS, ALL_STOP, 3),
    (0, F_CURRENT_LOST, ALL_STOP, 2),
    (0, F_PRESSURE_LOST, ALL_STOP, 2),
    (0, RPM_LOST, ALL_STOP, 2),
    (0, O_STUCK_OPEN, ALL_STOP, 4),
    (0, RAIL_STAYS_LIVE, HARD, 4),
    (0, RAIL_NOT_LIVE, ALL_STOP, 2),
    (0, DETENT_STUCK, ALL_STOP, 2),
    (0, DETENT_STUCK_AGAIN, ALL_STOP, 3),
    (0, DETENT_CHATTERS, FUEL_FIRST, 1),
    (0, THROTTLE_SIGNAL_LOST, FUEL_FIRST, 2),
    (0, BOTTLE_OVERHEATED, FUEL_FIRST, 2),
    (0, SUPPLY_COLLAPSES, ALL_STOP, 2),
    (0, CONTENT_DOUBTFUL, FUEL_FIRST, 2),
    (0, F_PRESSURE_OVER, FUEL_FIRST, 2),
    (0, BUS_FAILED, HARD, 1),
    (0, BUS_SAGS, ALL_STOP, 1),
    (1, BUS_SURGES, ALL_STOP, 2),
    (1, POWER_LOST_ARMED, REFUSE, 3),
    (1, TICK_STALLED, HARD, 2),
    (1, TICK_STALLED_AGAIN, HARD, 4),
    (1, TICKS_LATE, ALL_STOP, 2),
    (1, PURGE_HELD_LONG, ALL_STOP, 2),
    (1, SETTINGS_CORRUPT, HARD, 4),
    (1, SETTINGS_VERSION, HARD, 4),
    (1, SETTINGS_BOUNDS, HARD, 4),
    (1, SUPPLY_SIGNAL_LOST, ALL_STOP, 2),
    (1, F_SIGNAL_LOST, ALL_STOP, 2),
    (1, COIL_SHORTED, HARD, 3),
    (1, COIL_UNASKED, HARD, 4),
    (1, KNOCK_HEARD, ALL_STOP, 3),
    (1, OVERSPEED, FUEL_FIRST, 1),
    (1, TIME_IS_UP, FUEL_FIRST, 1),
    (1, BUDGET_USED, FUEL_FIRST, 1),
    (1, COIL_AT_LIMIT, FUEL_FIRST, 1),
    (1, FIRE_SEEN, HARD, 4),
    (1, STATE_CORRUPT, HARD, 4),
    (1, LOCKED_OUT, REFUSE, 4),
    (1, STORE_UNREADABLE, REFUSE, 4),
    (1, LOCKED_UNTIL_TESTED, REFUSE, 3),
    (2, CYCLE_MASTER, REFUSE, 0),
    (2, INPUT_NOT_FITTED, REFUSE, 0),
    (2, MASTER_IS_OFF, REFUSE, 0),
    (2, ARM_TIME_OVER, REFUSE, 0),
    (2, RELEASE_THROTTLE, REFUSE, 0),
    (2, DETENT_DISAGREES, REFUSE, 0),
    (2, THROTTLE_SIGNAL_BAD, REFUSE, 0),
    (2, THROTTLE_NEVER_LOW, REFUSE, 0),
    (2, NOTHING_SELECTED, REFUSE, 0),
    (2, SELECTION_MOVING, REFUSE, 0),
    (2, PATTERN_NOT_ALLOWED, REFUSE, 0),
    (2, PURGE_NEEDED, REFUSE, 0),
    (2, PURGE_CONFIRM, REFUSE, 0),
    (2, SUPPLY_SIGNAL_BAD, REFUSE, 0),
    (2, SUPPLY_TOO_LOW, REFUSE, 0),
    (2, SUPPLY_TOO_HIGH, REFUSE, 0),
    (2, F_SIGNAL_BAD, REFUSE, 0),
    (2, F_PRESSURE_LOW, REFUSE, 0),
    (2, F_PRESSURE_HIGH, REFUSE, 0),
    (2, BUS_LOW_WAIT, REFUSE, 0),
    (2, BUS_HIGH_WAIT, REFUSE, 0),
    (2, PROOF_NOT_OPEN, REFUSE, 0),
    (2, HOLD_OFF, REFUSE, 0),
    (2, SETTLING, REFUSE, 0),
    (2, PUSH_NOT_FULL, REFUSE, 0),
    (2, PUSH_RPM_LOW, REFUSE, 0),
    (2, PUSH_RPM_HIGH, REFUSE, 0),
    (2, PUSH_RPM_SIGNAL, REFUSE, 0),
    (2, PURGE_NO_CURRENT, REFUSE, 0),
    (2, BENCH_KEY_FITTED, REFUSE, 0),
    (3, BOTTLE_TEMP_BAD, REFUSE, 0),
    (3, BOTTLE_WARM, REFUSE, 0),
    (3, BUDGET_SHORT, REFUSE, 0),
    (3, COIL_WARM, REFUSE, 0),
    (3, MIXTURE_NOT_RICH, REFUSE, 0),
    (3, RETARD_MISSING, REFUSE, 0),
    (3, AIRSPEED_HIGH, REFUSE, 0),
    (3, AIRSPEED_BAD, REFUSE, 0),
    (3, SUPPLY_SOON_LOW, TELL, 0),
    (3, O_SLOW_TO_SHUT, TELL, 0),
    (3, LINE_TRAPPED_LIQUID, TELL, 0),
    (3, ARM_TIME_SOON, TELL, 0),
    (3, TIME_SOON_UP, TELL, 0),
    (3, ONE_TICK_LATE, TELL, 0),
    (3, F_PRESSURE_RICH, TELL, 0),
    (3, SELECTOR_IGNORED, TELL, 0),
    (3, ABOVE_ROW, TELL, 0),
    (3, AIR_SIGNAL_BAD, TELL, 0),
    (3, OUTLET_SIGNAL_BAD, TELL, 0),
    (3, ONE_OUTLET_WARM, TELL, 0),
    (3, KEEP_PURGING, TELL, 0),
    (3, PURGE_LONG_ENOUGH, TELL, 0),
    (3, VENTING, TELL, 0),
    (3, LEAK_WATCH_OPEN, TELL, 0),
    (3, STRAP_FITTED, TELL, 0),
    (3, BENCH_NO_FUEL, TELL, 0),
    (3, REFILL_ENTERED, TELL, 0),
)


def class_mask(word, reaction):
    """Bits of one word whose reaction class is the given one."""
    mask = 0
    for row in RULES:
        if row[0] == word and row[2] == reaction:
            mask |= row[1]
    return mask


def latch_mask(word, latch):
    """Bits of one word whose latch is the given level."""
    mask = 0
    for row in RULES:
        if row[0] == word and row[3] == latch:
            mask |= row[1]
    return mask


HARD_0 = class_mask(0, HARD)
HARD_1 = class_mask(1, HARD)
ALL_STOP_0 = class_mask(0, ALL_STOP)
ALL_STOP_1 = class_mask(1, ALL_STOP)
LATCH_4_0 = latch_mask(0, 4)
LATCH_4_1 = latch_mask(1, 4)
LATCH_3_0 = latch_mask(0, 3)
LATCH_3_1 = latch_mask(1, 3)
LATCH_2_0 = latch_mask(0, 2)
LATCH_2_1 = latch_mask(1, 2)

# The waits of word 3; everything above them there is a note.
WAITS_3 = class_mask(3, REFUSE)

# Notes that also light CHECK and sound the tone; the others are only shown and logged.
_SHOWN_3 = ONE_TICK_LATE | LEAK_WATCH_OPEN | STRAP_FITTED | KEEP_PURGING | PURGE_LONG_ENOUGH
TOLD_3 = class_mask(3, TELL) & ~(_SHOWN_3 | VENTING | BENCH_NO_FUEL | REFILL_ENTERED)
