import pytest

from oxlatch_sim.proof.translate_check import ROWS, check_translation
from oxlatch_sim.proof.translate_terms import Space


def test_formula_and_controller_agree_on_whole_ticks():
    found = check_translation(2 * ROWS, seed=11)
    assert found.checked == 2 * ROWS
    assert found.differing == {}
    assert found.decided_both_ways > 0.9 * found.decisions


class LessIsLessOrEqual(Space):
    def less(self, a, b):
        return self.negation(super().less(b, a))


class DropsTheSecondBranch(Space):
    def choose(self, condition, yes, no):
        return super().choose(condition, yes, yes if self.size % 97 == 0 else no)


class AddsOneTooMany(Space):
    def add(self, a, b):
        return super().add(a, 2 if b == 1 else b)


@pytest.mark.parametrize("wrong", [LessIsLessOrEqual, DropsTheSecondBranch, AddsOneTooMany])
def test_a_seeded_wrong_translation_of_the_tick_is_caught(wrong):
    assert check_translation(ROWS, seed=11, space=wrong).differing
