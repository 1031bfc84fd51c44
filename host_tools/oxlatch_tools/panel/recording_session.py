"""A recording as one page walks through it: any tick at once, forwards at any speed, nothing on it moves anything."""

from bisect import bisect_left, bisect_right
from typing import Any

from oxlatch_sim.observation import Tick
from oxlatch_sim.recording import Recording
from oxlatch_tools.panel.about import about_recording
from oxlatch_tools.panel.clock import SPEEDS, Clock
from oxlatch_tools.panel.messages import TICKS_MAX, Message, MessageError, one_of, only, whole
from oxlatch_tools.panel.session import AT_ONCE, IN_ITS_TURN, NOTHING_NEW
from oxlatch_tools.panel.shown import Frame, recorded_part
from oxlatch_tools.panel.traces import SPAN_TICKS, Traces, row_text, word

CHECKPOINT_LINES = 512
MOVES_SHOWN = 8


class RecordedTicks:
    """Random access to the ticks of a recording: every line's tick, and whole ticks at checkpoints."""

    def __init__(self, recording: Recording) -> None:
        self.lines = [line for line in recording.lines if line["kind"] == "tick"]
        self.numbers = [line["tick"] for line in self.lines]
        self.boots = [line["tick"] for line in recording.lines if line["kind"] == "boot"]
        self.last = max(recording.ticks_total - 1, 0)
        self._checkpoints: list[Tick] = []
        self.moves: list[tuple[int, str, str]] = []
        whole_tick: Tick = {}
        for at, line in enumerate(self.lines):
            if at % CHECKPOINT_LINES == 0:
                self._checkpoints.append(whole_tick)
            state = whole_tick.get("state")
            whole_tick = {**whole_tick, **line}
            if state is not None and whole_tick.get("state") != state:
                self.moves.append((line["tick"], state, whole_tick["state"]))

    @property
    def first(self) -> int:
        """The first tick there is."""
        return self.numbers[0] if self.numbers else 0

    def at(self, tick: int) -> Tick:
        """The whole of a tick."""
        return self.at_line(bisect_right(self.numbers, tick) - 1)

    def at_line(self, last: int) -> Tick:
        """The whole tick of a line."""
        if last < 0:
            return {}
        checkpoint = last // CHECKPOINT_LINES
        found = dict(self._checkpoints[checkpoint])
        for line in self.lines[checkpoint * CHECKPOINT_LINES : last + 1]:
            found.update(line)
        return found


class RecordingSession:
    """One page's walk through one recording."""

    kind = "recording"

    def __init__(self, name: str, recording: Recording, ticks: RecordedTicks, tick: int) -> None:
        self.name = name
        self.recording = recording
        self.ticks = ticks
        self.clock = Clock()
        self.clock.running = False
        self.traces = Traces()
        self.tick = 0
        self._line = 0
        self._now: Tick = {}
        self._next_row = 0
        self._changed = True
        self._go_to(tick)

    def hello(self) -> dict[str, Any]:
        header = self.recording.header
        return {
            "kind": self.kind,
            **about_recording(self.name, header, self.recording.settings),
            "problems": self.recording.problems,
            "speeds": SPEEDS,
        }

    def take(self, message: Message, hand: int) -> None:
        self._changed = True
        match message["do"]:
            case "run":
                only(message)
                self.clock.running = True
                if self.tick >= self.ticks.last:
                    self._go_to(self.ticks.first)
            case "pause":
                only(message)
                self.clock.running = False
            case "speed":
                only(message, "factor")
                self.clock.speed = one_of(message, "factor", SPEEDS)
            case "step":
                only(message)
                self.clock.running = False
                self._forwards(1)
            case "seek":
                only(message, "tick")
                self.clock.running = False
                self._go_to(whole(message, "tick", 0, TICKS_MAX))
            case _:
                raise MessageError("a recording can only be walked through")

    def leave(self, hand: int) -> None:
        """Nobody holds anything here."""

    def alone(self, nobody: bool) -> None:
        """Each page has its own."""

    def advance(self, elapsed_s: float) -> int:
        news = AT_ONCE if self._changed else NOTHING_NEW
        self._changed = False
        due = self.clock.ticks_due(elapsed_s)
        if not due:
            return news
        self._forwards(due)
        if self.tick >= self.ticks.last:
            self.clock.running = False
        return IN_ITS_TURN

    def _forwards(self, count: int) -> None:
        self.tick = min(self.tick + count, self.ticks.last)
        self._read_up_to(self.tick, self.clock.stride())

    def _go_to(self, tick: int) -> None:
        ticks = self.ticks
        self.tick = min(max(tick, ticks.first), ticks.last)
        self.traces.start_afresh()
        self._line = max(bisect_left(ticks.numbers, self.tick - SPAN_TICKS), 0)
        self._now = ticks.at_line(self._line - 1)
        self._next_row = 0
        self._read_up_to(self.tick, 2)

    def _read_up_to(self, tick: int, stride: int) -> None:
        lines = self.ticks.lines
        while self._line < len(lines) and lines[self._line]["tick"] <= tick:
            line = lines[self._line]
            has_edge = "out" in line
            self._now = {**self._now, **line}
            self._line += 1
            if has_edge or line["tick"] >= self._next_row:
                self._row(line["tick"])
                self._next_row = line["tick"] + stride
        if self._next_row <= tick and self._now:
            self._row(tick)
            self._next_row = tick + stride

    def _row(self, tick: int) -> None:
        now = self._now
        read = now.get("in") or {}
        nozzle = now.get("nozzle") or {}
        stages = self.recording.settings.stages
        none: list[None] = [None] * stages
        row = [tick, None, None, read.get("supply_bar"), read.get("fuel_bar"), read.get("block_bar")]
        row += [read.get("bus_v"), read.get("rail_v"), word(now.get("cmd")), word(now.get("out"))]
        row += [*(nozzle.get("ox") or none)[:stages], *(nozzle.get("fuel") or none)[:stages]]
        self.traces.add(tick, row_text(row))

    def frame(self) -> Frame:
        now = self._now
        shown = recorded_part(now)
        shown["tick"] = self.tick
        shown["powered"] = True
        shown["nozzle"] = now.get("nozzle")
        before = bisect_right(self.ticks.moves, self.tick, key=lambda move: move[0])
        shown["moves"] = self.ticks.moves[max(before - MOVES_SHOWN, 0) : before]
        shown["late"] = now.get("late", 0)
        shown["booted"] = self.tick in self.ticks.boots
        shown["time"] = {
            "head": self.ticks.last,
            "first": self.ticks.first,
            "running": self.clock.running,
            "speed": self.clock.speed,
            "pace": self.clock.speed,
            "busy": None,
            "branch": 1,
            "branches": [],
        }
        return shown
