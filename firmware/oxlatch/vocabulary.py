"""Every small integer that crosses a file boundary.

Raw sample indices and bits, verdict levels, states, reaction classes, latches, outputs.
Verdict levels are ordered: within one channel a larger number is "further along" its scale,
so that the rest of the firmware compares with < and > and never with sets.
"""

TICK_MS = 5
STAGES_MAX = 4

# --- raw samples: one list of integers per tick, filled by the board -------------------------
RAW_ELAPSED = 0  # whole ticks since the previous sample; 1 is on time
RAW_SWITCHES = 1  # bit word, SW_*
RAW_CURRENTS = 2  # bit word, COIL_*: coil current above its hold comparator
RAW_SHORTS = 3  # bit word, COIL_*: coil current above its trip comparator
RAW_THROTTLE_MV = 4  # throttle position sensor
RAW_RPM = 5  # engine speed from the last pulse interval
RAW_PULSE_AGE_MS = 6  # time since the last ignition pulse, saturating at 10000
RAW_SUPPLY_MV = 7  # oxidizer line pressure at the valve block
RAW_FUEL_MV = 8  # fuel supply pressure upstream of the master fuel valve
RAW_BLOCK_MV = 9  # fuel block pressure between master and stage valves
RAW_BUS_MV = 10  # bus, in millivolts at the bus
RAW_RAIL_MV = 11  # coil rail behind the run switch, in millivolts at the rail
RAW_BOOT = 12  # bit word, BOOT_*: what start-up found; constant until the next reset
RAW_SERVICE = 13  # 1 while the host tool asks for SERVICE
RAW_EXTRAS = 14  # bit word, EX_*: discrete inputs beyond the core
RAW_BOTTLE_DK = 15  # bottle skin, tenths of a kelvin
RAW_BARO_DAPA = 16  # outside air pressure, tens of pascals
RAW_AIR_DK = 17  # outside air temperature
RAW_OUTLET_1_DK = 18  # purge outlets
RAW_OUTLET_2_DK = 19
RAW_AIRSPEED_MV = 20
RAW_BOTTLE_G = 21  # what the store remembers of the bottle's content; constant until the next reset
RAW_COUNT = 22

SW_MASTER = 1 << 0
SW_PURGE = 1 << 1
SW_ACK = 1 << 2
SW_DETENT_NO = 1 << 3  # 1: the normally-open pole is made
SW_DETENT_NC = 1 << 4  # 1: the normally-closed pole is made
SW_BENCH = 1 << 5
SW_INJECT = 1 << 6
SW_SEL_SHIFT = 8  # bits 8..11: selectors of stages 1..4
SW_PROOF_SHIFT = 12  # bits 12..15: oxidizer proof switches of stages 1..4

EX_KNOCK = 1 << 0  # a knock event is being reported
EX_MIXTURE_RICH = 1 << 1  # contact made: mixture lever at full rich
EX_RETARD = 1 << 2  # contact made: the ignition confirms its retard
EX_FIRE = 1 << 3  # contact made: fire detected

COIL_OX_SHIFT = 0  # bits 0..3
COIL_FUEL_SHIFT = 4  # bits 4..7
COIL_PURGE_SHIFT = 8
COIL_MASTER_FUEL_SHIFT = 9
COIL_MASTER_OX_SHIFT = 10
COIL_PURGE = 1 << COIL_PURGE_SHIFT
COIL_MASTER_FUEL = 1 << COIL_MASTER_FUEL_SHIFT
COIL_MASTER_OX = 1 << COIL_MASTER_OX_SHIFT
COIL_OX = 15
COIL_FUEL = 15 << 4

BOOT_CRC_BAD = 1 << 0
BOOT_VERSION_BAD = 1 << 1
BOOT_BOUNDS_BAD = 1 << 2
BOOT_STORE_UNREADABLE = 1 << 3  # the lockout store cannot be read
BOOT_LOCKED_L3 = 1 << 4
BOOT_LOCKED_L4 = 1 << 5
BOOT_LOST_ARMED = 1 << 6  # power was lost between arming and an orderly disarm
BOOT_WATCHDOG = 1 << 7

# --- fitted inputs: bits of the settings field `fitted` --------------------------------------
FIT_MASTER = 1 << 0
FIT_SELECTORS = 1 << 1
FIT_PURGE = 1 << 2
FIT_DETENT_NO = 1 << 3
FIT_SUPPLY = 1 << 4
FIT_RPM = 1 << 5
FIT_BUS = 1 << 6
FIT_ACK = 1 << 7
FIT_ALWAYS = 255  # without these the controller stays in REST
FIT_DETENT_NC = 1 << 8
FIT_THROTTLE = 1 << 9  # one of NC and throttle position always
FIT_PROOF = 1 << 10
FIT_MASTER_FUEL = 1 << 11  # master fuel valve and block pressure
FIT_CURRENTS = 1 << 12
FIT_RAIL = 1 << 13
FIT_FUEL_PRESSURE = 1 << 14
FIT_LOCKOUT_MEMORY = 1 << 15  # non-volatile memory that can be written within a tick
FIT_BOTTLE_TEMPERATURE = 1 << 16
FIT_AIR = 1 << 17  # barometer and outside air temperature: the altitude table
FIT_KNOCK = 1 << 18
FIT_OUTLET_1 = 1 << 19
FIT_OUTLET_2 = 1 << 20
FIT_MASTER_OX = 1 << 21
FIT_MIXTURE = 1 << 22
FIT_RETARD = 1 << 23
FIT_FIRE = 1 << 24
FIT_AIRSPEED = 1 << 25
FIT_BUDGET = 1 << 26  # the bottle's content is counted
FIT_VENT_DOWN = 1 << 27  # the purge valve also empties the line on the ground
FIT_ALL = (1 << 28) - 1

