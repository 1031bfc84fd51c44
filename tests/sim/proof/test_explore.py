"""The exhaustive argument: complete, repeatable, without a hole, and not empty."""

import inspect
from dataclasses import replace

import pytest

from oxlatch import vocabulary as k
from oxlatch.core import CORE_WORDS, CoreState
from oxlatch.sense import VERDICT_NAMES
from oxlatch.vocabulary import EXTRA_BITS, EXTRA_KNOCK, FIT_ALL, FIT_KNOCK
from oxlatch_sim.proof.explore import Breach, FastSpace, explore
from oxlatch_sim.proof.explore_audit import Auditor
from oxlatch_sim.proof.explore_core import Space
from oxlatch_sim.proof.explore_core import explore as explore_portable
from oxlatch_sim.proof.explore_levels import levels, possible_extras
from oxlatch_sim.proof.explore_path import breach_path, record_path, state_path, states_of
from oxlatch_sim.proof.explore_result import Seen
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.explore_witness import LAMPS, LEGAL, NEVER, witnesses
from oxlatch_sim.proof.explore_words import STATE, unknown_words
from oxlatch_sim.proof.mutant_source import applied, module_of
from oxlatch_sim.reason_names import reasons_by_name
from oxlatch_sim.recording import parse_recording
from oxlatch_sim.replay import replay

LONG_LEAD = {"lead_ticks": 2, "lead_limit_ticks": 3}
GATE_WITHOUT_LEAD = ("fuel_ok and on_n >= lead_ticks", "fuel_ok")


@pytest.fixture(scope="module")
def two_stages():
    return explore(Small(2, reduced=True), way="columns")


@pytest.fixture(scope="module")
def one_stage():
    return explore(Small(1, reduced=True), way="columns")


@pytest.fixture(scope="module")
def one_stage_whole():
    return explore(Small(1), way="columns")


def changed(name, old, new):
    text = inspect.getsource(module_of(name))
    assert text.count(old) == 1
    return applied(name, text.replace(old, new))


def test_two_stages_reach_a_fixpoint_without_a_broken_claim(two_stages):
    assert two_stages.complete and not two_stages.breaches
    assert two_stages.transitions > 800_000


def test_two_stages_flow_together_somewhere(two_stages):
    flowing = [key for key in two_stages.order if key[STATE] == k.RUN and key[6] == 3]
    assert flowing


def test_one_stage_whole_has_a_witness_of_every_state_transition_reason_and_lamp(one_stage_whole):
    assert one_stage_whole.complete and not one_stage_whole.breaches
    seen = witnesses(one_stage_whole)
    assert seen.unvisited == [] and seen.unexpected == []
    assert sorted(seen.lamps) == sorted(LAMPS)
    assert len(seen.reasons) + len(seen.never) == len(reasons_by_name())


def test_two_stages_show_what_one_cannot(two_stages):
    seen = witnesses(two_stages)
    assert seen.unvisited == [] and seen.unexpected == []


def test_witness_misses_a_transition_that_is_no_longer_possible():
    with changed("flow", "enter(s, GAP)", "to_rest(s)"):
        seen = witnesses(explore(Small(1, reduced=True), way="columns"))
    assert "transition RUN-DOWN -> GAP" in seen.unvisited


def test_witness_misses_a_reason_and_a_lamp_that_nothing_shows(one_stage_whole):
    less = replace(one_stage_whole, seen=Seen([0, 0, 0, 0], one_stage_whole.seen.edges, set()))
    missing = witnesses(less).unvisited
    assert "reason KNOCK_HEARD" in missing and "lamps ready on" in missing


def test_reason_listed_as_never_reached_must_not_be_reached(one_stage_whole, monkeypatch):
    monkeypatch.setitem(NEVER, "FIRE_SEEN", "a wrong entry")
    seen = witnesses(one_stage_whole)
    assert "reason FIRE_SEEN, listed as never reached" in seen.unexpected
    assert "reason FIRE_SEEN, shown apart" in seen.unvisited


def test_transition_that_was_not_foreseen_is_told():
    with changed("sequencer", "        enter(s, WAITING)\n\n\ndef service", "        enter(s, READY)\n\n\ndef service"):
        seen = witnesses(explore(Small(1, reduced=True), way="columns"))
    assert "transition GAP -> READY" in seen.unexpected


SEEDED = (
    ("gate", "and v.rpm < RPM_OVER and not v.bench", "and v.rpm < RPM_OVER", "I16"),
    ("bench_modes", "0 < s.bench_n < c.bench_push_ticks", "0 < s.bench_n", "bench"),
    ("bench_modes", "0 < s.bench_n < c.bench_push_ticks", "s.bench_n < c.bench_push_ticks", "bench"),
    ("purge", "not broken and not s.vent_n and", "not broken and", "I8"),
    ("purge", " and s.vent_n < c.vent_ticks:", ":", "vent"),
    ("sequencer", "WAITING <= s.state <= GAP", "WAITING <= s.state <= TRIP", "I10"),
    ("permits", "not (row_patterns(v.row, c) >> v.sel) & 1:", "not (row_patterns(5, c) >> v.sel) & 1:", "I9"),
    ("sequencer", "if s.why2 or s.why3 & WAITS_3:\n", "if s.why2:\n", "ready"),
)


