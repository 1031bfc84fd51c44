"""The outside check: the reduced model is the running code, and a general model checker says of it what we say."""

import os

import pytest

from oxlatch.vocabulary import GAP, PURGING, READY, RUN, RUN_DOWN, TRIP
from oxlatch_sim.proof import outside_checker, promela, reduced_model
from oxlatch_sim.proof.explore import explore
from oxlatch_sim.proof.explore_words import STATE, key_names
from oxlatch_sim.proof.reduced_model import BUGS, TICKS, reduced, relation, seeded


@pytest.fixture(scope="module")
def small():
    return reduced(TICKS)


@pytest.fixture(scope="module")
def found(small):
    return explore(small)


@pytest.fixture(scope="module")
def model(small):
    return relation(small)


@pytest.fixture(scope="module")
def tools():
    missing = outside_checker.missing_tools()
    if missing:
        said = f"not installed on this machine: {', '.join(missing)}"
        if os.environ.get("OXLATCH_REQUIRE_TOOLS") == "1":
            pytest.fail(said)
        pytest.skip(said)


@pytest.fixture(scope="module")
def checked(tools):
    """The whole outside check, and its problems."""
    return outside_checker.check_outside()


def test_relation_is_the_running_code_on_every_reachable_state_and_letter(model, found):
    assert found.complete and found.transitions > 10_000
    assert outside_checker.differing_words(model, found) == (found.transitions, [])


def test_relation_of_other_code_is_noticed(small, found):
    with seeded(BUGS[0]):
        other = relation(small)
    assert "core.ask_fuel" in outside_checker.differing_words(other, found)[1]


def test_model_purges_flows_runs_down_and_trips(found):
    counts = {key[STATE] for key in found.order}
    assert {PURGING, READY, RUN, RUN_DOWN, GAP, TRIP} <= counts
    fuel = key_names(1).index("core.ask_fuel")
    assert any(key[fuel] for key in found.order)


def test_columns_and_running_code_explore_the_reduced_model_alike(small, found):
    assert explore(small, way="columns").digest == found.digest


def test_bug_whose_text_is_gone_is_not_seeded():
    gone = reduced_model.Bug("gone", "", "", "", (("gate", "no such line", ""),))
    with pytest.raises(ValueError, match=r"gate\.py: 'no such line' stands there 0 times"):
        with seeded(gone):
            pass


def test_same_verdict_and_same_number_of_states_and_steps(checked, found):
    section, problems = checked
    assert (section["compared"], section["differing"]) == (found.transitions, [])
    assert problems == [] and section["same"]
    assert not section["broken"] and not section["broken_outside"]
    assert section["states_outside"] == section["states"] == len(found.order)
    assert section["transitions_outside"] == found.transitions + 1  # it counts the reset


@pytest.mark.parametrize("bug", BUGS, ids=lambda bug: bug.name)
def test_both_find_the_seeded_bug_after_as_many_ticks(checked, bug):
    (both,) = [row for row in checked[0]["bugs"] if row["name"] == bug.name]
    assert (both["claim"], both["property_outside"]) == (bug.claim, bug.asserted)
    assert both["ticks"] == both["ticks_outside"] > 5


def test_check_that_counts_otherwise_is_a_problem(tools, monkeypatch):
    monkeypatch.setattr(outside_checker, "BUGS", ())
    counted = outside_checker.Whole(10, 11, 20, 21, "", "", 20, [])
    monkeypatch.setattr(outside_checker, "compare_whole", lambda _ticks: counted)
    section, problems = outside_checker.check_outside()
    assert not section["same"]
    assert problems == ["outside check: 11 states and 21 steps instead of 10 and 21"]


def test_input_lost_on_the_way_to_the_checker_shows_in_its_count(tools, model, found):
    text = promela.promela(model)
    lost = "    :: pick_event = 1  /* purge pressed */\n"
    assert text.count(lost) == 1
    with outside_checker.checker(text.replace(lost, "")) as program:
        assert program.search().states < len(found.order)


def test_guard_lost_on_the_way_to_the_checker_breaks_a_property(tools, model):
    text = promela.promela(model)
    with outside_checker.checker(text.replace("#define LEAD 2", "#define LEAD 3")) as program:
        assert program.search().broken == "lead_short"


def test_checker_that_cannot_read_its_text_is_an_error(tools):
    with pytest.raises(outside_checker.CheckerError, match="spin ended with"):
        with outside_checker.checker("active proctype {"):
            pass
