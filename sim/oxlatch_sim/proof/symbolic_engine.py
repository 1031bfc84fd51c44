"""Induction over one tick.

A `System` names the objects of a tick, the functions that make up the step, and the interval of every
word. Its invariants hold at the start and after every step; its claims hold after every step. Both are
plain functions in the same subset as the firmware, so the same text is translated for the proof and
executed when a counterexample is checked. Parameters are bound to the objects by name.

Every proof is for all settings within the field table that satisfy the cross-field rules, and for every
value of the objects named in `fresh` (raw samples, or verdicts) at every tick.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import z3

from oxlatch.settings import rules_hold
from oxlatch_sim.proof.translate import Translator
from oxlatch_sim.proof.translate_cells import Operand, cells_of
from oxlatch_sim.proof.translate_solver import Formulas, bits_needed
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
    likely: Callable[[str], Range] | None = None  # intervals a counterexample keeps to where it can


@dataclass(frozen=True)
class Counterexample:
    """A state, settings and input that satisfy everything assumed and break one claim after one step."""

    system: str
    claim: str
    at_start: bool
    cells: Mapping[str, int]


@dataclass
class Outcome:
    """What became of one claim."""

    claim: Claim
    proved: bool
    seconds: float
    counterexample: Counterexample | None = None


class SolverGaveUp(RuntimeError):
    """The solver ended without an answer; never counted as a proof."""


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
        duties = Claim(f"{system.name} indices", "ranges", "every list index lies within its list", lambda: True)
        after.extend((duties, duty.holds) for duty in walker.duties)
    for name in system.objects:
        if name not in system.fresh | system.constant:
            inside = [_inside(space, walker.store[cell], system.ranges(cell)) for cell in usual if _owner(cell) == name]
            after.append((_range_claim(system, name), space.every(inside)))
    return Unfolded(before, after, possible, usual, space)


def _owner(cell: str) -> str:
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


class Case:
    """One case of a system ready for the solver: its hypotheses and goals as formulas."""

    def __init__(self, system: System, pinned: Mapping[str, int], start: bool) -> None:
        self.system = system
        self.pinned = pinned
        self.start = start
        self.unfolded = unfold(system, pinned, start)
        terms = [goal for _, goal in [*self.unfolded.after, *self.unfolded.possible]]
        self._formulas = Formulas(bits_needed([*self.unfolded.before, *terms]))
        before = [self._formulas.of(value) for value in self.unfolded.before]
        self.goals = [(one, self._formulas.of(goal)) for one, goal in self.unfolded.after]
        self.possible = [(one, self._formulas.of(goal)) for one, goal in self.unfolded.possible]
        self._before = [*self._formulas.domain, *before]

    @property
    def name(self) -> str:
        """The case in words, for progress."""
        which = "start" if self.start else ", ".join(f"{word} = {value}" for word, value in self.pinned.items())
        return f"{self.system.name}: {which or 'one tick'}"

    def holds(self, goals: Sequence[z3.BoolRef]) -> bool:
        """Whether the hypotheses imply all the goals."""
        return _check(self._broken(goals)) == z3.unsat

    def counterexample(self, one: Claim, goal: z3.BoolRef) -> Counterexample | None:
        """Words that satisfy the hypotheses and break the goal, as many as possible at their usual value."""
        solver = self._broken([goal])
        if _check(solver) == z3.unsat:
            return None
        names = list(self._formulas.variables)
        if self.system.likely is not None:
            self._keep(solver, [self._inside(name, self.system.likely(name)) for name in names])
        self._keep(solver, [self._is_usual(name) for name in names if name.startswith("c.")])
        self._keep(solver, [self._is_usual(name) for name in names if not name.startswith("c.")])
        _check(solver)
        return Counterexample(self.system.name, one.name, self.start, self._words(solver))

    def _words(self, solver: z3.Solver) -> dict[str, int]:
        model = solver.model()
        cells = {}
        for name in self.unfolded.names:
            if name in self._formulas.variables:
                cells[name] = self._formulas.value_in(model, name)
            else:
                cells[name] = self.pinned.get(name, self._usual(name))
        return cells

    def _broken(self, goals: Sequence[z3.BoolRef]) -> z3.Solver:
        solver = z3.SolverFor("QF_BV")
        solver.add(*self._before, z3.Not(z3.And(*goals)))
        return solver

    def _usual(self, name: str) -> int:
        low, high = self.system.ranges(name)
        return min(max(self.unfolded.usual[name], low), high)

    def _is_usual(self, name: str) -> z3.BoolRef:
        return self._formulas.variables[name] == self._usual(name)

    def _inside(self, name: str, limits: Range) -> z3.BoolRef:
        low, high = self.system.ranges(name)
        wide = self._formulas.of(self.unfolded.space.variable(name, low, high))
        return z3.And(wide >= max(low, limits[0]), wide <= min(high, limits[1]))

    def _keep(self, solver: z3.Solver, wanted: list[z3.BoolRef]) -> None:
        """Add as many of the wishes as possible, halving the list when not all can be had."""
        if not wanted:
            return
        solver.push()
        solver.add(*wanted)
        if _check(solver) == z3.sat:
            return
        solver.pop()
        if len(wanted) > 1:
            half = len(wanted) // 2
            self._keep(solver, wanted[:half])
            self._keep(solver, wanted[half:])


def _check(solver: z3.Solver) -> z3.CheckSatResult:
    answer = solver.check()
    if answer == z3.unknown:
        raise SolverGaveUp(solver.reason_unknown())
    return answer


def steps_of(system: System) -> Iterator[Case]:
    """The start, then every case of one tick."""
    yield Case(system, {}, True)
    for pinned in cases(system):
        yield Case(system, pinned, False)


def is_broken(system: System) -> bool:
    """Whether any invariant or claim fails; stops at the first case that shows it."""
    return not all(case.holds([goal for _, goal in case.goals]) for case in steps_of(system))


def prove(system: System, told: Callable[[str], None] | None = None) -> list[Outcome]:
    """Prove every invariant and claim of a system, and that every witness is possible.

    All goals of a case are first asked in one query. Only when it fails is each asked alone, to tell which
    one is broken. Seconds are processor time; those of a joint query are shared equally among its goals.
    """
    outcomes: dict[str, Outcome] = {}
    possible = Claim(
        f"{system.name} cases", "", "no case contradicts itself, so none is proved of nothing", lambda: True
    )
    witnesses = {one.name: Outcome(one, False, 0.0) for one in system.witnesses}
    began = time.process_time()
    for case in steps_of(system):
        for one, _ in case.goals:
            outcomes.setdefault(one.name, Outcome(one, True, 0.0))
        cases_outcome = outcomes.setdefault(possible.name, Outcome(possible, True, 0.0))
        cases_outcome.proved = cases_outcome.proved and not case.holds([z3.BoolVal(False)])
        if not case.holds([goal for _, goal in case.goals]):
            _find_broken(case, outcomes)
        began, spent = time.process_time(), time.process_time() - began
        for one, _ in case.goals:
            outcomes[one.name].seconds += spent / len(case.goals)
        for one, goal in case.possible:
            if not witnesses[one.name].proved:
                witnesses[one.name].proved = not case.holds([goal])
                began, spent = time.process_time(), time.process_time() - began
                witnesses[one.name].seconds += spent
        if told is not None:
            told(case.name)
    return [*outcomes.values(), *witnesses.values()]


def _find_broken(case: Case, outcomes: dict[str, Outcome]) -> None:
    """Ask every goal alone; keep the counterexample of the first case that breaks a claim."""
    for one, goal in case.goals:
        outcome = outcomes[one.name]
        if outcome.proved:
            outcome.counterexample = case.counterexample(one, goal)
            outcome.proved = outcome.counterexample is None
