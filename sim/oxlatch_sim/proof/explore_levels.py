"""Every level of every verdict, the vector in which all is well, and the single deviations that stop or trip.

Runs under CPython and MicroPython alike.
"""

from oxlatch.core import INJECT_ABSENT, INJECT_FITTED
from oxlatch.reasons import PUSH_NOT_FULL, PUSH_RPM_HIGH, PUSH_RPM_LOW, PUSH_RPM_SIGNAL
from oxlatch.vocabulary import (  # fmt: skip
    BLOCK_CLEAN,
    BLOCK_CLIMBING,
    BLOCK_FALLING,
    BOOT_BOUNDS_BAD,
    BOOT_CRC_BAD,
    BOOT_LOCKED_L3,
    BOOT_LOCKED_L4,
    BOOT_LOST_ARMED,
    BOOT_STORE_UNREADABLE,
    BOOT_VERSION_BAD,
    BOOT_WATCHDOG,
    BUS_CUT,
    BUS_HARD,
    BUS_PERMIT,
    BUS_SURGE,
    CONTACT_CLOSED,
    CONTACT_OPEN,
    CONTACT_UNSURE,
    EXTRA_AIR_BAD,
    EXTRA_AIRSPEED_BAD,
    EXTRA_BOTTLE_BAD,
    EXTRA_BOTTLE_RED,
    EXTRA_BOTTLE_WARM,
    EXTRA_CONTENT,
    EXTRA_FAST,
    EXTRA_FIRE,
    EXTRA_KNOCK,
    EXTRA_NO_RETARD,
    EXTRA_NOT_RICH,
    EXTRA_OUTLET_BAD,
    FIT_AIR,
    FIT_AIRSPEED,
    FIT_BOTTLE_TEMPERATURE,
    FIT_CURRENTS,
    FIT_FIRE,
    FIT_FUEL_PRESSURE,
    FIT_KNOCK,
    FIT_MASTER_FUEL,
    FIT_MIXTURE,
    FIT_OUTLET_1,
    FIT_OUTLET_2,
    FIT_PROOF,
    FIT_RAIL,
    FIT_RETARD,
    FIT_THROTTLE,
    FUEL_FAIL,
    FUEL_FAULT,
    FUEL_OVER,
    FUEL_PERMIT,
    LINE_GOOD,
    LINE_TRAPPED,
    OUTLETS_COLD,
    RAIL_DEAD,
    RAIL_LIVE,
    RAIL_WEAK,
    RAIL_WELDED,
    ROWS,
    RPM_LOW,
    RPM_OVER,
    RPM_STOPPED,
    RPM_WINDOW,
    SHUT_CLEAN,
    SHUT_STUCK,
    SUPPLY_CUT,
    SUPPLY_EMPTY,
    SUPPLY_FAULT,
    SUPPLY_HIGH,
    SUPPLY_PERMIT,
    THROTTLE_FAULT,
    THROTTLE_FULL,
    TIME_HARD,
    TIME_LATE,
)  # fmt: skip

# A verdict vector in which all is well and the pilot has let go.
GOOD = {
    "master": 1, "contact": CONTACT_OPEN, "throttle": THROTTLE_FULL, "throttle_low_seen": 1, "rpm": RPM_WINDOW,
    "supply": SUPPLY_PERMIT, "line": LINE_GOOD, "fuel": FUEL_PERMIT, "block": BLOCK_CLEAN, "bus": BUS_PERMIT,
    "rail": RAIL_LIVE, "shut": SHUT_CLEAN, "bottle_g": 1,
}  # fmt: skip

