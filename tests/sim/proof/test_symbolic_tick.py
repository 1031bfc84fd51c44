from dataclasses import replace

import pytest
from changed_source import changed

from oxlatch import (
    bench_modes,
    flow,
    gate,
    permits,
    permits_extras,
    purge,
    sense,
    sense_engine,
    sense_extras,
    sequencer,
    stock,
)
from oxlatch.vocabulary import BENCH_DRY, BENCH_GAS, GAP, LEAD_IN, PURGING, READY, REST, RUN, TRIP, WAITING
from oxlatch_sim.proof.symbolic_case import Case
from oxlatch_sim.proof.symbolic_core import CORE
from oxlatch_sim.proof.symbolic_gate import GATE_ALONE
from oxlatch_sim.proof.symbolic_prove import prove
from oxlatch_sim.proof.symbolic_replay import is_real
from oxlatch_sim.proof.symbolic_sense import SENSE
from oxlatch_sim.proof.symbolic_words import describe, record
from oxlatch_sim.recording import parse_recording
from oxlatch_sim.replay import replay

# The phase before the tick in which a slow quantity is looked at.
BLOCK_LOOK, AIR_LOOK, TREND_LOOK, OUTLETS_LOOK, BOTTLE_LOOK = 0, 1, 2, 3, 7
TICK_INVARIANTS = {"I1", "I2", "I3", "I4", "I5", "I6", "I7", "I8", "I9", "I10", "I11", "I12", "I16"}


def unproved(outcomes):
    return [outcome.claim.name for outcome in outcomes if not outcome.proved]


def breaks(system, pinned, name):
    """Whether a claim of a system fails in one case of the tick."""
    alone = replace(system, claims=[one for one in system.claims if one.name == name], witnesses=())
    case = Case(alone, pinned, False)
    goals = [goal for one, goal in case.goals if one.name == name]
    assert goals, name
    return not case.holds(goals)


def test_the_gate_alone_holds_its_claims_against_any_sequencer():
    assert unproved(prove(GATE_ALONE)) == []


def test_sequencer_and_gate_hold_their_claims_for_every_verdict():
    assert unproved(prove(CORE)) == []


def test_every_channel_of_sense_says_what_its_samples_were():
    proved = {}
    for look in (BLOCK_LOOK, AIR_LOOK, TREND_LOOK, BOTTLE_LOOK):
        case = Case(SENSE, {"sense.phase": look}, False)
        assert case.open_goals(proved) == []


def test_every_invariant_of_the_tick_has_a_claim():
    claimed = {one.invariant for system in (GATE_ALONE, CORE, SENSE) for one in system.claims}
    assert claimed >= TICK_INVARIANTS


def test_every_claim_has_words_and_a_name_of_its_own():
    claims = [one for system in (GATE_ALONE, CORE, SENSE) for one in [*system.invariants, *system.claims]]
    assert all(one.words.endswith(".") for one in claims)
    assert len({one.name for one in claims}) == len(claims)


GATE_CHANGES = {
    ("ask_fuel and fuel_ok and on_n >= lead_ticks", "ask_fuel and fuel_ok"): "gate: fuel behind oxidizer",
    ("dry_n > DRY_MAX", "dry_n > DRY_MAX + 1"): "gate: oxidizer alone is brief",
    ("not v.bench and ", ""): "gate: bench key bars fuel",
    ("v.rpm >= RPM_HOLD", "v.rpm >= RPM_HOLD - 1"): "gate: engine loss stops all",
    ("        and not bits & OUT_PURGE\n", ""): "gate: no purge in flow",
    ("g.away_n <= c.tail_ticks", "g.away_n <= c.tail_ticks + 1"): "gate: release stops oxidizer after the tail",
    ("if pushed and v.rpm < RPM_OVER", "if v.rpm < RPM_OVER"): "gate: release stops fuel now",
    ("fuel_ok = v.proof if c.fitted & FIT_PROOF else 15", "fuel_ok = 15"): "gate: fuel needs every verdict",
    ("(on_n == 0 and not pushed)", "(on_n == 1 and not pushed)"): "gate: opening needs the push",
    ("v.time == TIME_HARD or ", ""): "gate: hard drops run now",
    ("        and v.time == TIME_GOOD\n", ""): "gate: lost verdict stops all now",
    ("g.idle = 0 if any_word else 1", "g.idle = 1"): "gate.idle",
    ("dry = 0 if v.bench and v.rpm == RPM_STOPPED else 1", "dry = 0 if v.bench else 1"): "gate: engine loss stops all",
    ("(word >> DRY_SHIFT) + dry", "(word >> DRY_SHIFT)"): "gate: oxidizer alone is brief",
}


