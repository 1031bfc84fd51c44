"""Firmware and reference side by side: they agree, and a difference between them does not stay hidden."""

from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from oxlatch import vocabulary as w
from oxlatch.controller import Controller
from oxlatch.settings import Settings
from oxlatch_sim.proof import lockstep, lockstep_parts
from oxlatch_sim.proof.lockstep import SEED_STRIDE, compare, run_episode, run_lockstep
from oxlatch_sim.proof.lockstep_outcome import HISTORY_TICKS
from oxlatch_sim.proof.lockstep_parts import run_gate_episode, run_sense_episode
from oxlatch_sim.proof.lockstep_walk import walk
from oxlatch_sim.proof.reference import Reference
from oxlatch_sim.proof.reference_gate import Interlock
from oxlatch_sim.proof.reference_sense import SenseReference
from oxlatch_sim.proof.verdict_streams import COIL_WORDS, DISTURBED, VerdictStream, quiet, small_settings

# The share of the rows that so short a run must use; `oxlatch prove` asks for all, `make bench` for many uses of each.
ROWS_USED = 0.95


def test_core_agrees_with_the_reference_and_most_rows_are_met() -> None:
    outcome = run_lockstep(40_000, seed=1)
    assert [one.words() for one in outcome.mismatches] == []
    core = {name: hits for name, hits in outcome.hits.items() if not name.startswith("interlock refuses")}
    used = sum(1 for hits in core.values() if hits)
    assert used >= ROWS_USED * len(core), [name for name, hits in core.items() if not hits]


def test_gate_drives_nothing_the_interlock_table_forbids() -> None:
    refused: dict[str, int] = {}
    for number in range(60):
        outcome = run_gate_episode(number)
        assert [one.words() for one in outcome.mismatches] == []
        for name, hits in outcome.hits.items():
            if name.startswith("interlock refuses"):
                refused[name] = refused.get(name, 0) + hits
    assert min(refused.values()) > 0


def test_sense_agrees_with_the_sense_table() -> None:
    for number in range(12):
        assert [one.words() for one in run_sense_episode(number).mismatches] == []


@settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(
    number=st.integers(0, 10**6),
    steps=st.lists(
        st.tuples(
            st.sampled_from([*DISTURBED, *COIL_WORDS, "sel"]), st.integers(0, 6), st.integers(0, 30), st.booleans()
        ),
        max_size=40,
    ),
)
def test_core_agrees_however_long_each_change_is_held(number: int, steps: list[tuple[str, int, int, bool]]) -> None:
    """Changes of any channel, held for times drawn around the timers, laid over a crew that wants to fly."""
    episode = SEED_STRIDE + number
    made: Any = small_settings(Random(episode))
    controller: Any = Controller(made)
    reference = Reference(made)
    stream = VerdictStream(made, episode, controller.verdicts, disturbance=0.0)
    plan = iter(steps)
    left = [0]

    def step(state: int, waits: int, ox: int, fuel: int, bits: int, waits_3: int) -> None:
        stream.step(state, waits, ox, fuel, bits, waits_3)
        if left[0] > 0:
            left[0] -= 1
            return
        name, level, hold, exact = next(plan, ("", 0, 0, False))
        left[0] = hold if exact else stream.holds[hold % len(stream.holds)]
        if name and name not in stream.sound:
            allowed = DISTURBED.get(name)
            bit = 1 << level % (made.stages if name == "sel" else 7)
            setattr(controller.verdicts, name, level % len(allowed) if allowed else bit)
        controller.verdicts.missing &= ox | fuel << w.COIL_FUEL_SHIFT

    _, found = compare(controller, reference, step, 600)
    assert found is None, found.words()


@pytest.mark.parametrize(
    "changed",
    [
        "lead_ticks",
        "tail_ticks",
        "ready_ticks",
        "purge_ticks",
        "vent_ticks",
        "bench_push_ticks",
        "flow_1",
        "coil_heat_top",
    ],
)
def test_a_setting_that_differs_by_one_is_found_with_its_history(monkeypatch: pytest.MonkeyPatch, changed: str) -> None:
    def made(settings: Settings) -> Reference:
        other: Any = Settings()
        vars(other).update(vars(settings))
        setattr(other, changed, getattr(settings, changed) + 1)
        return Reference(other)

    monkeypatch.setattr(lockstep, "Reference", made)
    outcome = run_lockstep(40_000, seed=2)
    assert len(outcome.mismatches) == 1
    found = outcome.mismatches[0]
    assert 1 <= len(found.before) <= HISTORY_TICKS + 1
    assert found.words().startswith(f"episode {found.episode}, tick {found.tick}: ")


def test_an_episode_is_the_same_every_time() -> None:
    first, second = run_episode(77), run_episode(77)
    assert (first.steps, first.hits) == (second.steps, second.hits)


def test_a_gate_that_lets_fuel_lead_is_found() -> None:
    made = small_settings(Random(5))
    interlock = Interlock(made)
    controller: Any = Controller(made)
    v = controller.verdicts
    quiet(v)
    v.contact, v.throttle, v.rail, v.proof, v.current = w.CONTACT_CLOSED, w.THROTTLE_FULL, w.RAIL_LIVE, 15, 15
    flow = w.OUT_RUN | w.OUT_MASTER_FUEL
    assert interlock.exceeded(v, (1, 1, flow), (1, 1, flow)) == (0, 1, w.OUT_MASTER_FUEL)


def test_a_threshold_of_sense_that_differs_by_one_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    def made(settings: Settings) -> SenseReference:
        other: Any = Settings()
        vars(other).update(vars(settings))
        other.supply_cut_mv -= 1
        return SenseReference(other)

    monkeypatch.setattr(lockstep_parts, "SenseReference", made)
    differing = [run_sense_episode(number).mismatches for number in range(6)]
    assert any(found and "supply" in found[0].differs for found in differing)


def test_every_letter_from_states_of_every_kind_is_answered_alike() -> None:
    walked = walk(limit=12)
    assert walked.mismatch is None, walked.mismatch.words()
    assert set(walked.by_state) == set(w.STATE_NAMES)
    assert len(walked.moves) >= 30


def test_a_snapshot_brings_the_reference_back() -> None:
    made = small_settings(Random(3))
    reference = Reference(made)
    stream = VerdictStream(made, 3, type("V", (), {})())
    for _ in range(400):
        stream.step(*lockstep.reached(reference))
        reference.tick(stream.v)
    kept, verdicts = reference.snapshot(), dict(vars(stream.v))

    def answer() -> tuple[int, ...]:
        reference.restore(kept)
        vars(stream.v).update(verdicts)
        reference.tick(stream.v)
        return reference.state, reference.ask_ox, reference.why0, reference.why2, reference.memory.age

    assert answer() == answer()
