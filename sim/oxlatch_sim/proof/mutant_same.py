"""Is a mutant the same tick? Asked of the solver, for every settings record and every state that can be.

The part of the tick concerned is translated twice over the same words, as it is and changed. Where every word it leaves
behind is the same term, or the solver finds no state within the proved invariants that tells them apart, no run can.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import z3

from oxlatch_sim.proof.mutant_source import Mutant, applied, module_of
from oxlatch_sim.proof.symbolic import system_of
from oxlatch_sim.proof.symbolic_engine import Range, System, arguments_of, cases
from oxlatch_sim.proof.symbolic_parts import OBJECTS, back_part, core_part, gate_part, objects, sense_part
from oxlatch_sim.proof.symbolic_ranges import word_range
from oxlatch_sim.proof.translate import Translator
from oxlatch_sim.proof.translate_cells import Operand, Store, cells_of, is_value
from oxlatch_sim.proof.translate_solver import Formulas, bits_needed
from oxlatch_sim.proof.translate_source import NotInSubset
from oxlatch_sim.proof.translate_terms import Space, Value

PATIENCE_MS = 30_000

OWNERS = {"g": "gate", "v": "v", "c": "c", "raw": "raw", "out": "out"}  # by the names of parameters

NOTHING = -(1 << 20)  # stands for a function that returns nothing; no word of the tick is ever so low

Part = Callable[..., None]

FEED_BACK = System("feed back", objects("sense", "out"), (back_part,), word_range, rules=())


class NotDecided(Exception):
    """The solver gave up, or the changed source cannot be translated; the message says which."""


@dataclass(frozen=True)
class Difference:
    """A state and input within the invariants from which the two ticks differ, and the words that do."""

    words: tuple[str, ...]
    cells: Mapping[str, int]


def system_for(module: str) -> tuple[System, Part]:
    """The system whose invariants hold around a module, and the part of the tick that the module belongs to."""
    if module.startswith("sense"):
        return system_of("sense"), sense_part
    if module == "gate":
        return system_of("gate"), gate_part
    if module == "controller":
        return FEED_BACK, back_part
    return system_of("core"), core_part


def difference(mutant: Mutant) -> Difference | None:
    """The first state found that tells a mutant from the tick, or None when it is proved that there is none.

    Raises NotDecided.
    """
    if mutant.module == "controller" and mutant.function not in ("feed_back", ""):
        raise NotDecided("no system of the solver holds the order of the whole tick")
    if _same_alone(mutant):
        return None
    try:
        system, part = system_for(mutant.module)
        for pinned in cases(system):
            found = _Twice(system, part, pinned, mutant).difference()
            if found is not None:
                return found
    except NotInSubset as problem:
        raise NotDecided(f"the changed source has no translation: {problem}") from problem
    return None


def _same_alone(mutant: Mutant) -> bool:
    try:
        alone = function_of(mutant)
        return alone is not None and _Twice(*alone, {}, mutant).difference() is None
    except (NotInSubset, NotDecided):
        return False


def function_of(mutant: Mutant) -> tuple[System, Part] | None:
    """The changed function by itself, on any words in their ranges: the shorter way when that is proof enough.

    None when it takes more than the tick's objects.
    """
    function = getattr(module_of(mutant.module), mutant.function, None)
    if function is None:
        return None
    owners = {"s": "sense" if mutant.module.startswith("sense") else "core"} | OWNERS
    names = arguments_of(function)
    if not set(names) <= set(owners):
        return None
    made = {name: OBJECTS[owners[name]] for name in names}

    def ranges(cell: str) -> Range:
        name, mark = (cell.partition("[")[0], "[") if "[" in cell and "." not in cell else (cell.partition(".")[0], ".")
        return word_range(owners[name] + mark + cell.partition(mark)[2])

    return System(mutant.function, made, (function,), ranges, rules=()), function


def told_apart(mutant: Mutant, found: Difference) -> bool:
    """Whether the running code, as it is and changed, ends otherwise from the state that the solver named."""
    system, part = system_for(mutant.module)
    usual = _ran(system, part, found.cells)
    with applied(mutant.module, mutant.text):
        try:
            return _ran(system, part, found.cells) != usual
        except Exception:  # it does not even end
            return True


def _ran(system: System, part: Part, cells: Mapping[str, int]) -> dict[str, int]:
    """Every word after a part of the tick has run from these words; words not named are as after a reset."""
    made = {name: make() for name, make in system.objects.items()}
    for cell, value in cells.items():
        head, _, index = cell.rstrip("]").partition("[")
        owner, _, name = head.partition(".")
        place: Any = made[owner]
        if index and name:
            getattr(place, name)[int(index)] = value
        elif index:
            place[int(index)] = value
        else:
            setattr(place, name, value)
    part(*[made[name] for name in arguments_of(part)])
    return {cell: value for name, thing in made.items() for cell, value in cells_of(name, thing)}


class _Twice:
    """One case of a system with a part of its tick run twice from the same words."""

    def __init__(self, system: System, part: Part, pinned: Mapping[str, int], mutant: Mutant) -> None:
        self.system = system
        self.pinned = pinned
        self.space = Space()
        self.walker = Translator(self.space)
        self.operands: dict[str, Operand] = {
            name: self.walker.place(name, make(), self._word) for name, make in system.objects.items()
        }
        self.start = dict(self.walker.store)
        usual = self._run(part)
        with applied(mutant.module, mutant.text):
            changed = self._run(part)
        apart = {
            cell: self.space.negation(self.space.equal(value, changed[cell]))
            for cell, value in usual.items()
            if value is not changed[cell]
        }
        self.apart = {cell: value for cell, value in apart.items() if value is not False}

    def _word(self, cell: str) -> Value:
        low, high = (self.pinned[cell], self.pinned[cell]) if cell in self.pinned else self.system.ranges(cell)
        return self.space.variable(cell, low, high)

    def _run(self, part: Part) -> Store:
        """Every word afterwards; what is returned counts as one."""
        self.walker.store = dict(self.start)
        result = self.walker.call(part, [self.operands[name] for name in arguments_of(part)])
        returned = self.space.number(result) if is_value(result) else NOTHING  # type: ignore[arg-type]
        return {**self.walker.store, "what it returns": returned}

    def _hypotheses(self) -> list[Value]:
        self.walker.store = dict(self.start)
        found = []
        for one in (*self.system.rules, *[invariant.holds for invariant in self.system.invariants]):
            answer = self.walker.call(one, [self.operands[name] for name in arguments_of(one)])
            found.append(self.space.truth(answer))  # type: ignore[arg-type]
        return found

    def difference(self) -> Difference | None:
        """What the solver finds."""
        if not self.apart:
            return None
        before = self._hypotheses()
        any_apart = self.space.negation(self.space.every(self.space.negation(one) for one in self.apart.values()))
        formulas = Formulas(bits_needed([*before, any_apart]))
        asked = [formulas.of(value) for value in (any_apart, *before)]
        solver = z3.SolverFor("QF_BV")
        solver.set("timeout", PATIENCE_MS)
        solver.add(*asked, *[limit for word in formulas.domain.values() for limit in word])
        answer = solver.check()
        if answer == z3.unknown:
            raise NotDecided(f"the solver gave up: {solver.reason_unknown()}")
        if answer == z3.unsat:
            return None
        model = solver.model()
        differing = [
            cell
            for cell, one in self.apart.items()
            if z3.is_true(model.eval(formulas.of(one), model_completion=True))
        ]
        cells = {name: formulas.value_in(model, name) for name in formulas.variables}
        return Difference(tuple(differing), cells | dict(self.pinned))