# --- verdict levels --------------------------------------------------------------------------
CONTACT_FAULT = 0  # poles disagree
CONTACT_OPEN = 1
CONTACT_UNSURE = 2  # neither agreed open nor agreed closed
CONTACT_CLOSED = 3

THROTTLE_FAULT = 0
THROTTLE_DROP = 1  # below the drop threshold, or being chopped
THROTTLE_HOLD = 2  # enough to keep flowing
THROTTLE_FULL = 3  # enough to start

RPM_STOPPED = 0  # no pulse for five seconds
RPM_SILENT = 1  # no pulse, or a signal no engine can make
RPM_LOW = 2  # below the cut, or falling as an engine that quits
RPM_HOLD = 3  # enough to keep flowing
RPM_WINDOW = 4  # in the permitted window long enough to start
RPM_OVER = 5

SUPPLY_FAULT = 0
SUPPLY_EMPTY = 1
SUPPLY_CUT = 2
SUPPLY_LEAVE = 3
SUPPLY_LOW = 4
SUPPLY_PERMIT = 5
SUPPLY_HIGH = 6

LINE_EMPTY = 0  # nothing left to vent, or no signal
LINE_DEAD = 1  # below the pressure at which a purge is broken off
LINE_WEAK = 2  # below the pressure needed to begin a purge
LINE_LOST = 3  # below the pressure that voids a purge
LINE_THIN = 4  # below the pressure a purge must end with
LINE_GOOD = 5
LINE_TRAPPED = 6  # above anything a bottle does: liquid trapped between shut valves

FUEL_FAULT = 0
FUEL_FAIL = 1
FUEL_LOW = 2
FUEL_PERMIT = 3
FUEL_HIGH = 4
FUEL_OVER = 5

BLOCK_FAULT = 0
BLOCK_FALLING = 1  # a stage fuel valve leaks
BLOCK_CLIMBING = 2  # the master fuel valve leaks
BLOCK_CLEAN = 3

BUS_HARD = 0
BUS_CUT = 1
BUS_LOW = 2
BUS_PERMIT = 3
BUS_SURGE = 4

RAIL_WELDED = 0  # still live well after the run switch was released
RAIL_DEAD = 1
RAIL_WEAK = 2
RAIL_LIVE = 3

SHUT_STUCK = 0  # an oxidizer proof stays up long after its coil was released
SHUT_SLOW = 1
SHUT_CLEAN = 2

# The word of adverse extras: zero is all well, and what is not fitted is never adverse.
EXTRA_BOTTLE_BAD = 1 << 0  # bottle temperature out of the sensor's range
EXTRA_BOTTLE_WARM = 1 << 1
EXTRA_BOTTLE_RED = 1 << 2
EXTRA_CONTENT = 1 << 3  # soaked pressure does not belong to the temperature
EXTRA_AIR_BAD = 1 << 4
EXTRA_KNOCK = 1 << 5  # a second knock event within the window
EXTRA_NOT_RICH = 1 << 6
EXTRA_NO_RETARD = 1 << 7
EXTRA_FIRE = 1 << 8
EXTRA_FAST = 1 << 9
EXTRA_AIRSPEED_BAD = 1 << 10
EXTRA_OUTLET_BAD = 1 << 11
EXTRA_BITS = 12

OUTLETS_WARM = 0
OUTLETS_ONE = 1  # one of two is cold
OUTLETS_COLD = 2  # every fitted outlet is cold, and at least one is fitted

ROWS = 6  # rows of the altitude table; row 0 is the densest air and allows least

TIME_GOOD = 0
TIME_LATE = 1  # two late ticks in a row
TIME_HARD = 2  # one tick of 20 ms or more

# --- states ----------------------------------------------------------------------------------
WAKE = 0
REST = 1
HELD = 2
WAITING = 3
PURGING = 4
READY = 5
LEAD_IN = 6
RUN = 7
RUN_DOWN = 8
GAP = 9
TRIP = 10
SERVICE = 11
BENCH_GAS = 12
BENCH_DRY = 13
STATE_NAMES = (
    "WAKE",
    "REST",
    "HELD",
    "WAITING",
    "PURGING",
    "READY",
    "LEAD-IN",
    "RUN",
    "RUN-DOWN",
    "GAP",
    "TRIP",
    "SERVICE",
    "BENCH-GAS",
    "BENCH-DRY",
)

# --- reaction classes, ordered by strength ---------------------------------------------------
TELL = 0
REFUSE = 1
FUEL_FIRST = 2
ALL_STOP = 3
HARD = 4
CLASS_NAMES = ("TELL", "REFUSE", "FUEL-FIRST", "ALL-STOP", "HARD")

# --- the push: what the detent contact has done ----------------------------------------------
PUSH_BLOCKED = 0  # not yet seen open
PUSH_READY = 1  # seen open, an edge will count
PUSH_JUDGED = 2  # edge seen while READY, guards being judged
PUSH_SPENT = 3  # refused or used; must open first

# --- outputs ---------------------------------------------------------------------------------
OUT_MASTER_FUEL = 1 << 0
OUT_PURGE = 1 << 1
OUT_RUN = 1 << 2
OUT_MASTER_OX = 1 << 3

LAMP_OFF = 0
LAMP_ON = 1
LAMP_BLINK = 2
LAMP_READY_SHIFT = 0  # green
LAMP_FLOW_SHIFT = 2  # white
LAMP_CHECK_SHIFT = 4  # amber
LAMP_STOP_SHIFT = 6  # red
LAMP_PURGE_SHIFT = 8  # purge lights
LAMP_TONE = 1 << 10
