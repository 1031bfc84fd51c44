import numpy as np
import pytest
import small_tick as small
import z3
from changed_source import changed

from oxlatch_sim.proof.translate import translate
from oxlatch_sim.proof.translate_cells import cells_of
from oxlatch_sim.proof.translate_columns import ColumnProgram
from oxlatch_sim.proof.translate_solver import FormulaProgram, Formulas, bits_needed
from oxlatch_sim.proof.translate_source import NotInSubset
from oxlatch_sim.proof.translate_terms import Space, TermError

RANGES = {
    "s.mode": (0, 3),
    "s.count": (0, 20),
    "s.bits": (0, 31),
    "s.trace": (0, 7),
    "s.share": (0, 35000),
    "raw[0]": (0, 5000),
    "raw[1]": (0, 7),
    "raw[2]": (-1, 4),
    "c.stages": (1, 4),
    "c.limit": (1, 20),
    "c.threshold": (300, 4000),
}
ROWS = 4000


def ranges(cell):
    return RANGES.get(cell, (0, 17))


def translated(space=None):
    arguments = [("s", small.Small()), ("raw", [0] * 3), ("c", small.Bounds())]
    found = translate(small.small_tick, arguments, ranges, space)
    outputs = {cell: value for cell, value in found.outputs.items() if cell.startswith("s.")}
    return found, {**outputs, "result": found.result}


def random_columns(found):
    draw = np.random.default_rng(7)
    return {cell: draw.integers(*ranges(cell), size=ROWS, endpoint=True) for cell in found.inputs}


def run_row(columns, row):
    things = {"s": small.Small(), "c": small.Bounds(), "raw": [0] * 3}
    for cell, column in columns.items():
        owner, _, rest = cell.partition(".")
        name, _, index = (rest or owner).partition("[")
        if not rest:
            things["raw"][int(index[:-1])] = int(column[row])
        elif index:
            getattr(things[owner], name)[int(index[:-1])] = int(column[row])
        else:
            setattr(things[owner], name, int(column[row]))
    result = small.small_tick(things["s"], things["raw"], things["c"])
    return {**dict(cells_of("s", things["s"])), "result": result}


def differing_words(outputs, columns, found):
    ran = [run_row(columns, row) for row in range(ROWS)]
    return {name for name in outputs for row in range(ROWS) if ran[row][name] != found[name][row]}


def test_columns_agree_with_the_running_code():
    found, outputs = translated()
    columns = random_columns(found)
    assert differing_words(outputs, columns, ColumnProgram(outputs, block_rows=512).run(columns)) == set()


def test_formulas_agree_with_the_running_code_in_a_narrow_and_in_a_wide_word():
    found, outputs = translated()
    columns = random_columns(found)
    needed = bits_needed(list(outputs.values()))
    assert needed < 20
    for bits in (needed, 32):
        formulas = Formulas(bits)
        values = FormulaProgram([formulas.of(value) for value in outputs.values()]).run(columns)
        assert differing_words(outputs, columns, dict(zip(outputs, values))) == set()


class LessIsLessOrEqual(Space):
    def less(self, a, b):
        return self.negation(super().less(b, a))


class MergesTheWrongWay(Space):
    def choose(self, condition, yes, no):
        return super().choose(condition, yes, no if isinstance(no, int) else yes)


class ForgetsABit(Space):
    def bit_or(self, a, b):
        return super().bit_or(a, 0 if b == 8 else b)


class ShiftsByOneLess(Space):
    def shift_right(self, a, b):
        return a if b == 1 else super().shift_right(a, b)


class RoundsUp(Space):
    def divide(self, a, b):
        return super().divide(self.add(a, 1), b)


class MultipliesByOneMore(Space):
    def multiply(self, a, b):
        return super().multiply(a, b + 1)


@pytest.mark.parametrize(
    "wrong", [LessIsLessOrEqual, MergesTheWrongWay, ForgetsABit, ShiftsByOneLess, RoundsUp, MultipliesByOneMore]
)
def test_a_wrong_translation_is_caught(wrong):
    _, outputs = translated(wrong())
    columns = random_columns(translated()[0])
    assert differing_words(outputs, columns, ColumnProgram(outputs, block_rows=512).run(columns)) != set()


