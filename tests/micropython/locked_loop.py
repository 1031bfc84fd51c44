"""Run the whole loop with the heap locked while telemetry streams; any allocation is a MemoryError.

Arguments: firmware folder, number of ticks, sample file (rows of RAW_COUNT u16, played round and round).
Prints ticks run, telemetry frames sent, states visited, mean and worst microseconds of a tick.
"""

import gc
import sys
import time
from array import array

sys.path.insert(0, sys.argv[1])

import micropython
from oxlatch.boards import desk
from oxlatch.settings import RECORD_BYTES
from oxlatch.startup import build
from oxlatch.vocabulary import RAW_COUNT

RESET = 65535


class Played(desk.Board):
    """A desk board whose pins play recorded samples and whose link swallows everything."""

    def __init__(self, rows):
        super().__init__()
        self.rows = rows
        self.at = 0
        self.end = len(rows)
        self.now_us = 0
        self.sent = 0

    def sample(self, raw):
        rows = self.rows
        at = self.at
        if rows[at] == RESET:
            at += RAW_COUNT
        for i in range(RAW_COUNT):
            raw[i] = rows[at + i]
        at += RAW_COUNT
        self.at = at if at < self.end else 0

    def lockout_read(self):
        return 0

    def ticks_us(self):
        self.now_us = (self.now_us + 1000) & 0x3FFFFFFF
        return self.now_us

    def idle(self, left_us):
        self.now_us = (self.now_us + left_us) & 0x3FFFFFFF

    def lockout_write(self, word):
        pass

    def link_write(self, buffer, count):
        for i in range(count):
            if buffer[i] == 0:
                self.sent += 1
        return count


def run(loop, ticks, times):
    """Tick with the heap locked; `times` gets total, worst and the set of states as bits."""
    link = loop.link
    total = 0
    worst = 0
    states = 0
    micropython.heap_lock()
    for _ in range(ticks):
        link.quiet_n = 0
        begin = time.ticks_us()
        if loop.wait():
            loop.tick()
        took = time.ticks_diff(time.ticks_us(), begin)
        total += took
        if took > worst:
            worst = took
        states |= 1 << loop.controller.core.state
    micropython.heap_unlock()
    times[0] = total
    times[1] = worst
    times[2] = states


def main():
    ticks = int(sys.argv[2])
    with open(sys.argv[3], "rb") as stream:
        record = stream.read(RECORD_BYTES)
        rows = array("H", stream.read())
    board = Played(rows)
    board.store.settings.save(record)
    board.store.lockout.save(b"\0")
    board.store.bottle.save(b"\x94\x11")  # 4500 g
    loop = build(board)
    loop.link._period = 10
    loop.restart_clock()
    times = [0, 0, 0]
    gc.collect()
    before = gc.mem_alloc()
    run(loop, ticks, times)
    grown = gc.mem_alloc() - before
    print(ticks, board.sent // 2, times[2], times[0] / ticks, times[1], grown)


main()
