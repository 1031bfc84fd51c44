"""What happened, in a ring of fixed records: kept in memory while armed, stored only at rest.

A record is written in the tick in which the state, an output, a debounced input, a reason or the first
cause changed, and once a second while anything flows. The first cause of a trip is kept apart, with the
raw samples of its tick, until the next one. When the ring is full the oldest record goes; records that
went before they were stored are counted.
"""

from struct import calcsize, pack_into

from oxlatch.vocabulary import REST, SERVICE, WAKE

# seq, tick, kind, state, reaction, latch, ox, fuel, bits, ask_ox, ask_fuel, ask_bits, switches, proof,
# text, why 0..3, cause 0..1, raw samples
RECORD_FORMAT = "<II10BHBxh4I2I22H"
RECORD_BYTES = calcsize(RECORD_FORMAT)
RECORDS = 128

EVENT_BOOT = 1 << 0
EVENT_STATE = 1 << 1
EVENT_OUTPUT = 1 << 2
EVENT_INPUT = 1 << 3
EVENT_REASON = 1 << 4
EVENT_CAUSE = 1 << 5
EVENT_SAMPLE = 1 << 6
EVENT_INJECTED = 1 << 7  # beside any of the others: samples came over the link, not from the pins
EVENT_NAMES = ("boot", "state", "output", "input", "reason", "cause", "sample", "injected")

SAMPLE_TICKS = 200


class Journal:
    """The ring. `seq` numbers the next record; records `oldest()` to seq - 1 are held."""

    def __init__(self):
        self.ring = bytearray(RECORDS * RECORD_BYTES)
        self.first_cause = bytearray(RECORD_BYTES)
        self.seq = 0
        self.held = 0
        self.stored_seq = 0  # records before this one are in the store
        self.dropped = 0
        self.mark = 0  # EVENT_INJECTED while samples are injected
        self.worth_storing = 0  # 1: something happened outside WAKE, REST and SERVICE since the last store
        self._state = -1
        self._out = 0
        self._inputs = 0
        self._extras = 0
        self._why0 = 0
        self._why1 = 0
        self._why2 = 0
        self._why3 = 0
        self._cause0 = 0
        self._cause1 = 0
        self._sample_n = 0

    def oldest(self):
        """Sequence number of the oldest record held."""
        return self.seq - self.held

    def offset(self, seq):
        """Where record `seq` begins in the ring."""
        return (seq % RECORDS) * RECORD_BYTES

    def unbroken_after(self, seq):
        """How many records from `seq` on lie in one piece before the ring wraps."""
        return RECORDS - seq % RECORDS

    def watch(self, tick, controller, raw):
        """Compare one finished tick with the one before, note what changed and return it as EVENT_* bits."""
        core = controller.core
        out = controller.out
        sense = controller.sense
        event = 0
        if core.state != self._state:
            event = EVENT_STATE
            self._state = core.state
        driven = out.ox | out.fuel << 4 | out.bits << 8
        if driven != self._out:
            event |= EVENT_OUTPUT
            self._out = driven
        inputs = sense.switches & 0xFFF | sense.proof << 12
        extras = controller.verdicts.extras
        if inputs != self._inputs or extras != self._extras:
            event |= EVENT_INPUT
            self._inputs = inputs
            self._extras = extras
        if (
            core.why0 != self._why0
            or core.why1 != self._why1
            or core.why2 != self._why2
            or core.why3 != self._why3
        ):
            event |= EVENT_REASON
            self._why0 = core.why0
            self._why1 = core.why1
            self._why2 = core.why2
            self._why3 = core.why3
        if core.cause0 != self._cause0 or core.cause1 != self._cause1:
            event |= EVENT_CAUSE
            self._cause0 = core.cause0
            self._cause1 = core.cause1
        if driven:
            self._sample_n += 1
            if self._sample_n >= SAMPLE_TICKS:
                event |= EVENT_SAMPLE
        if event:
            if core.state != REST and core.state != WAKE and core.state != SERVICE:
                self.worth_storing = 1
            self.note(event, tick, controller, raw)
        return event

    def note(self, event, tick, controller, raw):
        """Write one record. Allocates nothing."""
        self._sample_n = 0
        at = self.offset(self.seq)
        if self.held == RECORDS:
            if self.seq - RECORDS >= self.stored_seq:
                self.dropped += 1
        else:
            self.held += 1
        event |= self.mark
        self._write(self.ring, at, event, tick, controller, raw)
        if event & EVENT_CAUSE and (self._cause0 or self._cause1):
            self._write(self.first_cause, 0, event, tick, controller, raw)
        self.seq += 1

    def _write(self, buffer, at, event, tick, controller, raw):
        core = controller.core
        out = controller.out
        sense = controller.sense
        pack_into(
            RECORD_FORMAT, buffer, at,
            self.seq, tick, event, core.state, core.reaction, core.latch, out.ox, out.fuel, out.bits,
            core.ask_ox, core.ask_fuel, core.ask_bits, sense.switches & 0xFFF, sense.proof, out.text,
            core.why0, core.why1, core.why2, core.why3, core.cause0, core.cause1,
            raw[0], raw[1], raw[2], raw[3], raw[4], raw[5], raw[6], raw[7], raw[8], raw[9], raw[10], raw[11],
            raw[12], raw[13], raw[14], raw[15], raw[16], raw[17], raw[18], raw[19], raw[20], raw[21],
        )  # fmt: skip

    def image(self):
        """The held records, oldest first, as bytes for the store. Allocates; at rest only."""
        out = bytearray()
        for seq in range(self.oldest(), self.seq):
            at = self.offset(seq)
            out += self.ring[at : at + RECORD_BYTES]
        return bytes(out)

    def mark_stored(self):
        """Everything held now is in the store."""
        self.stored_seq = self.seq
        self.worth_storing = 0

    def restore(self, image):
        """Take back what `image` gave before a reset; numbers go on from there. At start-up only."""
        count = len(image) // RECORD_BYTES
        if count == 0 or count > RECORDS or len(image) != count * RECORD_BYTES:
            return
        first = image[0] | image[1] << 8 | image[2] << 16 | image[3] << 24
        for i in range(count):
            at = self.offset(first + i)
            self.ring[at : at + RECORD_BYTES] = image[i * RECORD_BYTES : (i + 1) * RECORD_BYTES]
        self.seq = first + count
        self.held = count
        self.stored_seq = self.seq
