"""Runs under MicroPython: replay raw samples through the controller and time every tick.

Arguments: the firmware folder, a file of 16-bit samples, the number of passes. A row of samples that
begins with 65535 is a reset. The time of a tick is the least of all passes, so that what else the
machine does is not counted; what is printed is the median and the worst of those.
"""

import sys
import time
from array import array

sys.path.insert(0, sys.argv[1])

import micropython
from oxlatch.controller import Controller
from oxlatch.settings import Settings
from oxlatch.vocabulary import RAW_COUNT, STATE_NAMES

RESET = 65535


def read_rows(path):
    with open(path, "rb") as file:
        data = file.read()
    samples = array("H")
    for at in range(0, len(data), 2):
        samples.append(data[at] | (data[at + 1] << 8))
    return samples


def one_pass(samples, best, states):
    raw = [0] * RAW_COUNT
    controller = Controller(Settings())
    tick = controller.tick
    clock = time.time_ns
    rows = len(samples) // RAW_COUNT
    for row in range(rows):
        at = row * RAW_COUNT
        if samples[at] == RESET:
            controller = Controller(Settings())
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


def locked_pass(samples):
    """The same with the heap locked: an allocation in any tick raises MemoryError."""
    raw = [0] * RAW_COUNT
    controller = Controller(Settings())
    tick = controller.tick
    rows = len(samples) // RAW_COUNT
    for row in range(rows):
        at = row * RAW_COUNT
        if samples[at] == RESET:
            controller = Controller(Settings())
            tick = controller.tick
            continue
        micropython.heap_lock()
        for i in range(RAW_COUNT):
            raw[i] = samples[at + i]
        tick(raw)
        micropython.heap_unlock()


samples = read_rows(sys.argv[2])
rows = len(samples) // RAW_COUNT
best = array("i", [1 << 29] * rows)
states = bytearray(rows)
for _ in range(int(sys.argv[3])):
    one_pass(samples, best, states)
locked_pass(samples)
clock_ns = []
for _ in range(2000):
    begin = time.time_ns()
    clock_ns.append(time.time_ns() - begin)
clock_ns.sort()
empty = clock_ns[len(clock_ns) // 2]
times = sorted(best[row] - empty for row in range(rows) if samples[row * RAW_COUNT] != RESET)
worst = max(range(rows), key=lambda row: best[row] if samples[row * RAW_COUNT] != RESET else 0)
print(len(times), times[len(times) // 2], times[len(times) * 99 // 100], times[-1], STATE_NAMES[states[worst]])
