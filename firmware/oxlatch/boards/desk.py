"""A board without hardware, for the desktop build of MicroPython: tests, and users who have no board yet.

The folder it runs in is its file system. The link is the socket named by OXLATCH_LINK (host:port), straps are
named in OXLATCH_STRAPS (inject, maintenance; comma between). Inputs read as an aircraft standing with everything off;
other samples come only by injection. Leaving the process is its reset: code 64 for a restart that was
asked for, 65 for a fault, and whoever started it starts it again; any other code leads to the prompt.

A desktop makes a program wait whenever it likes, and a controller that took that for a stall of its own would
lock itself out. So the clock here counts at most SPELL_US between two readings, and a wait as no longer than was
asked for. OXLATCH_CLOCK=real reads the true clock, for measuring.
"""

import os
import sys
import time

from oxlatch.store import Files, Store, lockout_pattern, lockout_read, lockout_word
from oxlatch.vocabulary import (  # fmt: skip
    RAW_AIR_DK, RAW_AIRSPEED_MV, RAW_BARO_DAPA, RAW_BLOCK_MV, RAW_BOTTLE_DK, RAW_BUS_MV, RAW_CURRENTS, RAW_EXTRAS,
    RAW_FUEL_MV, RAW_OUTLET_1_DK, RAW_OUTLET_2_DK, RAW_PULSE_AGE_MS, RAW_RAIL_MV, RAW_RPM, RAW_SHORTS, RAW_SUPPLY_MV,
    RAW_SWITCHES, RAW_THROTTLE_MV, SW_DETENT_NC, SW_INJECT,
)

CLOCK_MASK = 0x3FFFFFFF
FLAG_FILE = "maintenance"
FAULT_FILE = "fault.txt"
MEMORY_FILE = "lockout.memory"
RESET_CODE = 64
FAULT_CODE = 65
PROMPT_CODE = 1
WATCHDOG_MS = 250
NO_PULSE_MS = 10000
SPELL_US = 1000
WAKE_EARLY_US = 100

_maintenance = None
_watchdog_started = False


def outputs_off():
    """There is no pin that could be on before a Board is made."""


def _strapped(name):
    return name in (os.getenv("OXLATCH_STRAPS") or "").split(",")


def maintenance():
    """Whether this is a maintenance start: strap named, or asked for once before the reset."""
    global _maintenance
    if _maintenance is None:
        _maintenance = _strapped("maintenance")
        try:
            os.remove(FLAG_FILE)
            _maintenance = True
        except OSError:
            pass
    return _maintenance


def restart(into_maintenance):
    """Leave; whoever started this process starts it again."""
    if into_maintenance:
        with open(FLAG_FILE, "w") as stream:
            stream.write("1")
    sys.exit(RESET_CODE)


def give_up():
    """What the watchdog does to a loop that has stopped; before it was started, somebody can still interrupt."""
    time.sleep_ms(WATCHDOG_MS)
    sys.exit(FAULT_CODE if _watchdog_started else PROMPT_CODE)


def _open_link():
    where = os.getenv("OXLATCH_LINK")
    if not where:
        return None
    import socket

    host, port = where.split(":")
    link = socket.socket()
    link.connect(socket.getaddrinfo(host, int(port))[0][-1])
    link.setblocking(False)
    return link


