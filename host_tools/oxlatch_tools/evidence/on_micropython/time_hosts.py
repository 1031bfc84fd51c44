"""One loop under six kinds of host: what it does must not change, and what the link takes of a tick is bounded.

Arguments: firmware folder, sample file (settings record, then rows of RAW_COUNT u16), ticks. Prints one line a kind:
name, digest of every tick's state and outputs, longest and mean tenths of us of one poll of the link, frames
dropped, frames broken. Each poll's time is the least of many passes that do the same work, so that what else the
machine does is not counted.
"""

import sys
import time
from array import array
from binascii import hexlify
from hashlib import sha256

sys.path.insert(0, sys.argv[1])

from micropython import heap_lock, heap_unlock
from oxlatch import protocol
from oxlatch.boards import desk
from oxlatch.cobs import Encoder
from oxlatch.crc import Crc32
from oxlatch.settings import RECORD_BYTES
from oxlatch.startup import build
from oxlatch.vocabulary import RAW_COUNT

RESET = 65535
USB_BYTES = 12  # what the real board takes from its port in a tick
PASSES = 40
POLLS = 600
COLD_POLLS = 5  # the desktop's caches are cold after start-up; the board has none to speak of


def frame(kind, payload, seq):
    body = bytearray(4 + len(payload) + 4)
    body[0:4] = bytes((protocol.VERSION, kind, seq & 255, seq >> 8))
    body[4:-4] = payload
    crc = Crc32()
    crc.feed(body, 0, len(body) - 4)
    crc.write(body, len(body) - 4)
    encoder = Encoder(len(body))
    encoder.begin()
    encoder.take(body, 0, len(body))
    encoder.finish()
    return bytes(encoder.wire[: encoder.length])


class Played(desk.Board):
    """Pins play samples; the line plays what the host sends, over and over, and takes what it may."""

    def __init__(self, rows, wire, takes):
        super().__init__()
        self.rows = rows
        self.at = 0
        self.wire = wire
        self.wire_at = 0
        self.takes = takes
        self.clock_us = 0

    def sample(self, raw):
        at = self.at
        if self.rows[at] == RESET:
            at += RAW_COUNT
        for i in range(RAW_COUNT):
            raw[i] = self.rows[at + i]
        at += RAW_COUNT
        self.at = at if at < len(self.rows) else 0

    def ticks_us(self):
        self.clock_us = (self.clock_us + 500) & 0x3FFFFFFF
        return self.clock_us

    def idle(self, left_us):
        self.clock_us = (self.clock_us + left_us) & 0x3FFFFFFF

    def lockout_read(self):
        return 0

    def lockout_write(self, word):
        pass

    def link_read(self, buffer):
        wire = self.wire
        size = len(wire)
        if size == 0:
            return 0
        at = self.wire_at
        for i in range(USB_BYTES):
            buffer[i] = wire[at]
            at += 1
            if at == size:
                at = 0
        self.wire_at = at
        return USB_BYTES

    def link_write(self, buffer, count):
        return count if self.takes else 0


def hosts():
    stream = frame(protocol.STREAM, b"\x05\x00", 1)
    every = b"".join([frame(kind, bytes(range(8)), kind) for kind in range(0x10, 0x34)])
    noise = bytes([(i * 73 + (i >> 3) * 29) & 255 for i in range(997)])
    bent = bytearray(stream * 20)
    for i in range(0, len(bent), 13):
        bent[i] ^= 1 << (i & 7)
    return (
        ("silent", b"", 1),
        ("streams", stream, 1),
        ("floods with requests", every, 1),
        ("floods with noise", noise, 1),
        ("corrupts", bytes(bent), 1),
        ("streams and never reads", stream, 0),
    )


def fly(loop, ticks, lines):
    """Tick with the heap locked; `lines` collects what was done."""
    core = loop.controller.core
    out = loop.controller.out
    heap_lock()
    for n in range(ticks):
        loop.wait()
        loop.tick()
        at = n * 4
        lines[at] = core.state
        lines[at + 1] = out.ox | out.fuel << 4
        lines[at + 2] = out.bits
        lines[at + 3] = core.latch
    heap_unlock()


def time_polls(loop, least_us):
    """Time every poll of a short flight; `least_us` keeps the least of all passes."""
    link = loop.link
    heap_lock()
    for n in range(POLLS):
        link.tick()
        begin = time.ticks_us()
        link.poll()
        took = time.ticks_diff(time.ticks_us(), begin)
        if took < least_us[n]:
            least_us[n] = took
    heap_unlock()


def made(rows, record, wire, takes):
    board = Played(rows, wire, takes)
    board.store.settings.save(record)
    board.store.bottle.save(b"\x94\x11")  # 4500 g, where the bottle is counted
    loop = build(board)
    loop.restart_clock()
    return loop


def main():
    with open(sys.argv[2], "rb") as stream:
        record = stream.read(RECORD_BYTES)
        rows = array("H", stream.read())
    ticks = int(sys.argv[3])
    for name, wire, takes in hosts():
        loop = made(rows, record, wire, takes)
        lines = bytearray(4 * ticks)
        fly(loop, ticks, lines)
        dropped, broken = loop.link.dropped, loop.link.broken
        least_us = array("I", [1000000] * POLLS)
        for _ in range(PASSES):
            time_polls(made(rows, record, wire, takes), least_us)
        digest = hexlify(sha256(lines).digest()).decode()[:16]
        warm_us = list(least_us)[COLD_POLLS:]
        print(f"{name}|{digest}|{max(warm_us) * 10}|{sum(warm_us) * 10 // len(warm_us)}|{dropped}|{broken}")


main()
