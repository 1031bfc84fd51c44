"""Talking to a controller: requests with answers, telemetry, injection. Every error is a sentence."""

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields
from struct import calcsize, pack, unpack, unpack_from

from oxlatch import journal as firmware_journal
from oxlatch import protocol
from oxlatch.vocabulary import RAW_COUNT, SERVICE, WAKE
from oxlatch_tools.serial.frames import Frame, encode_frame, quiet_hello
from oxlatch_tools.serial.port import Line

ANSWER_S = 1.0
TRIES = 3
KEEP_ALIVE_S = 0.8
JOURNAL_HEAD = "<IIIB"


class LinkError(ValueError):
    """The controller does not answer as it should."""


class NoController(LinkError):
    """Nothing at the far end speaks the protocol."""


class Refused(LinkError):
    """The controller refuses a request. `code` is one of the protocol's refusals."""

    def __init__(self, kind: int, code: int) -> None:
        self.code = code
        reason = protocol.REFUSALS[code] if 0 < code < len(protocol.REFUSALS) else f"code {code}"
        super().__init__(f"the controller refuses: {reason}")


@dataclass(frozen=True)
class Telemetry:
    """One telemetry frame, in the controller's own numbers."""

    tick: int
    state: int
    reaction: int
    latch: int
    ox: int
    fuel: int
    bits: int
    push: int
    strap: int
    text: int
    lamps: int
    why: tuple[int, ...]
    cause: tuple[int, ...]
    purge_valid: int
    arm_left: int
    run_n: int
    budget: int
    work_us: int
    worst_us: int
    late: int
    pauses: int
    dropped: int
    broken: int
    raw: tuple[int, ...]


@dataclass(frozen=True)
class Report:
    """What one injected tick did."""

    tick: int
    state: int
    reaction: int
    latch: int
    ox: int
    fuel: int
    bits: int
    text: int
    lamps: int
    why: tuple[int, ...]
    cause: tuple[int, ...]
    missed: int


def telemetry_of(payload: bytes) -> Telemetry:
    """Read a telemetry payload."""
    got = unpack(protocol.TELEMETRY_FORMAT, payload)
    values = [*got[:11], got[11:15], got[15:17], *got[17:27], got[27:]]
    return Telemetry(**{field.name: value for field, value in zip(fields(Telemetry), values, strict=True)})


def report_of(payload: bytes) -> Report:
    """Read a report payload."""
    got = unpack(protocol.REPORT_FORMAT, payload)
    values = [*got[:9], got[9:13], got[13:15], got[15]]
    return Report(**{field.name: value for field, value in zip(fields(Report), values, strict=True)})


