"""The virtual bench as pages fly it together: messages, time, rewinding, saving."""

import contextlib
import time
from pathlib import Path
from typing import Any

from oxlatch.vocabulary import TICK_MS
from oxlatch_tools.aircraft import Aircraft
from oxlatch_tools.outcome import BadInput, write_output
from oxlatch_tools.panel.about import about_aircraft, about_bench
from oxlatch_tools.panel.clock import SPEEDS, TICKS_PER_S, Clock
from oxlatch_tools.panel.deeds import Deed, limits_of, read_deed
from oxlatch_tools.panel.flown_bench import FlownBench
from oxlatch_tools.panel.messages import TICKS_MAX, Message, MessageError, one_of, only, whole
from oxlatch_tools.panel.session import AT_ONCE, IN_ITS_TURN, NOTHING_NEW
from oxlatch_tools.panel.shown import Frame
from oxlatch_tools.panel.tap import Tap
from oxlatch_tools.panel.traces import SPAN_TICKS, Traces

SLICE_S = 0.012
"""Longest stretch of stepping before everybody else gets a turn."""
STEPS_BETWEEN_LOOKS = 8
SAVE_SECONDS = (10, 60, 300, 600)
RESIMULATED_STRIDE = 2
HELD_BY_HAND = ("purge", "ack")