@pytest.mark.parametrize(
    ("module", "old", "new", "claim"), SEEDED, ids=[f"{row[3]}-{n}" for n, row in enumerate(SEEDED)]
)
def test_a_seeded_bug_of_the_newer_parts_breaks_its_claim(module, old, new, claim):
    with changed(module, old, new):
        found = explore(Small(1, reduced=claim != "ready"), way="columns", to_first_breach=True)
    assert claim in found.breaches


def test_every_verdict_has_its_levels():
    assert set(levels(Small(1))) | {"boot", "extras"} == set(VERDICT_NAMES)
    assert possible_extras(FIT_ALL) == (1 << EXTRA_BITS) - 1
    assert possible_extras(FIT_ALL & ~FIT_KNOCK) & EXTRA_KNOCK == 0


def test_one_process_and_two_find_the_same():
    alone, apart = (explore(Small(1, reduced=True), workers, limit=20_000) for workers in (1, 2))
    assert apart.digest == alone.digest
    assert apart.order == alone.order and apart.parents == alone.parents


def test_columns_and_portable_step_agree_to_the_fixpoint(one_stage):
    portable = explore_portable(Space(Small(1, reduced=True)), 10**9)
    assert portable["digest"] == one_stage.digest
    assert portable["transitions"] == one_stage.transitions


def test_random_whole_vectors_land_on_explored_transitions(two_stages):
    audit = Auditor(two_stages, seed=11).run(30_000)
    assert audit.clean, audit.misses[:1]


def test_audit_notices_an_input_that_was_left_out(one_stage):
    auditor = Auditor(one_stage, seed=11)
    usual = auditor.worker.inputs.letters

    def without_ack(key):
        return [letter for letter in usual(key) if not letter.v.ack]

    auditor.worker.inputs.letters = without_ack
    auditor._verdicts = with_ack(auditor._verdicts)
    assert auditor.run(20_000).misses


def with_ack(verdicts):
    def pressed(near, key):
        v = verdicts(near, key)
        v.ack = 1
        return v

    return pressed


def test_word_that_the_exploration_does_not_know_is_refused(monkeypatch):
    monkeypatch.setattr("oxlatch_sim.proof.explore_words.CORE_WORDS", (*CORE_WORDS, ("news", 1)))
    assert unknown_words() == ["news"]
    with pytest.raises(ValueError, match="news"):
        Space(Small(1))


def test_gate_without_lead_breaks_a_claim_and_the_recording_replays():
    with changed("gate", *GATE_WITHOUT_LEAD):
        found = explore(Small(1, reduced=True, ticks=LONG_LEAD), way="columns", to_first_breach=True)
        assert found.breaches == {} or set(found.breaches) <= {"I1"}
    with changed("flow", "proved and s.lead_n >= c.lead_ticks", "proved"), changed("gate", *GATE_WITHOUT_LEAD):
        found = explore(Small(1, reduced=True, ticks=LONG_LEAD), way="columns", to_first_breach=True)
        assert "I1" in found.breaches
        data, lines = record_path(breach_path(found, found.breaches["I1"]))
        assert replay(parse_recording(data)).same
    assert "fuel 1" in lines[-1]
    with_the_real_code = replay(parse_recording(data))
    assert with_the_real_code.difference is not None
    assert with_the_real_code.difference.tick == len(lines) - 1


def test_shortest_way_is_as_long_as_the_depth_it_was_found_at(one_stage):
    number = len(one_stage.order) - 1
    assert len(one_stage.path_to(number)) == one_stage.depth - 1


def test_recorded_way_ends_in_the_state_it_leads_to(one_stage):
    for number in range(4, len(one_stage.order), 97):
        path = state_path(one_stage, number)
        assert states_of(path)[-1] == k.STATE_NAMES[one_stage.order[number][STATE]]
        assert replay(parse_recording(record_path(path)[0])).same


def test_only_the_first_breach_of_a_claim_is_kept(one_stage):
    assert Breach("I1", 0, 0) != Breach("I1", 0, 1)
    assert all(name == breach.claim for name, breach in one_stage.breaches.items())


def test_legal_list_names_every_state_once():
    assert [before for before, _ in LEGAL] == list(range(len(k.STATE_NAMES)))


def test_space_starts_from_resets_only():
    space = FastSpace(Small(1))
    for key in space.initial():
        assert key[STATE] == CoreState().state == k.WAKE
