"""The second converter: bottle and air temperature, barometer, purge outlets, airspeed, one channel a tick.

A fault here breaks the signals it carries and nothing else: where the converter does not answer, or its
reference reads wrong, they read 0, which no working sensor does.
"""

from oxlatch.boards import rp2_pins as pins
from oxlatch.boards.rp2_scales import THERMISTOR_DK, THERMOCOUPLE_DK, baro_dapa, from_table
from oxlatch.vocabulary import (  # fmt: skip
    RAW_AIR_DK, RAW_AIRSPEED_MV, RAW_BARO_DAPA, RAW_BOTTLE_DK, RAW_OUTLET_1_DK, RAW_OUTLET_2_DK,
)

NULL_BIT = 0x10


class ExtraConverter:
    """Takes its channels in turn. Everything is made before the heap is locked."""

    def __init__(self, bus, converter_select, memory_select, asks):
        """Selected by both select lines low; `asks` are the bytes that ask for each channel."""
        self._bus = bus
        self._converter_select = converter_select
        self._memory_select = memory_select
        self._asks = asks
        self._answer = bytearray(3)
        self._channel = 0
        self._good = False  # the reference read true the last time

    def sample(self, raw):
        """Convert the channel whose turn it is and fill in what it carries."""
        channel = self._channel
        self._channel = channel + 1 if channel + 1 < pins.EXTRA_CHANNELS else 0
        answer = self._answer
        self._converter_select.value(0)
        self._memory_select.value(0)
        self._bus.write_readinto(self._asks[channel], answer)
        self._memory_select.value(1)
        self._converter_select.value(1)
        high = answer[1]
        counts = (high & 15) << 8 | answer[2]
        if high & NULL_BIT:
            self._good = False
        elif channel == pins.EXTRA_REFERENCE:
            off_mv = (counts * pins.SENSOR_FULL_MV >> 12) - pins.REFERENCE_MV
            self._good = -pins.REFERENCE_OFF_MV <= off_mv <= pins.REFERENCE_OFF_MV
        if self._good:
            self._fill(raw, channel, counts)
            return
        for i in range(RAW_BOTTLE_DK, RAW_AIRSPEED_MV + 1):
            raw[i] = 0

    def _fill(self, raw, channel, counts):
        if channel == pins.EXTRA_BOTTLE:
            raw[RAW_BOTTLE_DK] = from_table(THERMISTOR_DK, counts)
        elif channel == pins.EXTRA_BARO:
            raw[RAW_BARO_DAPA] = baro_dapa(counts * pins.SENSOR_FULL_MV >> 12)
        elif channel == pins.EXTRA_AIR:
            raw[RAW_AIR_DK] = from_table(THERMISTOR_DK, counts)
        elif channel == pins.EXTRA_OUTLET_1:
            raw[RAW_OUTLET_1_DK] = from_table(THERMOCOUPLE_DK, counts)
        elif channel == pins.EXTRA_OUTLET_2:
            raw[RAW_OUTLET_2_DK] = from_table(THERMOCOUPLE_DK, counts)
        elif channel == pins.EXTRA_AIRSPEED:
            raw[RAW_AIRSPEED_MV] = counts * pins.SENSOR_FULL_MV >> 12
