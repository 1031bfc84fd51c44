"""The numbers of the serial protocol: frame layout, kinds, refusals. Shared with the host.

A frame before stuffing is: version (u8), kind (u8), sequence (u16), payload (0 to 240 bytes), CRC-32 over
everything before it (u32). All little-endian. On the wire it is byte-stuffed and closed by a zero byte.
A reply has the request's kind with the top bit set and the request's sequence number.
"""

from struct import calcsize

VERSION = 2
HEADER_BYTES = 4
PAYLOAD_MAX = 240
CRC_BYTES = 4
FRAME_MIN = HEADER_BYTES + CRC_BYTES
FRAME_MAX = HEADER_BYTES + PAYLOAD_MAX + CRC_BYTES
REPLY = 0x80

# --- requests that only read -------------------------------------------------------------------
HELLO = 0x10  # no payload; opens or keeps a session
STREAM = 0x11  # u16 ticks between telemetry frames, 0 stops
READ = 0x12  # u8 which, u8 zero, u16 offset: part of one of the texts and records below
JOURNAL = 0x13  # u32 first record wanted

READ_IDENTITY = 0
READ_SETTINGS = 1
READ_FIRST_CAUSE = 2
READ_MAX = 200  # bytes of one answer to READ

# --- requests that write: refused outside REST and SERVICE -------------------------------------
PUT_SETTINGS = 0x20  # u16 offset, 1 to 64 bytes
KEEP_SETTINGS = 0x21  # no payload: check what was put and store it
ASK_SERVICE = 0x22  # u8 SERVICE_*; taken in any state, granted by the state machine alone
RESTART = 0x23  # u8 RESTART_*
PUT_MAX = 64

SERVICE_LEAVE = 0
SERVICE_ENTER = 1
SERVICE_SIGN_OFF = 2  # maintenance signs off every latch and lockout
RESTART_NORMAL = 0
RESTART_MAINTENANCE = 1

# --- bench injection: refused without the inject strap -----------------------------------------
LOAD_STATE = 0x30  # u16 offset in words, then i32 words
BEGIN = 0x31  # u8 INJECT_*, u8 1: fly with the settings that were put, which are not kept; takes the loaded state,
# or with INJECT_NONE goes back to the pins and the kept settings through WAKE
STEP = 0x32  # sequence is the tick; u32 mask of changed raw samples, then u16 values, lowest index first
LOAD_MAX = 32  # words of one LOAD_STATE

INJECT_NONE = 0
INJECT_STEPPED = 1
INJECT_LIVE = 2

# --- sent unasked within a session -------------------------------------------------------------
TELEMETRY = 0xE0
REPORT = 0xE1  # what one injected tick did
REFUSED = 0xF0  # u8 kind, u8 code

# tick, state, reaction, latch, ox, fuel, bits, push, strap, text, lamps, why 0..3, cause 0..1,
# purge_valid, arm_left, run_n, budget, work_us, worst_us, late, pauses, dropped, broken, raw samples
TELEMETRY_FORMAT = "<I8BhH10I6H22H"
TELEMETRY_BYTES = calcsize(TELEMETRY_FORMAT)
# tick, state, reaction, latch, ox, fuel, bits, text, lamps, why 0..3, cause 0..1, live samples missed so far
REPORT_FORMAT = "<I6BhH6IH"
REPORT_BYTES = calcsize(REPORT_FORMAT)

UNKNOWN_KIND = 1
BAD_LENGTH = 2
BAD_VALUE = 3
NOT_AT_REST = 4
NO_STRAP = 5
OUT_OF_STEP = 6
SETTINGS_REFUSED_CRC = 7
SETTINGS_REFUSED_VERSION = 8
SETTINGS_REFUSED_BOUNDS = 9
STORE_FAILED = 10
NOT_BEGUN = 11
REFUSALS = (
    "",
    "unknown request",
    "wrong length",
    "value out of range",
    "only at rest or in service",
    "the inject strap is not fitted",
    "out of step",
    "the settings record has a wrong CRC",
    "the settings record is of another version",
    "the settings record is out of bounds",
    "the store could not be written",
    "injection has not begun",
)
