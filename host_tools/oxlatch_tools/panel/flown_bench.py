"""A bench with its history: stepped by deeds and time, taken back to any tick, the same again every time."""

from collections import deque
from typing import Any

from oxlatch.vocabulary import STATE_NAMES
from oxlatch_sim.bench import Bench
from oxlatch_sim.flight import plant_scales
from oxlatch_sim.observation import ANALOGUE
from oxlatch_tools.aircraft import Aircraft
from oxlatch_tools.panel.deeds import CONTACTS, Deed, Setup, perform
from oxlatch_tools.panel.history import History, Snapshot
from oxlatch_tools.panel.plant_view import exposure_part, plant_part, trace_row
from oxlatch_tools.panel.shown import Frame, controller_part
from oxlatch_tools.panel.tap import Tap
from oxlatch_tools.panel.traces import FUEL_SHIFT, SPAN_TICKS, Traces, row_text

MOVES_MAX = 400
FUEL, OXIDIZER = "fuel", "ox"
SUPPLY_MV = ANALOGUE["supply_bar"]


class FlownBench:
    """One run of one aircraft. `tick` counts bench ticks since power-up."""

    def __init__(self, aircraft: Aircraft, traces: Traces) -> None:
        self.aircraft = aircraft
        self.traces = traces
        self.bench = Bench(aircraft.plant, aircraft.settings)
        self.scales = plant_scales(aircraft.plant)
        self.setup = Setup()
        self.history = History()
        self.moves: deque[tuple[int, str, str]] = deque(maxlen=MOVES_MAX)
        self.tap: Tap | None = None
        self._state = -1
        self._word = -1
        self._shown = (-1, -1)
        self._next_row = 0
        self._keep()

    @property
    def tick(self) -> int:
        """Ticks since power-up."""
        return self.bench.ticks

    def do(self, deed: Deed) -> None:
        """Do something now. Errors: ValueError when the model cannot follow; it is then not kept."""
        perform(deed, self.bench, self.setup)
        self.history.add(self.tick, deed)

    def step(self, stride: int) -> bool:
        """One tick; whether anything a pilot sees has changed. A row is kept every `stride` ticks and at every edge."""
        self.do_what_is_due()
        bench, tap = self.bench, self.tap
        if tap is not None:
            tap.before()
        bench.step()
        if tap is not None:
            tap.after()
        tick = bench.ticks
        history = self.history
        history.reached(tick)
        if history.wants_snapshot(tick):
            self._keep()
        return self._note(tick, stride)

    def do_what_is_due(self) -> None:
        """Deeds of the branch that belong to the present tick."""
        history = self.history
        if history.next_deed < len(history.branch.deeds):
            for deed in history.due(self.tick):
                perform(deed, self.bench, self.setup)

    def _note(self, tick: int, stride: int) -> bool:
        core, board = self.bench.controller.core, self.bench.board
        state = core.state
        if state != self._state:
            if self._state >= 0:
                self.moves.append((tick, STATE_NAMES[self._state], STATE_NAMES[state]))
            self._state = state
        asked = core.ask_ox | core.ask_fuel << FUEL_SHIFT | core.ask_bits << 8
        driven = board.oxidizer | board.fuel << FUEL_SHIFT | board.bits << 8
        if tick >= self._next_row or driven != self._word:
            self._word = driven
            self._next_row = tick + stride
            self._row(tick, asked, driven)
        shown = (board.lamp_word, board.text)
        is_new = shown != self._shown
        self._shown = shown
        return is_new

    def _row(self, tick: int, asked: int, driven: int) -> None:
        sensed = self.scales["supply_bar"].value(self.bench.raw[SUPPLY_MV])
        self.traces.add(tick, row_text(trace_row(self.bench, sensed, asked, driven)))

    def _keep(self) -> None:
        self.history.keep(Snapshot(self.tick, self.bench.snapshot(), self.setup.copied()))

    def start_for(self, target: int) -> Snapshot:
        """Where to start so that the charts are whole when `target` is reached."""
        near = self.history.before(target)
        if self.traces.covers(target) and near.tick <= self.tick:
            return near
        return self.history.before(max(0, target - SPAN_TICKS))

    def restore(self, snapshot: Snapshot) -> None:
        """Take bench, deeds, moves and charts back to a snapshot."""
        tick = snapshot.tick
        self.bench.restore(snapshot.token)
        self.setup = snapshot.setup.copied()
        self.history.rewound(tick)
        self.moves = deque((move for move in self.moves if move[0] <= tick), maxlen=MOVES_MAX)
        if self.traces.covers(tick):
            self.traces.cut_after(tick)
        else:
            self.traces.start_afresh()
        self._state = self.bench.controller.core.state
        self._word = -1
        self._shown = (-1, -1)
        self._next_row = 0

    def frame(self) -> Frame:
        """Everything of the present tick."""
        bench = self.bench
        board, throttle, engine = bench.board, bench.plant.throttle, bench.plant.engine
        shown: dict[str, Any] = controller_part(bench.controller, bench.raw, self.scales)
        shown["tick"] = self.tick
        shown["powered"] = bench.powered and bench.boot_left == 0
        shown["controls"] = {
            "panel": board.panel,
            "lever": round(throttle.lever, 1),
            "wanted": throttle.wanted,
            "engine": engine.running,
            "rpm": round(engine.rpm),
            "hand_open": bench.plant.line.hand_open,
            "contacts": {name: getattr(bench.plant.extras, words[0]) for name, words in CONTACTS.items()},
            "service": board.service,
        }
        shown["plant"] = plant_part(bench)
        shown["nozzle"] = bench.nozzle()
        shown["exposure"] = exposure_part(bench)
        shown["moves"] = list(self.moves)[-8:]
        shown["faults"] = self.setup.faults
        shown["once"] = self.setup.done_once
        shown["altitude_m"] = self.setup.altitude_m
        return shown