def test_a_changed_source_is_translated_as_changed():
    with changed(small, "s.bits |= 1 << i", "s.bits |= 2 << i"):
        found, outputs = translated()
        columns = random_columns(found)
        values = ColumnProgram(outputs, block_rows=512).run(columns)
        assert differing_words(outputs, columns, values) == set()
    assert differing_words(outputs, columns, values) != set()


def test_settings_as_constants_shrink_the_translation():
    found, _ = translated()
    fixed = {"c.stages": 2, "c.limit": 3, "c.threshold": 400}
    arguments = [("s", small.Small()), ("raw", [0] * 3), ("c", small.Bounds())]
    less = translate(small.small_tick, arguments, lambda c: (fixed[c], fixed[c]) if c in fixed else ranges(c))
    assert not any(cell.startswith("c.") for cell in less.space.variables)
    assert less.space.size < found.space.size


def test_an_index_or_a_divisor_that_the_intervals_cannot_bound_is_left_as_a_duty():
    found, _ = translated()
    assert [duty.where for duty in found.duties] == [
        "small_tick.py:65: divisor above zero",
        "small_tick.py:75: index within 0..3",
        "small_tick.py:77: index within 0..3",
    ]


def duty_can_fail(found):
    formulas = Formulas()
    solver = z3.Solver()
    solver.add(z3.Not(formulas.of(found.duties[0].holds)))
    solver.add(*[limit for limits in formulas.domain.values() for limit in limits])
    return solver.check() == z3.sat


def test_the_duty_of_a_divisor_is_met_behind_its_guard_and_not_without_it():
    assert not duty_can_fail(translated()[0])
    with changed(small, "    if raw[1]:\n", "    if raw[0]:\n"):
        assert duty_can_fail(translated()[0])


REFUSED = {
    "while s.count:\n        s.count -= 1": "statement While",
    "s.count = raw[0] * raw[1]": "a product of two variables",
    "s.count = raw[0] % 3": "operator Mod",
    "s.count = raw[2] // 3": "division of -1..4 by 3..3",
    "s.count = 1.5": "expression Constant",
    "s.count = max(raw[0], 3)": "max is neither",
    "s.count = [x for x in raw][0]": "expression ListComp",
    "s.count = raw[7]": "index 7 outside 0..2",
    "s.count = other": "other is neither",
    "s.unknown = 1": "there is no integer s.unknown",
    "s.count = s.nothing": "s has no integer or list nothing",
    "for i in raw:\n        s.count = i": "only `for name in range(...)`",
    "for i in range(raw[0]):\n        s.count = i": "a loop of up to 5000 rounds",
    "s.count = 1 << raw[0]": "shift by 0..5000",
    "s.count = raw[1] << 31": "beyond a 32-bit word",
    "if raw[0]:\n        late = 1\n    s.count = late": "late is not set on every way",
    "try:\n        s.count = 1\n    except ValueError:\n        pass": "statement Try",
    "assert s.count": "statement Assert",
    "s.count = (lambda: 1)()": "expression Lambda",
    "s.count = level(raw[0], c=c)": "expression Call",
    "s.count = level(raw[0])": "level takes 2 parameters, got 1",
}


@pytest.mark.parametrize("statement", REFUSED)
def test_what_is_not_in_the_subset_is_an_error_that_names_file_and_line(statement):
    with (
        changed(small, "heard = level(raw[0], c)", statement),
        pytest.raises(NotInSubset, match=r"<small_tick with .*:\d+: ") as caught,
    ):
        translated()
    assert REFUSED[statement] in str(caught.value)


def test_a_decorated_or_defaulted_function_is_refused():
    def with_default(a, b=1):
        return a + b

    with pytest.raises(NotInSubset, match="positional parameters only"):
        translate(with_default, [("a", 0)], lambda cell: (0, 5))


def test_a_variable_cannot_have_two_intervals():
    space = Space()
    space.variable("x", 0, 5)
    with pytest.raises(TermError, match=r"x declared as 0\.\.5 and as 0\.\.6"):
        space.variable("x", 0, 6)
