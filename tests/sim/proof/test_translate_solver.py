import numpy as np
import pytest
import z3

from oxlatch_sim.proof.translate_solver import FormulaProgram

BITS = 12
A, B = z3.BitVecs("a b", BITS)
SHORT = z3.BitVec("short", 5)
OPERATIONS = {
    "add": A + B,
    "sub": A - B,
    "and": A & B,
    "or": A | B,
    "xor": A ^ B,
    "times": A * B,
    "divided": z3.UDiv(A, B),
    "shift left": A << B,
    "shift right": A >> B,
    "equal": z3.If(A == B, A, B),
    "less": z3.If(z3.BitVecRef.__lt__(A, B), A, B),
    "not": z3.If(z3.Not(A == B), A, B),
    "both": z3.If(z3.And(A == 3, B == A), A, B),
    "extended": z3.ZeroExt(BITS - 5, SHORT) + A,
    "signed": z3.SignExt(BITS - 5, SHORT) + A,
    "constant": A + z3.BitVecVal(-7, BITS),
}


@pytest.mark.parametrize("name", OPERATIONS)
def test_an_operation_on_columns_is_the_solvers_own(name):
    draw = np.random.default_rng(3)
    a = draw.integers(-(1 << BITS - 1), 1 << BITS - 1, size=300)
    b = np.where(draw.random(300) < 0.5, draw.integers(0, 14, size=300), draw.integers(-9, 1 << BITS - 1, size=300))
    b[:20] = a[:20]
    short = draw.integers(0, 32, size=300)
    (found,) = FormulaProgram([OPERATIONS[name]]).run({"a": a, "b": b, "short": short})
    for row in range(300):
        pairs = [(A, a), (B, b)]
        values = [(variable, z3.BitVecVal(int(column[row]), BITS)) for variable, column in pairs]
        values.append((SHORT, z3.BitVecVal(int(short[row]), 5)))
        assert z3.simplify(z3.substitute(OPERATIONS[name], *values)).as_signed_long() == found[row]


def test_an_operation_it_does_not_know_is_an_error():
    with pytest.raises(ValueError, match="no array operation for the solver's"):
        FormulaProgram([z3.URem(A, B)])


def test_truths_tell_which_decisions_went_both_ways():
    program = FormulaProgram([z3.If(A == 1, z3.If(B == 2, A, B), B)])
    columns = {"a": np.array([1, 0]), "b": np.array([2, 2])}
    assert sorted(program.truths(columns)) == [(True, False), (True, True)]