@pytest.mark.parametrize("change", GATE_CHANGES)
def test_a_change_of_the_gate_breaks_the_claim_that_names_it(change):
    with changed(gate, *change):
        assert breaks(GATE_ALONE, {}, GATE_CHANGES[change])


CORE_CHANGES = {
    # The first three were faults of the sequencer once, found by these claims.
    (flow, "        if s.state != LEAD_IN:\n            return\n", "", LEAD_IN): "core.latch",
    (sequencer, "            tails_step(s)\n", "", LEAD_IN): "core.gate counts",
    (purge, "        and v.bus > BUS_HARD\n", "", WAITING): "core.purge",
    (flow, "s.latched = v.sel", "s.latched = 15", READY): "core: pattern is allowed",
    (flow, "s.ask_fuel &= ~stages", "pass", RUN): "core.nested",
    (flow, "v.contact != CONTACT_CLOSED or ", "", RUN): "core.driven",
    # And these were faults of the further inputs.
    (sequencer, "        s.disarm = 0\n        s.arm_left", "        s.arm_left", REST): "core.armed",
    (purge, "not broken and not s.vent_n and", "not broken and", PURGING): "core: venting is no purge",
    (permits, "        if not s.budget:\n", "        if s.why3:\n", RUN): "core: empty bottle stops fuel",
    (bench_modes, " and v.throttle >= THROTTLE_HOLD", "", BENCH_GAS): "core.gate counts",
    (bench_modes, "not v.bench or ", "", BENCH_DRY): "core: bench needs its key",
    (bench_modes, "s.ask_bits = OUT_RUN\n", "s.ask_bits = OUT_RUN | 1\n", BENCH_GAS): "core: bench asks no fuel",
    (gate, "not v.bench and ", "", RUN): "core: bench key bars fuel",
    (purge, " or v.rpm != RPM_STOPPED or", " or", PURGING): "core: venting needs a stopped engine",
    (sequencer, "<= s.state <= GAP or", "<= s.state <= TRIP or", TRIP): "core: master oxidizer while armed",
    (sequencer, "    if c.fitted & FIT_MASTER_OX:\n", "    if c.fitted:\n", WAITING): "core: no master oxidizer",
    (permits, "(row_patterns(v.row, c) >> v.sel) & 1", "(c.patterns >> v.sel) & 1", READY): "core: pattern is allowed",
    (permits, "s.budget < needed(v.sel, c)", "s.budget < c.need_1", READY): "core: start finds enough",
    (permits_extras, "        s.why1 |= FIRE_SEEN\n", "        pass\n", GAP): "core: fire trips now",
    (permits_extras, "s.why3 |= AIRSPEED_HIGH", "pass", READY): "core: flow begins without extras",
    (permits, "        s.why1 |= KNOCK_HEARD\n", "        pass\n", RUN): "core: knock stops all now",
    (permits, "            s.why1 |= COIL_AT_LIMIT\n", "            pass\n", LEAD_IN): "core: hot coils stop fuel",
    (stock, "s.budget > used else 0", "s.budget > used else used", RUN): "core: bottle is counted",
}


