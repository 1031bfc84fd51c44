"""The controller still does its work from everywhere it can be."""

import pytest

from oxlatch_sim.proof.explore import explore
from oxlatch_sim.proof.explore_alive import prove_alive
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.mutant_source import applied, module_of


@pytest.fixture(scope="module")
def alive():
    return prove_alive(explore(Small(1, reduced=True), way="columns"))


def without(name, old, new):
    import inspect

    text = inspect.getsource(module_of(name))
    assert text.count(old) == 1
    return applied(name, text.replace(old, new))


def test_push_delivers_every_selected_stage(alive):
    assert alive.deliveries > 0 and not alive.not_delivered
    assert 0 < alive.delivered_in < 20


def test_stated_recovery_reaches_ready_from_every_state(alive):
    assert alive.recoveries > 500 and not alive.dead_ends


def test_held_inputs_come_to_rest_with_every_valve_shut(alive):
    assert alive.steady_runs > 1000 and not alive.swinging


def test_controller_that_never_opens_is_not_alive():
    with without("flow", "s.ask_ox |= s.opening", "s.ask_ox |= 0"):
        assert prove_alive(explore(Small(1, reduced=True), way="columns")).not_delivered


def test_latch_that_never_clears_is_a_dead_end():
    with without("trip", "elif s.latch == 2:", "elif s.latch == 9:"):
        assert prove_alive(explore(Small(1, reduced=True), way="columns")).dead_ends