class Client:
    """One controller on one line."""

    def __init__(self, line: Line) -> None:
        self.line = line
        self._seq = 1
        self._spoke_s = 0.0
        self.on_other: Callable[[Frame], None] = lambda frame: None
        """Called with every frame that is no answer to a request."""

    def connect(self, wait_s: float = 2.0) -> None:
        """Find a controller at the far end. Raises NoController with what was found instead."""
        until = time.monotonic() + wait_s
        while time.monotonic() < until:
            if self._say_hello(0.3):
                self.line.reader.broken = 0
                return
        raise NoController(f"{self.line.name}: {describe_silence(self.line.reader.unframed())}")

    def _say_hello(self, wait_s: float) -> bool:
        self._seq, wire = quiet_hello(self._seq + 1)
        self._spoke_s = time.monotonic()
        self.line.send(wire)
        return self._answer(protocol.HELLO, self._seq, wait_s) is not None

    def _answer(self, kind: int, seq: int, wait_s: float) -> bytes | None:
        until = time.monotonic() + wait_s
        while (left_s := until - time.monotonic()) > 0:
            for frame in self.line.receive(min(left_s, 0.05)):
                if frame.seq == seq and frame.kind == kind | protocol.REPLY:
                    return frame.payload
                if frame.seq == seq and frame.kind == protocol.REFUSED and frame.payload[0] == kind:
                    raise Refused(kind, frame.payload[1])
                self.on_other(frame)
        return None

    def ask(self, kind: int, payload: bytes = b"", wait_s: float = ANSWER_S) -> bytes:
        """The answer to one request, asked up to three times. Raises Refused or LinkError."""
        for _ in range(TRIES):
            self.keep_alive()
            self._seq = (self._seq + 1) & 0xFFFF
            self._spoke_s = time.monotonic()
            self.line.send(encode_frame(kind, payload, self._seq))
            answer = self._answer(kind, self._seq, wait_s)
            if answer is not None:
                return answer
        raise LinkError(f"{self.line.name}: the controller stopped answering; was it reset or unplugged?")

    def keep_alive(self) -> None:
        """Keep the session open; the interrupt byte may only go out within one."""
        if time.monotonic() - self._spoke_s > KEEP_ALIVE_S:
            self._say_hello(0.3)

    # --- reading -----------------------------------------------------------------------------------
    def read_whole(self, which: int) -> bytes:
        """One of the controller's texts and records, whole."""
        got = b""
        while True:
            body = self.ask(protocol.READ, pack("<BBH", which, 0, len(got)))
            total = unpack_from("<H", body, 2)[0]
            got += body[6:]
            if len(got) >= total or len(body) == 6:
                return got

    def identity(self) -> dict[str, str]:
        """The start-up record by name."""
        lines = self.read_whole(protocol.READ_IDENTITY).decode("utf-8", "replace").split("\n")
        return dict(line.split("=", 1) for line in lines if "=" in line)

    def settings_record(self) -> bytes:
        """The packed settings in force."""
        return self.read_whole(protocol.READ_SETTINGS)

    def journal(self) -> tuple[list[bytes], int]:
        """Every record held, oldest first, and how many were lost before they could be stored."""
        records: list[bytes] = []
        first, size = 0, firmware_journal.RECORD_BYTES
        head = calcsize(JOURNAL_HEAD)
        while True:
            body = self.ask(protocol.JOURNAL, pack("<I", first))
            start, newest, dropped, count = unpack_from(JOURNAL_HEAD, body)
            records += [body[head + i * size : head + (i + 1) * size] for i in range(count)]
            first = start + count
            if first >= newest or count == 0:
                return records, dropped

    def stream(self, period_ticks: int) -> None:
        """Ask for telemetry every so many ticks; 0 stops it."""
        self.ask(protocol.STREAM, pack("<H", period_ticks))

    def telemetry(self, wait_s: float) -> Iterator[Telemetry]:
        """Telemetry that comes within the wait; keeps the session open."""
        self.keep_alive()
        for frame in self.line.receive(wait_s):
            if frame.kind == protocol.TELEMETRY and len(frame.payload) == protocol.TELEMETRY_BYTES:
                yield telemetry_of(frame.payload)

    def one_telemetry(self) -> Telemetry:
        """The next telemetry frame. Raises LinkError."""
        self.stream(20)
        until = time.monotonic() + 2.0
        while time.monotonic() < until:
            for told in self.telemetry(0.1):
                self.stream(0)
                return told
        raise LinkError(f"{self.line.name}: no telemetry comes")

    def settled(self, wait_s: float = 4.0) -> Telemetry:
        """Telemetry once the controller has left WAKE, or at the end of the wait."""
        until = time.monotonic() + wait_s
        told = self.one_telemetry()
        while told.state == WAKE and time.monotonic() < until:
            told = self.one_telemetry()
        return told

    # --- writing -----------------------------------------------------------------------------------
    def enter_service(self, wait_s: float = 8.0) -> Telemetry:
        """Ask for SERVICE and wait for it; the last telemetry says whether it was granted."""
        self.ask(protocol.ASK_SERVICE, bytes((protocol.SERVICE_ENTER,)))
        until = time.monotonic() + wait_s
        told = self.one_telemetry()
        while told.state != SERVICE and time.monotonic() < until:
            told = self.one_telemetry()
        return told

    def sign_off(self) -> None:
        """In SERVICE: maintenance signs off every latch and lockout."""
        self.ask(protocol.ASK_SERVICE, bytes((protocol.SERVICE_SIGN_OFF,)))

    def write_settings(self, record: bytes) -> None:
        """Put a record and keep it. Raises Refused; the old record then stays in force."""
        self.put_settings(record)
        self.ask(protocol.KEEP_SETTINGS, wait_s=4.0)

    def put_settings(self, record: bytes) -> None:
        """Put a record without keeping it."""
        for at in range(0, len(record), protocol.PUT_MAX):
            self.ask(protocol.PUT_SETTINGS, pack("<H", at) + record[at : at + protocol.PUT_MAX])

    def restart(self, maintenance: bool) -> None:
        """Reset the controller, into maintenance if asked."""
        mode = protocol.RESTART_MAINTENANCE if maintenance else protocol.RESTART_NORMAL
        self.ask(protocol.RESTART, bytes((mode,)))

    # --- injection ---------------------------------------------------------------------------------
    def load_state(self, words: Sequence[int]) -> None:
        """Put the controller's state words; BEGIN takes them."""
        for at in range(0, len(words), protocol.LOAD_MAX):
            part = words[at : at + protocol.LOAD_MAX]
            self.ask(protocol.LOAD_STATE, pack(f"<H{len(part)}i", at, *part))

    def begin(self, mode: int, with_put_settings: bool = False) -> None:
        """Begin injection in a mode, with the settings kept or those put; or go back to the pins."""
        self.ask(protocol.BEGIN, bytes((mode, int(with_put_settings))))


def step_frame(seq: int, raw: Sequence[int], before: Sequence[int]) -> bytes:
    """The wire bytes of one injected tick as a delta to the one before."""
    mask = 0
    values = []
    for i in range(RAW_COUNT):
        if raw[i] != before[i]:
            mask |= 1 << i
            values.append(raw[i])
    return encode_frame(protocol.STEP, pack(f"<I{len(values)}H", mask, *values), seq)


def describe_silence(unframed: bytes) -> str:
    """What is at the far end, judging by bytes that make no frame."""
    if b">>>" in unframed or b"MicroPython" in unframed or b"raw REPL" in unframed:
        return "a MicroPython prompt answers, and no controller firmware runs there; 'oxlatch flash' puts it on"
    if unframed:
        return (
            f"{len(unframed)} bytes came and none makes a frame: not a controller, or another baud rate "
            "(the controller's own port runs at 115200)"
        )
    return "nothing answers: no controller runs there, or it waits in maintenance"
