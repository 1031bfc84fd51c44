"""All monitors over a recording or a running flight, and what each of them saw."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from oxlatch_sim.invariants import MONITORS, NOT_MONITORED, Monitor
from oxlatch_sim.observation import Tick
from oxlatch_sim.recording import Recording

__all__ = ["MONITORS", "NOT_MONITORED", "Finding", "Monitor", "Watch", "judge"]


@dataclass(frozen=True)
class Finding:
    """What one monitor saw. `vacuous`: it never had the chance to fail; `missing`: keys it lacked."""

    id: str
    words: str
    held: bool
    first_tick: int | None
    vacuous: bool
    missing: tuple[str, ...] = ()


class Watch:
    """All monitors, fed tick by tick."""

    def __init__(self, settings: Any, monitors: Iterable[type[Monitor]] = MONITORS) -> None:
        self.monitors = [kind(settings) for kind in monitors]
        self._first: dict[str, int] = {}
        self._tested: set[str] = set()
        self._missing: dict[str, tuple[str, ...]] = {}

    def step(self, tick: Tick) -> None:
        """Show every monitor one whole tick."""
        for monitor in self.monitors:
            if "boot" in tick:
                monitor.on_boot()
            missing = tuple(key for key in monitor.needs if key not in tick)
            if missing:
                self._missing[monitor.id] = missing
                continue
            answer = monitor.check(tick)
            if answer is not None:
                self._tested.add(monitor.id)
                if not answer:
                    self._first.setdefault(monitor.id, tick["tick"])

    @property
    def broken(self) -> dict[str, int]:
        """Identities of the monitors that failed, with the first tick at which each did."""
        return dict(self._first)

    def findings(self) -> list[Finding]:
        """What each monitor saw so far."""
        return [
            Finding(
                id=monitor.id,
                words=monitor.words,
                held=monitor.id not in self._first,
                first_tick=self._first.get(monitor.id),
                vacuous=monitor.id not in self._tested,
                missing=self._missing.get(monitor.id, ()),
            )
            for monitor in self.monitors
        ]


def judge(recording: Recording) -> list[Finding]:
    """Run every monitor over a recording."""
    watch = Watch(recording.settings)
    for tick in recording.ticks():
        watch.step(tick)
    return watch.findings()
