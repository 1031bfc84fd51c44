"""From a bare board to the limit memo with the sheets the commands write, filled in by a made-up builder."""

import json
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from oxlatch_tools.commands.commission import command
from oxlatch_tools.commissioning.programme import programme
from oxlatch_tools.commissioning.programme_engine import static_file, static_pattern
from oxlatch_tools.commissioning.programme_inputs import DRY_STEPS, INPUT_STEPS
from oxlatch_tools.commissioning.results import ResultError, basis_digest, parse_result
from oxlatch_tools.commissioning.step import Measure
from oxlatch_tools.installation import Installation, example, load_installation, parse_installation
from oxlatch_tools.installation_fitted import not_fitted

EXAMPLE = example("alpine_tug")


@pytest.fixture(scope="module")
def tug() -> Installation:
    return load_installation(EXAMPLE)


def passing(measure: Measure) -> float:
    bounds = [bound for bound in (measure.low, measure.high) if bound is not None]
    return sum(bounds) / len(bounds) if bounds else 1.0


def filled_in(sheet: str, measures: tuple[Measure, ...]) -> str:
    """A blank sheet with a date, a name and values that pass."""
    text = sheet.replace("date = ", "date = 2026-06-01", 1).replace('by = ""', 'by = "A. Builder"', 1)
    for measure in measures:
        text = re.sub(rf"^{measure.key} = ", f"{measure.key} = {passing(measure)!r}", text, flags=re.M)
    return text


class Builder:
    """Runs the command in a folder of their own."""

    def __init__(self, folder: Path) -> None:
        self.common = ["--results", str(folder / "kept"), "--out", str(folder), "--json"]

    def run(self, *words: str) -> tuple[int, dict[str, Any]]:
        answer = CliRunner().invoke(command, [*words, *self.common])
        return answer.exit_code, json.loads(answer.stdout)


@pytest.fixture
def builder(tmp_path: Path) -> Builder:
    return Builder(tmp_path)


def test_every_sheet_leads_to_the_next_and_the_last_to_a_memo_to_sign(builder: Builder, tug, monkeypatch) -> None:
    steps = {step.key: step for step in programme(tug)}
    monkeypatch.setattr("oxlatch_tools.commissioning.programme.programme", lambda _file: list(steps.values()))
    monkeypatch.setattr("oxlatch_tools.commissioning.results.basis_digest", lambda _file, step: step.key)
    _code, told = builder.run("programme")
    seen = []
    while told["result"]["next"]:
        sheet = Path(told["result"]["next"])
        key = sheet.stem.removeprefix("sheet-")
        seen.append(key)
        sheet.write_text(filled_in(sheet.read_text(encoding="utf-8"), steps[key].measures), encoding="utf-8")
        code, told = builder.run("enter", str(sheet))
        assert code == 0, told["problems"]
    assert seen == list(steps)
    code, told = builder.run("memo", "--derating", "15", "--date", "2026-06-02")
    page = Path(told["result"]["page"]).read_text(encoding="utf-8")
    assert code == 0 and "LIMIT MEMO" in page and "Signed ____" in page and "the acceptance step again" in page


def test_a_sheet_handed_in_blank_names_every_line_that_is_not_filled_in(builder: Builder) -> None:
    _code, told = builder.run("programme")
    code, told = builder.run("enter", told["result"]["next"])
    lines = told["problems"][0].splitlines()
    assert code == 2 and len(lines) == 4
    assert "line 6: date is not filled in" in lines[0] and "resets_with_pulse is not filled in" in lines[-1]


def test_a_static_run_is_allowed_by_a_copy_of_the_file_and_by_nothing_else(tug: Installation, builder: Builder) -> None:
    text = EXAMPLE.read_text(encoding="utf-8")
    copy = parse_installation(static_file(text, tug, (1, 2, 3)))
    assert copy.is_tested((1, 2, 3)) and not tug.is_tested((1, 2, 3))
    before, after = tomllib.loads(text), tomllib.loads(static_file(text, tug, (1, 2, 3)))
    assert after["tested"].pop("patterns")[:-1] == before["tested"].pop("patterns") and after == before
    assert static_file(text, tug, (1,)) == text
    assert static_pattern("static_1_3") == (1, 3) and static_pattern("dry_run") is None
    code, told = builder.run("allow", "static_1")
    assert code == 2 and "is not open yet" in told["problems"][0]
    code, told = builder.run("allow", "leak")
    assert code == 2 and "static_1_2_3" in told["problems"][0]


def test_the_acceptance_rests_on_the_settings_and_not_on_notes_in_the_file(tug: Installation) -> None:
    acceptance = programme(tug)[0]
    shot = tug.tested.model_copy(update={"shots": tug.tested.shots[1:]})
    noted = tug.model_copy(update={"tested": shot})
    assert noted.digest != tug.digest and basis_digest(noted, acceptance) == basis_digest(tug, acceptance)
    tested = tug.tested.model_copy(update={"patterns": tug.tested.patterns[1:]})
    fewer = tug.model_copy(update={"tested": tested})
    assert basis_digest(fewer, acceptance) != basis_digest(tug, acceptance)


def test_every_input_that_is_fitted_has_its_step_and_no_other(tug: Installation) -> None:
    bare = tug.model_copy(update={"sensors": tug.sensors.model_copy(update={"fitted": []})})
    every = [part.part for part in not_fitted(bare)]
    whole = tug.model_copy(update={"sensors": tug.sensors.model_copy(update={"fitted": every})})
    keys = {step.key for step in programme(whole)}
    assert set(INPUT_STEPS) <= keys and not set(INPUT_STEPS) & {step.key for step in programme(bare)}
    assert set(DRY_STEPS) <= set(every)


def test_a_value_that_is_no_number_is_refused(tug: Installation) -> None:
    steps = programme(tug)
    head = 'step = "detent"\ndate = 2026-06-01\nby = "A. B."\n[values]\n'
    text = f"{head}closes_at_percent = nan\npoles_disagree_ms = inf\n"
    with pytest.raises(ResultError) as caught:
        parse_result(text, "s", steps)
    assert str(caught.value).count("allowed: a number") == 2