class BenchSession:
    """One bench for all pages. While it re-simulates, deeds wait until it has arrived."""

    kind = "bench"

    def __init__(self, aircraft: Aircraft, folder: Path) -> None:
        self.aircraft = aircraft
        self.folder = folder
        self.clock = Clock()
        self.traces = Traces()
        self.flown = FlownBench(aircraft, self.traces)
        self.limits = limits_of(self.flown.bench)
        self.saved = ""
        self.saved_tick = 0
        self.trouble = ""
        self._target = -1
        self._from = 0
        self._runs_on = False
        self._waiting: list[Deed] = []
        self._holders: dict[str, int] = {}
        self._nobody = True
        self._changed = True
        self._pace = 0.0
        self._stepped = 0
        self._measured_s = 0.0

    def hello(self) -> dict[str, Any]:
        return {
            "kind": self.kind,
            **about_aircraft(self.aircraft),
            **about_bench(self.flown.bench, self.limits),
            "speeds": SPEEDS,
            "save_seconds": SAVE_SECONDS,
        }

    # --- what pages ask -----------------------------------------------------------------------------
    def take(self, message: Message, hand: int) -> None:
        self._changed = True
        deed = read_deed(message, self.limits)
        if deed is not None:
            self._hold(deed, hand)
            self._do(deed)
            return
        handler = {
            "run": self._run,
            "pause": self._pause,
            "speed": self._speed,
            "step": self._single,
            "seek": self._seek,
            "start_over": self._start_over,
            "branch": self._branch,
            "save": self._save,
        }.get(message["do"])
        if handler is None:
            raise MessageError(f"there is no {message['do']!r} to do")
        handler(message)

    def leave(self, hand: int) -> None:
        for name, holder in list(self._holders.items()):
            if holder == hand:
                del self._holders[name]
                self._do(Deed("switch", (name, False)))

    def alone(self, nobody: bool) -> None:
        self._nobody = nobody
        self._changed = True

    def _hold(self, deed: Deed, hand: int) -> None:
        if deed.name == "switch" and deed.args[0] in HELD_BY_HAND:
            name, on = deed.args
            if on:
                self._holders[name] = hand
            else:
                self._holders.pop(name, None)

    def _do(self, deed: Deed) -> None:
        if self._target >= 0:
            self._waiting.append(deed)
            return
        try:
            self.flown.do(deed)
        except ValueError as error:
            raise MessageError(str(error)) from error

    def _run(self, message: Message) -> None:
        only(message)
        self.trouble = ""
        self.clock.running = True

    def _pause(self, message: Message) -> None:
        only(message)
        self.clock.running = False

    def _speed(self, message: Message) -> None:
        only(message, "factor")
        self.clock.speed = one_of(message, "factor", SPEEDS)

    def _single(self, message: Message) -> None:
        only(message)
        self.clock.running = False
        if self._target < 0:
            self._step(1)

    def _seek(self, message: Message) -> None:
        only(message, "tick")
        wanted = whole(message, "tick", 0, TICKS_MAX)
        self.clock.running = False
        self._go_to(wanted)

    def _go_to(self, wanted: int) -> None:
        history = self.flown.history
        target = min(max(wanted, history.first_tick), history.branch.head)
        start = self.flown.start_for(target)
        self.trouble = ""
        self._resimulate(start.tick, target)

    def _resimulate(self, start: int, target: int) -> None:
        """Go back to the snapshot at or before `start`, then step to `target` in slices."""
        self.flown.tap = None
        self._runs_on = False
        snapshot = self.flown.history.before(start)
        self.flown.restore(snapshot)
        self._from, self._target = snapshot.tick, target

    def _start_over(self, message: Message) -> None:
        only(message)
        self.flown = FlownBench(self.aircraft, self.traces)
        self.traces.start_afresh()
        self._holders.clear()
        self._target = -1
        self.trouble = self.saved = ""
        self.clock.running = True

    def _branch(self, message: Message) -> None:
        only(message, "number")
        number = whole(message, "number", 1, TICKS_MAX)
        common = self.flown.history.switch(number)
        if common is None:
            raise MessageError(f"there is no branch {number}")
        self.clock.running = False
        # Nothing on the bench or in the charts after the fork belongs to this branch.
        start = min(common, max(0, self.flown.history.branch.head - SPAN_TICKS))
        self._resimulate(start, self.flown.history.branch.head)

    def _save(self, message: Message) -> None:
        only(message, "seconds")
        seconds = one_of(message, "seconds", SAVE_SECONDS)
        now = self.flown.tick
        if self._target >= 0 or now == 0:
            raise MessageError("nothing to save yet")
        runs_on, self.clock.running = self.clock.running, False
        start = max(0, now - round(seconds * TICKS_PER_S), self.flown.history.first_tick)
        self._resimulate(start, now)
        self.flown.tap = Tap(self.flown.bench, self.aircraft.digest)
        self._runs_on = runs_on

    # --- time ---------------------------------------------------------------------------------------
    def advance(self, elapsed_s: float) -> int:
        if self._target >= 0:
            self._work()
            return AT_ONCE if self._target < 0 else IN_ITS_TURN
        news = IN_ITS_TURN if self._changed else NOTHING_NEW
        self._changed = False
        if self._nobody:
            return NOTHING_NEW
        due = self.clock.ticks_due(elapsed_s)
        self._measure(elapsed_s)
        if not due:
            return news
        return AT_ONCE if self._run_on(due) else IN_ITS_TURN

    def _run_on(self, due: int) -> bool:
        stride = self.clock.stride()
        give_up = time.perf_counter() + SLICE_S
        is_new = False
        for count in range(due):
            is_new = self._step(stride) or is_new
            if count % STEPS_BETWEEN_LOOKS == 0 and (time.perf_counter() > give_up or not self.clock.running):
                break
        return is_new

    def _step(self, stride: int) -> bool:
        """One tick; a model driven out of its range stops the clock and says so."""
        try:
            self._stepped += 1
            return self.flown.step(stride)
        except (ValueError, ArithmeticError) as error:
            self.clock.running = False
            self._changed = True
            self.trouble = f"The model cannot follow: {error}. Rewind, or start over."
            return True

    def _work(self) -> None:
        """One slice of re-simulation."""
        give_up = time.perf_counter() + SLICE_S
        while self.flown.tick < self._target:
            for _ in range(min(STEPS_BETWEEN_LOOKS, self._target - self.flown.tick)):
                self._step(RESIMULATED_STRIDE)
            if self.trouble:
                break
            if time.perf_counter() > give_up:
                return
        self._arrive()

    def _arrive(self) -> None:
        self._target = -1
        self._changed = True
        if self.flown.tick == self.flown.history.branch.head:
            self.flown.do_what_is_due()
        if self.flown.tap is not None:
            self._write(self.flown.tap)
            self.flown.tap = None
        waiting, self._waiting = self._waiting, []
        for deed in waiting:
            with contextlib.suppress(MessageError):
                self._do(deed)
        if self._runs_on:
            self.clock.running = True

    def _write(self, tap: Tap) -> None:
        stamp = time.strftime("%Y%m%d-%H%M%S")
        taken = {path.name for path in self.folder.glob(f"panel-{stamp}*.jsonl")}
        name = next(
            name
            for number in range(len(taken) + 1)
            if (name := f"panel-{stamp}{f'-{number}' if number else ''}.jsonl") not in taken
        )
        try:
            write_output(self.folder, name, tap.recorder.end())
        except BadInput as error:
            self.trouble = str(error)
            return
        self.saved, self.saved_tick = name, tap.ticks - 1

    def _measure(self, elapsed_s: float) -> None:
        """How many times real time the bench has kept up with, once a second."""
        self._measured_s += elapsed_s
        if self._measured_s >= 1.0:
            self._pace = round(self._stepped * TICK_MS / 1000.0 / self._measured_s, 2)
            self._stepped = 0
            self._measured_s = 0.0

    # --- what pages see -----------------------------------------------------------------------------
    def frame(self) -> Frame:
        flown, history = self.flown, self.flown.history
        shown = flown.frame()
        span = self._target - self._from
        shown["time"] = {
            "head": history.branch.head,
            "first": history.first_tick,
            "running": self.clock.running and not self._nobody,
            "speed": self.clock.speed,
            "pace": self._pace,
            "busy": round(100 * (flown.tick - self._from) / span) if self._target >= 0 and span > 0 else None,
            "branch": history.branch.number,
            "branches": [[branch.number, branch.head] for branch in history.left],
        }
        shown["saved"], shown["saved_tick"] = self.saved, self.saved_tick
        shown["trouble"] = self.trouble
        return shown
