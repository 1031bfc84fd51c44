"""A counterexample executed by the firmware itself, not by the translation."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from oxlatch_sim.proof.symbolic_engine import Claim, Counterexample, System, arguments_of
from oxlatch_sim.proof.translate_cells import cells_of


def load(system: System, cells: Mapping[str, int]) -> dict[str, Any]:
    """The system's objects with the given words; words not named keep their value after a reset."""
    things: dict[str, Any] = {name: make() for name, make in system.objects.items()}
    for cell, value in cells.items():
        owner, _, rest = cell.partition(".")
        name, _, index = (rest or owner).partition("[")
        target = things[owner.partition("[")[0]]
        if not rest:
            target[int(index[:-1])] = value
        elif index:
            getattr(target, name)[int(index[:-1])] = value
        else:
            setattr(target, name, value)
    return things


def run_step(system: System, things: Mapping[str, Any]) -> None:
    """One step of the running code."""
    for step in system.steps:
        step(*[things[name] for name in arguments_of(step)])


def holds(claim: Claim, things: Mapping[str, Any]) -> bool:
    """Whether the claim's own text, executed, is true of the objects."""
    return bool(claim.holds(*[things[name] for name in arguments_of(claim.holds)]))


def changed_words(system: System, before: Mapping[str, int], things: Mapping[str, Any]) -> dict[str, tuple[int, int]]:
    """Words that the step changed: before and after."""
    after = {cell: value for name in system.objects for cell, value in cells_of(name, things[name])}
    return {cell: (value, after[cell]) for cell, value in before.items() if after[cell] != value}


def is_real(system: System, claim: Claim, example: Counterexample) -> bool:
    """Whether the running code breaks the claim in one step from the counterexample."""
    things = load(system, example.cells)
    if not all(holds(assumed, things) for assumed in system.invariants):
        return False
    run_step(system, things)
    return not holds(claim, things)
