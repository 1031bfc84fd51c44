"""What must outlive a reset: settings, lockout word, bottle's content, journal; each in two slots.

A slot is: b"OXT", version, sequence (u32), length (u16), payload, CRC-32 over everything before it. A save
writes the slot that is not in force, reads it back, and only then (for all but the journal) copies it
over the other. Cut at any byte, one slot is whole: the new one or the one that was in force. Once a save
has finished, both slots say the same, so a slot that rots later cannot bring back older settings.

Wear: settings are written when a host writes them; the lockout word without its own memory twice an
armed session; the bottle's content and the journal, 13 kB, once a session. Flash sectors of the kind fitted
to the boards bear 100,000 erases (from memory), and the file system spreads them.
"""

import os
from binascii import crc32

MAGIC = b"OXT"
VERSION = 1
HEAD_BYTES = 10
EXTRA_BYTES = HEAD_BYTES + 4
PIECE_BYTES = 1024

LOCKOUT_WORDS = (0, 1, 3, 4)
UNREADABLE = -1


class Files:
    """Slots as files below a folder. `write` returns once the bytes are in the file system."""

    def __init__(self, folder="", between=None):
        """`between` is called after each piece written: a sector erase takes a good part of a watchdog."""
        self.folder = folder
        self.between = between

    def read(self, name):
        """The bytes of a slot, or None when there is no such slot."""
        try:
            with open(self.folder + name, "rb") as stream:
                return stream.read()
        except OSError:
            return None

    def write(self, name, data):
        """Replace a slot. Raises OSError when the bytes do not fit or cannot be written."""
        with open(self.folder + name, "wb") as stream:
            for at in range(0, len(data), PIECE_BYTES):
                stream.write(data[at : at + PIECE_BYTES])
                if self.between:
                    self.between()
        if hasattr(os, "sync"):
            os.sync()


def slot_bytes(seq, payload):
    """One slot as it is written."""
    size = len(payload)
    out = bytearray(size + EXTRA_BYTES)
    out[0:3] = MAGIC
    out[3] = VERSION
    for i in range(4):
        out[4 + i] = (seq >> (8 * i)) & 255
    out[8] = size & 255
    out[9] = size >> 8
    out[HEAD_BYTES : HEAD_BYTES + size] = payload
    crc = crc32(out[:-4])
    for i in range(4):
        out[HEAD_BYTES + size + i] = (crc >> (8 * i)) & 255
    return bytes(out)


def slot_payload(data):
    """(sequence, payload) of a whole slot, or None."""
    if data is None or len(data) < EXTRA_BYTES or data[0:3] != MAGIC or data[3] != VERSION:
        return None
    if len(data) != EXTRA_BYTES + (data[8] | data[9] << 8):
        return None
    if crc32(data[:-4]) != _u32(data, len(data) - 4):
        return None
    return _u32(data, 4), data[HEAD_BYTES:-4]


def _u32(data, at):
    return data[at] | data[at + 1] << 8 | data[at + 2] << 16 | data[at + 3] << 24


class TwoSlots:
    """One payload kept in two slots of a backend. `mirrored` copies each save to both."""

    def __init__(self, backend, name, mirrored):
        self.backend = backend
        self.names = (name + ".0", name + ".1")
        self.mirrored = mirrored
        self.repair_due = False
        self._seq = 0
        self._in_force = 1

    def load(self):
        """The payload in force, or None when neither slot is whole."""
        found = [slot_payload(self.backend.read(name)) for name in self.names]
        first, second = found
        if first is None and second is None:
            return None
        self._in_force = 0 if second is None or (first is not None and first[0] >= second[0]) else 1
        chosen = found[self._in_force]
        self._seq = chosen[0]
        self.repair_due = self.mirrored and first != second
        return chosen[1]

    def save(self, payload):
        """Keep a payload; True once it is read back whole. False leaves the one in force in force."""
        target = 1 - self._in_force
        data = slot_bytes(self._seq + 1, payload)
        if not self._put(self.names[target], data):
            return False
        self._seq += 1
        self._in_force = target
        self.repair_due = self.mirrored and not self._put(self.names[1 - target], data)
        return True

    def repair(self):
        """Copy the slot in force over the other, after a load found them different."""
        data = self.backend.read(self.names[self._in_force])
        if slot_payload(data) is not None:
            self.repair_due = not self._put(self.names[1 - self._in_force], data)

    def _put(self, name, data):
        try:
            self.backend.write(name, data)
        except OSError:
            return False
        return self.backend.read(name) == data


class Store:
    """Everything kept across resets on one backend. Allocates: start-up and rest only."""

    def __init__(self, backend):
        self.settings = TwoSlots(backend, "settings", True)
        self.journal = TwoSlots(backend, "journal", False)
        self.lockout = TwoSlots(backend, "lockout", True)
        self.bottle = TwoSlots(backend, "bottle", True)


def lockout_read(slots):
    """The lockout word kept in two slots; UNREADABLE when it is missing or is no lockout word."""
    payload = slots.load()
    if payload is None or len(payload) != 1 or payload[0] not in LOCKOUT_WORDS:
        return UNREADABLE
    return payload[0]


def lockout_pattern(word, buffer):
    """Eight bytes that say the word four times, twice inverted, for memory written within a tick."""
    for i in range(0, 8, 2):
        buffer[i] = word
        buffer[i + 1] = word ^ 255


def lockout_word(buffer):
    """The word of eight such bytes; UNREADABLE when they disagree."""
    word = buffer[0]
    for i in range(0, 8, 2):
        if buffer[i] != word or buffer[i + 1] != word ^ 255:
            return UNREADABLE
    if word not in LOCKOUT_WORDS:
        return UNREADABLE
    return word
