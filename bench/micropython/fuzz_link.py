"""A link fed random and mutated frames, heap locked. Arguments: firmware folder, number of frames, seed.

Prints frames sent, sent whole, accepted, wrongly accepted, bytes the heap grew by, seconds.
"""

import gc
import sys
import time

sys.path.insert(0, sys.argv[1])

from micropython import heap_lock, heap_unlock
from oxlatch.boards import desk
from oxlatch.cobs import Encoder
from oxlatch.crc import Crc32
from oxlatch.protocol import VERSION
from oxlatch.startup import build

KINDS = 48


class Fed(desk.Board):
    """A line that plays one buffer, once."""

    def __init__(self):
        super().__init__()
        self.wire = bytearray(64)
        self.size = 0
        self.at = 0

    def link_read(self, buffer):
        count = 0
        while self.at < self.size and count < len(buffer):
            buffer[count] = self.wire[self.at]
            self.at += 1
            count += 1
        return count

    def link_write(self, buffer, count):
        return count


class Source:
    """Small numbers in a long row (xorshift, 30 bits)."""

    def __init__(self, seed):
        self.word = seed | 1

    def below(self, limit):
        w = self.word
        w ^= (w << 7) & 0x3FFFFFFF
        w ^= w >> 9
        w ^= (w << 8) & 0x3FFFFFFF
        self.word = w
        return (w >> 5) % limit


def make_frame(source, body, crc, encoder):
    """A frame of a random kind with a random payload, encoded; the first byte wrong one time in eight."""
    size = source.below(20)
    body[0] = VERSION
    body[1] = 0x10 + source.below(KINDS)
    for i in range(2, 4 + size):
        body[i] = source.below(256)
    crc.reset()
    crc.feed(body, 0, 4 + size)
    crc.write(body, 4 + size)
    encoder.begin()
    encoder.take(body, 0, 8 + size)
    encoder.finish()


def mutate(source, wire, size):
    """Spoil an encoded frame; returns its new size. At least one byte inside differs afterwards."""
    way = source.below(3)
    at = 1 + source.below(size - 2)
    if way == 0:
        wire[at] ^= 1 << source.below(8)
    elif way == 1:
        for i in range(at, size - 1):
            wire[i] = wire[i + 1]
        return size - 1
    else:
        wire[at] = (wire[at] + 1 + source.below(255)) & 255
    return size


def run(board, link, source, count, counts, tools):
    """Send frames with the heap locked; `counts` gets sent whole, accepted, wrongly accepted."""
    body, crc, encoder = tools
    heap_lock()
    for _ in range(count):
        make_frame(source, body, crc, encoder)
        size = encoder.length
        wire = board.wire
        for i in range(size):
            wire[i] = encoder.wire[i]
        whole = source.below(4) == 0
        if whole:
            counts[0] += 1
        else:
            size = mutate(source, wire, size)
        board.size = size
        board.at = 0
        before = counts[1]
        polls = 0
        while polls < 30 or board.at < size:
            link.poll()
            polls += 1
        if not whole and counts[1] != before:
            counts[2] += 1
    heap_unlock()


def main():
    board = Fed()
    loop = build(board)
    link = loop.link
    counts = [0, 0, 0]
    handle = link._handle

    def counted(frame, end):
        counts[1] += 1
        handle(frame, end)
        link.wish = 0

    link._handle = counted
    link.budget = 64
    count = int(sys.argv[2])
    tools = (bytearray(40), Crc32(), Encoder(40))
    source = Source(int(sys.argv[3]))
    begin = time.ticks_ms()
    gc.collect()
    before = gc.mem_alloc()
    run(board, link, source, count, counts, tools)
    gc.collect()
    grown = gc.mem_alloc() - before
    took_s = time.ticks_diff(time.ticks_ms(), begin) / 1000
    print(count, counts[0], counts[1], counts[2], grown, took_s)


main()
