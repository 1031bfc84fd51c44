"""The parts of a tick as steps on named objects, in the order of the controller.

Thin on purpose: each calls the firmware's own function and adds nothing. That the four in a row are the
controller's tick is checked against the running controller on random states.
"""

# mypy: disallow-untyped-defs=False

from __future__ import annotations

from collections.abc import Callable

from oxlatch.controller import feed_back
from oxlatch.core import CoreState
from oxlatch.gate import GateState, gate_step
from oxlatch.sense import SenseState, Verdicts, sense_step
from oxlatch.sequencer import core_step
from oxlatch.settings import Settings
from oxlatch.vocabulary import RAW_COUNT


def sense_part(sense, raw, c, v):
    """Raw samples to verdicts."""
    sense_step(sense, raw, c, v)


def core_part(core, v, c):
    """Verdicts to standing reasons and wishes."""
    core_step(core, v, c)


def gate_part(gate, core, v, c, out):
    """Wishes to what is driven."""
    gate_step(gate, core, v, c, out)


def back_part(sense, out):
    """What was driven, for the next tick's sense."""
    feed_back(sense, out)


TICK_PARTS = (sense_part, core_part, gate_part, back_part)


class Outputs:
    """The three words that are driven; lamps and text are not part of the proof."""

    def __init__(self) -> None:
        self.ox = 0
        self.fuel = 0
        self.bits = 0


def _raw() -> list[int]:
    return [0] * RAW_COUNT


OBJECTS: dict[str, Callable[[], object]] = {
    "c": Settings,
    "raw": _raw,
    "v": Verdicts,
    "sense": SenseState,
    "core": CoreState,
    "gate": GateState,
    "out": Outputs,
}


def objects(*names: str) -> dict[str, Callable[[], object]]:
    """Some of the tick's objects by name."""
    return {name: OBJECTS[name] for name in names}
