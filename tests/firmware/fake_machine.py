"""The chip as the board file sees it: pins that log every write, buses that answer, and nothing else.

After a reset every pin is an input with its pull-down on, as the chip's data sheet has it (RP2040 Datasheet,
pad control of the user bank, from memory), so a pin nobody has set reads low.
"""

import importlib
import sys
import time
import types

from oxlatch.boards import rp2_pins


class Chip:
    """One reset of the chip: pin levels, the log of every level set, what its buses will answer."""

    def __init__(self):
        self.levels = {}
        self.outputs = set()
        self.log = []
        self.registers = bytearray((0x40, 0, 0, 0, 0xA0, 0xC0))
        self.volts = dict.fromkeys(range(8), 0)
        self.volts[rp2_pins.CHANNEL_REFERENCE] = 2048
        self.converter_dead = False
        self.extras = dict.fromkeys(range(8), 0)
        self.extras[rp2_pins.EXTRA_REFERENCE] = 2048
        self.extras_dead = False
        self.memory = bytearray(b"\xff" * 8)
        self.memory_writable = False
        self.intervals = []
        self.now_us = 0
        self.watchdog_ms = None
        self.fed = 0
        self.resets = 0
        self.keyboard = None
        self.registers_sent = b""
        self.words = {}
        self.straps = set()

    def level(self, name):
        """What is on a named pin; low where nothing drives it."""
        return self.levels.get(rp2_pins.pin(name), 0)

    def highs(self):
        """Names of the gates that are on."""
        return [name for gpio, name, kind, _ in rp2_pins.PINS if kind == "gate" and self.levels.get(gpio, 0)]


def machine_module(chip):
    """A module named machine on that chip."""
    module = types.ModuleType("machine")

    class Pin:
        IN, OUT, PULL_UP, PULL_DOWN = 0, 1, 2, 3

        def __init__(self, gpio, mode=None, pull=None, value=None):
            self.gpio = gpio
            if mode == Pin.OUT:
                chip.outputs.add(gpio)
            if value is not None:
                self.value(value)

        def value(self, *level):
            if not level:
                strap = {row[0]: row[1] for row in rp2_pins.PINS}[self.gpio]
                return 0 if strap in chip.straps else 1
            chip.levels[self.gpio] = level[0]
            chip.log.append((self.gpio, level[0]))

    class SPI:
        def __init__(self, number, **_pins):
            self.number = number

        def write(self, data):
            self.write_readinto(data, bytearray(len(data)))

        def write_readinto(self, out, into):
            if self.number == 1:
                chip.registers_sent = bytes(out)
                into[:] = chip.registers
            elif chip.level("CONVERTER_SELECT"):
                assert chip.level("MEMORY_SELECT") == 0
                self._memory(out, into)
            elif chip.level("MEMORY_SELECT"):
                self._convert(out, into, chip.volts, chip.converter_dead)
            else:
                self._convert(out, into, chip.extras, chip.extras_dead)

        @staticmethod
        def _convert(out, into, channels, dead):
            channel = (out[0] & 1) << 2 | out[1] >> 6
            counts = 0x1FFF if dead else channels[channel]
            into[:] = bytes((0, counts >> 8, counts & 255))

        @staticmethod
        def _memory(out, into):
            if out[0] == 6:
                chip.memory_writable = True
            elif out[0] == 2:
                assert chip.memory_writable
                chip.memory[:] = out[3:]
                chip.memory_writable = False
            elif out[0] == 3:
                into[3:] = chip.memory

    class WDT:
        def __init__(self, timeout):
            chip.watchdog_ms = timeout

        def feed(self):
            chip.fed += 1

    def reset():
        chip.resets += 1
        raise SystemExit

    module.Pin, module.SPI, module.WDT, module.reset = Pin, SPI, WDT, reset
    module.mem32 = chip.words
    return module


def rp2_module(chip):
    """A module named rp2: the state machine hands out the intervals of the chip."""
    module = types.ModuleType("rp2")

    class StateMachine:
        def __init__(self, *_args, **_kwargs):
            pass

        def active(self, _on):
            pass

        def rx_fifo(self):
            return len(chip.intervals)

        def get(self):
            return 0xFFFFFF - chip.intervals.pop(0)

    module.StateMachine = StateMachine
    module.asm_pio = lambda: lambda program: program
    return module


def load_board(chip, monkeypatch):
    """The board file, imported afresh on a chip as on every reset."""
    micropython = types.ModuleType("micropython")
    micropython.kbd_intr = lambda key: setattr(chip, "keyboard", key)
    monkeypatch.setitem(sys.modules, "machine", machine_module(chip))
    monkeypatch.setitem(sys.modules, "rp2", rp2_module(chip))
    monkeypatch.setitem(sys.modules, "micropython", micropython)
    for name in ("oxlatch.boards.rp2", "oxlatch.boards.rp2_pulses"):
        monkeypatch.delitem(sys.modules, name, raising=False)
    monkeypatch.setattr(time, "ticks_us", lambda: chip.now_us, raising=False)
    module = importlib.import_module("oxlatch.boards.rp2")
    for name in ("oxlatch.boards.rp2", "oxlatch.boards.rp2_pulses"):
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setattr(module, "select", select_module(chip))
    monkeypatch.setattr(module, "sys", stdio_module(chip))
    return module


def select_module(chip):
    """poll objects that find one byte ready as long as the chip's line has one."""
    chip.inbox = bytearray()
    chip.outbox = bytearray()
    chip.room = 1 << 30

    class Poll:
        def register(self, stream, _mask):
            self.reading = stream == "in"

        def ipoll(self, _timeout):
            ready = chip.inbox if self.reading else chip.room > 0
            return iter((("stream", 1),) if ready else ())

    return types.SimpleNamespace(poll=Poll, POLLIN=1, POLLOUT=4)


def stdio_module(chip):
    """stdin and stdout of which each call moves exactly what it is given."""

    class Reader(str):
        class buffer:
            @staticmethod
            def readinto(into):
                into[0] = chip.inbox.pop(0)

    class Writer(str):
        class buffer:
            @staticmethod
            def write(data):
                assert len(data) == 1, "only one byte of room is promised"
                assert chip.room > 0, "this write would wait for the host"
                chip.room -= 1
                chip.outbox += data

    return types.SimpleNamespace(stdin=Reader("in"), stdout=Writer("out"), platform="rp2")