class Board:
    """The interface of the real boards. `ox`, `fuel` and `bits` are what is driven, `kicks` counts kicks."""

    name = "desk"

    def __init__(self):
        self.ox = 0
        self.fuel = 0
        self.bits = 0
        self.kicks = 0
        self.lamp_word = 0
        self._switches = SW_DETENT_NC | (SW_INJECT if _strapped("inject") else 0)
        self._real = os.getenv("OXLATCH_CLOCK") == "real"
        self._read_us = time.ticks_us()
        self._now_us = 0
        self._link = _open_link()
        self._memory = None
        self._pattern = bytearray(8)
        self.files = Files("", self.feed)
        self.store = Store(self.files)

    # --- start-up and rest -----------------------------------------------------------------------
    def reset_by_watchdog(self):
        """Never: a fault leaves the process."""
        return False

    def start_watchdog(self):
        """There is none; that it was started decides how a fault ends."""
        global _watchdog_started
        _watchdog_started = True

    def use_lockout_memory(self, fitted):
        """Whether the lockout word is in a memory written within a tick, here a file kept open, or in the store."""
        if fitted:
            if self.files.read(MEMORY_FILE) is None:
                self.files.write(MEMORY_FILE, b"\xff" * 8)
            self._memory = open(MEMORY_FILE, "r+b", 0)

    def lockout_read(self):
        """The lockout word, UNREADABLE when it cannot be trusted."""
        if self._memory is None:
            return lockout_read(self.store.lockout)
        self._memory.seek(0)
        self._memory.readinto(self._pattern)
        return lockout_word(self._pattern)

    def lockout_write(self, word):
        """Keep the lockout word; with the memory this allocates nothing."""
        if self._memory is None:
            self.store.lockout.save(bytes((word,)))
            return
        lockout_pattern(word, self._pattern)
        self._memory.seek(0)
        self._memory.write(self._pattern)

    def note_fault(self, text):
        """Keep what stopped the loop."""
        self.files.write(FAULT_FILE, text.encode())

    # --- the tick --------------------------------------------------------------------------------
    def outputs_off(self):
        """Everything off."""
        self.ox = 0
        self.fuel = 0
        self.bits = 0

    def ticks_us(self):
        """Microseconds, wrapping at 30 bits."""
        return self._read_clock(SPELL_US)

    def _read_clock(self, most_us):
        read_us = time.ticks_us()
        spell_us = time.ticks_diff(read_us, self._read_us)
        self._read_us = read_us
        if spell_us > most_us and not self._real:
            spell_us = most_us
        self._now_us = (self._now_us + spell_us) & CLOCK_MASK
        return self._now_us

    def idle(self, left_us):
        """Leave the processor to others until the next tick is near."""
        if left_us == 0:
            time.sleep_us(20)
        elif left_us > WAKE_EARLY_US:
            time.sleep_us(left_us - WAKE_EARLY_US)
            self._read_clock(left_us)

    def feed(self):
        """There is no watchdog."""

    def kick(self):
        """Count it."""
        self.kicks += 1

    def interruptible(self, flag):
        """The terminal belongs to whoever started this process."""

    def drive(self, ox, fuel, bits):
        """Note what is driven."""
        self.ox = ox
        self.fuel = fuel
        self.bits = bits

    def sample(self, raw):
        """An aircraft on its wheels at 20 degC: everything off, sensors at zero, battery volts on the bus."""
        raw[RAW_SWITCHES] = self._switches
        raw[RAW_CURRENTS] = 0
        raw[RAW_SHORTS] = 0
        raw[RAW_THROTTLE_MV] = 600
        raw[RAW_RPM] = 0
        raw[RAW_PULSE_AGE_MS] = NO_PULSE_MS
        raw[RAW_SUPPLY_MV] = 500
        raw[RAW_FUEL_MV] = 500
        raw[RAW_BLOCK_MV] = 500
        raw[RAW_BUS_MV] = 12600
        raw[RAW_RAIL_MV] = 0
        raw[RAW_EXTRAS] = 0
        raw[RAW_BOTTLE_DK] = 2932
        raw[RAW_BARO_DAPA] = 10133
        raw[RAW_AIR_DK] = 2932
        raw[RAW_OUTLET_1_DK] = 2932
        raw[RAW_OUTLET_2_DK] = 2932
        raw[RAW_AIRSPEED_MV] = 500

    def lamps(self, word, text):
        """Note what is shown."""
        self.lamp_word = word

    # --- the link --------------------------------------------------------------------------------
    def link_read(self, buffer):
        """Bytes that have come; returns how many. A far end that is gone for good ends the process."""
        if self._link is None:
            return 0
        count = self._link.readinto(buffer)
        if count is None:
            return 0
        if count == 0:
            sys.exit(FAULT_CODE)
        return count

    def link_write(self, buffer, count):
        """Hand over bytes without waiting; returns how many were taken."""
        if self._link is None:
            return count
        taken = self._link.write(buffer, count)
        return taken if taken else 0

