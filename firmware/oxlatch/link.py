"""The serial link: frames in, frames out, a bounded slice of work each time it is polled.

`poll` is called once per tick after the outputs are driven. It never waits, never allocates and never
raises: bytes that make no frame are counted, frames that find no room are dropped and counted. The link
decides nothing: what it is asked to do beyond reading it leaves in `wish` for the loop, and injected
samples in a queue; whether those are ever used is the loop's decision, by the strap.
"""

from struct import pack_into

from oxlatch import protocol as p
from oxlatch.cobs import BROKEN, MORE, Decoder
from oxlatch.controller import STATE_WORDS
from oxlatch.crc import Crc32
from oxlatch.journal import RECORD_BYTES as JOURNAL_BYTES
from oxlatch.link_out import Sender, write_report, write_telemetry
from oxlatch.settings import RECORD_BYTES
from oxlatch.vocabulary import RAW_COUNT, REST, SERVICE

CHUNK_BYTES = 64
TICK_BYTES = 8  # bytes decoded or encoded per poll
REST_BYTES = 32  # the same at rest, where a tick has less to do
SESSION_TICKS = 400  # a host not heard for this long is gone
BENCH_ROUNDS = 4  # slices taken in per poll while injecting: more than a frame a tick, to catch up
QUEUE = 8  # injected ticks taken in ahead of their use
JOURNAL_HEAD_BYTES = 13
JOURNAL_COUNT = (p.PAYLOAD_MAX - JOURNAL_HEAD_BYTES) // JOURNAL_BYTES  # records of one answer
STEP_HEAD_BYTES = 4  # the mask
REPORTS = 15  # waiting to be told; one more slot holds the one being sent
REPORT_ROOM = 48

WISH_NONE = 0
WISH_KEEP_SETTINGS = 1
WISH_RESTART = 2
WISH_MAINTENANCE = 3
WISH_BEGIN = 4


class Timing:
    """What the loop measured; told by the link."""

    def __init__(self):
        self.tick = 0
        self.work_us = 0
        self.worst_us = 0
        self.late = 0
        self.pauses = 0


