"""The exploration on columns is the exploration of the running code: same states, same order, same digest."""

import inspect

import numpy as np
import pytest

from oxlatch_sim.proof.explore import explore
from oxlatch_sim.proof.explore_columns import Layout, OutOfRange
from oxlatch_sim.proof.explore_core import Space
from oxlatch_sim.proof.explore_frontier import KnownStates, TwoStatesOneMark, marks_of
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.mutant_source import applied, module_of

SHARED = ((1, True, None), (1, False, 30_000), (2, True, 40_000), (3, True, 15_000))


@pytest.mark.parametrize(("stages", "reduced", "limit"), SHARED)
def test_columns_explore_what_the_running_code_does(stages, reduced, limit):
    running = explore(Small(stages, reduced), limit=limit)
    columns = explore(Small(stages, reduced), limit=limit, way="columns")
    assert columns.digest == running.digest and columns.transitions == running.transitions
    assert columns.order == running.order and columns.parents == running.parents
    assert columns.seen == running.seen and columns.breaches == running.breaches == {}


def test_columns_on_one_process_and_two_find_the_same():
    one, two = (explore(Small(1, True), workers, way="columns") for workers in (1, 2))
    assert two.digest == one.digest and two.order == one.order and two.parents == one.parents


def test_columns_follow_a_change_of_the_source_and_find_its_first_breach():
    text = inspect.getsource(module_of("gate"))
    assert text.count("on_n >= lead_ticks") == 1
    with applied("gate", text.replace("on_n >= lead_ticks", "on_n >= 0")):
        flow = inspect.getsource(module_of("flow"))
        with applied("flow", flow.replace("proved and s.lead_n >= c.lead_ticks", "True")):
            small = Small(1, True, {"lead_ticks": 2, "lead_limit_ticks": 3})
            running, columns = explore(small), explore(small, way="columns")
    assert "I1" in running.breaches
    assert columns.breaches == running.breaches and columns.digest == running.digest


def test_states_come_back_whole_from_their_lanes():
    small = Small(2)
    layout = Layout(small)
    keys = Space(small).initial()
    lanes = np.zeros((len(keys), layout.lanes), np.int32)
    for row, key in enumerate(keys):
        for word, (lane, shift, mask) in zip(key, layout.places):
            assert word <= mask
            lanes[row, lane] |= word << shift
    assert layout.keys(lanes) == keys


def test_two_states_with_one_mark_are_not_taken_for_one():
    layout = Layout(Small(1))
    known = KnownStates(layout)
    lanes = np.zeros((1, layout.lanes), np.int32)
    places = known.places(marks_of(lanes), lanes)
    known.check(places, lanes)
    with pytest.raises(TwoStatesOneMark):
        known.check(places, lanes + 1)


def test_word_that_outgrows_its_bits_is_an_error(monkeypatch):
    monkeypatch.setattr("oxlatch_sim.proof.explore_columns.word_range", lambda name, c: (0, 1))
    with pytest.raises(OutOfRange):
        explore(Small(1, True), way="columns")
