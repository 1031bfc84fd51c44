"""Terms as bit-vector formulas, and bit-vector formulas evaluated on columns.

The formula handed to the solver is what the proof is about, so it is the formula itself that is
checked against the running code: a `FormulaProgram` is made from the finished bit-vector expression,
not from the terms it was made from.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
import z3
from numpy.typing import NDArray

from oxlatch_sim.proof.translate_terms import Term, Value, bounds, in_order

WORD_BITS = 32

Wide = NDArray[np.int64]


def bits_needed(values: Sequence[Value]) -> int:
    """Width, sign included, that holds every integer term below `values`."""
    widest = 2
    for term in in_order(values):
        for value in (term, *term.args):
            if isinstance(value, int | Term):
                low, high = bounds(value)
                widest = max(widest, high.bit_length() + 1, (-low - 1).bit_length() + 1 if low < 0 else 0)
    return widest


class Formulas:
    """Makes bit-vector formulas of one width from terms; equal terms give the same formula.

    A variable known to be small is a short bit-vector, extended; `domain` says what is left of its interval.
    """

    def __init__(self, bits: int = WORD_BITS) -> None:
        self.bits = bits
        self.variables: dict[str, z3.BitVecRef] = {}
        self.domain: dict[str, list[z3.BoolRef]] = {}
        self._signed: set[str] = set()
        self._made: dict[int, z3.ExprRef] = {}

    def value_in(self, model: z3.ModelRef, name: str) -> int:
        """The value a model gives to a variable."""
        found = model.eval(self.variables[name], model_completion=True)
        return found.as_signed_long() if name in self._signed else found.as_long()

    def of(self, value: Value) -> z3.ExprRef:
        """The formula of a term: a bit-vector for an integer, a Boolean for a truth value."""
        for term in in_order([value]):
            if term.number not in self._made:
                self._made[term.number] = self._make(term)
        return self._operand(value)

    def _operand(self, value: object) -> z3.ExprRef:
        if isinstance(value, Term):
            return self._made[value.number]
        return z3.BoolVal(value) if isinstance(value, bool) else z3.BitVecVal(value, self.bits)

    def _variable(self, term: Term) -> z3.BitVecRef:
        name = str(term.args[0])
        signed = term.low < 0
        width = max(term.high.bit_length(), (-term.low - 1).bit_length() if signed else 0) + (1 if signed else 0)
        short = z3.BitVec(name, min(width, self.bits))
        self.variables[name] = short
        if signed:
            self._signed.add(name)
        extend = self.bits - short.size()
        wide = short if extend == 0 else (z3.SignExt(extend, short) if signed else z3.ZeroExt(extend, short))
        limits = self.domain[name] = []
        if term.low > (-(1 << (width - 1)) if signed else 0):
            limits.append(wide >= term.low)
        if term.high < (1 << (width - 1 if signed else width)) - 1:
            limits.append(wide <= term.high)
        return wide

    def _make(self, term: Term) -> z3.ExprRef:
        if term.op == "var":
            return self._variable(term)
        args = [self._operand(arg) for arg in term.args]
        match term.op:
            case "ite":
                return z3.If(*args)
            case "not":
                return z3.Not(*args)
            case "all":
                return z3.And(*args)
            case "eq":
                return args[0] == args[1]
            case "lt":
                return z3.BitVecRef.__lt__(args[0], args[1])  # plain < would turn around for a constant
            case "add":
                return args[0] + args[1]
            case "sub":
                return args[0] - args[1]
            case "mul":
                return args[0] * args[1]
            case "div":
                return z3.UDiv(*args)
            case "and":
                return args[0] & args[1]
            case "or":
                return args[0] | args[1]
            case "xor":
                return args[0] ^ args[1]
            case "shl":
                return args[0] << args[1]
            case "shr":
                return args[0] >> args[1]
        raise ValueError(f"no formula for {term.op}")


def _wrap(value: Wide, bits: int) -> Wide:
    half = 1 << (bits - 1)
    return ((value + half) & ((1 << bits) - 1)) - half


class FormulaProgram:
    """Bit-vector formulas evaluated on columns of variable values, with the wrap-around of their width.

    Compiled from the finished formulas alone; it knows the solver's operations and nothing of the terms.
    An operation it does not know raises ValueError.
    """

    def __init__(self, formulas: Sequence[z3.ExprRef]) -> None:
        self._slot: dict[int, int] = {}
        self._steps: list[Callable[[list[Wide], Mapping[str, Wide]], Wide]] = []
        self._truths: list[int] = []
        self._kept = list(formulas)  # the solver reuses the number of a formula that is gone
        stack = list(reversed(self._kept))
        while stack:
            formula = stack[-1]
            children = formula.children()
            missing = [child for child in children if child.get_id() not in self._slot]
            if formula.get_id() in self._slot or not missing:
                stack.pop()
                self._add(formula, children)
            else:
                stack.extend(missing)
                self._kept.extend(missing)
        self._results = [self._slot[formula.get_id()] for formula in formulas]

    def _add(self, formula: z3.ExprRef, children: list[z3.ExprRef]) -> None:
        if formula.get_id() in self._slot:
            return
        self._slot[formula.get_id()] = len(self._steps)
        if z3.is_bool(formula):
            self._truths.append(len(self._steps))
        self._steps.append(_operation(formula, [self._slot[child.get_id()] for child in children]))

    def run(self, columns: Mapping[str, Wide]) -> list[Wide]:
        """Values of the formulas, one array each."""
        made: list[Wide] = []
        for step in self._steps:
            made.append(step(made, columns))
        return [made[slot] for slot in self._results]

    def truths(self, columns: Mapping[str, Wide]) -> list[tuple[bool, bool]]:
        """For every truth inside the formulas: whether some row makes it true, and whether some makes it false."""
        made: list[Wide] = []
        for step in self._steps:
            made.append(step(made, columns))
        return [(bool(np.any(made[slot])), not np.all(made[slot])) for slot in self._truths]


Made = list[Wide]
Columns = Mapping[str, Wide]


def _operation(formula: z3.ExprRef, at: list[int]) -> Callable[[Made, Columns], Wide]:
    """One operation of the solver as an operation on arrays; `at` says where its operands are."""
    kind = formula.decl().kind()
    match kind:
        case z3.Z3_OP_UNINTERPRETED:
            name = formula.decl().name()
            return lambda made, columns: columns[name]
        case z3.Z3_OP_BNUM:
            number = np.int64(formula.as_signed_long())
            return lambda made, columns: number  # type: ignore[return-value]
        case z3.Z3_OP_TRUE | z3.Z3_OP_FALSE:
            truth = np.bool_(kind == z3.Z3_OP_TRUE)
            return lambda made, columns: truth  # type: ignore[return-value]
        case z3.Z3_OP_ZERO_EXT:
            mask = (1 << formula.arg(0).size()) - 1
            return lambda made, columns: made[at[0]] & mask
        case z3.Z3_OP_SIGN_EXT:
            short = formula.arg(0).size()
            return lambda made, columns: _wrap(made[at[0]], short)
        case z3.Z3_OP_ITE:
            return lambda made, columns: np.where(made[at[0]], made[at[1]], made[at[2]])
        case z3.Z3_OP_NOT:
            return lambda made, columns: np.logical_not(made[at[0]])
        case z3.Z3_OP_AND:
            return lambda made, columns: np.logical_and(made[at[0]], made[at[1]])
        case z3.Z3_OP_EQ:
            return lambda made, columns: np.equal(made[at[0]], made[at[1]])
        case z3.Z3_OP_SLT:
            return lambda made, columns: np.less(made[at[0]], made[at[1]])
    return _word_operation(formula, kind, at)


def _word_operation(formula: z3.ExprRef, kind: int, at: list[int]) -> Callable[[Made, Columns], Wide]:
    bits = formula.size() if z3.is_bv(formula) else 0
    unsigned = (1 << bits) - 1
    match kind:
        case z3.Z3_OP_BADD:
            return lambda made, columns: _wrap(made[at[0]] + made[at[1]], bits)
        case z3.Z3_OP_BSUB:
            return lambda made, columns: _wrap(made[at[0]] - made[at[1]], bits)
        case z3.Z3_OP_BMUL:
            return lambda made, columns: _wrap(made[at[0]] * made[at[1]], bits)
        case z3.Z3_OP_BUDIV | z3.Z3_OP_BUDIV_I:
            return lambda made, columns: _divide(made[at[0]] & unsigned, made[at[1]] & unsigned, bits)
        case z3.Z3_OP_BAND:
            return lambda made, columns: made[at[0]] & made[at[1]]
        case z3.Z3_OP_BOR:
            return lambda made, columns: made[at[0]] | made[at[1]]
        case z3.Z3_OP_BXOR:
            return lambda made, columns: made[at[0]] ^ made[at[1]]
        case z3.Z3_OP_BSHL:
            return lambda made, columns: _shift_left(made[at[0]], made[at[1]] & unsigned, bits)
        case z3.Z3_OP_BASHR:
            return lambda made, columns: np.right_shift(made[at[0]], np.minimum(made[at[1]] & unsigned, bits))
    raise ValueError(f"no array operation for the solver's {formula.decl()}")


def _divide(value: Wide, by: Wide, bits: int) -> Wide:
    """Unsigned division; by zero it gives all ones."""
    return _wrap(np.where(by > 0, value // np.maximum(by, 1), (1 << bits) - 1), bits)


def _shift_left(value: Wide, amount: Wide, bits: int) -> Wide:
    return np.where(amount < bits, _wrap(np.left_shift(value, np.minimum(amount, bits)), bits), 0)