class Link:
    """One host at the far end. Made at start-up; `tick` and `poll` are all that runs in a tick."""

    def __init__(self, board, controller, raw, journal, timing, identity, record):
        """`identity` and `record` are the bytes told for READ; `raw` is the list the loop samples into."""
        self.board = board
        self.controller = controller
        self.raw = raw
        self.journal = journal
        self.timing = timing
        self.strap = 0
        self.service = 0
        self.wish = WISH_NONE
        self.inject = p.INJECT_NONE  # mode wanted by BEGIN
        self.with_staged = 0  # 1: with the settings that were put
        self.steps = 0  # injected ticks taken in and not yet used
        self.missed = 0  # live injected ticks that did not come in time
        self.loaded = [0] * STATE_WORDS
        self.staged = bytearray(RECORD_BYTES)
        self.budget = TICK_BYTES
        self.quiet_n = SESSION_TICKS
        self.dropped = 0
        self.broken = 0
        self._queue = [[0] * RAW_COUNT for _ in range(QUEUE)]
        self._next_step = 0  # the tick due next
        self._texts = (identity, record, journal.first_cause)
        self._period = 0
        self._period_n = 0
        self._chunk = bytearray(CHUNK_BYTES)
        self._chunk_at = 0
        self._chunk_end = 0
        self._decoder = Decoder(p.FRAME_MAX)
        self._held = 0  # 1: the decoder holds a whole frame that has not been handled
        self._turn = 1  # 1: sending comes first if both wait
        self._crc_in = Crc32()
        self._sender = Sender(board, journal)
        self._out_seq = 0
        self._reply_kind = 0
        self._reply_seq = 0
        self._reports = bytearray((REPORTS + 1) * REPORT_ROOM)
        self._report_first = 0
        self.reports = 0

    # --- once per tick ---------------------------------------------------------------------------
    def tick(self):
        """Let a tick's time pass for the session and for telemetry."""
        if self.quiet_n < SESSION_TICKS:
            self.quiet_n += 1
            if self.quiet_n == SESSION_TICKS:
                self._end_session()
        if self._period_n < self._period:
            self._period_n += 1

    def poll(self):
        """One bounded slice: send or take in, by turns when both wait. A bench that injects does both."""
        if self._something_to_send() and (self._turn or not self._something_came()):
            self._turn = 0
            if self._sender.busy:
                self.dropped += self._sender.slice(self.budget)
            elif self.reports:
                self._send_report()
            else:
                self._send_telemetry()
            if self.inject == p.INJECT_NONE:
                return
        self._turn = 1
        rounds = 1 if self.inject == p.INJECT_NONE else BENCH_ROUNDS
        while rounds and self._something_came():
            self._receive_slice()
            rounds -= 1

    def _something_to_send(self):
        return self._sender.busy or self.reports or (self._period and self._period_n >= self._period)

    def _something_came(self):
        """Whether there are bytes to decode and nothing that must be done before them."""
        if self.wish != WISH_NONE or self.steps == QUEUE:
            return 0
        if self._held:
            return not self._sender.busy
        if self._chunk_at == self._chunk_end:
            self._chunk_at = 0
            self._chunk_end = self.board.link_read(self._chunk)
        return self._chunk_at < self._chunk_end

    def _end_session(self):
        self._period = 0
        self.service = 0
        if self._sender.busy:
            self._sender.abandon()
            self.dropped += 1
        self.dropped += self.reports
        self.reports = 0

    # --- in --------------------------------------------------------------------------------------
    def _receive_slice(self):
        """Decode at most `budget` bytes, or handle the frame they made; one that wants an answer waits for the line.

        A bench that injects does both at once, to keep up with a frame a tick.
        """
        decoder = self._decoder
        stop = self._chunk_at + self.budget
        if stop > self._chunk_end:
            stop = self._chunk_end
        if not self._held:
            if decoder.state != MORE:
                self._crc_in.reset()
                had = 0
            else:
                had = decoder.length
            self._chunk_at = decoder.take(self._chunk, self._chunk_at, stop)
            self._crc_in.feed(decoder.frame, had, decoder.length)
            if decoder.state == MORE:
                return
            if decoder.state == BROKEN or decoder.length < p.FRAME_MIN or not self._crc_in.ended_well():
                self.broken += 1
                return
            self._held = 1
            if self.inject == p.INJECT_NONE:
                return
        if self._sender.busy and decoder.frame[1] != p.STEP:
            return
        self._held = 0
        self._handle(decoder.frame, decoder.length - p.CRC_BYTES)

    def _handle(self, frame, end):
        """Answer one whole frame; frame[4:end] is its payload."""
        kind = frame[1]
        self._reply_kind = kind
        self._reply_seq = frame[2] | frame[3] << 8
        if frame[0] != p.VERSION:
            self.broken += 1
            return
        self.quiet_n = 0
        if kind < p.PUT_SETTINGS:
            code = self._handle_read(kind, frame, end)
        elif kind < p.LOAD_STATE:
            code = self._handle_write(kind, frame, end)
        elif self.strap:
            code = self._handle_bench(kind, frame, end)
        else:
            code = p.NO_STRAP
        if code:
            self.refuse(code)

    def _handle_read(self, kind, frame, end):
        if kind == p.HELLO:
            if end != p.HEADER_BYTES:
                return p.BAD_LENGTH
            self._reply(0)
        elif kind == p.STREAM:
            if end != p.HEADER_BYTES + 2:
                return p.BAD_LENGTH
            self._period = frame[4] | frame[5] << 8
            self._period_n = 0
            self._reply(0)
        elif kind == p.READ:
            if end != p.HEADER_BYTES + 4:
                return p.BAD_LENGTH
            return self._tell_text(frame[4], frame[6] | frame[7] << 8)
        elif kind == p.JOURNAL:
            if end != p.HEADER_BYTES + 4 or frame[7] > 63:
                return p.BAD_LENGTH
            self._tell_journal(frame[4] | frame[5] << 8 | frame[6] << 16 | frame[7] << 24)
        else:
            return p.UNKNOWN_KIND
        return 0

    def _tell_text(self, which, offset):
        if which >= len(self._texts):
            return p.BAD_VALUE
        text = self._texts[which]
        total = len(text)
        if offset > total:
            return p.BAD_VALUE
        stop = offset + p.READ_MAX
        if stop > total:
            stop = total
        pack_into("<BBHH", self._sender.head, p.HEADER_BYTES, which, 0, total, offset)
        self._sender.set_body(text, offset, stop)
        self._reply(6)
        return 0

    def _tell_journal(self, first):
        """A few records, and how many there are; the ring itself is the source."""
        journal = self.journal
        if first < journal.oldest():
            first = journal.oldest()
        count = journal.seq - first
        if count < 0:
            count = 0
        if count > journal.unbroken_after(first):
            count = journal.unbroken_after(first)
        if count > JOURNAL_COUNT:
            count = JOURNAL_COUNT
        pack_into("<IIIB", self._sender.head, p.HEADER_BYTES, first, journal.seq, journal.dropped, count)
        if count:
            at = journal.offset(first)
            self._sender.set_body(journal.ring, at, at + count * JOURNAL_BYTES)
            self._sender.body_seq = first
        self._reply(JOURNAL_HEAD_BYTES)

    def _handle_write(self, kind, frame, end):
        state = self.controller.core.state
        size = end - p.HEADER_BYTES
        if kind == p.ASK_SERVICE:
            if size != 1 or frame[4] > p.SERVICE_SIGN_OFF:
                return p.BAD_VALUE
            self.service = frame[4]
            self._reply(0)
            return 0
        if state != REST and state != SERVICE:
            return p.NOT_AT_REST
        if kind == p.PUT_SETTINGS:
            return self._put_settings(frame, size)
        if kind == p.KEEP_SETTINGS and size == 0:
            self.wish = WISH_KEEP_SETTINGS
        elif kind == p.RESTART and size == 1 and frame[4] <= p.RESTART_MAINTENANCE:
            self.wish = WISH_MAINTENANCE if frame[4] else WISH_RESTART
            self._reply(0)
        elif kind == p.KEEP_SETTINGS or kind == p.RESTART:
            return p.BAD_LENGTH
        else:
            return p.UNKNOWN_KIND
        return 0

    def _put_settings(self, frame, size):
        count = size - 2
        if count < 1 or count > p.PUT_MAX:
            return p.BAD_LENGTH
        offset = frame[4] | frame[5] << 8
        if offset + count > RECORD_BYTES:
            return p.BAD_VALUE
        for i in range(count):
            self.staged[offset + i] = frame[6 + i]
        self._reply(0)
        return 0

    # --- bench injection -------------------------------------------------------------------------
    def _handle_bench(self, kind, frame, end):
        size = end - p.HEADER_BYTES
        if kind == p.STEP:
            return self._take_step(frame, size)
        if kind == p.LOAD_STATE:
            return self._load_state(frame, size)
        if kind == p.BEGIN:
            if size != 2 or frame[4] > p.INJECT_LIVE or frame[5] > 1:
                return p.BAD_VALUE
            self.inject = frame[4]
            self.with_staged = frame[5]
            self._next_step = 0
            self.steps = 0
            self.missed = 0
            for i in range(RAW_COUNT):
                self._queue[QUEUE - 1][i] = 0  # what the first delta is added to
            self.wish = WISH_BEGIN
            return 0
        return p.UNKNOWN_KIND

    def _load_state(self, frame, size):
        count = (size - 2) >> 2
        if size < 6 or size != 2 + 4 * count or count > p.LOAD_MAX:
            return p.BAD_LENGTH
        offset = frame[4] | frame[5] << 8
        if offset + count > len(self.loaded):
            return p.BAD_VALUE
        at = 6
        for i in range(count):
            high = frame[at + 3]
            if high > 127:
                high -= 256
            if not -64 <= high <= 63:
                return p.BAD_VALUE
            self.loaded[offset + i] = frame[at] | frame[at + 1] << 8 | frame[at + 2] << 16 | high << 24
            at += 4
        self._reply(0)
        return 0

    def _take_step(self, frame, size):
        """Queue the tick before with one delta applied; the sequence number is the tick, so a loss is noticed."""
        if self.inject == p.INJECT_NONE:
            return p.NOT_BEGUN
        if self._reply_seq != self._next_step & 0xFFFF:
            return p.OUT_OF_STEP
        if size < STEP_HEAD_BYTES or frame[7] > 63:
            return p.BAD_LENGTH
        before = self._queue[(self._next_step - 1) % QUEUE]
        after = self._queue[self._next_step % QUEUE]
        mask = frame[4] | frame[5] << 8 | frame[6] << 16 | frame[7] << 24
        at = p.HEADER_BYTES + STEP_HEAD_BYTES
        end = p.HEADER_BYTES + size
        for i in range(RAW_COUNT):
            if mask & 1:
                if at + 2 > end:
                    return p.BAD_LENGTH
                after[i] = frame[at] | frame[at + 1] << 8
                at += 2
            else:
                after[i] = before[i]
            mask >>= 1
        if at != end or mask:
            return p.BAD_LENGTH
        self._next_step += 1
        self.steps += 1
        return 0

    def take_injected(self, raw):
        """Copy the oldest queued tick into `raw`; only with `steps` above zero."""
        queued = self._queue[(self._next_step - self.steps) % QUEUE]
        for i in range(RAW_COUNT):
            raw[i] = queued[i]
        self.steps -= 1

    def reports_full(self):
        """Whether one more report would be lost."""
        return self.reports == REPORTS

    def report(self, tick):
        """Note what an injected tick did; told when the line is free."""
        if self.reports == REPORTS:
            self.dropped += 1
            return
        slot = (self._report_first + self.reports) % (REPORTS + 1)
        write_report(self._reports, slot * REPORT_ROOM, tick, self)
        self.reports += 1

    # --- out -------------------------------------------------------------------------------------
    def answer(self):
        """Confirm what `wish` asked for."""
        self._reply(0)

    def refuse(self, code):
        """Answer the request in hand with a refusal; one that finds the line busy is dropped."""
        sender = self._sender
        if sender.busy:
            self.dropped += 1
            return
        sender.head[p.HEADER_BYTES] = self._reply_kind
        sender.head[p.HEADER_BYTES + 1] = code
        sender.send(p.REFUSED, self._reply_seq, 2)

    def idle(self):
        """Whether everything written so far has been handed to the board."""
        return not self._sender.busy

    def _reply(self, size):
        self._sender.send(self._reply_kind | p.REPLY, self._reply_seq, size)

    def _send_unasked(self, kind, size):
        self._sender.send(kind, self._out_seq, size)
        self._out_seq = (self._out_seq + 1) & 0xFFFF

    def _send_report(self):
        slot = self._report_first
        self._report_first = (slot + 1) % (REPORTS + 1)
        self.reports -= 1
        at = slot * REPORT_ROOM
        self._sender.set_body(self._reports, at, at + p.REPORT_BYTES)
        self._send_unasked(p.REPORT, 0)

    def _send_telemetry(self):
        self._period_n = 0
        write_telemetry(self._sender.head, p.HEADER_BYTES, self)
        self._send_unasked(p.TELEMETRY, p.TELEMETRY_BYTES)
