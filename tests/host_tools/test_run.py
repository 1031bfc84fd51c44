"""`oxlatch run` and `oxlatch demo`: what they check, what they write, and how bad input ends."""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from oxlatch_sim.recording import read_recording
from oxlatch_sim.replay import replay
from oxlatch_tools.cli import main

QUIET = """
title = "Master on, nothing else"
stages = 1
duration = "3 s"
[start]
begin = "power-up"
select = [1]
[[event]]
at = "1.5 s"
master = "on"
[expect]
final_state = "{final_state}"
"""
PNG = b"\x89PNG\r\n\x1a\n"


@pytest.fixture
def scenario(tmp_path: Path) -> Any:
    def write(text: str = QUIET, final_state: str = "WAITING") -> str:
        path = tmp_path / "quiet.toml"
        path.write_text(text.format(final_state=final_state) if "{final_state}" in text else text)
        return str(path)

    return write


def run(tmp_path: Path, *arguments: str) -> Result:
    return CliRunner().invoke(main, ["run", "--out", str(tmp_path / "out"), *arguments])


def written(tmp_path: Path) -> list[str]:
    return sorted(path.name for path in (tmp_path / "out").glob("*"))


def test_a_scenario_as_expected_exits_0_and_leaves_recording_and_picture(tmp_path: Path, scenario: Any) -> None:
    result = run(tmp_path, scenario())
    assert result.exit_code == 0, result.output
    assert written(tmp_path) == ["quiet.jsonl", "quiet.png"]
    assert (tmp_path / "out" / "quiet.png").read_bytes().startswith(PNG)
    assert "1 of 1 scenarios came out as expected" in result.stdout


def test_a_scenario_that_comes_out_otherwise_exits_1_and_says_how(tmp_path: Path, scenario: Any) -> None:
    result = run(tmp_path, "--no-picture", scenario(final_state="READY"))
    assert result.exit_code == 1
    assert "quiet: ends in WAITING, expected READY" in result.stderr
    assert written(tmp_path) == ["quiet.jsonl"]


def test_the_envelope_carries_expected_got_and_monitors(tmp_path: Path, scenario: Any) -> None:
    result = run(tmp_path, "--json", "--no-picture", scenario())
    answer = json.loads(result.stdout)
    (row,) = answer["result"]["scenarios"]
    assert row["expected"]["final_state"] == row["got"]["final_state"] == "WAITING"
    assert {"I1", "I12", "I16"} <= {found["id"] for found in row["monitors"]}
    assert all(set(found) == {"id", "held", "first_tick", "vacuous"} for found in row["monitors"])
    assert Path(row["recording"]).exists()


def test_the_recording_written_replays_to_the_same_outputs(tmp_path: Path) -> None:
    result = run(tmp_path, "--no-picture", "full-sortie-two-stages")
    assert "full-sortie-two-stages" in result.stdout
    recording = read_recording(tmp_path / "out" / "full-sortie-two-stages.jsonl")
    assert recording.complete
    assert "RUN" in {tick["state"] for tick in recording.ticks()}
    assert replay(recording).same


def test_the_same_seed_gives_the_same_recording(tmp_path: Path, scenario: Any) -> None:
    recordings = []
    for seed in ("7", "7", "8"):
        run(tmp_path, "--no-picture", "--seed", seed, scenario())
        recordings.append((tmp_path / "out" / "quiet.jsonl").read_bytes())
    assert recordings[0] == recordings[1] != recordings[2]


BAD_SCENARIOS = {
    "not TOML": "title = ",
    "unknown key": QUIET.replace("stages = 1", 'stages = 1\nmood = "good"'),
    "wrong unit": QUIET.replace('duration = "3 s"', 'duration = "3 bar"'),
    "out of bounds": QUIET.replace('duration = "3 s"', 'duration = "3 h"'),
    "stage that does not exist": QUIET.replace("select = [1]", "select = [2]"),
    "more stages than the aircraft": QUIET.replace("stages = 1", "stages = 4"),
    "event out of order": QUIET.replace("[expect]", '[[event]]\nat = "1 s"\nmaster = "off"\n[expect]'),
}


@pytest.mark.parametrize("why", BAD_SCENARIOS)
def test_a_bad_scenario_is_one_message_exit_2_and_nothing_written(tmp_path: Path, scenario: Any, why: str) -> None:
    path = scenario(BAD_SCENARIOS[why].replace("{final_state}", "WAITING"))
    result = run(tmp_path, path)
    assert result.exit_code == 2
    assert result.stdout == "" and len(result.stderr.splitlines()) == 1
    assert "quiet" in result.stderr and "Traceback" not in result.output
    assert written(tmp_path) == []


def test_an_unknown_scenario_names_the_known_ones(tmp_path: Path) -> None:
    result = run(tmp_path, "loop-the-loop")
    assert result.exit_code == 2
    assert "'loop-the-loop'" in result.stderr and "full-sortie-two-stages" in result.stderr
    assert written(tmp_path) == []


def test_one_bad_scenario_among_good_ones_stops_before_anything_is_played(tmp_path: Path, scenario: Any) -> None:
    result = run(tmp_path, scenario(), "loop-the-loop")
    assert result.exit_code == 2
    assert written(tmp_path) == []


@pytest.mark.parametrize("text", ["aircraft = 3", "format = ", None])
def test_a_bad_installation_is_refused_by_name(tmp_path: Path, scenario: Any, text: str | None) -> None:
    path = tmp_path / "mine.toml"
    if text is not None:
        path.write_text(text)
    result = run(tmp_path, "--installation", str(path), scenario())
    assert result.exit_code == 2
    assert "mine.toml" in result.stderr and "Traceback" not in result.output
    assert written(tmp_path) == []


def test_an_output_folder_that_is_a_file_is_refused(tmp_path: Path, scenario: Any) -> None:
    (tmp_path / "out").write_text("in the way")
    result = run(tmp_path, scenario())
    assert result.exit_code == 2
    assert (tmp_path / "out").read_text() == "in the way"


def test_the_list_names_every_bundled_scenario_and_plays_none(tmp_path: Path) -> None:
    result = run(tmp_path, "--list")
    assert result.exit_code == 0
    assert "push-without-purge" in result.stdout and "full-sortie-two-stages" in result.stdout
    assert written(tmp_path) == []
