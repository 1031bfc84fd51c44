"""Replaying a recording into a bench controller over the link, stepped or live, and comparing tick by tick."""

import time
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

from oxlatch import protocol
from oxlatch.controller import STATE_WORDS
from oxlatch.settings import RECORD_BYTES, pack
from oxlatch.vocabulary import RAW_COUNT, RAW_SWITCHES, SW_DETENT_NO, TICK_MS
from oxlatch_sim.observation import Tick, reason_words
from oxlatch_sim.recording import Recording, RecordingError
from oxlatch_sim.replay import BEFORE, Difference, first_difference
from oxlatch_tools.serial.client import Client, LinkError, Refused, Report, report_of, step_frame
from oxlatch_tools.serial.frames import Frame

WINDOW = 64
"""Steps sent ahead of their reports; the bytes of all of them fit the line's buffers."""
AHEAD_TICKS = 20
"""Live steps sent ahead of their time, so that a host that is held up for a moment is not missed."""
BACKLOG_TICKS = 60
"""Live steps sent beyond the last one reported; a controller that runs slow holds the host back."""
STALL_S = 5.0

Progress = Callable[[int, int], None]


class ReplayRefused(ValueError):
    """The recording may not or cannot be replayed into this controller. The message says why."""


@dataclass
class Injected:
    """How far a replay into a controller went."""

    mode: str
    compared: int = 0
    seconds: float = 0.0
    difference: Difference | None = None
    releases: list[int] = field(default_factory=list)
    """Ticks from each opening of the detent contact to fuel off, the tick of the first open sample counted as one."""
    worst_us: int = 0
    """Longest tick since the controller's start, by its own clock."""
    problems: list[str] = field(default_factory=list)

    @property
    def same(self) -> bool:
        """Whether every tick compared was the same, and there was one."""
        return self.difference is None and self.compared > 0


def packed(settings: Any) -> bytes:
    """The record of the settings a recording carries."""
    buffer = bytearray(RECORD_BYTES)
    pack(settings, buffer)
    return bytes(buffer)


def check_match(client: Client, recording: Recording, anyway: bool) -> list[str]:
    """What sets the recording and the controller apart; raises ReplayRefused unless told to go on anyway."""
    told = client.settled()
    if told.strap != 1:
        raise ReplayRefused(
            f"{client.line.name}: the inject strap is not fitted on this controller, and without it no sample can be "
            "injected; fit it with the power off, valves disconnected and lamps in their place"
        )
    identity = client.identity()
    apart = []
    firmware = recording.header.get("firmware")
    if identity.get("firmware") != firmware:
        apart.append(f"the recording is of firmware {firmware}, the board runs {identity.get('firmware')}")
    if identity.get("installation") != recording.header.get("installation"):
        apart.append(
            f"the recording is of installation {recording.header.get('installation')}, "
            f"the board is set up for {identity.get('installation')}"
        )
    if int(identity.get("state_words", "0")) != STATE_WORDS:
        raise ReplayRefused(
            f"the board's controller has {identity.get('state_words')} state words, this one has "
            f"{STATE_WORDS}; put this firmware on it with 'oxlatch flash'"
        )
    if apart and not anyway:
        raise ReplayRefused("; ".join(apart) + ". --anyway replays it all the same")
    return apart


def flights(recording: Recording) -> Iterator[tuple[list[int], Iterator[Tick]]]:
    """The recording cut at each reset: state words to begin with, and the ticks up to the next reset."""
    ticks = recording.ticks()
    head = next(ticks, None)
    if head is None:
        raise RecordingError("has no tick")
    while head is not None:
        words = head.get("snapshot") or [0] * STATE_WORDS
        following: list[Tick | None] = [None]

        def until_reset(first: Tick, following: list[Tick | None] = following) -> Iterator[Tick]:
            yield first
            for tick in ticks:
                if "boot" in tick or "snapshot" in tick:
                    following[0] = tick
                    return
                yield tick

        yield words, until_reset(head)
        head = following[0]


def compare(tick: Tick, report: Report) -> tuple[str, Any, Any] | None:
    """The first thing a controller did otherwise than recorded: state, outputs, then reasons."""
    controller = SimpleNamespace(core=report, out=report)
    found = first_difference(tick, controller)
    if found:
        return found
    why = list(reason_words(*report.why))
    return ("why", tick["why"], why) if tick.get("why", why) != why else None


