"""What a single fault is made of: attributes, contacts and pick-ups it disturbs, and things done once."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from oxlatch_sim.plant import sensors

if TYPE_CHECKING:
    from oxlatch_sim.bench import Bench

PLANT = "plant"
STAGE = "stage"


@dataclass(frozen=True)
class Change:
    """One attribute that takes another value; `{n}` in the path is the index of the stage."""

    path: str
    value: Any


@dataclass(frozen=True)
class Contact:
    """One switch bit that fails; shifted by the stage where the fault is a stage's."""

    bit: int
    fault: int


@dataclass(frozen=True)
class ExtraContact:
    """One contact beyond the core that fails."""

    bit: int
    fault: int


@dataclass(frozen=True)
class Pickup:
    """The engine speed pick-up fails."""

    fault: int


@dataclass(frozen=True)
class Action:
    """Something done once to the bench when the fault begins, with no way back."""

    words: str
    act: Callable[["Bench", int], None]


Effect = Change | Contact | ExtraContact | Pickup | Action


@dataclass(frozen=True)
class Fault:
    """One single fault: `row` is the row of the hazard table, `words` say it in plain language."""

    name: str
    row: int
    words: str
    effects: tuple[Effect, ...]
    part: str = PLANT
    needs: str = ""
    """The input or part, in the words of the installation file, without which there is nothing to fail."""


def contact_failures(late: str) -> tuple[tuple[str, int, str], ...]:
    """The four ways any contact fails: end of the fault's name, what the sensor does, words; `late` is how late."""
    return (
        ("stuck_off", sensors.STUCK_OFF, "stuck open or its lead off"),
        ("stuck_on", sensors.STUCK_ON, "welded, or its lead shorted"),
        ("chatters", sensors.CHATTERING, "chatters"),
        ("late", sensors.SLOW, f"{late} late"),
    )
