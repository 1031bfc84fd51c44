"""One sortie cut into phases, so that a fault can begin at the start of any of them, and what came of it."""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Any

from oxlatch.reasons import WAITS_3
from oxlatch.vocabulary import FIT_ACK, HELD, READY, REST, RPM_WINDOW, RUN, TICK_MS, TRIP
from oxlatch_sim.bench import Bench
from oxlatch_sim.reason_names import standing

PHASES = ("rest", "purging", "ready", "opening", "flowing", "releasing")
"""Where a fault begins: disarmed; in mid-purge; before the push; as the last stage opens; in flow; at release."""
SETTLED_TICKS = 80
"""A trip with everything shut for 0.4 s has nothing more to show."""
RUN_S = 2.0
LONGEST_DRIBBLE_S = 8.0
"""What still flows after the release is watched for so long: a feed line that drains is dry by then."""
COMMON_WAITS = ("RELEASE_THROTTLE", "SETTLING", "SELECTION_MOVING", "MASTER_IS_OFF", "LEAK_WATCH_OPEN")


class SortieOver(Exception):
    """Nothing more will happen: the controller has tripped and every nozzle is dry."""


@dataclass(frozen=True)
class Finding:
    """What one fault came to; times in ms since it began. `off_ms` is None when nothing ever flowed.

    `off_ms` runs from the fault, or from the first flow when that came later, to the last flow at any nozzle.
    """

    fuel_only_ms: float
    oxidizer_only_ms: float
    detected_by: str
    off_ms: int | None
    latch: int
    final_state: str


