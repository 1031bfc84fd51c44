"""Induction over one tick.

A `System` names the objects of a tick, the functions that make up the step, and the interval of every
word. Its invariants hold at the start and after every step; its claims hold after every step. Both are
plain functions in the same subset as the firmware, so the same text is translated for the proof and
executed when a counterexample is checked. Parameters are bound to the objects by name.

Every proof is for all settings within the field table that satisfy the cross-field rules, and for every
value of the objects named in `fresh` (raw samples, or verdicts) at every tick.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from oxlatch.settings import rules_hold
from oxlatch_sim.proof.translate import Translator
from oxlatch_sim.proof.translate_cells import Operand, cells_of
from oxlatch_sim.proof.translate_source import read_function
from oxlatch_sim.proof.translate_terms import Space, Value

Range = tuple[int, int]
Predicate = Callable[..., object]


@dataclass(frozen=True)
class Claim:
    """One statement: its id, the invariant it belongs to, the statement in words, and as a function."""

    name: str
    invariant: str
    words: str
    holds: Predicate


def claim(name: str, invariant: str, holds: Predicate) -> Claim:
    """A claim whose words are the docstring of its function."""
    return Claim(name, invariant, " ".join((holds.__doc__ or "").split()), holds)


@dataclass(frozen=True)
class System:
    """One tick, or a part of it, as a step on named objects."""

    name: str
    objects: Mapping[str, Callable[[], object]]
    steps: Sequence[Callable[..., object]]
    ranges: Callable[[str], Range]
    invariants: Sequence[Claim] = ()
    claims: Sequence[Claim] = ()
    witnesses: Sequence[Claim] = ()  # must be possible, so that the proofs are not about nothing
    fresh: frozenset[str] = frozenset()
    constant: frozenset[str] = frozenset({"c"})
    rules: Sequence[Predicate] = (rules_hold,)  # what the constant objects satisfy
    split: str = ""  # a word whose every value is proved on its own
    assumptions: Sequence[str] = ()
    loose: bool = False  # its claims are about parts that share few words
    likely: Callable[[str], Range] | None = None  # intervals a counterexample keeps to where it can


@dataclass(frozen=True)
class Counterexample:
    """A state, settings and input that satisfy everything assumed and break one claim after one step."""

    system: str
    claim: str
    at_start: bool
    cells: Mapping[str, int]


def arguments_of(function: Predicate) -> tuple[str, ...]:
    """Parameter names of a predicate or step; they name objects of the system."""
    return read_function(function).parameters


@dataclass
class Unfolded:
    """One translated step: hypotheses before it, and everything that must hold after it."""

    before: list[Value]
    after: list[tuple[Claim, Value]]
    possible: list[tuple[Claim, Value]]  # negated, so that a failed proof is a witness
    usual: dict[str, int]  # every word with its value after a reset
    space: Space

    @property
    def names(self) -> list[str]:
        """Every word that goes in."""
        return list(self.usual)


def _range_claim(system: System, owner: str) -> Claim:
    return Claim(
        f"{system.name}.{owner} words",
        "ranges",
        f"every word of {owner} stays in its printed range, far below 2^30",
        lambda: True,
    )


def unfold(system: System, pinned: Mapping[str, int] | None = None, start: bool = False) -> Unfolded:
    """Translate one step, or with `start` only the initial state, into hypotheses and goals."""
    pinned = pinned or {}
    for one in system.invariants:
        if system.fresh & set(arguments_of(one.holds)):
            raise ValueError(f"{one.name} reads words that are new at every tick; it cannot be an invariant")
    space = Space()
    walker = Translator(space)
    operands: dict[str, Operand] = {}
    for name, make in system.objects.items():
        sample = make()
        known = start and name not in system.fresh | system.constant
        present = dict(cells_of(name, sample)) if known else {}

        def value_of(cell: str, present: dict[str, int] = present) -> Value:
            if cell in present:
                return present[cell]
            low, high = (pinned[cell], pinned[cell]) if cell in pinned else system.ranges(cell)
            return space.variable(cell, low, high)

        operands[name] = walker.place(name, sample, value_of)
    usual = {cell: value for name, make in system.objects.items() for cell, value in cells_of(name, make())}

    def ask(predicate: Predicate) -> Value:
        held = dict(walker.store)
        answer = walker.call(predicate, [operands[p] for p in arguments_of(predicate)])
        if walker.store != held:
            raise ValueError(f"{read_function(predicate).name} writes; a claim must only read")
        return space.truth(answer)  # type: ignore[arg-type]

    before = [ask(rule) for rule in system.rules]
    if not start:
        before.extend(ask(one.holds) for one in system.invariants)
        for step in system.steps:
            walker.call(step, [operands[p] for p in arguments_of(step)])
    after = [(one, ask(one.holds)) for one in system.invariants]
    possible: list[tuple[Claim, Value]] = []
    if not start:
        possible = [(one, space.negation(ask(one.holds))) for one in system.witnesses]
        after.extend((one, ask(one.holds)) for one in system.claims)
        bounded = "Every list index lies within its list, and no divisor is zero."
        duties = Claim(f"{system.name} indices", "ranges", bounded, lambda: True)
        after.extend((duties, duty.holds) for duty in walker.duties)
    for name in system.objects:
        if name not in system.fresh | system.constant:
            words = _range_claim(system, name)
            for cell in usual:
                if owner_of(cell) == name:
                    after.append((words, _inside(space, walker.store[cell], system.ranges(cell))))
    return Unfolded(before, after, possible, usual, space)


def owner_of(cell: str) -> str:
    """The object a word belongs to."""
    return cell.replace("[", ".").split(".")[0]


def _inside(space: Space, value: Value, limits: Range) -> Value:
    above = space.negation(space.less(value, limits[0]))
    return space.both(above, space.negation(space.less(limits[1], value)))


def cases(system: System) -> Iterator[dict[str, int]]:
    """The pinned words of each case of the split, one empty case without a split."""
    if not system.split:
        yield {}
        return
    low, high = system.ranges(system.split)
    for value in range(low, high + 1):
        yield {system.split: value}
