"""`oxlatch faults` writes grid, CSV, JSON and recordings, and its generated table knows when it is stale."""

import csv
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from oxlatch_sim.campaign import Aircraft
from oxlatch_sim.corners import HARDWARE
from oxlatch_sim.fault_catalogue import CATALOGUE
from oxlatch_sim.fault_flight import PHASES
from oxlatch_sim.recording import read_recording
from oxlatch_tools.aircraft import load_aircraft
from oxlatch_tools.commands.faults import command
from oxlatch_tools.fmea import fingerprint, missing_input_cases
from oxlatch_tools.installation import example

HARDWARE_NOTES = Path(__file__).resolve().parents[2] / "hardware_notes"

VALLEY = example("valley_two_seater")


def call(tmp_path: Path, *words: str) -> Result:
    return CliRunner().invoke(command, [*words, "--out", str(tmp_path)])


@pytest.fixture(scope="module")
def few(tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, Path]:
    folder = tmp_path_factory.mktemp("faults")
    chosen = ["--fault", "bus_sags", "--fault", "fuel_stuck_open@1", "--phase", "flowing", "--phase", "releasing"]
    return call(folder, *chosen, "--corner", "nominal", "--json"), folder / "faults"


def test_rows_carry_everything_a_reader_needs(few: tuple[Result, Path]) -> None:
    envelope = json.loads(few[0].stdout)
    result = envelope["result"]
    assert result["runs"] == len(result["rows"]) == 2 * 2 * len(HARDWARE)
    wanted = "fault phase corner hardware fuel_only_ms oxidizer_only_ms detected_by off_ms latch bound_ms within"
    assert set(wanted.split()) <= set(result["rows"][0])
    assert envelope["command"] == "faults" and envelope["exit"] == few[0].exit_code == 0


def test_rows_over_a_bound_are_shown_and_not_averaged(few: tuple[Result, Path]) -> None:
    rows = json.loads(few[0].stdout)["result"]["rows"]
    over = {(row["fault"], row["hardware"]) for row in rows if not row["within"]}
    assert over == {("fuel_stuck_open@1", "no master fuel"), ("fuel_stuck_open@1", "none")}


def test_csv_grid_and_recordings_are_written(few: tuple[Result, Path]) -> None:
    result, folder = few
    rows = json.loads(result.stdout)["result"]["rows"]
    with (folder / "faults.csv").open() as file:
        assert len(list(csv.DictReader(file))) == len(rows)
    assert (folder / "grid-1.png").read_bytes().startswith(b"\x89PNG")
    recording = read_recording(folder / "bus_sags.jsonl")
    assert recording.complete
    assert recording.header["installation"] == load_aircraft(None).digest


def test_people_read_the_worst_and_what_is_not_covered(tmp_path: Path) -> None:
    result = call(
        tmp_path, "--fault", "bottle_inert", "--phase", "flowing", "--hardware", "recommended", "--corner", "nominal"
    )
    assert result.exit_code == 0
    assert "F OVER" in result.stdout
    assert "Not covered, whatever of the recommended parts is fitted:" in result.stdout
    assert "no sensor tells one gas from another" in result.stdout


def test_an_undeclared_row_over_its_bound_is_a_problem(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("oxlatch_sim.remedies.UNCOVERED", {})
    result = call(
        tmp_path, "--fault", "bottle_inert", "--phase", "flowing", "--hardware", "recommended", "--corner", "nominal"
    )
    assert result.exit_code == 1
    assert "over a bound and not declared: bottle_inert" in result.stderr


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--fault", "bus_sag"], "nearest are bus_sags"),
        (["--fault", "ox_leaks@9"], "allowed are 1 to 3"),
        (["--corner", "cold"], "nearest are"),
        (["--hardware", "no proofs"], "allowed: recommended, no proof"),
        (["--quick", "--corner", "hot-full-strong-slowF-large", "--fault", "bus_sags"], "no run is left"),
        (["--fault", "bus_sags", "--phase", "flowing", "--dask", "nowhere"], "no Dask scheduler answers at 'nowhere'"),
    ],
)
def test_a_wrong_name_is_one_message_and_exit_2(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: list[str], message: str
) -> None:
    monkeypatch.setattr("oxlatch_sim.campaign.DASK_TIMEOUT", "1s")
    result = call(tmp_path, *words)
    assert result.exit_code == 2
    assert message in result.stderr
    assert not list(tmp_path.iterdir())


def test_the_generated_table_is_not_stale() -> None:
    """When this fails, `make notes` writes the table again from the present firmware, installation and catalogue."""
    text = (HARDWARE_NOTES / "fmea.md").read_text()
    assert f"table {fingerprint(load_aircraft(None).digest)}." in text, (
        "hardware_notes/fmea.md is stale: run `make notes`"
    )


def test_inputs_of_the_other_aircraft_alone_are_flown_on_it_at_every_phase() -> None:
    own, other = (Aircraft.of(each.plant, each.settings) for each in map(load_aircraft, (None, VALLEY)))
    cases = missing_input_cases(own.fitted, other.stages, other.fitted)
    names = {case.fault for case in cases}
    assert {"engine_knocks", "fire_breaks_out", "retard_lost", "airspeed_high"} <= names
    assert not {"mixture_leaned", "master_ox_coil_open", "bus_sags"} & names
    assert len(cases) == len(names) * len(PHASES)
    text = (Path(__file__).parents[2] / "hardware_notes" / "fmea.md").read_text("utf-8")
    assert all(f"| {CATALOGUE[name].words} |" in text for name in names)
