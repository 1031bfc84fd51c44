"""`oxlatch prove --outside`: what it needs, and how it is told."""

from click.testing import CliRunner

from oxlatch_sim.proof import outside_checker
from oxlatch_sim.proof.promela import PROPERTIES
from oxlatch_tools.commands.prove import command
from oxlatch_tools.proof_page import outside_text

SECTION = {
    "tool": "a checker 1.0", "letters": 126, "properties": PROPERTIES, "states": 456, "states_outside": 456,
    "transitions": 57456, "transitions_outside": 57457, "broken": "", "broken_outside": "", "same": True,
    "compared": 57456, "differing": [], "assumed": ["one stage"],
    "bugs": [
        {"name": "b", "words": "a lead too short", "claim": "I1", "ticks": 11, "property_outside": "lead_short",
         "ticks_outside": 11, "same": True},
    ],
    "model": "out/reduced-model.pml", "seconds": 4.2,
}  # fmt: skip


def test_machine_without_the_checker_is_told_before_anything_is_proved(monkeypatch):
    monkeypatch.setattr(outside_checker, "missing_tools", lambda: ["spin"])
    said = CliRunner().invoke(command, ["--outside"])
    assert said.exit_code == 2
    assert said.output.strip().endswith("--outside needs spin and gcc; not installed on this machine: spin")


def test_page_tells_both_counts_and_every_bug():
    text = outside_text(SECTION)
    assert "states 456, ours 456  steps with the reset 57,457, ours 57,457  the same" in text
    assert text.count("holds") == len(PROPERTIES)
    assert "a lead too short: found after 11 ticks (lead_short), ours after 11 (I1)" in " ".join(text.split())


def test_page_does_not_call_judged_what_the_checker_left_open():
    text = outside_text(SECTION | {"broken_outside": "lead_short", "same": False, "states_outside": 40})
    assert "NOT THE SAME" in text and "holds" not in text
    assert text.count("BROKEN") == 1