@pytest.mark.parametrize(
    "change", CORE_CHANGES, ids=lambda change: change[1].strip() if isinstance(change, tuple) else ""
)
def test_a_change_of_the_sequencer_breaks_the_claim_that_names_it(change):
    module, old, new, state = change
    with changed(module, old, new):
        assert breaks(CORE, {"core.state": state}, CORE_CHANGES[change])


SENSE_CHANGES = {
    (sense, "s.switches & either", "s.switches & x", 0): "sense: switches hold",
    (sense, "both & s.h2 & s.h3 & s.h4 & s.h5", "both & s.h2 & s.h3 & s.h4", 0): "sense: switches start",
    (sense_engine, "elif silent or", "elif", 0): "sense: engine stops",
    (sense_engine, "s.rpm_window_n >= c.rpm_window_ticks", "s.rpm_window_n >= 1", 0): "sense: engine starts",
    (sense, "s.block_dry_n >= DRY_LOOKS", "s.block_dry_n > DRY_LOOKS", BLOCK_LOOK): "sense: fuel stops",
    (sense_extras, "second = begins and s.knock_left", "second = begins", 0): "sense: knock",
    (sense_extras, "fitted & FIT_KNOCK and knock_step", "knock_step", 0): "sense: no knock",
    (sense_extras, "s.fire_n >= FIRE_TICKS", "s.fire_n >= 1", 0): "sense: fire",
    (sense_extras, "elif s.rich_n < CONTACT_TICKS:", "elif s.rich_n < CONTACT_TICKS - 1:", 0): "sense: mixture",
    (sense_extras, "if row <= s.row:", "if row < s.row - 1:", AIR_LOOK): "sense: row is earned",
    (sense_extras, "elif s.row_n < c.row_turns:", "elif s.row_n < 1:", AIR_LOOK): "sense: row is earned",
    (sense_extras, "s.extras |= EXTRA_AIR_BAD\n        row = 0", "row = s.row", AIR_LOOK): "sense: bad air gives row 0",
    (sense_extras, "if cold == wanted:", "if cold:", OUTLETS_LOOK): "sense: outlets",
    (sense_extras, "if x < 2732:", "if x < 2733:", BOTTLE_LOOK): "sense: bottle",
}


@pytest.mark.parametrize("change", SENSE_CHANGES, ids=lambda change: change[1] if isinstance(change, tuple) else "")
def test_a_change_of_sense_breaks_the_lemma_that_names_it(change):
    module, old, new, phase = change
    with changed(module, old, new):
        assert breaks(SENSE, {"sense.phase": phase}, SENSE_CHANGES[change])


def test_a_counterexample_is_told_in_words_and_replays_as_a_recording():
    with changed(flow, "        if s.state != LEAD_IN:\n            return\n", ""):
        case = Case(CORE, {"core.state": LEAD_IN}, False)
        ((one, goal),) = [pair for pair in case.goals if pair[0].name == "core.latch"]
        example = case.counterexample(one, goal)
        assert is_real(CORE, one, example)
        told = "\n".join(describe(CORE, one, example))
        assert "state LEAD-IN" in told and "state RUN (was 6)" in told and "A latch stands only in TRIP" in told
        recording = parse_recording(record(CORE, one, example).end())
        assert recording.header["source"] == "counterexample" and recording.complete
        found = replay(recording)
        assert found.same and found.compared == 1
        (tick,) = recording.ticks()
        assert tick["state"] == "RUN" and tick["latch"] == 2
    assert replay(recording).difference.key == "state"


def test_verdicts_that_no_samples_give_are_recorded_without_samples():
    with changed(gate, "not v.bench and ", ""):
        case = Case(GATE_ALONE, {}, False)
        ((one, goal),) = [pair for pair in case.goals if pair[0].name == "gate: bench key bars fuel"]
        example = case.counterexample(one, goal)

        recording = parse_recording(record(GATE_ALONE, one, example).end())
    (tick,) = recording.ticks()
    assert "raw" not in tick and tick["verdict"]["bench"] and tick["out"]["fuel"]
