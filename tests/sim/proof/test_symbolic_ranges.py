import pytest

from oxlatch.sense import VERDICT_NAMES
from oxlatch.settings import FIELDS
from oxlatch_sim.proof import symbolic_ranges as table
from oxlatch_sim.state_names import STATE_WORD_NAMES


def test_the_table_knows_every_word_of_the_state_and_no_other():
    named = {name.partition("[")[0] for name in STATE_WORD_NAMES}
    listed = {f"sense.{n}" for n in table.SENSE} | {f"core.{n}" for n in table.CORE} | {f"gate.{n}" for n in table.GATE}
    assert listed == named
    assert set(table.VERDICTS) == set(VERDICT_NAMES)


def test_no_word_comes_near_the_integers_that_do_not_fit_the_board():
    words = [*STATE_WORD_NAMES, *(f"v.{name}" for name in VERDICT_NAMES), *(f"c.{field[0]}" for field in FIELDS)]
    for word in words:
        low, high = table.word_range(word)
        assert -table.SMALL_INTEGER <= low <= high <= table.SMALL_INTEGER, word


def test_an_unknown_word_is_named():
    with pytest.raises(KeyError, match=r"core\.nothing has no entry"):
        table.word_range("core.nothing")


def test_a_settings_record_bounds_its_own_counters():
    class Short:
        gap_ticks = 3
        release_ticks = 7

    assert table.word_range("core.open_n", Short()) == (0, 7)
