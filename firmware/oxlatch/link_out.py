"""The sending half of the link: one frame at a time, encoded and handed over in bounded slices."""

from struct import pack_into

from oxlatch import protocol as p
from oxlatch.cobs import Encoder
from oxlatch.crc import Crc32

PIECE_BYTES = 64

_HEAD = 1
_BODY = 2
_WIRE = 3


class Sender:
    """`busy` while a frame is on its way. A frame is what stands in `head`, then a body from elsewhere."""

    def __init__(self, board, journal):
        self.board = board
        self.journal = journal
        self.head = bytearray(p.FRAME_MAX)
        self.busy = 0  # 0, or which part of the frame is in hand
        self.body_seq = -1  # first journal record of the body, -1 when it is none
        self._encoder = Encoder(p.FRAME_MAX)
        self._crc = Crc32()
        self._piece = bytearray(PIECE_BYTES)
        self._head_n = 0
        self._at = 0
        self._body = self.head
        self._body_at = 0
        self._body_end = 0

    def set_body(self, source, start, end):
        """Let source[start:end] follow the head of the next frame; it is read while the frame is encoded."""
        self._body = source
        self._body_at = start
        self._body_end = end

    def send(self, kind, seq, size):
        """Begin a frame: `size` payload bytes already in `head`, then the body if one is set."""
        head = self.head
        head[0] = p.VERSION
        head[1] = kind
        head[2] = seq & 255
        head[3] = seq >> 8
        self._head_n = p.HEADER_BYTES + size
        self._at = 0
        self.busy = _HEAD
        self._crc.reset()
        self._encoder.begin()

    def abandon(self):
        """Forget the frame in hand; what is on the line already, the next frame's first delimiter ends."""
        self.busy = 0
        self._no_body()

    def slice(self, budget):
        """Encode or hand over at most `budget` bytes; returns 1 when the frame had to be dropped."""
        if self.busy == _HEAD:
            self._at = self._encode(self.head, self._at, self._head_n, budget)
            if self._at == self._head_n:
                self._at = self._body_at
                self.busy = _BODY
        elif self.busy == _BODY:
            self._at = self._encode(self._body, self._at, self._body_end, budget)
            if self._at == self._body_end:
                return self._finish()
        else:
            self._hand_over(budget)
        return 0

    def _encode(self, source, start, end, budget):
        stop = start + budget
        if stop > end:
            stop = end
        self._crc.feed(source, start, stop)
        self._encoder.take(source, start, stop)
        return stop

    def _finish(self):
        """Close the frame, unless the ring has overwritten the records it was made from."""
        stale = 0 <= self.body_seq < self.journal.oldest()
        self._no_body()
        if stale:
            self.busy = 0
            return 1
        self._crc.write(self.head, 0)
        self._encoder.take(self.head, 0, p.CRC_BYTES)
        self._encoder.finish()
        self._at = 0
        self.busy = _WIRE
        return 0

    def _no_body(self):
        self._body_at = 0
        self._body_end = 0
        self.body_seq = -1

    def _hand_over(self, budget):
        wire = self._encoder.wire
        piece = self._piece
        at = self._at
        count = self._encoder.length - at
        if count > budget:
            count = budget
        for i in range(count):
            piece[i] = wire[at + i]
        self._at = at + self.board.link_write(piece, count)
        if self._at == self._encoder.length:
            self.busy = 0


def write_telemetry(buffer, at, link):
    """Write a telemetry payload of what `link` sees at buffer[at]."""
    core = link.controller.core
    out = link.controller.out
    timing = link.timing
    raw = link.raw
    pack_into(
        p.TELEMETRY_FORMAT, buffer, at,
        timing.tick, core.state, core.reaction, core.latch, out.ox, out.fuel, out.bits, core.push, link.strap,
        out.text, out.lamps, core.why0, core.why1, core.why2, core.why3, core.cause0, core.cause1,
        core.purge_valid, core.arm_left, core.run_n, core.budget, timing.work_us & 0xFFFF, timing.worst_us & 0xFFFF,
        timing.late & 0xFFFF, timing.pauses & 0xFFFF, link.dropped & 0xFFFF, link.broken & 0xFFFF,
        raw[0], raw[1], raw[2], raw[3], raw[4], raw[5], raw[6], raw[7], raw[8], raw[9], raw[10], raw[11],
        raw[12], raw[13], raw[14], raw[15], raw[16], raw[17], raw[18], raw[19], raw[20], raw[21],
    )  # fmt: skip


def write_report(buffer, at, tick, link):
    """Write a report payload of an injected tick at buffer[at]."""
    core = link.controller.core
    out = link.controller.out
    pack_into(
        p.REPORT_FORMAT, buffer, at,
        tick, core.state, core.reaction, core.latch, out.ox, out.fuel, out.bits, out.text, out.lamps,
        core.why0, core.why1, core.why2, core.why3, core.cause0, core.cause1, link.missed & 0xFFFF,
    )  # fmt: skip
