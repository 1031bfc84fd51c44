"""The table of reasons: why the controller refuses, stops or warns.

Reasons are data. Each is one bit in one of four words; the words and the bits are in the order in
which reasons are shown, and within the fault words that order is the order of the hazard rows, so
"the lowest standing bit" is "the lowest hazard row". Masks per class and latch are derived here
once, at import, so the tick only ever tests a word against a mask.

The words:
    0, 1  faults: while flowing they stop it; at rest they trip
    2     waits: nothing opens while one stands; they clear themselves
    3     notes: told, logged, never acted on
"""

from oxlatch.vocabulary import ALL_STOP, FUEL_FIRST, HARD, REFUSE, TELL

WORDS = 4

# word 0: hazard rows 1 to 27
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
SUPPLY_COLLAPSES = 1 << 18
F_PRESSURE_OVER = 1 << 19
BUS_FAILED = 1 << 20
BUS_SAGS = 1 << 21

# word 1: hazard rows 28 to 70
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
OVERSPEED = 1 << 13
TIME_IS_UP = 1 << 14
STATE_CORRUPT = 1 << 15
LOCKED_OUT = 1 << 16
STORE_UNREADABLE = 1 << 17
LOCKED_UNTIL_TESTED = 1 << 18

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

# word 3: notes
SUPPLY_SOON_LOW = 1 << 0
O_SLOW_TO_SHUT = 1 << 1
LINE_TRAPPED_LIQUID = 1 << 2
ARM_TIME_SOON = 1 << 3
TIME_SOON_UP = 1 << 4
ONE_TICK_LATE = 1 << 5
F_PRESSURE_RICH = 1 << 6
SELECTOR_IGNORED = 1 << 7
KEEP_PURGING = 1 << 8
PURGE_LONG_ENOUGH = 1 << 9
LEAK_WATCH_OPEN = 1 << 10
STRAP_FITTED = 1 << 11

