"""The real board file under MicroPython on stand-in hardware modules, every tick call with the heap locked.

Argument: firmware folder. Prints "ok" and how many calls ran.
"""

import sys

sys.path.insert(0, sys.argv[1])


class Pin:
    IN, OUT, PULL_UP, PULL_DOWN = 0, 1, 2, 3

    def __init__(self, gpio, mode=None, pull=None, value=None):
        self.level = 1 if value is None else value

    def value(self, level=None):
        if level is None:
            return self.level
        self.level = level


class SPI:
    def __init__(self, number, **pins):
        self.number = number

    def write(self, data):
        pass

    def write_readinto(self, out, into):
        for i in range(len(into)):
            into[i] = 0
        if self.number == 1:
            into[0] = 0x40
            into[4] = 0xA0
            into[5] = 0xC0
        elif len(into) == 3:
            into[1] = 8


class StateMachine:
    def __init__(self, *args, **kwargs):
        self.left = 0

    def active(self, on):
        pass

    def rx_fifo(self):
        self.left = 0 if self.left else 1
        return self.left

    def get(self):
        return 0xFFFFFF - 7700


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
machine.Pin, machine.SPI, machine.WDT, machine.mem32 = Pin, SPI, Watchdog, {0x40058008: 0, 0x4005801C: 0}
rp2 = Module()
rp2.StateMachine, rp2.asm_pio = StateMachine, asm_pio
sys.modules["machine"] = machine
sys.modules["rp2"] = rp2

import micropython  # noqa: E402
from oxlatch.boards import rp2 as board_file  # noqa: E402
from oxlatch.vocabulary import RAW_COUNT  # noqa: E402

board = board_file.Board()
board.use_lockout_memory(True)
board.start_watchdog()
raw = [0] * RAW_COUNT
buffer = bytearray(64)


def tick(n):
    board.sample(raw)
    board.drive(n & 15, n >> 1 & 15, n & 7)
    board.kick()
    board.feed()
    board.lamps(n & 0x7FF, -1)
    board.lockout_write(3)
    board.ticks_us()
    board.idle(10)
    board.interruptible(n & 1)
    board_file.outputs_off()
    if n & 1:
        board.link_read(buffer)
    board.link_write(buffer, 0)


def run(count):
    micropython.heap_lock()
    for n in range(count):
        tick(n)
    micropython.heap_unlock()


run(2000)
print("ok", 2000, raw[4])
