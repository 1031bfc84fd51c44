"""`oxlatch demo`: the sortie is flown, told and written."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from oxlatch_sim.proof.explore import Breach, Exploration
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.recording import read_recording
from oxlatch_sim.replay import replay
from oxlatch_tools.cli import main
from oxlatch_tools.first_proof import proof_problems, proof_text
from oxlatch_tools.sortie import StoryError, stages_to_fly


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Any:
    folder = tmp_path_factory.mktemp("demo")
    result = CliRunner().invoke(main, ["demo", "--json", "--out", str(folder / "out")])
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def test_about_a_dozen_lines_tell_the_sortie_in_order(told: Any) -> None:
    lines = told["result"]["lines"]
    assert 10 <= len(lines) <= 16
    assert [line["time_s"] for line in lines] == sorted(line["time_s"] for line in lines)
    visited = [line["state"] for line in lines]
    for state in ("WAITING", "PURGING", "READY", "RUN", "TRIP", "REST"):
        assert state in visited


def test_one_attempt_is_refused_with_its_reason(told: Any) -> None:
    (refused,) = [line for line in told["result"]["lines"] if "refused" in line["words"]]
    assert refused["state"] == "WAITING" and "PURGE" in refused["words"]


def test_the_demonstration_keeps_every_invariant_and_tests_most(told: Any) -> None:
    monitors = told["result"]["monitors"]
    assert all(found["held"] for found in monitors)
    assert {found["id"] for found in monitors if found["vacuous"]} <= {"I13", "I16"}


def test_the_recording_replays_and_the_picture_is_there(told: Any) -> None:
    recording = read_recording(Path(told["result"]["recording"]))
    assert recording.complete and recording.header["installation"] == told["installation"]
    assert replay(recording).same
    assert Path(told["result"]["picture"]).stat().st_size > 10_000


def test_the_first_proof_reaches_its_fixpoint_and_states_what_it_assumes(told: Any) -> None:
    proof = told["result"]["proof"]
    assert proof["complete"] and proof["breaches"] == []
    assert proof["transitions"] > proof["states"] > 1000
    assert "shortened" in proof["assumed"]


def test_a_broken_claim_fails_the_demonstration() -> None:
    found = Exploration(Small(1), complete=True, breaches={"I1": Breach("I1", 0, 0)})
    assert proof_problems(found) == ["the claim I1 is broken"]
    assert "I1 is broken" in proof_text(found, 110)
    assert proof_problems(Exploration(Small(1))) != []


@pytest.mark.parametrize(
    ("patterns", "stages", "flown"),
    [(0b11111110, 3, [1, 2]), (0b0110, 2, [1]), (0b10000000, 3, None), (0b101000, 3, [1, 2])],
)
def test_the_demonstration_flies_only_an_allowed_pattern(patterns: int, stages: int, flown: list[int] | None) -> None:
    if flown is None:
        with pytest.raises(StoryError):
            stages_to_fly(patterns, stages)
    else:
        assert stages_to_fly(patterns, stages) == flown


def test_demo_without_arguments_prints_the_story_for_people(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "oxlatch_tools.cli", "demo"],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        env=dict(os.environ),
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "refused, nothing opens" in done.stdout and "A simulation" in done.stdout
    assert sorted(path.name for path in (tmp_path / "out").iterdir())[:2] == ["demo.jsonl", "demo.png"]