# Single deviations that stop or trip: the fault half of the alphabet is made of these and their joins. Two of them
# are worse when they come again, which is a word of the core.
MEMORY = ("stalled", "stuck_before")
FAULTS = (
    {"shut": SHUT_STUCK}, {"rail": RAIL_WELDED}, {"block": BLOCK_FALLING}, {"block": BLOCK_CLIMBING},
    {"short": 1}, {"stray": 1}, {"time": TIME_HARD}, {"time": TIME_LATE}, {"purge_held": 1},
    {"supply": SUPPLY_FAULT}, {"supply": SUPPLY_EMPTY}, {"supply": SUPPLY_CUT}, {"falling": 1}, {"proof": 0},
    {"missing": 1}, {"missing": 16}, {"rail": RAIL_WEAK}, {"fuel": FUEL_FAULT}, {"fuel": FUEL_FAIL},
    {"fuel": FUEL_OVER}, {"bus": BUS_HARD}, {"bus": BUS_CUT}, {"bus": BUS_SURGE}, {"rpm": RPM_LOW},
    {"rpm": RPM_OVER}, {"contact_stuck": 1}, {"chatter": 1}, {"throttle": THROTTLE_FAULT},
    {"extras": EXTRA_FIRE}, {"extras": EXTRA_BOTTLE_RED}, {"extras": EXTRA_KNOCK}, {"extras": EXTRA_CONTENT},
    {"time": TIME_HARD, "stalled": 1}, {"contact_stuck": 1, "stuck_before": 1},
)  # fmt: skip

# Every adverse extra and the flags of which one must be fitted for it.
EXTRAS = (
    (EXTRA_BOTTLE_BAD, FIT_BOTTLE_TEMPERATURE), (EXTRA_BOTTLE_WARM, FIT_BOTTLE_TEMPERATURE),
    (EXTRA_BOTTLE_RED, FIT_BOTTLE_TEMPERATURE), (EXTRA_CONTENT, FIT_BOTTLE_TEMPERATURE), (EXTRA_AIR_BAD, FIT_AIR),
    (EXTRA_KNOCK, FIT_KNOCK), (EXTRA_NOT_RICH, FIT_MIXTURE), (EXTRA_NO_RETARD, FIT_RETARD), (EXTRA_FIRE, FIT_FIRE),
    (EXTRA_FAST, FIT_AIRSPEED), (EXTRA_AIRSPEED_BAD, FIT_AIRSPEED), (EXTRA_OUTLET_BAD, FIT_OUTLET_1 | FIT_OUTLET_2),
)  # fmt: skip

# What sense answers for an input that is not there: the flags of which one must be fitted, and the only levels else.
ABSENT = (
    (FIT_PROOF, {"proof": 0, "shut": SHUT_CLEAN}),
    (FIT_CURRENTS, {"current": 0, "missing": 0, "stray": 0, "short": 0}),
    (FIT_THROTTLE, {"throttle": THROTTLE_FULL, "throttle_low_seen": 1, "contact_stuck": 0}),
    (FIT_MASTER_FUEL, {"block": BLOCK_CLEAN}),
    (FIT_FUEL_PRESSURE | FIT_MASTER_FUEL, {"fuel": FUEL_PERMIT}),
    (FIT_AIR, {"row": 0}),
    (FIT_OUTLET_1 | FIT_OUTLET_2, {"outlets": 0}),
)

# Highest level of every verdict whose levels are counted from 0; stages and coils are words of bits.
TOPS = (
    ("master", 1), ("purge", 1), ("ack", 1), ("bench", 1), ("inject", 1), ("contact", CONTACT_CLOSED),
    ("contact_stuck", 1), ("chatter", 1), ("throttle", THROTTLE_FULL), ("throttle_low_seen", 1), ("rpm", RPM_OVER),
    ("supply", SUPPLY_HIGH), ("supply_warn", 1), ("line", LINE_TRAPPED), ("falling", 1), ("line_lost", 1),
    ("fuel", FUEL_OVER), ("block", BLOCK_CLEAN), ("leak_watch", 1), ("bus", BUS_SURGE), ("rail", RAIL_LIVE),
    ("shut", SHUT_CLEAN), ("purge_held", 1), ("time", TIME_HARD), ("late", 1), ("service", 2), ("row", ROWS - 1),
    ("outlets", OUTLETS_COLD),
)  # fmt: skip
COILS = (
    ("missing", (0, 1, 1 << 4, 1 << 8, 1 << 9, 1 << 10, 3, 1 << 8 | 1)),
    ("stray", (0, 1, 1 << 4)),
    ("short", (0, 1, 1 << 9)),
)  # fmt: skip
BOTTLES_G = (0, 1)

