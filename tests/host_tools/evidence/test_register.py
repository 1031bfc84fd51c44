"""Everything that was found wrong stands in the register, with what was done and a test that guards it."""

import ast
from pathlib import Path

import pytest

from oxlatch_sim.scenario import find, load, play
from oxlatch_tools.aircraft import load_aircraft
from oxlatch_tools.commissioning.programme import programme
from oxlatch_tools.commissioning.results import ResultError, keep_result, parse_result, read_history
from oxlatch_tools.evidence.register import OPEN, Entry, bench_entries, findings
from oxlatch_tools.installation import Installation, example

ROOT = Path(__file__).parents[3]


def functions_of(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}


@pytest.mark.parametrize("entry", findings(), ids=lambda entry: entry.what[:40])
def test_every_finding_names_tests_that_are_there(entry: Entry) -> None:
    for name in entry.guard:
        path, _, function = name.partition("::")
        assert function in functions_of(ROOT / path), name


def test_findings_are_in_order_and_each_is_told_once() -> None:
    rows = findings()
    assert len(rows) >= 20 and [row.date for row in rows] == sorted(row.date for row in rows)
    assert len({row.what for row in rows}) == len(rows)


def test_a_purge_on_a_28_volt_bus_ends_without_a_lockout() -> None:
    aircraft = load_aircraft(example("valley_two_seater"))
    outcome = play(load(find("purge-too-short")), aircraft.plant, aircraft.settings)
    assert aircraft.plant.electrical is not None and outcome.highest_latch == 0 and outcome.first_cause is None


def kept(folder: Path, tug: Installation, date: str, value: float, changed: str = "") -> None:
    step = next(step for step in programme(tug) if step.key == "power_cut")
    text = f'step = "power_cut"\ndate = {date}\nby = "A. Builder"\nchanged = "{changed}"\n'
    text += f"[values]\nfuel_outlasts_ms = {value}\nhalt_to_dead_ms = 31\n"
    keep_result(folder, parse_result(text, "sheet", [step]), tug, step)


def entries(folder: Path, tug: Installation) -> list[Entry]:
    return list(bench_entries(read_history(folder, programme(tug))))


def test_a_failed_step_is_open_until_its_repeat_says_what_was_changed_and_passes(tmp_path: Path, tug) -> None:
    kept(tmp_path, tug, "2026-05-01", 7.5)
    (first,) = entries(tmp_path, tug)
    assert first.is_open and first.changed == OPEN and "7.5, allowed at most 5 ms" in first.what
    with pytest.raises(ResultError, match="what was changed since"):
        kept(tmp_path, tug, "2026-05-02", 1.5)
    kept(tmp_path, tug, "2026-05-02", 6.0, "New clamps")
    kept(tmp_path, tug, "2026-05-03", 1.5, "Clamps of the right voltage")
    first, second = entries(tmp_path, tug)
    assert first.is_open and first.changed == "New clamps" and "2026-05-02: failed again" in first.guard[0]
    assert not second.is_open and "repeated 2026-05-03: passed" in second.guard[0]
