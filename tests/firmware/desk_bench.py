"""A loop on a board of plain Python, with the far end of its link in the test's hands."""

from struct import pack
from zlib import crc32

from cobs import cobs

from oxlatch import protocol
from oxlatch.settings import RECORD_BYTES, Settings
from oxlatch.settings import pack as pack_settings
from oxlatch.startup import build
from oxlatch.store import Store, lockout_read
from oxlatch.vocabulary import RAW_BUS_MV, RAW_PULSE_AGE_MS, RAW_SWITCHES, RAW_THROTTLE_MV, SW_DETENT_NC


class Slots(dict):
    """A store backend in memory. `cut_at` stops the write of that many bytes from now on."""

    def __init__(self, slots=()):
        super().__init__(slots)
        self.cut_at = None

    def read(self, name):
        return self.get(name)

    def write(self, name, data):
        if self.cut_at is None:
            self[name] = bytes(data)
            return
        old = self.get(name, b"")
        done = min(self.cut_at, len(data))
        self[name] = bytes(data[:done]) + (old[done:] if self.in_place else b"")
        self.cut_at -= done
        if done < len(data):
            raise PowerCut

    in_place = False


class PowerCut(Exception):
    """Power went while a slot was written."""


class WaitsForHost(Exception):
    """A stepped loop has done all it was sent."""


class FakeBoard:
    """Pins as lists of what was done to them; a clock the test moves."""

    name = "fake"

    def __init__(self, backend=None):
        self.backend = Slots() if backend is None else backend
        self.store = Store(self.backend)
        self.switches = SW_DETENT_NC
        self.now_us = 0
        self.calls = []
        self.inbox = bytearray()
        self.outbox = bytearray()
        self.takes = 1 << 30
        self.ox = self.fuel = self.bits = 0
        self.work_us = 100
        self.idle_n = 0

    def outputs_off(self):
        self.ox = self.fuel = self.bits = 0
        self.calls.append("off")

    def sample(self, raw):
        self.now_us += self.work_us
        for i in range(len(raw)):
            raw[i] = 0
        raw[RAW_SWITCHES] = self.switches
        raw[RAW_PULSE_AGE_MS] = 10000
        raw[RAW_THROTTLE_MV] = 600
        raw[RAW_BUS_MV] = 12600

    def drive(self, ox, fuel, bits):
        self.ox, self.fuel, self.bits = ox, fuel, bits
        self.calls.append("drive")

    def kick(self):
        self.calls.append("kick")

    def feed(self):
        self.calls.append("feed")

    def lamps(self, word, text):
        self.lamp_word = word

    def ticks_us(self):
        return self.now_us & 0x3FFFFFFF

    def idle(self, left_us):
        self.now_us += left_us
        self.idle_n = 0 if left_us or self.inbox else self.idle_n + 1
        if self.idle_n > 20:
            self.idle_n = 0
            raise WaitsForHost

    def interruptible(self, flag):
        self.calls.append("interruptible" if flag else "not interruptible")

    def use_lockout_memory(self, fitted):
        self.memory_fitted = fitted

    def reset_by_watchdog(self):
        return False

    def lockout_read(self):
        return lockout_read(self.store.lockout)

    def lockout_write(self, word):
        self.calls.append(("lockout", word))
        self.store.lockout.save(bytes((word,)))

    def link_read(self, buffer):
        count = min(len(buffer), len(self.inbox))
        buffer[:count] = self.inbox[:count]
        del self.inbox[:count]
        return count

    def link_write(self, buffer, count):
        taken = min(count, self.takes)
        self.takes -= taken
        self.outbox += buffer[:taken]
        return taken


def record(settings=None):
    """A packed settings record."""
    buffer = bytearray(RECORD_BYTES)
    pack_settings(settings or Settings(), buffer)
    return bytes(buffer)


def ready_board():
    """A board whose store holds default settings and no lockout."""
    board = FakeBoard()
    assert board.store.settings.save(record())
    assert board.store.lockout.save(b"\0")
    board.store = Store(board.backend)
    return board


def running(board=None, strap=0):
    """A loop that has left WAKE, on a ready board."""
    board = board or ready_board()
    board.switches |= strap
    loop = build(board)
    loop.restart_clock()
    ticks(loop, loop.controller.settings.wake_ticks + 2)
    return loop


def ticks(loop, count):
    """Run ticks, with the pauses the loop would make between them."""
    for _ in range(count):
        try:
            if loop.wait():
                loop.tick()
        except WaitsForHost:
            return
        if loop.rest_work.wanted():
            loop.rest_work.do()
            loop.restart_clock()


def frame(kind, payload=b"", seq=0, version=protocol.VERSION):
    """One frame as it goes over the wire, made with general libraries only."""
    body = bytes((version, kind)) + pack("<H", seq) + payload
    return cobs.encode(body + pack("<I", crc32(body))) + b"\0"


def answers(board, torn=0):
    """Every whole frame the board has sent: (kind, sequence, payload), checked with general libraries.

    Fails on anything between delimiters that is no frame, unless `torn` says that many are expected.
    """
    *whole, rest = bytes(board.outbox).split(b"\0")
    board.outbox[:] = rest
    found = []
    for wire in filter(None, whole):
        try:
            body = cobs.decode(wire)
        except cobs.DecodeError:
            body = b""
        if len(body) < 8 or crc32(body[:-4]) != int.from_bytes(body[-4:], "little"):
            torn -= 1
            continue
        assert body[0] == protocol.VERSION
        found.append((body[1], int.from_bytes(body[2:4], "little"), body[4:-4]))
    assert torn == 0
    return found


def ask(loop, kind, payload=b"", seq=7, wait_ticks=400):
    """Send one request, tick until it is answered, return (kind, payload) of the answer."""
    loop.board.inbox += frame(kind, payload, seq)
    for _ in range(wait_ticks):
        ticks(loop, 1)
        for got, number, body in answers(loop.board):
            if number == seq and got not in (protocol.TELEMETRY, protocol.REPORT):
                return got, body
    raise AssertionError("no answer")
