import pytest

from oxlatch_sim.proof.symbolic_explain import EXPLANATIONS, explain
from oxlatch_sim.proof.symbolic_explained import LAYERS

EXPLAINED = [f"I{n}" for n in (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 16)]


def test_every_invariant_of_the_tick_is_explained():
    assert [one.id for one in EXPLANATIONS] == EXPLAINED


@pytest.mark.parametrize("invariant", EXPLAINED)
def test_every_guard_stands_where_the_explanation_says(invariant):
    told = explain(invariant.lower())
    assert told["guards"] and told["hardware"] and told["open"]
    for guard in told["guards"]:
        assert guard["layer"] in LAYERS
        file, line = guard["where"].split(":")
        assert file.endswith(".py") and int(line) > 0


def test_an_unknown_invariant_names_the_known_ones():
    with pytest.raises(KeyError, match="no explanation of 'I99'; there are I1, I2"):
        explain("I99")
