import inspect
from pathlib import Path

import pytest

from oxlatch import gate
from oxlatch_sim.proof.gate_examples import gate_examples
from oxlatch_sim.proof.what_if import CRASH, WhatIfError, what_if
from oxlatch_sim.recording import parse_recording, read_recording


def place_of(text):
    (at,) = [at for at, line in enumerate(inspect.getsource(gate).splitlines(), 1) if text in line]
    return f"gate.py:{at}"


def test_without_the_line_that_drives_oxidizer_a_few_ticks_lead_to_fuel_alone():
    found = what_if(place_of("out.ox |= bit"))
    *before, last = parse_recording(found.recording).ticks()
    assert last["out"]["fuel"] and not last["out"]["ox"]
    assert len(before) == 10 and not any(tick["out"]["fuel"] for tick in before)
    assert "gate: fuel behind oxidizer" in found.gate_claims


def test_without_the_bench_key_in_the_gate_fuel_flows_on_the_bench(tmp_path):
    place = place_of("not v.bench")
    found = what_if(place)
    assert found.claim == "I16" and "not v.bench" not in found.left
    assert "bench 1" in found.lines[-1] and "fuel 1" in found.lines[-1]
    examples = {one.claim: one for one in gate_examples(place, tmp_path, found.left)}
    assert set(examples) == set(found.gate_claims) >= {"gate: bench key bars fuel"}
    (tick,) = read_recording(Path(examples["gate: bench key bars fuel"].recording)).ticks()
    assert tick["verdict"]["bench"] and tick["out"]["fuel"]


def test_a_line_that_the_tick_cannot_run_without_is_told_as_a_crash(tmp_path):
    place = place_of("dry = 0 if v.bench")
    assert what_if(place).claim == CRASH and gate_examples(place, tmp_path) == []


def test_a_place_without_a_guard_is_refused_with_the_lines_that_have_one():
    with pytest.raises(WhatIfError, match=r"lines of gate\.py that can: .*90"):
        what_if("gate.py:1")
