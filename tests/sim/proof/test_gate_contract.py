import pytest

from oxlatch_sim.proof.gate_contract import (
    BARRED,
    DRY_MAX,
    DRY_SHIFT,
    ON_SHIFT,
    keeps_its_promise,
    one_stage,
    second_opinion,
)


def test_the_second_tool_confirms_the_gate_over_all_paths():
    said = second_opinion()
    assert said.confirmed, said.said


def test_a_broken_promise_is_not_confirmed():
    said = second_opinion(limit_s=20.0, target="broken_gate_contract.one_stage")
    assert not said.confirmed and "false when calling one_stage" in said.said


@pytest.mark.parametrize(
    ("arguments", "new"),
    [
        ((True, True, True, True, 3 << ON_SHIFT, 6, True), 3),  # fuel before the lead
        ((True, True, True, False, 9 << ON_SHIFT, 6, True), 3),  # fuel not permitted
        ((True, True, True, True, BARRED << ON_SHIFT, 6, True), 3),  # a barred stage
        ((False, True, True, True, 9 << ON_SHIFT, 6, True), 1),  # oxidizer not asked
        ((True, False, False, True, 0, 6, True), 1),  # opened without a push
        ((True, True, True, True, 9 << ON_SHIFT, 6, True), 2),  # fuel without oxidizer
        (
            (True, False, True, True, 9 << ON_SHIFT | 5 << DRY_SHIFT, 6, True),
            1 | 10 << ON_SHIFT | 5 << DRY_SHIFT,
        ),  # not counted
        (
            (True, False, True, True, 30 << ON_SHIFT | DRY_MAX << DRY_SHIFT, 6, True),
            1 | (DRY_MAX + 1) << DRY_SHIFT,
        ),  # not barred
    ],
)
def test_the_promise_refuses_what_the_gate_must_never_answer(arguments, new):
    assert not keeps_its_promise(*arguments, new)
    assert keeps_its_promise(*arguments, one_stage(*arguments))
