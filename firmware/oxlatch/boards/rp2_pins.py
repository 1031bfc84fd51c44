"""The pin map of the two-core 264 kB board, as data. Every pin appears once.

After a reset each pad is an input with its own weak pull-down; what a driver gate does then, and while
the chip is held in reset or unpowered, is decided by the pull-down fitted at the gate.
"""

# gpio, name, kind, fitted outside the chip
# kinds: gate (drives a valve or the run switch, off at 0), select (chip select, off at 1; both low select the
#        second converter, through a two-to-four decoder), latch,
#        spi0_* spi1_* uart0_* (the peripheral's own pin), pulse (input), strap (input, fitted = joined to ground)
PINS = (
    (0, "LINK_TX", "uart0_tx", "none"),
    (1, "LINK_RX", "uart0_rx", "pull-up"),
    (2, "OX1", "gate", "pull-down"),
    (3, "OX2", "gate", "pull-down"),
    (4, "OX3", "gate", "pull-down"),
    (5, "OX4", "gate", "pull-down"),
    (6, "FU1", "gate", "pull-down"),
    (7, "FU2", "gate", "pull-down"),
    (8, "FU3", "gate", "pull-down"),
    (9, "FU4", "gate", "pull-down"),
    (10, "REGISTER_CLOCK", "spi1_sck", "none"),
    (11, "REGISTER_OUT", "spi1_tx", "none"),
    (12, "REGISTER_IN", "spi1_rx", "pull-down"),
    (13, "REGISTER_LATCH", "latch", "pull-down"),
    (14, "MASTER_FUEL", "gate", "pull-down"),
    (15, "PURGE", "gate", "pull-down"),
    (16, "CONVERTER_OUT", "spi0_rx", "pull-up"),
    (17, "CONVERTER_SELECT", "select", "pull-up"),
    (18, "CONVERTER_CLOCK", "spi0_sck", "none"),
    (19, "CONVERTER_IN", "spi0_tx", "none"),
    (20, "MEMORY_SELECT", "select", "pull-up"),
    (21, "RUN", "gate", "pull-down"),
    (22, "ENGINE_PULSE", "pulse", "pull-down"),
    (26, "INJECT_STRAP", "strap", "pull-up"),
    (27, "MAINTENANCE_STRAP", "strap", "pull-up"),
    (28, "MASTER_OX", "gate", "pull-down"),
)



def pin(name):
    """The gpio number of a named pin."""
    for row in PINS:
        if row[1] == name:
            return row[0]
    raise KeyError(name)


GATES = tuple([row[0] for row in PINS if row[2] == "gate"])
OX = tuple([pin("OX" + str(stage)) for stage in (1, 2, 3, 4)])
FU = tuple([pin("FU" + str(stage)) for stage in (1, 2, 3, 4)])
MASTER_FUEL = pin("MASTER_FUEL")
MASTER_OX = pin("MASTER_OX")
PURGE = pin("PURGE")
RUN = pin("RUN")
INJECT_STRAP = pin("INJECT_STRAP")
MAINTENANCE_STRAP = pin("MAINTENANCE_STRAP")
ENGINE_PULSE = pin("ENGINE_PULSE")
CONVERTER_SELECT = pin("CONVERTER_SELECT")
CONVERTER_CLOCK = pin("CONVERTER_CLOCK")
CONVERTER_IN = pin("CONVERTER_IN")
CONVERTER_OUT = pin("CONVERTER_OUT")
MEMORY_SELECT = pin("MEMORY_SELECT")
REGISTER_LATCH = pin("REGISTER_LATCH")
REGISTER_CLOCK = pin("REGISTER_CLOCK")
REGISTER_OUT = pin("REGISTER_OUT")
REGISTER_IN = pin("REGISTER_IN")
LINK_TX = pin("LINK_TX")
LINK_RX = pin("LINK_RX")


# Bytes that come in from the input registers, first byte first:
#   0: bits 0..5 as SW_MASTER to SW_BENCH, bits 6 and 7 wired to 1 and 0
#   1: selectors 1..4 in bits 0..3, proof switches 1..4 in bits 4..7
#   2: coil current above hold, OX1..4 in bits 0..3, FU1..4 in bits 4..7
#   3: coil current above trip, likewise
#   4: hold purge, hold master fuel, trip purge, trip master fuel in bits 0..3; bits 4..7 wired 0, 1, 0, 1
#   5: bits 0..3 as EX_KNOCK to EX_FIRE, hold master oxidizer, trip master oxidizer; bits 6 and 7 wired 1 and 1
REGISTER_BYTES = 6
SENTINEL_0_MASK = 0xC0
SENTINEL_0 = 0x40
SENTINEL_4_MASK = 0xF0
SENTINEL_4 = 0xA0
SENTINEL_5_MASK = 0xC0
SENTINEL_5 = 0xC0
EXTRAS_MASK = 0x0F

# Channels of the first eight-channel, twelve-bit converter
CHANNEL_THROTTLE = 0
CHANNEL_SUPPLY = 1
CHANNEL_FUEL = 2
CHANNEL_BLOCK = 3
CHANNEL_BUS = 4
CHANNEL_RAIL = 5
CHANNEL_REFERENCE = 6

# Channels of the second one, a turn each
EXTRA_BOTTLE = 0  # thermistor on the bottle's skin
EXTRA_BARO = 1
EXTRA_AIR = 2  # thermistor in the outside air
EXTRA_OUTLET_1 = 3  # thermocouples at the purge outlets
EXTRA_OUTLET_2 = 4
EXTRA_AIRSPEED = 5
EXTRA_REFERENCE = 6
EXTRA_CHANNELS = 7

SENSOR_FULL_MV = 5000  # at the sensor, full scale of the converter behind its divider
VOLTS_FULL_MV = 40000  # at the bus and at the rail, likewise
REFERENCE_MV = 2500  # of its own source, on the sensor scale
REFERENCE_OFF_MV = 50  # 2 %: source 0.5 %, divider 2 x 0.5 %, converter 0.2 %, rounded up

PULSES_PER_TURN = 3  # ignition pulses per crankshaft turn of a four-stroke six
LINK_BY_USB = 1  # 0: the link runs over LINK_TX and LINK_RX
LINK_BAUD = 115200