class Injector:
    """One replay over one client."""

    def __init__(self, client: Client, progress: Progress, record: bytes) -> None:
        """`record` holds the settings to fly with; those kept on the board are used when they are the same."""
        self.client = client
        self.other_settings = client.settings_record() != record
        if self.other_settings:
            client.put_settings(record)
        self.progress = progress
        self.reports: deque[tuple[float, Report]] = deque()
        self.refusal: int | None = None
        self.releases = Releases()
        client.on_other = self._take

    def _take(self, frame: Frame) -> None:
        if frame.kind == protocol.REPORT and len(frame.payload) == protocol.REPORT_BYTES:
            self.reports.append((time.monotonic(), report_of(frame.payload)))
        elif frame.kind == protocol.REFUSED and frame.payload[0] == protocol.STEP:
            self.refusal = frame.payload[1]

    def run(self, recording: Recording, live: bool) -> Injected:
        """Replay every flight of the recording; stops at the first difference. Raises LinkError or PortError."""
        result = Injected("live" if live else "stepped", problems=list(recording.problems))
        mode = protocol.INJECT_LIVE if live else protocol.INJECT_STEPPED
        begun = time.monotonic()
        total = recording.ticks_total
        try:
            for words, ticks in flights(recording):
                self.client.load_state(words)
                self.reports.clear()
                self.client.begin(mode, self.other_settings)
                (self._live if live else self._stepped)(ticks, result, total)
                if result.difference:
                    break
        finally:
            result.releases = self.releases.ticks
            result.seconds = time.monotonic() - begun
            self._end(result)
        return result

    def _end(self, result: Injected) -> None:
        self.client.on_other = lambda frame: None
        try:
            self.client.begin(protocol.INJECT_NONE)
            result.worst_us = self.client.one_telemetry().worst_us
        except (LinkError, Refused):
            return

    def _receive(self, wait_s: float) -> None:
        for frame in self.client.line.receive(wait_s):
            self._take(frame)
        if self.refusal is not None:
            raise LinkError(f"the controller refuses a step: {protocol.REFUSALS[self.refusal]}")

    # --- one tick per frame ----------------------------------------------------------------------
    def _stepped(self, ticks: Iterator[Tick], result: Injected, total: int) -> None:
        waiting: deque[Tick] = deque()
        before: deque[Tick] = deque(maxlen=BEFORE)
        last = [0] * RAW_COUNT
        seq = 0
        heard_s = time.monotonic()
        more = True
        while more or waiting:
            wire = b""
            while more and len(waiting) < WINDOW:
                tick = next(ticks, None)
                if tick is None:
                    more = False
                    break
                raw = raw_of(tick)
                wire += step_frame(seq, raw, last)
                last = raw
                seq += 1
                waiting.append(tick)
            if wire:
                self.client.line.send(wire)
            self._receive(0.05)
            while self.reports:
                heard_s, report = self.reports.popleft()
                if self._differs(waiting.popleft(), report, before, result):
                    return
            if result.compared % 200 == 0:
                self.progress(result.compared, total)
            if waiting and time.monotonic() - heard_s > STALL_S:
                raise LinkError(f"{self.client.line.name}: no report for {STALL_S:.0f} s at tick {waiting[0]['tick']}")

    def _differs(self, tick: Tick, report: Report, before: deque[Tick], result: Injected) -> bool:
        found = compare(tick, report)
        if found:
            result.difference = Difference(tick["tick"], *found, before=list(before))
            return True
        before.append(tick)
        self.releases.step(tick)
        result.compared += 1
        return False

    # --- at the tick rate --------------------------------------------------------------------------
    def _live(self, ticks: Iterator[Tick], result: Injected, total: int) -> None:
        sent: list[Tick] = []
        last = [0] * RAW_COUNT
        begun = time.monotonic()
        done = False
        at = 0
        while not done:
            due = int((time.monotonic() - begun) * 1000 / TICK_MS) + AHEAD_TICKS
            due = min(due, at + BACKLOG_TICKS)
            wire = b""
            while len(sent) < due:
                tick = next(ticks, None)
                if tick is None:
                    done = True
                    break
                raw = raw_of(tick)
                wire += step_frame(len(sent), raw, last)
                last = raw
                sent.append(tick)
            if wire:
                self.client.line.send(wire)
            self._receive(TICK_MS / 1000)
            at = self._compare_live(sent, at, done, result)
            self.progress(result.compared, total)
            if result.difference:
                return
        until = time.monotonic() + 1.0
        while at < len(sent) and time.monotonic() < until and not result.difference:
            self._receive(0.05)
            at = self._compare_live(sent, at, done, result)

    def _compare_live(self, sent: list[Tick], at: int, done: bool, result: Injected) -> int:
        """Compare up to the newest report: between two reports nothing may change."""
        while self.reports:
            _, report = self.reports.popleft()
            if report.tick >= len(sent) and done:
                result.compared += len(sent) - at
                return len(sent)
            if report.missed or report.tick >= len(sent):
                raise LinkError(
                    f"live replay broke off at tick {report.tick}: {report.missed or 1} samples did not come in time, "
                    "and the controller takes that for the loss of every input; close other programs, or replay stepped"
                )
            shown = compare(sent[report.tick], report)
            quiet = [n for n in range(max(at, 1), report.tick) if _acts(sent[n]) != _acts(sent[n - 1])]
            if quiet or shown:
                n = quiet[0] if quiet else report.tick
                key, recorded, got = shown if shown and not quiet else ("out", sent[n].get("out"), "no change")
                result.difference = Difference(sent[n]["tick"], key, recorded, got, before=sent[max(0, n - BEFORE) : n])
                return at
            for n in range(at, report.tick + 1):
                self.releases.step(sent[n])
            result.compared += report.tick + 1 - at
            at = report.tick + 1
        return at


class Releases:
    """Watches recorded ticks for the contact opening in flow and for fuel going off after it."""

    def __init__(self) -> None:
        self.ticks: list[int] = []
        self._closed = False
        self._since = 0

    def step(self, tick: Tick) -> None:
        """One tick that the controller was seen to reproduce."""
        closed = bool(raw_of(tick)[RAW_SWITCHES] & SW_DETENT_NO)
        fuel = tick.get("out", {}).get("fuel", 0)
        if self._closed and not closed and self._fuel:
            self._since = 1
        elif self._since:
            self._since += 1
        if self._since and not fuel:
            self.ticks.append(self._since)
            self._since = 0
        self._closed, self._fuel = closed, fuel

    _fuel = 0


def _acts(tick: Tick) -> Any:
    return tick.get("state"), tick.get("out")


def raw_of(tick: Tick) -> list[int]:
    """The raw samples of a recorded tick as the link carries them. Raises ReplayRefused when there are none."""
    raw = tick.get("raw")
    if raw is None:
        raise ReplayRefused(f"tick {tick['tick']} has no raw samples; only a recording that has them can be injected")
    return [min(max(int(value), 0), 0xFFFF) for value in raw]
