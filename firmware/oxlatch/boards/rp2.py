"""The two-core 264 kB board. The only file that talks to the hardware; importing it turns every output off.

Outside the chip: two eight-channel, twelve-bit converters and a small ferroelectric memory on SPI 0, and on
SPI 1 one chain of parallel-in registers for switches and current comparators and one serial-in register
for lamps. Valves, purge and run switch are direct pins. Engine pulses are timed by a state machine of
the chip's own input block, which counts microseconds between rising edges and leaves them in a queue the
loop empties: no interrupt, no second core.
"""

import machine

from oxlatch.boards import rp2_pins as pins

_GATES = [machine.Pin(gpio, machine.Pin.OUT, value=0) for gpio in pins.GATES]


def outputs_off():
    """Every valve, purge, master fuel and the run switch to off. Allocates nothing."""
    for gate in _GATES:
        gate.value(0)


outputs_off()

import os  # noqa: E402
import select  # noqa: E402
import sys  # noqa: E402
import time  # noqa: E402

import micropython  # noqa: E402

from oxlatch.boards.rp2_extras import ExtraConverter  # noqa: E402
from oxlatch.boards.rp2_pulses import PulseTimer  # noqa: E402
from oxlatch.store import Files, Store, lockout_pattern, lockout_read, lockout_word  # noqa: E402
from oxlatch.vocabulary import (  # noqa: E402  # fmt: skip
    COIL_MASTER_FUEL, COIL_MASTER_OX, COIL_PURGE, LAMP_BLINK, LAMP_CHECK_SHIFT, LAMP_FLOW_SHIFT, LAMP_ON,
    LAMP_PURGE_SHIFT, LAMP_READY_SHIFT, LAMP_STOP_SHIFT, LAMP_TONE, OUT_MASTER_FUEL, OUT_MASTER_OX,
    OUT_PURGE, RAW_BLOCK_MV, RAW_BUS_MV, RAW_CURRENTS, RAW_EXTRAS, RAW_FUEL_MV, RAW_RAIL_MV, RAW_SHORTS,
    RAW_SUPPLY_MV, RAW_SWITCHES, RAW_THROTTLE_MV, STAGES_MAX, SW_INJECT,
)

CLOCK_MASK = 0x3FFFFFFF
WATCHDOG_MS = 250
WATCHDOG_REASON = 0x40058008  # bit 0: the watchdog's timer caused the reset; from the chip's data sheet
WATCHDOG_MARK = 0x4005801C  # scratch word that holds TIMED_OUT only after a true time-out
TIMED_OUT = 0x6AB73121
FLAG_FILE = "maintenance"
FAULT_FILE = "fault.txt"
USB_BYTES = 12  # bytes moved per tick
NULL_BIT = 0x10
BLINK_TICKS = 50
MEMORY_WRITE_ENABLE = b"\x06"
MEMORY_WRITE = b"\x02\x00\x00"
MEMORY_READ = b"\x03\x00\x00"
_LAMPS = (LAMP_READY_SHIFT, LAMP_FLOW_SHIFT, LAMP_CHECK_SHIFT, LAMP_STOP_SHIFT, LAMP_PURGE_SHIFT)

_maintenance = None


def maintenance():
    """Whether this is a maintenance start: strap fitted, or asked for once before the reset."""
    global _maintenance
    if _maintenance is None:
        strap = machine.Pin(pins.MAINTENANCE_STRAP, machine.Pin.IN, machine.Pin.PULL_UP)
        _maintenance = strap.value() == 0
        try:
            os.remove(FLAG_FILE)
            _maintenance = True
        except OSError:
            pass
    return _maintenance


def restart(into_maintenance):
    """Reset the chip, once into maintenance if asked."""
    outputs_off()
    if into_maintenance:
        with open(FLAG_FILE, "w") as stream:
            stream.write("1")
    machine.reset()


def give_up():
    """Never come back: outputs stay off until the watchdog, or a hand on the power, resets the board.

    Where the watchdog was not started yet, the keyboard interrupt leads to the prompt, to put things right.
    """
    outputs_off()
    micropython.kbd_intr(3)
    while True:
        pass