# Start-up findings that act like the first of their row.
ALIKE = (
    (BOOT_LOCKED_L3, BOOT_LOST_ARMED),
    (BOOT_LOCKED_L4, BOOT_STORE_UNREADABLE),
    (BOOT_BOUNDS_BAD, BOOT_CRC_BAD, BOOT_VERSION_BAD),
)
PUSH_WHYS = (PUSH_NOT_FULL, PUSH_RPM_LOW, PUSH_RPM_HIGH, PUSH_RPM_SIGNAL)


def possible_extras(fitted):
    """The adverse extras that these fitted inputs can report: what is not fitted is never adverse."""
    bits = 0
    for extra, flags in EXTRAS:
        if fitted & flags:
            bits |= extra
    return bits


def absent(fitted):
    """Verdicts that these fitted inputs leave at one level."""
    found = {}
    for flags, fixed in ABSENT:
        if not fitted & flags:
            for name in fixed:
                found[name] = fixed[name]
    return found


def as_fitted(v, fitted):
    """Bring verdicts `v`, by name, to what sense can answer with these inputs fitted."""
    fixed = absent(fitted)
    for name in fixed:
        v[name] = fixed[name]
    if not fitted & FIT_RAIL and v["rail"] != RAIL_LIVE:
        v["rail"] = RAIL_DEAD  # the rail is taken to follow the run switch
    if "extras" in v:
        v["extras"] &= possible_extras(fitted)


def levels(small):
    """Every level of every verdict but `boot` and `extras`, by name; coil words by representative bits."""
    stages = range(1 << small.stages)
    found = {name: tuple(range(top + 1)) for name, top in TOPS}
    found["sel"] = found["proof"] = tuple(stages)
    found["current"] = tuple([a | b for a in stages for b in (0, 1 << 8, 1 << 10)])
    found["bottle_g"] = BOTTLES_G
    for name, values in COILS:
        found[name] = values
    fixed = absent(small.c.fitted)
    for name in fixed:
        found[name] = (fixed[name],)
    if not small.c.fitted & FIT_RAIL:
        found["rail"] = (RAIL_DEAD, RAIL_LIVE)
    return found


def singles(small, s, boot):
    """Every single deviation, as (words preset, deviations): what is seen once, whatever it shares its effect with."""
    found = [({}, {name: level}) for name, values in sorted(levels(small).items()) for level in values]
    extras = possible_extras(small.c.fitted)
    found += [({}, {"extras": bit}) for bit, _flags in EXTRAS if bit & extras]
    found += [({"budget": units}, {}) for units in (0, 250)]
    found.append(({"coil_heat": small.c.coil_heat_top}, {}))
    found += [({}, {"time": TIME_HARD, "stalled": 1}), ({}, {"contact_stuck": 1, "stuck_before": 1})]
    found.append(({"ack_n": small.c.ack_hold_ticks}, {"ack": 1, "master": 0, "rpm": RPM_STOPPED}))
    if s["inject"] == INJECT_ABSENT:
        found.append(({"inject": INJECT_FITTED}, {}))
    if s["push_why"]:
        whys = PUSH_WHYS if small.c.fitted & FIT_THROTTLE else PUSH_WHYS[1:]
        found += [({"push_why": why}, {"contact": CONTACT_UNSURE}) for why in whys]
    if s["arm_left"]:
        found.append(({"arm_left": 2}, {}))
    found.append(({"sel_last": 0}, {}))
    for row in ALIKE:
        if boot in row:
            found += [({}, {"boot": other}) for other in row]
    found.append(({}, {"boot": boot | BOOT_WATCHDOG}))
    return found
