import json

import pytest
from changed_source import changed

from oxlatch import gate
from oxlatch_sim.proof import symbolic
from oxlatch_sim.proof.symbolic_gate import GATE_ALONE
from oxlatch_sim.proof.translate_check import ROWS
from oxlatch_sim.recording import read_recording


@pytest.fixture
def gate_only(monkeypatch):
    monkeypatch.setattr(symbolic, "SYSTEMS", (GATE_ALONE,))


def test_the_result_is_plain_data_and_progress_reaches_its_end(gate_only):
    told = []
    result = symbolic.prove_symbolic(lambda *step: told.append(step), checked_ticks=1)
    assert json.loads(json.dumps(result)) == result
    assert result["proved"] and result["translator_checked"] == ROWS and result["translator_differing"] == {}
    assert [step[0] for step in told] == [1, 2, 3] and all(step[1] == 3 for step in told)
    assert {row["invariant"] for row in result["claims"]} >= {"I1", "I2", "I3", "I4", "I5", "I16", "witness", "ranges"}
    assert all(row["seconds"] < 10 and row["words"] and row["assumptions"] for row in result["claims"])
    assert {one["name"] for one in result["strengthenings"]} >= {"gate.on_n", "gate.idle"}


def test_a_broken_claim_is_told_in_words_and_saved_as_a_recording(gate_only, tmp_path):
    with changed(gate, "not v.bench and ", ""):
        result = symbolic.prove_symbolic(checked_ticks=1)
        assert not result["proved"]
        broken = {row["name"]: row for row in result["claims"] if row["counterexample"] is not None}
        row = broken["gate: bench key bars fuel"]
        path = symbolic.save_counterexample(row, tmp_path / "bench.jsonl")
    assert row["invariant"] == "I16" and "gate: fuel behind oxidizer" not in broken
    assert (
        row["counterexample"]["words"][0] == "gate: bench key bars fuel: With the bench key no fuel and no master fuel."
    )
    assert any("bench 1" in line for line in row["counterexample"]["words"])
    recording = read_recording(path)
    assert recording.complete and recording.header["source"] == "counterexample"
    (tick,) = recording.ticks()
    assert tick["verdict"]["bench"] == 1 and (tick["out"]["fuel"] or tick["out"]["master_fuel"])
