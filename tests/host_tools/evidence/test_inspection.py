"""The yearly sheet is made of the installation and prints for any aircraft."""

import dataclasses
from pathlib import Path

import pytest
from click.testing import CliRunner

from oxlatch_tools.cards.sheet import Origin, cards_pdf
from oxlatch_tools.commands.cards import command
from oxlatch_tools.evidence.inspection import inspection_card, inspection_markdown, yearly_inspection
from oxlatch_tools.evidence.life import lives
from oxlatch_tools.installation import Installation, example, load_installation
from oxlatch_tools.installation_fitted import not_fitted

AIRCRAFT = ("alpine_tug", "valley_two_seater")


@pytest.fixture(params=AIRCRAFT)
def installation(request: pytest.FixtureRequest) -> Installation:
    return load_installation(example(request.param))


def expected(installation: Installation) -> dict[str, str]:
    parts = yearly_inspection(installation, installation.aircraft.units, "12345678")
    return {check.what: check.expected for part in parts for check in part.checks}


def test_digest_and_firmware_stand_on_the_sheet(installation: Installation) -> None:
    found = expected(installation)
    assert found["Installation the controller shows, and every placard and card"] == installation.digest
    assert found["Firmware the controller shows"] == "12345678"


def test_every_valve_is_measured_against_the_file(installation: Installation) -> None:
    found = expected(installation)
    assert found["O stage valve: coil at 20 °C"].startswith(f"{installation.oxidizer_valve.resistance:g} Ω")
    assert (
        f"shuts {1e3 * installation.fuel_valve.closing:.0f} ms"
        in found["F stage valve: times in flight volts, at pressure"]
    )
    assert ("F master valve: coil at 20 °C" in found) == (installation.master_fuel_valve is not None)


def test_every_stage_has_a_weighed_shot_of_both_fluids_or_says_that_it_has_none(installation: Installation) -> None:
    found = expected(installation)
    for number in range(1, len(installation.stages) + 1):
        for fluid in ("oxidizer", "fuel"):
            lines = [what for what in found if what.startswith(f"Stage {number}, {fluid}: weighed shot")]
            assert len(lines) == 1


def test_an_expected_value_follows_the_installation() -> None:
    tug = load_installation(example("alpine_tug"))
    slower = tug.model_copy(update={"fuel_valve": tug.fuel_valve.model_copy(update={"closing": 0.017})})
    changed = {what for what, value in expected(slower).items() if expected(tug)[what] != value}
    assert changed == {
        "Installation the controller shows, and every placard and card",
        "F stage valve: times in flight volts, at pressure",
    }


def test_nobody_having_signed_is_said_loudly() -> None:
    tug = load_installation(example("alpine_tug"))
    unsigned = tug.model_copy(update={"tested": tug.tested.model_copy(update={"limits_signed": None})})
    assert expected(unsigned)["Limits signed by"] == "NOBODY YET"


def test_what_is_not_fitted_is_printed_on_the_card() -> None:
    tug = load_installation(example("alpine_tug"))
    bare = tug.model_copy(update={"sensors": tug.sensors.model_copy(update={"fitted": []})})
    words = str([dataclasses.asdict(block) for block in inspection_card(bare, "metric", "12345678").blocks])
    assert words.count("Not fitted:") == len(not_fitted(bare)) == 20
    assert not any("Proof switches" in life.part for life in lives(bare))


def test_the_card_prints_with_its_cautions_first(installation: Installation) -> None:
    card = inspection_card(installation, installation.aircraft.units, "12345678")
    assert "Bottle off the aircraft" in str(card.blocks[0])
    origin = Origin(installation.aircraft.name, installation.digest, "2026-11-25", "12345678", True, True)
    assert cards_pdf([card], origin).startswith(b"%PDF")


def test_the_cards_command_prints_the_sheet(tmp_path: Path) -> None:
    found = CliRunner().invoke(command, ["--only", "inspection", "--no-previews", "--out", str(tmp_path)])
    assert found.exit_code == 0, found.output
    assert [path.name for path in tmp_path.iterdir()] == ["card-alpine-tug-inspection.pdf"]


def test_the_markdown_has_a_line_for_every_check(installation: Installation) -> None:
    lines = inspection_markdown(installation, installation.aircraft.units, "12345678")
    assert sum(line.endswith("| | |") for line in lines) == len(expected(installation))


def test_wear_follows_the_uses_of_a_year(installation: Installation) -> None:
    uses = installation.mission.uses_per_year
    seats = next(life for life in lives(installation) if life.part.startswith("O valve seats"))
    assert f"about {uses} openings" in seats.yearly
