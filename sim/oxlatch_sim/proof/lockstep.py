"""Run the firmware's core and the reference side by side and stop at the first difference.

Both get the same verdicts every tick. What is compared: state, requests, driven outputs, standing reasons, latch, first
cause, lamps, text, what the lockout memory must hold. A difference comes with the ten ticks before it.
"""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from oxlatch.controller import Controller, core_step, gate_step, lamps_step
from oxlatch.settings import Settings
from oxlatch.vocabulary import STATE_NAMES, TRIP, WAKE
from oxlatch_sim.proof.reference import Reference
from oxlatch_sim.proof.reference_table import VERDICTS
from oxlatch_sim.proof.verdict_streams import VerdictStream

HISTORY_TICKS = 10
EPISODE_TICKS = 3000
LOCKED_TICKS = 12  # an episode that has been locked this long has nothing more to say

# name: (of the controller, of the reference)
Getter = Callable[[Any], Any]
COMPARED: dict[str, tuple[Getter, Getter]] = {
    "state": (lambda k: k.core.state, lambda r: r.memory.state),
    "ask_ox": (lambda k: k.core.ask_ox, lambda r: r.ask_ox),
    "ask_fuel": (lambda k: k.core.ask_fuel, lambda r: r.ask_fuel),
    "ask_bits": (lambda k: k.core.ask_bits, lambda r: r.ask_bits),
    "ox": (lambda k: k.out.ox, lambda r: r.ox),
    "fuel": (lambda k: k.out.fuel, lambda r: r.fuel),
    "bits": (lambda k: k.out.bits, lambda r: r.bits),
    "why0": (lambda k: k.core.why0, lambda r: r.why0),
    "why1": (lambda k: k.core.why1, lambda r: r.why1),
    "why2": (lambda k: k.core.why2, lambda r: r.why2),
    "why3": (lambda k: k.core.why3, lambda r: r.why3),
    "latch": (lambda k: k.core.latch, lambda r: r.memory.latch),
    "cause": (lambda k: (k.core.cause0, k.core.cause1), lambda r: r.cause),
    "store": (lambda k: k.core.store, lambda r: r.store),
    "lamps": (lambda k: k.out.lamps, lambda r: r.lamps),
    "text": (lambda k: k.out.text, lambda r: r.text),
}


@dataclass
class Mismatch:
    """One difference: where, in what, and the ticks before it."""

    tick: int
    differs: dict[str, tuple[Any, Any]]
    before: list[dict[str, Any]]
    settings: Settings
    episode: int = -1

    def words(self) -> str:
        """The difference for a person: one line per tick, verdicts only where they change."""
        lines = []
        last: dict[str, Any] = {}
        for row in self.before:
            changed = {name: value for name, value in row.items() if last.get(name) != value}
            last = row
            lines.append(
                f"  tick {row['tick']}: " + ", ".join(f"{k}={v}" for k, v in changed.items() if k != "tick")
            )
        told = ", ".join(f"{name}: controller {a}, reference {b}" for name, (a, b) in self.differs.items())
        return "\n".join([f"tick {self.tick}: {told}", *lines])


@dataclass
class Outcome:
    """What a lockstep run did."""

    steps: int = 0
    episodes: int = 0
    mismatches: list[Mismatch] = field(default_factory=list)
    hits: dict[str, int] = field(default_factory=dict)


def core_tick(controller: Controller) -> None:
    """One tick of the controller on the verdicts that are already in it: everything but sense."""
    core_step(controller.core, controller.verdicts, controller.settings)
    gate_step(controller.gate, controller.core, controller.verdicts, controller.settings, controller.out)
    lamps_step(controller.core, controller.out)


def compare(
    controller: Any,
    reference: Reference,
    step: Callable[[int, int, int, int], None],
    ticks: int,
    ignored: frozenset[str] = frozenset(),
) -> tuple[int, Mismatch | None]:
    """Drive both for up to `ticks` ticks; return ticks done and the first difference, if any.

    `step(state, ox, fuel, bits)` writes the next verdicts into `controller.verdicts`.
    """
    pairs = [(name, *getters) for name, getters in COMPARED.items() if name not in ignored]
    before: deque[dict[str, Any]] = deque(maxlen=HISTORY_TICKS + 1)
    verdicts = controller.verdicts
    locked = 0
    for tick in range(ticks):
        step(reference.memory.state, reference.ox, reference.fuel, reference.bits)
        core_tick(controller)
        reference.tick(verdicts)
        before.append(_snapshot(tick, verdicts, reference))
        for _name, of_controller, of_reference in pairs:
            if of_controller(controller) != of_reference(reference):
                differs = {
                    name: (first(controller), second(reference))
                    for name, first, second in pairs
                    if first(controller) != second(reference)
                }
                return tick + 1, Mismatch(tick, differs, list(before), reference.settings)
        locked = locked + 1 if reference.memory.latch == 4 and reference.memory.state == TRIP else 0
        if locked > LOCKED_TICKS:
            return tick + 1, None
    return ticks, None


def _snapshot(tick: int, verdicts: Any, reference: Reference) -> dict[str, Any]:
    row = {"tick": tick, "state": STATE_NAMES[reference.memory.state]}
    row |= {name: getattr(verdicts, place) for name, place in VERDICTS.items()}
    return row | {
        "ox": reference.ox,
        "fuel": reference.fuel,
        "bits": reference.bits,
        "latch": reference.memory.latch,
        "causes": f"{reference.memory.held0:#x} {reference.memory.held1:#x}",
    }


def run_lockstep(
    steps: int,
    seed: int,
    settings_of: Callable[[int], Settings],
    ignored: frozenset[str] = frozenset(),
    stop_at: int = 1,
    progress: Callable[[int], None] | None = None,
) -> Outcome:
    """Episodes of lockstep on random streams until `steps` ticks are done or `stop_at` differences are found."""
    outcome = Outcome()
    while outcome.steps < steps and len(outcome.mismatches) < stop_at:
        number = seed * 1_000_003 + outcome.episodes
        settings = settings_of(number)
        controller, reference = Controller(settings), Reference(settings)
        stream = VerdictStream(settings, number, controller.verdicts)
        done, found = compare(controller, reference, stream.step, EPISODE_TICKS, ignored)
        outcome.steps += done
        outcome.episodes += 1
        for name, count in zip(reference.rows, reference.hits, strict=True):
            outcome.hits[name] = outcome.hits.get(name, 0) + count
        if found is not None:
            found.episode = number
            outcome.mismatches.append(found)
        if progress is not None:
            progress(outcome.steps)
    return outcome


assert WAKE == 0  # a controller starts there; the streams rely on it
