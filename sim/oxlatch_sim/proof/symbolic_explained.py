"""An explanation of an invariant, as data: which guard of which layer, what hardware adds, and what is left open."""

from __future__ import annotations

from dataclasses import dataclass

LAYERS = ("sense", "sequencer", "gate", "loop", "store", "hardware")


@dataclass(frozen=True)
class Guard:
    """One reason: its layer, the function (module.function) and text that do it, and a sentence."""

    layer: str
    function: str
    text: str
    words: str


@dataclass(frozen=True)
class Explanation:
    """One invariant: what it says, the guards that hold it, what hardware adds, what is not covered."""

    id: str
    words: str
    guards: tuple[Guard, ...]
    hardware: str
    open: str


NOTHING_ADDED = "Hardware adds nothing here."
COMMAND = "Commands only: a valve that sticks or a coil that fails is the matter of the other planes."
