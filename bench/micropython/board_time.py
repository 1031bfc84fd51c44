"""Time of the real board file's calls of one tick, on stand-in hardware modules. Argument: firmware folder.

Prints nanoseconds per tick of the least of all passes: the calls alone, no bus and no pin behind them.
"""

import sys
import time

sys.path.insert(0, sys.argv[1])


class Pin:
    IN, OUT, PULL_UP, PULL_DOWN = 0, 1, 2, 3

    def __init__(self, gpio, mode=None, pull=None, value=None):
        self.level = 1

    def value(self, level=1):
        return self.level


class Bus:
    def __init__(self, number, **pins):
        pass

    def write_readinto(self, out, into):
        pass


class Timer:
    def __init__(self, *args, **kwargs):
        pass

    def active(self, on):
        pass

    def rx_fifo(self):
        return 0


class Watchdog:
    def __init__(self, timeout):
        pass

    def feed(self):
        pass


class Module:
    pass


def asm_pio():
    return lambda program: program


machine = Module()
machine.Pin, machine.SPI, machine.WDT = Pin, Bus, Watchdog
rp2 = Module()
rp2.StateMachine, rp2.asm_pio = Timer, asm_pio
sys.modules["machine"] = machine
sys.modules["rp2"] = rp2

from oxlatch.boards import rp2 as board_file  # noqa: E402
from oxlatch.vocabulary import RAW_COUNT  # noqa: E402

TICKS = 10
PASSES = 3000

board = board_file.Board()
board.start_watchdog()
board._register_in[0] = 0x40
board._register_in[4] = 0xA0
board._register_in[5] = 0xC0
raw = [0] * RAW_COUNT


def tick():
    board.sample(raw)
    board.drive(7, 7, 7)
    board.feed()
    board.kick()
    board.lamps(0x155, -1)
    board.ticks_us()
    board.ticks_us()
    board.ticks_us()


least_us = 1 << 29
for _ in range(PASSES):
    begin = time.ticks_us()
    for _ in range(TICKS):
        tick()
    took_us = time.ticks_diff(time.ticks_us(), begin)
    if took_us < least_us:
        least_us = took_us
print(least_us * 1000 // TICKS)
