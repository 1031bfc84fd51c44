"""What a pilot does before a push, as a routine on the bench: power up, arm, purge, confirm, full throttle."""

from collections.abc import Callable, Iterable

from oxlatch.vocabulary import FIT_ACK, REST, RPM_WINDOW, RUN, WAITING
from oxlatch_sim.bench import Bench

LIMIT_TICKS = 6000
"""No step of a routine takes longer than this: 30 s."""


class RoutineError(ValueError):
    """A step of the routine did not come about: what was waited for, and what stands in the way."""


class Routine:
    """Runs a bench by `step`, called once per tick, which must step the bench."""

    def __init__(self, bench: Bench, step: Callable[[], object]) -> None:
        self.bench = bench
        self.step = step

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        for _ in range(round(seconds * 200.0)):
            self.step()

    def until(self, what: str, holds: Callable[[], bool]) -> None:
        """Step until `holds`. Errors: `RoutineError` after 30 s."""
        for _ in range(LIMIT_TICKS):
            if holds():
                return
            self.step()
        raise RoutineError(f"{what} did not come about within 30 s; state is {self.bench.state_name}")

    def armed(self, stages: Iterable[int]) -> None:
        """From power-up to WAITING with these stages selected and the engine idling."""
        bench = self.bench
        bench.plant.engine.start(bench.plant.parameters.engine.idle_rpm)
        self.until("REST", lambda: bench.controller.core.state == REST)
        bench.select(stages)
        self.wait(0.2)
        bench.set_switch("master", True)
        self.until("WAITING", lambda: bench.controller.core.state == WAITING)
        self.wait(2.5)

    def purged(self) -> None:
        """One full purge and its confirmation."""
        bench = self.bench
        bench.set_switch("purge", True)
        self.wait(0.005 * bench.settings.purge_ticks + 0.5)
        bench.set_switch("purge", False)
        self.wait(0.5)
        if bench.settings.fitted & FIT_ACK:
            bench.set_switch("ack", True)
            self.wait(0.2)
            bench.set_switch("ack", False)
        self.wait(0.5)

    def lined_up(self) -> None:
        """Full throttle, speed in its window, not yet in the detent."""
        bench = self.bench
        bench.set_throttle(100.0, 50.0)
        self.until("engine speed in its window", lambda: bench.controller.verdicts.rpm == RPM_WINDOW)
        self.wait(0.5)

    def ready(self, stages: Iterable[int]) -> None:
        """Everything up to the push."""
        self.armed(stages)
        self.purged()
        self.lined_up()

    def flowing(self, stages: Iterable[int]) -> None:
        """Everything, and the push, until all selected stages flow."""
        self.ready(stages)
        self.bench.push()
        self.until("RUN", lambda: self.bench.controller.core.state == RUN)
        self.wait(0.5)