# word, bit, words shown (at most four), class, latch, hazard row, what to do, how it clears
REASONS = (
    (0, O_NOT_PROVED, "O NOT PROVED", ALL_STOP, 2, 1, "check bottle valve, then purge again", "cause gone, master off 1 s"),
    (0, O_NOT_PROVED_AGAIN, "O NOT PROVED TWICE", ALL_STOP, 3, 1, "find out why oxidizer did not flow", "engine stopped, master off, ACK 3 s, proofs open"),
    (0, O_PROOF_LOST, "O FLOW LOST", ALL_STOP, 2, 2, "check bottle, valve and hose", "cause gone, master off 1 s"),
    (0, O_CURRENT_LOST, "O COIL CURRENT LOST", ALL_STOP, 2, 2, "check O coil, lead and driver", "cause gone, master off 1 s"),
    (0, SUPPLY_RAN_LOW, "BOTTLE RAN LOW", ALL_STOP, 2, 2, "warm or change the bottle, then purge", "master off 1 s; a start waits for pressure in window 2 s"),
    (0, SUPPLY_RAN_OUT, "BOTTLE EMPTY", ALL_STOP, 2, 2, "change the bottle, then purge", "master off 1 s; a start waits for pressure in window 2 s"),
    (0, F_STAGE_LEAKS, "F STAGE VALVE LEAKS", ALL_STOP, 3, 4, "land; do not start until repaired", "engine stopped, master off, ACK 3 s; the next shut-down tests again"),
    (0, F_MASTER_LEAKS, "F MASTER VALVE LEAKS", ALL_STOP, 3, 4, "land; do not start until repaired", "engine stopped, master off, ACK 3 s; the next shut-down tests again"),
    (0, F_CURRENT_LOST, "F COIL CURRENT LOST", ALL_STOP, 2, 6, "check F coil, lead and driver", "cause gone, master off 1 s"),
    (0, F_PRESSURE_LOST, "F PRESSURE LOST", ALL_STOP, 2, 7, "check pump, filter and selector", "master off 1 s; a start waits for fuel pressure in window 2 s"),
    (0, RPM_LOST, "RPM LOST", ALL_STOP, 2, 9, "fly the engine; no attempt for 10 s", "master off 1 s; a start waits for 10 s and for rpm"),
    (0, O_STUCK_OPEN, "CLOSE BOTTLE", ALL_STOP, 4, 11, "full rich, reduce power, shut the bottle", "maintenance with the host tool"),
    (0, RAIL_STAYS_LIVE, "RAIL STAYS LIVE", HARD, 4, 13, "master off; run switch has welded", "maintenance with the host tool"),
    (0, RAIL_NOT_LIVE, "RAIL NOT LIVE", ALL_STOP, 2, 13, "check breaker, run switch and contact", "cause gone, master off 1 s"),
    (0, DETENT_STUCK, "DETENT STUCK", ALL_STOP, 2, 14, "check the detent contact", "master off 1 s; a start waits for an open contact"),
    (0, DETENT_STUCK_AGAIN, "DETENT STUCK AGAIN", ALL_STOP, 3, 14, "repair the detent contact", "engine stopped, master off, ACK 3 s, contact seen open"),
    (0, DETENT_CHATTERS, "DETENT CHATTERS", FUEL_FIRST, 1, 15, "release; wait 10 s", "throttle released 0.5 s"),
    (0, THROTTLE_SIGNAL_LOST, "THROTTLE SIGNAL LOST", FUEL_FIRST, 2, 17, "check the throttle sensor", "master off 1 s; a start waits for the signal"),
    (0, SUPPLY_COLLAPSES, "BOTTLE COLLAPSES", ALL_STOP, 2, 22, "liquid has run out; change the bottle", "master off 1 s; a start waits for pressure in window 2 s"),
    (0, F_PRESSURE_OVER, "F PRESSURE OVER", FUEL_FIRST, 2, 26, "check the fuel regulator", "master off 1 s; a start waits for fuel pressure in window 2 s"),
    (0, BUS_FAILED, "BUS FAILED", HARD, 1, 27, "check alternator and battery", "throttle released 0.5 s"),
    (0, BUS_SAGS, "BUS SAGS", ALL_STOP, 1, 27, "shed load; check alternator", "throttle released 0.5 s"),
    (1, BUS_SURGES, "BUS SURGES", ALL_STOP, 2, 28, "check the alternator regulator", "master off 1 s; a start waits for the voltage"),
    (1, POWER_LOST_ARMED, "POWER LOST ARMED", REFUSE, 3, 29, "find out why power was lost", "engine stopped, master off, ACK 3 s, rail dead"),
    (1, TICK_STALLED, "CONTROLLER STALLED", HARD, 2, 30, "note it; report the log", "master off 1 s"),
    (1, TICK_STALLED_AGAIN, "CONTROLLER STALLED TWICE", HARD, 4, 30, "do not use; report the log", "maintenance with the host tool"),
    (1, TICKS_LATE, "CONTROLLER LATE", ALL_STOP, 2, 31, "note it; report the log", "master off 1 s"),
    (1, PURGE_HELD_LONG, "RELEASE PURGE", ALL_STOP, 2, 36, "release the purge button", "master off 1 s; a purge waits for a fresh press"),
    (1, SETTINGS_CORRUPT, "SETTINGS CORRUPT", HARD, 4, 41, "write the settings again", "maintenance with the host tool"),
    (1, SETTINGS_VERSION, "SETTINGS WRONG VERSION", HARD, 4, 41, "write settings made for this firmware", "maintenance with the host tool"),
    (1, SETTINGS_BOUNDS, "SETTINGS OUT OF BOUNDS", HARD, 4, 41, "write settings within their bounds", "maintenance with the host tool"),
    (1, SUPPLY_SIGNAL_LOST, "BOTTLE SIGNAL LOST", ALL_STOP, 2, 45, "check the pressure sensor", "master off 1 s; a start waits for the signal"),
    (1, F_SIGNAL_LOST, "F SIGNAL LOST", ALL_STOP, 2, 45, "check the fuel pressure sensor", "master off 1 s; a start waits for the signal"),
    (1, COIL_SHORTED, "COIL SHORTED", HARD, 3, 47, "find the shorted coil or lead", "engine stopped, master off, ACK 3 s, no coil over its limit"),
    (1, COIL_UNASKED, "COIL CURRENT UNASKED", HARD, 4, 48, "master off; find the chafed lead", "maintenance with the host tool"),
    (1, OVERSPEED, "RPM TOO HIGH", FUEL_FIRST, 1, 53, "check the governor", "throttle released 0.5 s"),
    (1, TIME_IS_UP, "TIME IS UP", FUEL_FIRST, 1, 57, "release the throttle", "throttle released 0.5 s"),
    (1, STATE_CORRUPT, "CONTROLLER CORRUPT", HARD, 4, 67, "do not use; report the log", "maintenance with the host tool"),
    (1, LOCKED_OUT, "LOCKED OUT", REFUSE, 4, 67, "maintenance must clear the lockout", "maintenance with the host tool"),
    (1, STORE_UNREADABLE, "LOCKOUT STORE UNREADABLE", REFUSE, 4, 67, "maintenance must repair the store", "maintenance with the host tool"),
    (1, LOCKED_UNTIL_TESTED, "LOCKED UNTIL TESTED", REFUSE, 3, 67, "repair; see the log for the cause", "engine stopped, master off, ACK 3 s"),
    (2, CYCLE_MASTER, "CYCLE MASTER", REFUSE, 0, 29, "master off, throttle and purge released", "master off 0.5 s"),
    (2, INPUT_NOT_FITTED, "INPUT NOT FITTED", REFUSE, 0, 41, "fit every required input", "settings with all required inputs"),
    (2, MASTER_IS_OFF, "MASTER OFF", REFUSE, 0, 16, "master on to arm", "master on"),
    (2, ARM_TIME_OVER, "ARM TIME OVER", REFUSE, 0, 50, "master off and on to arm again", "master off"),
    (2, RELEASE_THROTTLE, "RELEASE THROTTLE", REFUSE, 0, 14, "pull the throttle back", "contact open 50 ms"),
    (2, DETENT_DISAGREES, "DETENT CONTACTS DISAGREE", REFUSE, 0, 14, "check both detent poles", "poles agree"),
    (2, THROTTLE_SIGNAL_BAD, "THROTTLE SIGNAL BAD", REFUSE, 0, 17, "check the throttle sensor", "signal in range"),
    (2, THROTTLE_NEVER_LOW, "THROTTLE NEVER LOW", REFUSE, 0, 17, "move the throttle below half once", "throttle seen below half"),
    (2, NOTHING_SELECTED, "NOTHING SELECTED", REFUSE, 0, 39, "select a stage", "a selector on"),
    (2, SELECTION_MOVING, "SELECTION MOVING", REFUSE, 0, 56, "leave the selectors alone", "selectors still 0.3 s"),
    (2, PATTERN_NOT_ALLOWED, "PATTERN NOT ALLOWED", REFUSE, 0, 39, "select less; see the altitude card", "an allowed pattern"),
    (2, PURGE_NEEDED, "PURGE", REFUSE, 0, 33, "hold the purge button", "a complete purge"),
    (2, PURGE_CONFIRM, "CONFIRM PURGE PLUME", REFUSE, 0, 33, "press ACK if the plume was steady", "ACK within 15 s"),
    (2, SUPPLY_SIGNAL_BAD, "BOTTLE SIGNAL BAD", REFUSE, 0, 45, "check the pressure sensor", "signal in range 2 s"),
    (2, SUPPLY_TOO_LOW, "BOTTLE LOW OR COLD", REFUSE, 0, 21, "open, warm or change the bottle", "pressure in window 2 s"),
    (2, SUPPLY_TOO_HIGH, "BOTTLE HOT", REFUSE, 0, 18, "cool the bottle", "pressure in window 2 s"),
    (2, F_SIGNAL_BAD, "F SIGNAL BAD", REFUSE, 0, 45, "check the fuel pressure sensor", "signal in range 2 s"),
    (2, F_PRESSURE_LOW, "F PRESSURE LOW", REFUSE, 0, 7, "fuel pump on; check filter", "fuel pressure in window 2 s"),
    (2, F_PRESSURE_HIGH, "F PRESSURE HIGH", REFUSE, 0, 26, "check the fuel regulator", "fuel pressure in window 2 s"),
    (2, BUS_LOW_WAIT, "BUS LOW", REFUSE, 0, 27, "alternator on; shed load", "voltage back"),
    (2, BUS_HIGH_WAIT, "BUS HIGH", REFUSE, 0, 28, "check the alternator regulator", "voltage back"),
    (2, PROOF_NOT_OPEN, "O PROOF NOT OPEN", REFUSE, 0, 11, "check proof switch and O valve", "every proof open"),
    (2, HOLD_OFF, "HOLD OFF", REFUSE, 0, 55, "wait ten seconds", "10 s over"),
    (2, SETTLING, "SETTLING", REFUSE, 0, 33, "wait a moment", "guards true 0.3 s"),
    (2, PUSH_NOT_FULL, "THROTTLE NOT FULL", REFUSE, 0, 16, "release, then push fully home", "contact open 50 ms"),
    (2, PUSH_RPM_LOW, "RPM LOW", REFUSE, 0, 10, "release; reach take-off rpm first", "contact open 50 ms"),
    (2, PUSH_RPM_HIGH, "RPM HIGH", REFUSE, 0, 53, "release; bring rpm into the window", "contact open 50 ms"),
    (2, PUSH_RPM_SIGNAL, "RPM SIGNAL BAD", REFUSE, 0, 46, "release; check the rpm pick-up", "contact open 50 ms"),
    (2, PURGE_NO_CURRENT, "PURGE COIL DEAD", REFUSE, 0, 63, "check purge coil, lead and driver", "next press of purge"),
    (2, BENCH_KEY_FITTED, "BENCH KEY FITTED", REFUSE, 0, 66, "remove the bench key", "key removed"),
    (3, SUPPLY_SOON_LOW, "BOTTLE SOON LOW", TELL, 0, 21, "expect boost to end", "pressure back"),
    (3, O_SLOW_TO_SHUT, "O SLOW TO SHUT", TELL, 0, 12, "inspect the O valve seat", "proof open"),
    (3, LINE_TRAPPED_LIQUID, "LINE TRAPPED", TELL, 0, 20, "open the bottle or vent the line", "pressure back"),
    (3, ARM_TIME_SOON, "ARM TIME SOON OVER", TELL, 0, 50, "master off and on to arm again", "master off"),
    (3, TIME_SOON_UP, "TIME SOON UP", TELL, 0, 57, "expect boost to end", "flow ended"),
    (3, ONE_TICK_LATE, "ONE TICK LATE", TELL, 0, 31, "note it", "next tick on time"),
    (3, F_PRESSURE_RICH, "F PRESSURE RICH", TELL, 0, 26, "check the fuel regulator", "fuel pressure back"),
    (3, SELECTOR_IGNORED, "SELECTOR ON IGNORED", TELL, 0, 56, "it counts from the next push", "flow ended"),
    (3, KEEP_PURGING, "KEEP PURGING", TELL, 0, 33, "hold the purge button", "purge ended"),
    (3, PURGE_LONG_ENOUGH, "PURGE LONG ENOUGH", TELL, 0, 33, "release the purge button", "purge ended"),
    (3, LEAK_WATCH_OPEN, "LEAK WATCH RUNNING", TELL, 0, 4, "nothing", "watch ended"),
    (3, STRAP_FITTED, "BENCH STRAP FITTED", TELL, 0, 66, "remove the strap before flight", "strap removed, reset"),
)  # fmt: skip


def class_mask(word, reaction):
    """Bits of one word whose reaction class is the given one."""
    mask = 0
    for row in REASONS:
        if row[0] == word and row[3] == reaction:
            mask |= row[1]
    return mask


def latch_mask(word, latch):
    """Bits of one word whose latch is the given level."""
    mask = 0
    for row in REASONS:
        if row[0] == word and row[4] == latch:
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

# Notes that also light CHECK and sound the tone; the others are only shown and logged.
TOLD_3 = class_mask(3, TELL) & ~(ONE_TICK_LATE | LEAK_WATCH_OPEN | STRAP_FITTED | KEEP_PURGING | PURGE_LONG_ENOUGH)
