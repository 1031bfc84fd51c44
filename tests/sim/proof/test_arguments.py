"""The arguments hold on the controller as it is, and notice when it is not."""

import inspect

import pytest
from click.testing import CliRunner

from oxlatch_sim.proof.arguments import alive_section, proof_digest
from oxlatch_sim.proof.channels import explore_channels
from oxlatch_sim.proof.explore import explore
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.lockstep import run_lockstep
from oxlatch_sim.proof.mutant_source import applied, module_of
from oxlatch_sim.proof.report import micropython_path, portable_digests, prove_exhaustive
from oxlatch_sim.proof.symbolic import system_of
from oxlatch_sim.proof.symbolic_prove import is_broken
from oxlatch_sim.proof.what_if import WhatIfError, candidates
from oxlatch_tools.commands.prove import command

SEEDED = (
    ("flow", "s.lead_n >= c.lead_ticks", "True"),
    ("trip", "s.off_n >= c.disarm_ticks", "True"),
)

# With nothing asked and every stage word zero, going through the stages gives what this leaves at once.
ONLY_SAVES_TIME = ("return", "g.idle = 0 if any_word else 1")


@pytest.fixture(scope="module")
def exhaustive():
    """One stage, explored to a fixpoint on one process, with its audit and witnesses."""
    return prove_exhaustive(1, 1)


def changed(module: str, before: str, after: str):
    """The firmware with one piece of a module's text changed."""
    text = inspect.getsource(module_of(module))
    assert text.count(before) == 1, before
    return applied(module, text.replace(before, after))


def test_one_stage_is_explored_to_a_fixpoint_with_every_claim_and_witness(exhaustive):
    section, problems, _found = exhaustive
    assert problems == []
    assert section["complete"] and section["audit"]["misses"] == 0 and section["unvisited"] == []
    assert section["shared"]["digest_columns"] == section["shared"]["digest_running"]
    assert section["shared"]["transitions"] > 10_000
    assert all(section["by_state"].values())


def test_the_same_exploration_has_the_same_digest(exhaustive):
    again = explore(Small(1), way="columns")
    assert (again.digest, again.transitions) == (exhaustive[0]["digest"], exhaustive[0]["transitions"])


def test_both_pythons_explore_alike():
    assert micropython_path() is not None, "the development extras bring a MicroPython"
    row, problems = portable_digests(1, 20_000)
    assert problems == [] and row["digest_cpython"] == row["digest_micropython"]


def test_the_controller_still_does_its_work(exhaustive):
    section, problems = alive_section(exhaustive[2])
    assert problems == []
    assert section["deliveries"] > 0 and section["recoveries"] > 1000


def test_every_channel_alone_keeps_its_lemma():
    rows = list(explore_channels())
    assert len(rows) > 10
    assert [row.name for row in rows if row.broken] == []


def test_the_second_specification_agrees_over_long_random_runs():
    found = run_lockstep(60_000)
    assert found.mismatches == [], found.mismatches[0].words()
    assert found.steps >= 60_000 and sum(1 for hits in found.hits.values() if hits) > 150


@pytest.mark.parametrize(("module", "before", "after"), SEEDED, ids=[seed[0] for seed in SEEDED])
def test_a_seeded_fault_breaks_the_lockstep(module, before, after):
    with changed(module, before, after):
        found = run_lockstep(60_000)
    assert found.mismatches
    print(found.mismatches[0].words())


def gate_lines() -> list[int]:
    """Lines of the gate on which something can be taken out."""
    found = []
    for number in range(1, len(inspect.getsource(module_of("gate")).splitlines()) + 1):
        try:
            candidates(f"gate.py:{number}")
        except WhatIfError:
            continue
        found.append(number)
    return found


@pytest.mark.parametrize("line", gate_lines())
def test_no_line_of_the_gate_can_go_unnoticed(line):
    """Symbolic first; what it leaves (counters that only save time, outputs that only close) the lockstep must see."""
    mutant = candidates(f"gate.py:{line}")[0]
    with applied("gate", mutant.text):
        try:
            seen = is_broken(system_of("gate")) or is_broken(system_of("core"))
        except Exception:  # a gate that cannot even run has been noticed
            seen = True
        if not seen:
            try:
                seen = bool(run_lockstep(60_000).mismatches)
            except Exception:
                seen = True
    assert seen or mutant.before in ONLY_SAVES_TIME, mutant.before


def test_prove_explains_and_answers_what_if(tmp_path):
    runner = CliRunner()
    told = runner.invoke(command, ["--explain", "I1"])
    assert told.exit_code == 0 and "gate.py:" in told.output
    assert runner.invoke(command, ["--explain", "I99"]).exit_code == 2
    assert runner.invoke(command, ["--what-if", "nowhere.py:1"]).exit_code == 2


def test_the_digest_of_a_proof_follows_what_was_shown(exhaustive):
    section = exhaustive[0]
    parts = {
        "symbolic": {"claims": [{"name": "a", "proved": True}]},
        "exhaustive": section,
        "channels": [],
        "reference": {"steps": 1, "mismatches": 0},
        "second_opinion": {"confirmed": True},
    }
    other = {**parts, "symbolic": {"claims": [{"name": "a", "proved": False}]}}
    assert proof_digest("00000000", parts) != proof_digest("00000000", other)
    assert proof_digest("00000000", parts) == proof_digest("00000000", dict(parts))
