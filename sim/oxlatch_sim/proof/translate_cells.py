"""Where the integers of the running program live during translation.

Every integer is a *cell* with a dotted name: "gate.ox", "gate.age[0]", "raw[4]". Objects and lists are
only views of cells.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from types import FunctionType

from oxlatch_sim.proof.translate_source import Source
from oxlatch_sim.proof.translate_terms import Term, Value

Operand = object  # a Value, a Thing, a Row, a Method, a function, a module, a constant tuple, or None
Store = dict[str, Value]


@dataclass(frozen=True)
class Thing:
    """An object: where its cells are, and an example of it that shows its layout."""

    path: str
    sample: object


@dataclass(frozen=True)
class Row:
    """A fixed-length list of integers."""

    path: str
    length: int


@dataclass(frozen=True)
class Method:
    """A function found on an object's class, with the object."""

    owner: Thing
    function: FunctionType


@dataclass(frozen=True)
class Duty:
    """Something the intervals could not show and a proof must: an index within its list, a divisor above zero."""

    where: str
    holds: Value


@dataclass
class Flow:
    """One path through a function: what it has written, and under which condition it is here."""

    store: Store
    local: dict[str, Operand]
    live: Value = True

    def fork(self, live: Value) -> Flow:
        """The same path, continued under a stronger condition."""
        return Flow(dict(self.store), dict(self.local), live)


@dataclass
class Frame:
    """One call: its source, the condition under which it is made, and the ways out found so far."""

    source: Source
    names: Mapping[str, object]
    reached: Value
    exits: list[tuple[Value, Store, Operand]] = field(default_factory=list)


def is_value(operand: Operand) -> bool:
    """Whether an operand is an integer or truth value."""
    return isinstance(operand, int | Term)


def is_object(sample: object) -> bool:
    """Whether an attribute is an object with integers of its own."""
    return hasattr(sample, "__dict__") and not callable(sample) and not isinstance(sample, type)


def cells_of(path: str, sample: object) -> Iterator[tuple[str, int]]:
    """Every integer cell of an integer, a list or an object, with its present value."""
    if isinstance(sample, int):
        yield path, int(sample)
    elif isinstance(sample, list):
        for i, value in enumerate(sample):
            if isinstance(value, int):
                yield f"{path}[{i}]", int(value)
    elif is_object(sample):
        for name, value in vars(sample).items():
            yield from cells_of(f"{path}.{name}", value)