class FaultFlight:
    """Flies the sortie on a bench from one phase to the next, watching reasons and nozzles.

    `on_tick` is called after every tick; a fault is begun with `begin` and judged with `finding`.
    """

    def __init__(self, bench: Bench, stages: tuple[int, ...], step: Callable[[], object] | None = None) -> None:
        self.bench = bench
        self.stages = stages
        self._step = step or bench.step
        self.reset()

    def reset(self) -> None:
        """Forget what was seen so far."""
        self.began: int | None = None
        self.first_reason = ""
        self.refused = ""
        self.restarted = False
        self.released: int | None = None
        self.first_flow: int | None = None
        self.last_flow: int | None = None
        self.latch = 0

    def to_phase(self, phase: str) -> None:
        """Fly from power-up to the start of a phase."""
        self._start()
        for index in range(PHASES.index(phase)):
            self.segment(index)

    def fly_on(self, phase: str, name: str | None) -> None:
        """Begin a fault at the start of a phase and fly the rest of the sortie with it."""
        self.begin(name)
        try:
            for index in range(PHASES.index(phase), len(PHASES)):
                self.segment(index)
        except SortieOver:
            pass

    def begin(self, name: str | None) -> None:
        """Begin a fault, or nothing, and count from here."""
        for stage in self.bench.plant.stages:
            exposure = stage.exposure
            exposure.fuel_only_ms = exposure.oxidizer_only_ms = 0.0
            exposure.fuel_only_longest_ms = exposure.oxidizer_only_longest_ms = 0.0
        self.began = self.bench.ticks
        if name is not None:
            self.bench.inject(name)

    def segment(self, index: int) -> None:
        """From the start of phase `index` to the start of the next, or to the end."""
        segments = (self._arm, self._purge, self._push, self._open, self._hold, self._release)
        segments[index]()

    def step(self) -> None:
        """One tick, watched."""
        self._step()
        if self.began is not None:
            self._watch()

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        for _ in range(round(seconds * 1000.0 / TICK_MS)):
            self.step()

    def until(self, holds: Callable[[], bool], limit_s: float) -> None:
        """Step until `holds`, or until the limit: a fault may keep it from ever coming."""
        for _ in range(round(limit_s * 1000.0 / TICK_MS)):
            if holds():
                return
            self.step()

    def _start(self) -> None:
        bench = self.bench
        bench.plant.engine.start(bench.plant.parameters.engine.idle_rpm)
        self.until(lambda: bench.controller.core.state == REST, 3.0)

    def _arm(self) -> None:
        bench = self.bench
        bench.select(self.stages)
        self.wait(0.1)
        bench.set_switch("master", True)
        self.wait(2.3)
        bench.set_switch("purge", True)
        self.wait(1.0)

    def _purge(self) -> None:
        bench = self.bench
        self.wait(bench.settings.purge_ticks * TICK_MS / 1000.0 - 0.7)
        bench.set_switch("purge", False)
        bench.set_throttle(100.0, 60.0)
        self.wait(0.2)
        if bench.settings.fitted & FIT_ACK:
            bench.set_switch("ack", True)
            self.wait(0.1)
            bench.set_switch("ack", False)
        self.until(lambda: bench.controller.verdicts.rpm == RPM_WINDOW, 5.0)
        self.until(lambda: bench.controller.core.state == READY, 0.7)

    def _push(self) -> None:
        bench = self.bench
        last = max(self.stages)
        if bench.controller.core.state != READY:
            self._note_refusal()
        bench.push()
        self.until(lambda: bool(bench.board.oxidizer >> (last - 1) & 1), 0.25 + 0.2 * len(self.stages))
        if not bench.board.oxidizer:
            self._note_refusal()
            if self.began is not None and self._all_dry():
                raise SortieOver

    def _open(self) -> None:
        self.until(lambda: self.bench.controller.core.state == RUN, 0.3)
        self.wait(0.3)

    def _hold(self) -> None:
        self.wait(RUN_S)

    def _release(self) -> None:
        self.bench.release()
        self.released = self.bench.ticks
        self.wait(0.8)
        self.until(self._all_dry, LONGEST_DRIBBLE_S)

    def _note_refusal(self) -> None:
        core = self.bench.controller.core
        waits = [name for name in standing((0, 0, core.why2, core.why3 & WAITS_3)) if name not in COMMON_WAITS]
        if not self.refused:
            self.refused = next((name for name in waits if not name.startswith("PUSH_")), "")
        if not self.refused and waits:
            self.refused = waits[0]

    def _all_dry(self) -> bool:
        """Whether neither fluid flows at any nozzle."""
        for stage in self.bench.plant.stages:
            exposure = stage.exposure
            if (
                stage.oxidizer_kg_s > exposure.oxidizer_threshold
                or stage.fuel_branch.out_kg_s > exposure.fuel_threshold
            ):
                return False
        return True

    def _watch(self) -> None:
        bench = self.bench
        core = bench.controller.core
        now = bench.ticks
        if (core.cause0 or core.cause1) and not self.first_reason:
            self.first_reason = standing((core.cause0, core.cause1, 0, 0))[0]
        if core.latch > self.latch:
            self.latch = core.latch
        if bench.booted:
            self.restarted = True
        if not self._all_dry():
            self.last_flow = now
            if self.first_flow is None:
                self.first_flow = now
            return
        since = now - max(self.began or 0, self.last_flow or 0)
        if core.state in (TRIP, HELD) and not bench.board.oxidizer and since > SETTLED_TICKS:
            raise SortieOver

    def finding(self) -> Finding:
        """What came of it."""
        stages = self.bench.plant.stages
        off_ms = None
        if self.last_flow is not None and self.first_flow is not None and self.began is not None:
            off_ms = (self.last_flow - max(self.began, self.first_flow)) * TICK_MS
        return Finding(
            max(stage.exposure.fuel_only_ms for stage in stages),
            max(stage.exposure.oxidizer_only_longest_ms for stage in stages),
            self._detected_by(),
            off_ms,
            self.latch,
            self.bench.state_name,
        )

    def _detected_by(self) -> str:
        if self.restarted:
            return "restart" if not self.first_reason else f"restart, {self.first_reason}"
        if self.first_reason:
            return self.first_reason
        if self.refused:
            return self.refused
        return "release" if self.released is not None else "nothing"


def reached(bench: Bench, stages: tuple[int, ...], wanted: Collection[str] = PHASES) -> dict[str, Any]:
    """Snapshots of a healthy sortie at the start of each wanted phase.

    Errors: ValueError when a healthy aircraft does not become ready or does not flow.
    """
    flight = FaultFlight(bench, stages)
    tokens: dict[str, Any] = {}
    flight.to_phase(PHASES[0])
    needed = {"ready": READY, "flowing": RUN}
    for index, phase in enumerate(PHASES):
        state = bench.controller.core.state
        if state != needed.get(phase, state):
            raise ValueError(f"phase {phase!r} is not reached without a fault: state is {bench.state_name}")
        if phase in wanted:
            tokens[phase] = bench.snapshot()
        if len(tokens) == len(wanted):
            break
        flight.segment(index)
    return tokens
