from dataclasses import replace

import pytest
import tiny_latch as tiny
from changed_source import changed

from oxlatch_sim.proof.symbolic_engine import System, claim
from oxlatch_sim.proof.symbolic_prove import is_broken, prove
from oxlatch_sim.proof.symbolic_replay import is_real

RANGES = {"tiny.on_n": (0, 9), "lead.lead_ticks": (1, 9), "seen.a_n": (0, 100)}

TINY = System(
    name="tiny",
    objects={"tiny": tiny.Tiny, "wish": tiny.Wish, "lead": tiny.Lead, "seen": tiny.Seen},
    steps=(tiny.tiny_step, tiny.count_a),
    ranges=lambda cell: RANGES.get(cell, (0, 1)),
    invariants=(claim("on_n", "", tiny.on_n_is_true),),
    claims=(
        claim("b needs a", "", tiny.b_needs_a),
        claim("b follows the lead", "", tiny.b_follows_the_lead),
        claim("off is at once", "", tiny.off_is_at_once),
    ),
    witnesses=(claim("b runs", "", tiny.b_runs),),
    fresh=frozenset({"wish"}),
    constant=frozenset({"lead"}),
    rules=(),
)

MUTATIONS = {
    ("tiny.on_n >= lead.lead_ticks", "tiny.on_n > 0"): {"b follows the lead"},
    ("tiny.on_n >= lead.lead_ticks", "tiny.on_n >= lead.lead_ticks - 1"): {"b follows the lead"},
    ("wish.b and tiny.on_n >=", "wish.b or tiny.on_n >="): {"b follows the lead"},
    ("        tiny.b = 0\n        tiny.on_n = 0", "        tiny.on_n = 0"): {"b needs a", "off is at once"},
    ("        tiny.a = 0\n", ""): {"on_n", "off is at once"},
    ("        tiny.on_n = 0\n", ""): {"on_n"},
    ("    tiny.a = 1\n", "    tiny.a = wish.b\n"): {"on_n"},
    ("tiny.on_n += 1", "tiny.on_n += 2"): {"on_n", "tiny.tiny words"},
    ("if tiny.on_n < LEAD_MAX:", "if tiny.on_n <= LEAD_MAX:"): {"on_n", "tiny.tiny words"},
    ("if not wish.a:", "if not wish.b:"): {"off is at once"},
}


def broken(outcomes):
    return {outcome.claim.name for outcome in outcomes if not outcome.proved}


def test_true_claims_are_proved_for_every_setting_and_any_number_of_ticks():
    outcomes = prove(TINY)
    assert broken(outcomes) == set()
    assert len(outcomes) == 8
    assert not is_broken(TINY)


@pytest.mark.parametrize("mutation", MUTATIONS)
def test_each_mutation_breaks_the_claim_it_should_and_the_running_code_agrees(mutation):
    with changed(tiny, *mutation):
        outcomes = prove(TINY)
        assert MUTATIONS[mutation] <= broken(outcomes)
        assert is_broken(TINY)
        for outcome in outcomes:
            if outcome.counterexample is not None and not outcome.claim.name.endswith("words"):
                assert is_real(TINY, outcome.claim, outcome.counterexample)
    assert not is_broken(TINY)


def test_a_claim_that_is_true_but_not_inductive_fails_without_its_strengthening():
    bare = replace(TINY, invariants=())
    assert broken(prove(bare)) == {"b follows the lead"}


def test_a_start_that_breaks_an_invariant_is_found():
    class Warm(tiny.Tiny):
        def __init__(self):
            super().__init__()
            self.on_n = 3

    outcomes = prove(replace(TINY, objects={**TINY.objects, "tiny": Warm}))
    (found,) = [outcome for outcome in outcomes if not outcome.proved]
    assert found.claim.name == "on_n" and found.counterexample.at_start


def test_a_witness_that_is_impossible_is_reported():
    hopeless = replace(TINY, witnesses=(claim("never", "", tiny.never),))
    assert broken(prove(hopeless)) == {"never"}


def test_hypotheses_that_contradict_each_other_prove_nothing():
    def false(tiny):
        """Nothing."""
        return tiny.a and not tiny.a

    outcomes = prove(replace(TINY, invariants=(*TINY.invariants, claim("false", "", false))))
    assert {"false", "tiny cases"} <= broken(outcomes)


def test_a_split_proves_every_value_on_its_own():
    told = []
    outcomes = prove(replace(TINY, split="tiny.on_n"), told.append)
    assert broken(outcomes) == set()
    assert len(told) == 1 + 10 and told[3] == "tiny: tiny.on_n = 2"


def test_an_invariant_over_fresh_words_is_refused():
    with pytest.raises(ValueError, match="off is at once reads words that are new at every tick"):
        prove(replace(TINY, invariants=(claim("off is at once", "", tiny.off_is_at_once),)))


def test_a_claim_that_writes_is_refused():
    with pytest.raises(ValueError, match="count_a writes"):
        prove(replace(TINY, claims=(claim("writes", "", tiny.count_a),)))


def test_a_counterexample_is_as_usual_as_it_can_be():
    with changed(tiny, "tiny.on_n >= lead.lead_ticks", "tiny.on_n > 0"):
        (found,) = [one for one in prove(TINY) if one.claim.name == "b follows the lead"]
    assert found.counterexample.cells["lead.lead_ticks"] == 4
