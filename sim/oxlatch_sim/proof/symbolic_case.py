"""One case of a system before the solver: which hypotheses are asked about which goals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import z3

from oxlatch_sim.proof.symbolic_engine import Claim, Counterexample, Range, System, owner_of, unfold
from oxlatch_sim.proof.translate_solver import Formulas, bits_needed
from oxlatch_sim.proof.translate_terms import words_of


class SolverGaveUp(RuntimeError):
    """The solver ended without an answer; never counted as a proof."""


Proved = dict[frozenset[int], tuple[bool, list[z3.BoolRef]]]
"""Answers by the numbers of the formulas asked; the formulas are kept so that their numbers stay theirs."""


class Case:
    """One case of a system ready for the solver: its hypotheses and goals as formulas."""

    def __init__(self, system: System, pinned: Mapping[str, int], start: bool) -> None:
        self.system = system
        self.pinned = pinned
        self.start = start
        self.unfolded = unfold(system, pinned, start)
        goals = [goal for _, goal in self.unfolded.after]
        possible = [goal for _, goal in self.unfolded.possible]
        self._formulas = Formulas(bits_needed([*self.unfolded.before, *goals, *possible]))
        self._before = [self._formulas.of(value) for value in self.unfolded.before]
        self.goals = [(one, self._formulas.of(goal)) for one, goal in self.unfolded.after]
        self.possible = [(one, self._formulas.of(goal)) for one, goal in self.unfolded.possible]
        self._names, words = words_of([*self.unfolded.before, *goals])
        self._words, self._goal_words = words[: len(self._before)], words[len(self._before) :]
        self._constants = sum(1 << at for at, name in enumerate(self._names) if self._is_constant(name))

    @property
    def name(self) -> str:
        """The case in words, for progress."""
        which = "start" if self.start else ", ".join(f"{word} = {value}" for word, value in self.pinned.items())
        return f"{self.system.name}: {which or 'one tick'}"

    def holds(self, goals: Sequence[z3.BoolRef]) -> bool:
        """Whether the hypotheses imply all the goals."""
        return _check(self._broken(goals)) == z3.unsat

    def can_occur(self) -> bool:
        """Whether some words satisfy the hypotheses; looked for with the usual settings first."""
        solver = self._broken([z3.BoolVal(False)])
        solver.add(*[self._is_usual(name) for name in self._formulas.variables if self._is_constant(name)])
        return _check(solver) == z3.sat or not self.holds([z3.BoolVal(False)])

    def open_goals(self, proved: Proved) -> list[tuple[Claim, z3.BoolRef]]:
        """The goals left after asking them in groups, each group with the hypotheses that concern it.

        Where the parts are loose, first with the hypotheses that share a word with the goal; then with those
        that share one through others. Leaving out a hypothesis can lose a proof and never make one. `proved`
        remembers groups, also from other cases.
        """
        places = list(range(len(self.goals)))
        for near in (self._near, self._connected) if self.system.loose else (self._connected,):
            groups: dict[frozenset[int], list[int]] = {}
            for place in places:
                groups.setdefault(near(place), []).append(place)
            failed = [group for used, group in groups.items() if not self._follow(used, group, proved)]
            places = [place for group in failed for place in group]
        return [self.goals[place] for place in places]

    def _follow(self, used: frozenset[int], group: list[int], proved: Proved) -> bool:
        """Whether the goals at these places follow from the hypotheses used."""
        words = 0
        for mask in [*(self._words[at] for at in used), *(self._goal_words[place] for place in group)]:
            words |= mask
        names = [name for at, name in enumerate(self._names) if words >> at & 1]
        domain = [limit for name in names for limit in self._formulas.domain.get(name, [])]
        goals = [self.goals[place][1] for place in group]
        asked = [*domain, *(self._before[at] for at in sorted(used)), z3.Not(z3.And(*goals))]
        key = frozenset(formula.get_id() for formula in asked)
        if key not in proved:
            solver = z3.SolverFor("QF_BV")
            solver.add(*asked)
            proved[key] = _check(solver) == z3.unsat, asked
        return proved[key][0]

    def _near(self, place: int) -> frozenset[int]:
        """Hypotheses that share a word with a goal, and those about settings alone."""
        return self._sharing(self._goal_words[place])

    def _connected(self, place: int) -> frozenset[int]:
        """Hypotheses that share a word with a goal, directly or through others."""
        words, found = self._goal_words[place], frozenset[int]()
        while (more := self._sharing(words)) != found:
            found = more
            for at in found:
                words |= self._words[at]
        return found

    def _sharing(self, words: int) -> frozenset[int]:
        words &= ~self._constants
        return frozenset(at for at, mask in enumerate(self._words) if mask & words or not mask & ~self._constants)

    def _is_constant(self, word: str) -> bool:
        return owner_of(word) in self.system.constant

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
        return Counterexample(self.system.name, one.name, self.start, self._values(solver))

    def _values(self, solver: z3.Solver) -> dict[str, int]:
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
        limits = [limit for word in self._formulas.domain.values() for limit in word]
        solver.add(*limits, *self._before, z3.Not(z3.And(*goals)))
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
