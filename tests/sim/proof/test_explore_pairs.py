"""Combinations of what is fitted: every pair is covered, and a combination holds, or says what does not."""

import random

import pytest

from oxlatch.settings import Settings, rules_hold
from oxlatch.vocabulary import FIT_ALL, FIT_ALWAYS, FIT_DETENT_NC, FIT_FIRE, FIT_KNOCK, FIT_PROOF, FIT_THROTTLE
from oxlatch_sim.proof.explore_pairs import (
    NAMES,
    OPTIONAL,
    every_pair,
    explore_combination,
    fitted_pairs,
    is_allowed,
    pairs_of,
)
from oxlatch_sim.proof.explore_witness import NEEDS, not_fitted
from oxlatch_sim.reason_names import reasons_by_name

SAMPLE = random.Random(7).sample(fitted_pairs()[1:], 1)


def test_every_pair_of_optional_flags_is_covered_in_few_combinations():
    rows = fitted_pairs()
    assert set().union(*map(pairs_of, rows)) >= every_pair()
    assert len(every_pair()) == 4 * len(OPTIONAL) * (len(OPTIONAL) - 1) // 2 - 1
    assert len(rows) < 20 and rows == fitted_pairs() and rows[0] == FIT_ALL


def test_every_combination_is_one_that_settings_allow():
    for fitted in fitted_pairs():
        c = Settings()
        c.fitted = fitted
        assert fitted & FIT_ALWAYS == FIT_ALWAYS and is_allowed(fitted) and rules_hold(c)
    c.fitted = FIT_ALL & ~(FIT_DETENT_NC | FIT_THROTTLE)
    assert not rules_hold(c) and not is_allowed(c.fitted)


def test_every_optional_flag_has_a_name():
    assert sorted(NAMES) == sorted(OPTIONAL) and len(OPTIONAL) == 20


@pytest.mark.parametrize("fitted", SAMPLE, ids=[f"{word:07x}" for word in SAMPLE])
def test_a_combination_keeps_every_claim_with_every_witness_it_can_have(fitted):
    row = explore_combination(fitted)
    assert row.problems == [] and row.transitions > 100_000
    assert row.without and "rpm" not in row.without


def test_reasons_that_need_an_input_are_named_as_they_are_in_the_firmware():
    names = {name for _flags, reasons in NEEDS for name in reasons}
    assert names <= set(reasons_by_name())
    assert not_fitted(FIT_ALL) == {}
    assert "KNOCK_HEARD" in not_fitted(FIT_ALL & ~FIT_KNOCK)


def test_a_reason_without_its_input_is_told(monkeypatch):
    wrong = tuple((flags, (*names, "RPM_LOST")) if flags == FIT_FIRE else (flags, names) for flags, names in NEEDS)
    monkeypatch.setattr("oxlatch_sim.proof.explore_witness.NEEDS", wrong)
    problems = explore_combination(FIT_ALWAYS | FIT_THROTTLE | FIT_PROOF).problems
    assert problems == ["not foreseen: reason RPM_LOST, listed as never reached"]
