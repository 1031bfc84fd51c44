"""Proving a system: every invariant and claim, in every case."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import z3

from oxlatch_sim.proof.symbolic_case import Case, Proved
from oxlatch_sim.proof.symbolic_engine import Claim, Counterexample, System, cases


@dataclass
class Outcome:
    """What became of one claim."""

    claim: Claim
    proved: bool
    seconds: float
    counterexample: Counterexample | None = None


def steps_of(system: System) -> Iterator[Case]:
    """The start, then every case of one tick."""
    yield Case(system, {}, True)
    for pinned in cases(system):
        yield Case(system, pinned, False)


def is_broken(system: System) -> bool:
    """Whether any invariant or claim fails; stops at the first case that shows it."""
    proved: Proved = {}
    return any(not case.holds([goal]) for case in steps_of(system) for _, goal in case.open_goals(proved))


def prove(system: System, told: Callable[[str], None] | None = None) -> list[Outcome]:
    """Prove every invariant and claim of a system, and that every witness is possible.

    Goals are first asked in groups. Only when a group fails is each of its goals asked alone, to tell which
    one is broken. Seconds are processor time, shared equally among the goals of a case.
    """
    outcomes: dict[str, Outcome] = {}
    proved: Proved = {}
    witnesses = {one.name: Outcome(one, False, 0.0) for one in system.witnesses}
    possible = Claim(
        f"{system.name} cases", "", "No case contradicts itself, so none is proved of nothing.", lambda: True
    )
    began = time.process_time()
    for case in steps_of(system):
        for one in [*(one for one, _ in case.goals), possible]:
            outcomes.setdefault(one.name, Outcome(one, True, 0.0))
        for one, goal in case.open_goals(proved):
            _look_closer(case, outcomes[one.name], goal)
        outcomes[possible.name].proved &= case.can_occur()
        for one, goal in case.possible:
            witnesses[one.name].proved = witnesses[one.name].proved or not case.holds([goal])
        began, spent = time.process_time(), time.process_time() - began
        for one, _ in case.goals:
            outcomes[one.name].seconds += spent / len(case.goals)
        if told is not None:
            told(case.name)
    return [*outcomes.values(), *witnesses.values()]


def _look_closer(case: Case, outcome: Outcome, goal: z3.BoolRef) -> None:
    """Ask one goal alone, with all hypotheses; keep the counterexample of the first case that breaks it."""
    if outcome.proved:
        outcome.counterexample = case.counterexample(outcome.claim, goal)
        outcome.proved = outcome.counterexample is None
