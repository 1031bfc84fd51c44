"""What each reason says to people: at most four words, what to do, how it clears, and its hazard row.

One row per rule of the firmware's `reasons`, in the same order; `REASONS` joins the two.
"""

from typing import NamedTuple

from oxlatch.reasons import RULES


class Reason(NamedTuple):
    """One reason, whole: its bit in its word, what it does, and what it says."""

    word: int
    bit: int
    words: str
    reaction: int
    latch: int
    hazard_row: int
    to_do: str
    clears: str


# words shown (at most four), hazard row, what to do, how it clears
_SAID = (
    ("O NOT PROVED", 1, "check bottle valve, then purge again", "cause gone, master off 1 s"),
    ("O NOT PROVED TWICE", 1, "find out why oxidizer did not flow", "engine stopped, master off, ACK 3 s, proofs open"),
    ("O FLOW LOST", 2, "check bottle, valve and hose", "cause gone, master off 1 s"),
    ("O COIL CURRENT LOST", 2, "check O coil, lead and driver", "cause gone, master off 1 s"),
    (
        "BOTTLE RAN LOW",
        2,
        "warm or change the bottle, then purge",
        "master off 1 s; a start waits for pressure in window 2 s",
    ),
    ("BOTTLE EMPTY", 2, "change the bottle, then purge", "master off 1 s; a start waits for pressure in window 2 s"),
    (
        "F STAGE VALVE LEAKS",
        4,
        "land; do not start until repaired",
        "engine stopped, master off, ACK 3 s; the next shut-down tests again",
    ),
    (
        "F MASTER VALVE LEAKS",
        4,
        "land; do not start until repaired",
        "engine stopped, master off, ACK 3 s; the next shut-down tests again",
    ),
    ("F COIL CURRENT LOST", 6, "check F coil, lead and driver", "cause gone, master off 1 s"),
    (
        "F PRESSURE LOST",
        7,
        "check pump, filter, selector and master fuel valve",
        "master off 1 s; a start waits for fuel pressure in window 2 s",
    ),
    ("RPM LOST", 9, "fly the engine; no attempt for 10 s", "master off 1 s; a start waits for 10 s and for rpm"),
    ("CLOSE BOTTLE", 11, "full rich, reduce power, shut the bottle", "maintenance with the host tool"),
    ("RAIL STAYS LIVE", 13, "master off; run switch has welded", "maintenance with the host tool"),
    ("RAIL NOT LIVE", 13, "check breaker, run switch and contact", "cause gone, master off 1 s"),
    ("DETENT STUCK", 14, "check the detent contact", "master off 1 s; a start waits for an open contact"),
    ("DETENT STUCK AGAIN", 14, "repair the detent contact", "engine stopped, master off, ACK 3 s, contact seen open"),
    ("DETENT CHATTERS", 15, "release; wait 10 s", "throttle released 0.5 s"),
    ("THROTTLE SIGNAL LOST", 17, "check the throttle sensor", "master off 1 s; a start waits for the signal"),
    ("BOTTLE OVERHEATED", 18, "keep away from heat; let the bottle cool", "cause gone, master off 1 s"),
    (
        "BOTTLE COLLAPSES",
        22,
        "liquid has run out; change the bottle",
        "master off 1 s; a start waits for pressure in window 2 s",
    ),
    ("BOTTLE CONTENT DOUBTFUL", 23, "weigh the bottle; ask the gas supplier", "cause gone, master off 1 s"),
    (
        "F PRESSURE OVER",
        26,
        "check the fuel regulator",
        "master off 1 s; a start waits for fuel pressure in window 2 s",
    ),
    ("BUS FAILED", 27, "check alternator and battery", "throttle released 0.5 s"),
    ("BUS SAGS", 27, "shed load; check alternator", "throttle released 0.5 s"),
    ("BUS SURGES", 28, "check the alternator regulator", "master off 1 s; a start waits for the voltage"),
    ("POWER LOST ARMED", 29, "find out why power was lost", "engine stopped, master off, ACK 3 s, rail dead"),
    ("CONTROLLER STALLED", 30, "note it; report the log", "master off 1 s"),
    ("CONTROLLER STALLED TWICE", 30, "do not use; report the log", "maintenance with the host tool"),
    ("CONTROLLER LATE", 31, "note it; report the log", "master off 1 s"),
    ("RELEASE PURGE", 36, "release the purge button", "master off 1 s; a purge waits for a fresh press"),
    ("SETTINGS CORRUPT", 41, "write the settings again", "maintenance with the host tool"),
    ("SETTINGS WRONG VERSION", 41, "write settings made for this firmware", "maintenance with the host tool"),
    ("SETTINGS OUT OF BOUNDS", 41, "write settings within their bounds", "maintenance with the host tool"),
    ("BOTTLE SIGNAL LOST", 45, "check the pressure sensor", "master off 1 s; a start waits for the signal"),
    ("F SIGNAL LOST", 45, "check the fuel pressure sensor", "master off 1 s; a start waits for the signal"),
    (
        "COIL SHORTED",
        47,
        "find the shorted coil or lead",
        "engine stopped, master off, ACK 3 s, no coil over its limit",
    ),
    ("COIL CURRENT UNASKED", 48, "master off; find the chafed lead", "maintenance with the host tool"),
    ("KNOCK HEARD", 52, "reduce power; inspect the engine", "engine stopped, master off, ACK 3 s"),
    ("RPM TOO HIGH", 53, "check the governor", "throttle released 0.5 s"),
    ("TIME IS UP", 57, "release the throttle", "throttle released 0.5 s"),
    ("BOTTLE BUDGET USED", 57, "release; refill and enter it", "throttle released 0.5 s"),
    ("COIL AT LIMIT", 58, "release; let the coils cool", "throttle released 0.5 s"),
    ("FIRE", 59, "fuel selector off, shut the bottle; fire drill of the aircraft", "maintenance with the host tool"),
    ("CONTROLLER CORRUPT", 67, "do not use; report the log", "maintenance with the host tool"),
    ("LOCKED OUT", 67, "maintenance must clear the lockout", "maintenance with the host tool"),
    ("LOCKOUT STORE UNREADABLE", 67, "maintenance must repair the store", "maintenance with the host tool"),
    ("LOCKED UNTIL TESTED", 67, "repair; see the log for the cause", "engine stopped, master off, ACK 3 s"),
    ("CYCLE MASTER", 29, "master off, throttle and purge released", "master off 0.5 s"),
    ("INPUT NOT FITTED", 41, "fit every required input", "settings with all required inputs"),
    ("MASTER OFF", 16, "master on to arm", "master on"),
    ("ARM TIME OVER", 50, "master off and on to arm again", "master off"),
    ("RELEASE THROTTLE", 14, "pull the throttle back", "contact open 50 ms"),
    ("DETENT CONTACTS DISAGREE", 14, "check both detent poles", "poles agree"),
    ("THROTTLE SIGNAL BAD", 17, "check the throttle sensor", "signal in range"),
    ("THROTTLE NEVER LOW", 17, "move the throttle below half once", "throttle seen below half"),
    ("NOTHING SELECTED", 39, "select a stage", "a selector on"),
    ("SELECTION MOVING", 56, "leave the selectors alone", "selectors still 0.3 s"),
    ("PATTERN NOT ALLOWED", 39, "select less; see the altitude card", "an allowed pattern"),
    ("PURGE", 33, "hold the purge button", "a complete purge"),
    ("CONFIRM PURGE PLUME", 33, "press ACK if the plume was steady", "ACK within 15 s"),
    ("BOTTLE SIGNAL BAD", 45, "check the pressure sensor", "signal in range 2 s"),
    ("BOTTLE LOW OR COLD", 21, "open, warm or change the bottle", "pressure in window 2 s"),
    ("BOTTLE HOT", 18, "cool the bottle", "pressure in window 2 s"),
    ("F SIGNAL BAD", 45, "check the fuel pressure sensor", "signal in range 2 s"),
    ("F PRESSURE LOW", 7, "fuel pump on; check filter", "fuel pressure in window 2 s"),
    ("F PRESSURE HIGH", 26, "check the fuel regulator", "fuel pressure in window 2 s"),
    ("BUS LOW", 27, "alternator on; shed load", "voltage back"),
    ("BUS HIGH", 28, "check the alternator regulator", "voltage back"),
    ("O PROOF NOT OPEN", 11, "check proof switch and O valve", "every proof open"),
    ("HOLD OFF", 55, "wait ten seconds", "10 s over"),
    ("SETTLING", 33, "wait a moment", "guards true 0.3 s"),
    ("THROTTLE NOT FULL", 16, "release, then push fully home", "contact open 50 ms"),
    ("RPM LOW", 10, "release; reach take-off rpm first", "contact open 50 ms"),
    ("RPM HIGH", 53, "release; bring rpm into the window", "contact open 50 ms"),
    ("RPM SIGNAL BAD", 46, "release; check the rpm pick-up", "contact open 50 ms"),
    ("PURGE COIL DEAD", 63, "check purge coil, lead and driver", "next press of purge"),
    ("BENCH KEY FITTED", 66, "remove the bench key", "key removed"),
    ("BOTTLE TEMP BAD", 18, "check the bottle temperature sensor", "signal in range"),
    ("BOTTLE TOO WARM", 18, "shade and cool the bottle", "bottle below its limit"),
    ("BOTTLE BUDGET SHORT", 57, "select less, or refill and enter it", "five seconds in the budget"),
    ("COILS TOO WARM", 58, "wait for the coils to cool", "coil estimate below its start limit"),
    ("MIXTURE NOT RICH", 62, "mixture full rich", "rich contact made"),
    ("RETARD NOT CONFIRMED", 52, "check the ignition retard", "retard contact made"),
    ("AIRSPEED HIGH", 54, "slow down", "airspeed below its limit"),
    ("AIRSPEED SIGNAL BAD", 54, "check the airspeed sensor", "signal in range"),
    ("BOTTLE SOON LOW", 21, "expect boost to end", "pressure back"),
    ("O SLOW TO SHUT", 12, "inspect the O valve seat", "proof open"),
    ("LINE TRAPPED", 20, "open the bottle or vent the line", "pressure back"),
    ("ARM TIME SOON OVER", 50, "master off and on to arm again", "master off"),
    ("TIME SOON UP", 57, "expect boost to end", "flow ended"),
    ("ONE TICK LATE", 31, "note it", "next tick on time"),
    ("F PRESSURE RICH", 26, "check the fuel regulator", "fuel pressure back"),
    ("SELECTOR ON IGNORED", 56, "it counts from the next push", "flow ended"),
    ("TOO MUCH FOR ALTITUDE", 39, "expect to be refused next time", "flow ended"),
    ("AIR SIGNAL BAD", 40, "the least altitude row applies", "signal in range"),
    ("OUTLET SIGNAL BAD", 33, "confirm the plume with ACK", "signal in range"),
    ("ONE OUTLET WARM", 33, "look at both plumes", "purge ended"),
    ("KEEP PURGING", 33, "hold the purge button", "purge ended"),
    ("PURGE LONG ENOUGH", 33, "release the purge button", "purge ended"),
    ("VENTING THE LINE", 20, "hold until the line is empty; no purge", "button released"),
    ("LEAK WATCH RUNNING", 4, "nothing", "watch ended"),
    ("BENCH STRAP FITTED", 66, "remove the strap before flight", "strap removed, reset"),
    ("BENCH, NO FUEL", 66, "remove the bench key before flight", "bench ended"),
    ("REFILL ENTERED", 57, "release ACK", "ACK released"),
)

REASONS = tuple(
    Reason(word, bit, words, reaction, latch, row, to_do, clears)
    for (word, bit, reaction, latch), (words, row, to_do, clears) in zip(RULES, _SAID, strict=True)
)
