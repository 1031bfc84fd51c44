"""Runs under MicroPython: replay raw samples through the controller and time every tick.

Arguments: the firmware folder, a file of settings records and then 16-bit samples, the number of records, the
number of passes. A row of samples that begins with 65535 is a reset; its second word is the record in force. The
time of a tick is the least of all passes, so that what else the machine does is not counted; what is printed is the
median and the worst of those.
"""

import sys
import time
from array import array

sys.path.insert(0, sys.argv[1])

import micropython
from oxlatch.controller import Controller
from oxlatch.settings import GOOD, RECORD_BYTES, Settings, unpack
from oxlatch.vocabulary import RAW_COUNT, STATE_NAMES

RESET = 65535


def read_file(path, count):
    """The settings of `count` records, and the rows behind them."""
    used = []
    with open(path, "rb") as file:
        for _ in range(count):
            settings = Settings()
            if unpack(file.read(RECORD_BYTES), settings) != GOOD:
                raise ValueError("a settings record cannot be read")
            used.append(settings)
        return used, array("H", file.read())


def one_pass(used, samples, best, states):
    raw = [0] * RAW_COUNT
    controller = Controller(used[0])
    tick = controller.tick
    clock = time.time_ns
    rows = len(samples) // RAW_COUNT
    for row in range(rows):
        at = row * RAW_COUNT
        if samples[at] == RESET:
            controller = Controller(used[samples[at + 1]])
            tick = controller.tick
            continue
        for i in range(RAW_COUNT):
            raw[i] = samples[at + i]
        begin = clock()
        tick(raw)
        took = clock() - begin
        if took < best[row]:
            best[row] = took
            states[row] = controller.core.state


def locked_pass(used, samples):
    """The same with the heap locked: an allocation in any tick raises MemoryError."""
    raw = [0] * RAW_COUNT
    controller = Controller(used[0])
    tick = controller.tick
    rows = len(samples) // RAW_COUNT
    for row in range(rows):
        at = row * RAW_COUNT
        if samples[at] == RESET:
            controller = Controller(used[samples[at + 1]])
            tick = controller.tick
            continue
        micropython.heap_lock()
        for i in range(RAW_COUNT):
            raw[i] = samples[at + i]
        tick(raw)
        micropython.heap_unlock()


used, samples = read_file(sys.argv[2], int(sys.argv[3]))
rows = len(samples) // RAW_COUNT
best = array("i", [1 << 29] * rows)
states = bytearray(rows)
for _ in range(int(sys.argv[4])):
    one_pass(used, samples, best, states)
locked_pass(used, samples)
clock_ns = []
for _ in range(2000):
    begin = time.time_ns()
    clock_ns.append(time.time_ns() - begin)
clock_ns.sort()
empty = clock_ns[len(clock_ns) // 2]
times = sorted(best[row] - empty for row in range(rows) if samples[row * RAW_COUNT] != RESET)
worst = max(range(rows), key=lambda row: best[row] if samples[row * RAW_COUNT] != RESET else 0)
print(len(times), times[len(times) // 2], times[len(times) * 99 // 100], times[-1], STATE_NAMES[states[worst]])