class Board:
    """The pins as the loop sees them. Made once, before the heap is locked."""

    name = "rp2"

    def __init__(self):
        Pin = machine.Pin
        micropython.kbd_intr(-1)
        self._ox = [Pin(gpio, Pin.OUT, value=0) for gpio in pins.OX]
        self._fuel = [Pin(gpio, Pin.OUT, value=0) for gpio in pins.FU]
        self._master_fuel = Pin(pins.MASTER_FUEL, Pin.OUT, value=0)
        self._master_ox = Pin(pins.MASTER_OX, Pin.OUT, value=0)
        self._purge = Pin(pins.PURGE, Pin.OUT, value=0)
        self._run = Pin(pins.RUN, Pin.OUT, value=0)
        self._inject = Pin(pins.INJECT_STRAP, Pin.IN, Pin.PULL_UP)
        self._watchdog = None
        self._make_buses(Pin)
        self._pulses = PulseTimer(Pin(pins.ENGINE_PULSE, Pin.IN, Pin.PULL_DOWN), pins.PULSES_PER_TURN)
        self._make_link(Pin)
        self.files = Files("", self.feed)
        self.store = Store(self.files)
        self._memory_fitted = False

    def _make_buses(self, Pin):
        self._converter_select = Pin(pins.CONVERTER_SELECT, Pin.OUT, value=1)
        self._memory_select = Pin(pins.MEMORY_SELECT, Pin.OUT, value=1)
        self._latch = Pin(pins.REGISTER_LATCH, Pin.OUT, value=0)
        self._analogue = machine.SPI(
            0,
            baudrate=1_000_000,
            sck=Pin(pins.CONVERTER_CLOCK),
            mosi=Pin(pins.CONVERTER_IN),
            miso=Pin(pins.CONVERTER_OUT),
        )
        self._registers = machine.SPI(
            1,
            baudrate=2_000_000,
            sck=Pin(pins.REGISTER_CLOCK),
            mosi=Pin(pins.REGISTER_OUT),
            miso=Pin(pins.REGISTER_IN),
        )
        # start bit, single-ended, three channel bits, then room for twelve bits of answer
        self._asks = tuple(bytes((6 | channel >> 2, (channel & 3) << 6, 0)) for channel in range(8))
        self._answer = bytearray(3)
        self._extras = ExtraConverter(self._analogue, self._converter_select, self._memory_select, self._asks)
        self._register_out = bytearray(pins.REGISTER_BYTES)
        self._register_in = bytearray(pins.REGISTER_BYTES)
        every = (pins.CHANNEL_THROTTLE, pins.CHANNEL_SUPPLY, pins.CHANNEL_FUEL, pins.CHANNEL_BUS)
        slow = (pins.CHANNEL_BLOCK, pins.CHANNEL_RAIL, pins.CHANNEL_REFERENCE)
        self._rounds = tuple([every + (channel,) for channel in slow])
        self._counts = [0] * 5
        self._slow = 0
        self._bad_frames = 0
        self._memory_out = bytearray(3 + 8)
        self._memory_in = bytearray(3 + 8)
        self._pattern = bytearray(8)
        self._blink_n = 0
        self._lamp_word = -1
        self._lamps_dark = False

    def _make_link(self, Pin):
        self._uart = None
        if not pins.LINK_BY_USB:
            self._uart = machine.UART(
                0,
                baudrate=pins.LINK_BAUD,
                tx=Pin(pins.LINK_TX),
                rx=Pin(pins.LINK_RX),
                txbuf=256,
                rxbuf=256,
            )
        self._one = bytearray(1)
        self._readable = select.poll()
        self._readable.register(sys.stdin, select.POLLIN)
        self._writable = select.poll()
        self._writable.register(sys.stdout, select.POLLOUT)
        self._readable.ipoll(0)
        self._writable.ipoll(0)

    # --- start-up and rest -----------------------------------------------------------------------
    def reset_by_watchdog(self):
        """Whether the last reset was a true watchdog time-out and not a reset somebody asked for."""
        return machine.mem32[WATCHDOG_REASON] & 1 == 1 and machine.mem32[WATCHDOG_MARK] == TIMED_OUT

    def start_watchdog(self):
        """From now on only `feed` keeps the board from being reset."""
        self._watchdog = machine.WDT(timeout=WATCHDOG_MS)

    def use_lockout_memory(self, fitted):
        """Whether the lockout word is in the ferroelectric memory, or in the store."""
        self._memory_fitted = fitted

    def lockout_read(self):
        """The lockout word, UNREADABLE when it cannot be trusted."""
        if not self._memory_fitted:
            return lockout_read(self.store.lockout)
        self._memory_out[0:3] = MEMORY_READ
        self._memory_select.value(0)
        self._analogue.write_readinto(self._memory_out, self._memory_in)
        self._memory_select.value(1)
        self._pattern[:] = self._memory_in[3:]
        return lockout_word(self._pattern)

    def lockout_write(self, word):
        """Keep the lockout word. With the memory fitted this allocates nothing and takes well under a tick."""
        if not self._memory_fitted:
            self.store.lockout.save(bytes((word,)))
            return
        lockout_pattern(word, self._pattern)
        out = self._memory_out
        for i in range(3):
            out[i] = MEMORY_WRITE[i]
        for i in range(8):
            out[3 + i] = self._pattern[i]
        self._memory_select.value(0)
        self._analogue.write(MEMORY_WRITE_ENABLE)
        self._memory_select.value(1)
        self._memory_select.value(0)
        self._analogue.write(out)
        self._memory_select.value(1)

    def note_fault(self, text):
        """Keep what stopped the loop, once: the same text again is not written again."""
        if self.files.read(FAULT_FILE) != text.encode():
            self.files.write(FAULT_FILE, text.encode())

    # --- the tick --------------------------------------------------------------------------------
    def outputs_off(self):
        """Every gate to off."""
        outputs_off()

    def ticks_us(self):
        """Microseconds, wrapping at 30 bits."""
        return time.ticks_us() & CLOCK_MASK

    def idle(self, left_us):
        """Time to spare: nothing to do with it here."""

    def feed(self):
        """Put the watchdog off."""
        if self._watchdog:
            self._watchdog.feed()

    def kick(self):
        """One rising edge for the one-shot in front of the run switch."""
        self._run.value(1)
        self._run.value(0)

    def interruptible(self, flag):
        """Let the keyboard interrupt through, or make it an ordinary byte."""
        micropython.kbd_intr(3 if flag else -1)

    def drive(self, ox, fuel, bits):
        """Valves to the commanded words: every fuel off first, then oxidizer, then what fuel is on.

        The master oxidizer valve goes on before the stages and off after them.
        """
        fuel_pins = self._fuel
        ox_pins = self._ox
        for i in range(STAGES_MAX):
            if not fuel >> i & 1:
                fuel_pins[i].value(0)
        if not bits & OUT_MASTER_FUEL:
            self._master_fuel.value(0)
        if bits & OUT_MASTER_OX:
            self._master_ox.value(1)
        for i in range(STAGES_MAX):
            ox_pins[i].value(ox >> i & 1)
        if not bits & OUT_MASTER_OX:
            self._master_ox.value(0)
        self._purge.value(1 if bits & OUT_PURGE else 0)
        if bits & OUT_MASTER_FUEL:
            self._master_fuel.value(1)
        for i in range(STAGES_MAX):
            if fuel >> i & 1:
                fuel_pins[i].value(1)

    def sample(self, raw):
        """Registers, converter and pulse queue into `raw`. One bad frame keeps the last values, two lose them."""
        good = self._sample_registers(raw)
        if not self._sample_converter(raw):
            good = False
        self._extras.sample(raw)
        self._pulses.sample(raw, self.ticks_us())
        if good:
            self._bad_frames = 0
            return
        self._bad_frames += 1
        if self._bad_frames >= 2:
            self._bad_frames = 2
            for i in range(RAW_SWITCHES, RAW_THROTTLE_MV + 1):
                raw[i] = 0
            for i in range(RAW_SUPPLY_MV, RAW_RAIL_MV + 1):
                raw[i] = 0
            raw[RAW_EXTRAS] = 0

    def _sample_registers(self, raw):
        got = self._register_in
        self._latch.value(0)
        self._latch.value(1)
        self._registers.write_readinto(self._register_out, got)
        if (
            got[0] & pins.SENTINEL_0_MASK != pins.SENTINEL_0
            or got[4] & pins.SENTINEL_4_MASK != pins.SENTINEL_4
            or got[5] & pins.SENTINEL_5_MASK != pins.SENTINEL_5
        ):
            return False
        word = got[0] & 0x3F | got[1] << 8
        if self._inject.value() == 0:
            word |= SW_INJECT
        raw[RAW_SWITCHES] = word
        shared = got[4]
        extra = got[5]
        held = COIL_MASTER_OX if extra & 16 else 0
        tripped = COIL_MASTER_OX if extra & 32 else 0
        held |= (COIL_PURGE if shared & 1 else 0) | (COIL_MASTER_FUEL if shared & 2 else 0)
        tripped |= (COIL_PURGE if shared & 4 else 0) | (COIL_MASTER_FUEL if shared & 8 else 0)
        raw[RAW_CURRENTS] = got[2] | held
        raw[RAW_SHORTS] = got[3] | tripped
        raw[RAW_EXTRAS] = extra & pins.EXTRAS_MASK
        return True

    def _sample_converter(self, raw):
        """The channels that stop a flow every tick; rail, block and the reference in turn.

        A conversion has a null bit before its twelve; where it is not null nobody answered.
        """
        self._slow = self._slow + 1 if self._slow < 2 else 0
        channels = self._rounds[self._slow]
        counts = self._counts
        select_pin = self._converter_select
        analogue = self._analogue
        answer = self._answer
        asks = self._asks
        null_bits = 0
        for i in range(5):
            select_pin.value(0)
            analogue.write_readinto(asks[channels[i]], answer)
            select_pin.value(1)
            high = answer[1]
            null_bits |= high
            counts[i] = (high & 15) << 8 | answer[2]
        if null_bits & NULL_BIT:
            return False
        raw[RAW_THROTTLE_MV] = counts[0] * pins.SENSOR_FULL_MV >> 12
        raw[RAW_SUPPLY_MV] = counts[1] * pins.SENSOR_FULL_MV >> 12
        raw[RAW_FUEL_MV] = counts[2] * pins.SENSOR_FULL_MV >> 12
        raw[RAW_BUS_MV] = counts[3] * pins.VOLTS_FULL_MV >> 12
        if self._slow == 0:
            raw[RAW_BLOCK_MV] = counts[4] * pins.SENSOR_FULL_MV >> 12
        elif self._slow == 1:
            raw[RAW_RAIL_MV] = counts[4] * pins.VOLTS_FULL_MV >> 12
        else:
            off_mv = (counts[4] * pins.SENSOR_FULL_MV >> 12) - pins.REFERENCE_MV
            return -pins.REFERENCE_OFF_MV <= off_mv <= pins.REFERENCE_OFF_MV
        return True

    def lamps(self, word, text):
        """Lamp word to the output register; it is shifted out with the next sample."""
        self._blink_n = self._blink_n + 1 if self._blink_n < 2 * BLINK_TICKS else 0
        dark = self._blink_n >= BLINK_TICKS
        if word == self._lamp_word and dark == self._lamps_dark:
            return
        self._lamp_word = word
        self._lamps_dark = dark
        shine = 0
        for i in range(5):
            lamp = word >> _LAMPS[i] & 3
            if lamp == LAMP_ON or (lamp == LAMP_BLINK and not dark):
                shine |= 1 << i
        if word & LAMP_TONE:
            shine |= 1 << 5
        self._register_out[pins.REGISTER_BYTES - 1] = shine

    # --- the link --------------------------------------------------------------------------------
    def link_read(self, buffer):
        """Bytes that have come, at most a tick's worth; returns how many."""
        count = 0
        limit = len(buffer) if len(buffer) < USB_BYTES else USB_BYTES
        if self._uart:
            count = self._uart.any()
            if count > limit:
                count = limit
            if count:
                self._uart.readinto(buffer, count)
            return count
        while count < limit:
            ready = 0
            for _ in self._readable.ipoll(0):
                ready = 1
            if not ready:
                break
            sys.stdin.buffer.readinto(self._one)
            buffer[count] = self._one[0]
            count += 1
        return count

    def link_write(self, buffer, count):
        """Hand over bytes without ever waiting; returns how many were taken.

        Over USB one byte per poll: room is promised for one byte only, and a longer write waits for a
        host that does not read.
        """
        if self._uart:
            taken = self._uart.write(buffer, count)
            return taken if taken else 0
        taken = 0
        while taken < count and taken < USB_BYTES:
            ready = 0
            for _ in self._writable.ipoll(0):
                ready = 1
            if not ready:
                break
            self._one[0] = buffer[taken]
            sys.stdout.buffer.write(self._one)
            taken += 1
        return taken

