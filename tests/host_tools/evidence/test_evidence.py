"""The pack prints what is there, names what is not, and refuses what was made for another build."""

import dataclasses
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.observation import fitted_names
from oxlatch_tools.build import build_digest
from oxlatch_tools.commands.evidence import command
from oxlatch_tools.evidence.case import Case
from oxlatch_tools.evidence.collect import CollectError, Piece, collect, pieces
from oxlatch_tools.evidence.page import Line
from oxlatch_tools.evidence.report import make_document
from oxlatch_tools.evidence.result_files import Build, read_all
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_fitted import not_fitted
from oxlatch_tools.installation_settings import fitted_mask

DATE = "2026-05-01"


def call(folder: Path, *words: str) -> Result:
    return CliRunner().invoke(
        command, [*words, "--out", str(folder), "--results", str(folder / "bench"), "--date", DATE, "--json"]
    )


def told(folder: Path, *words: str) -> dict[str, Any]:
    envelope: dict[str, Any] = json.loads(call(folder, *words).stdout)
    return envelope


def claim(envelope: dict[str, Any], key: str) -> dict[str, Any]:
    found: dict[str, Any] = next(row for row in envelope["result"]["claims"] if row["claim"] == key)
    return found


def page_of(envelope: dict[str, Any]) -> str:
    return Path(envelope["result"]["files"]["page"]).read_text(encoding="utf-8")


def red_texts(page: str) -> str:
    return "\n".join(re.findall(r'<span class="red">(.*?)</span>', page))


@pytest.fixture(scope="module")
def fresh(fresh_folder: Path) -> dict[str, Any]:
    """The pack of results that are all there, of this build, and hold."""
    return told(fresh_folder)


def test_fresh_results_support_the_claims_that_rest_on_them(fresh) -> None:
    envelope = fresh
    assert {claim(envelope, key)["standing"] for key in ("C2", "C3", "C4", "C5", "C9")} == {"HOLDS"}
    states = [item["standing"] for item in claim(envelope, "N4")["evidence"]]
    assert states == ["HOLDS", "HOLDS", "DECLARED", "MISSING"]
    assert "of the full campaign" in claim(envelope, "N4")["evidence"][-1]["words"]


def test_every_figure_in_the_pack_is_that_of_the_result_file(fresh) -> None:
    page = page_of(fresh)
    for figure in (
        "1,234,567 states",
        "7,654,321 transitions",
        "total 512, killed by reference 400, symbolic 105, equivalent 7",
        "worst us 9.5",
        "0 / 900 OVER O NC",
        "11,200 ticks compared",
    ):
        assert figure in page, figure


def test_a_missing_file_is_named_in_red_and_the_pack_does_not_pass(written) -> None:
    folder = written(prove=None)
    answer = call(folder)
    envelope = json.loads(answer.stdout)
    assert answer.exit_code == 1 and claim(envelope, "C2")["standing"] == "MISSING"
    assert "MISSING: no " in red_texts(page_of(envelope)) and "prove.json" in red_texts(page_of(envelope))


def test_results_of_another_firmware_are_refused_with_what_differs(written) -> None:
    folder = written({"prove": {"firmware": "deadbeef"}, "faults": {"installation": "00000000"}})
    answer = call(folder)
    assert answer.exit_code == 2 and not list(folder.glob("evidence-*"))
    message = json.loads(answer.stdout)["problems"][0]
    assert f"prove.json: made for firmware deadbeef, this build is {firmware_digest()}" in message
    assert "faults.json: made for installation 00000000" in message and "--draft" in message


def test_a_draft_prints_the_differences_on_the_first_page_and_marks_every_stale_figure(written) -> None:
    folder = written({"prove": {"firmware": "deadbeef"}})
    answer = call(folder, "--draft")
    envelope = json.loads(answer.stdout)
    page = page_of(envelope)
    assert answer.exit_code == 1 and envelope["result"]["draft"] is True
    first = page[: page.index("1. The claim")]
    assert "DRAFT: results below are of another build" in first and "made for firmware deadbeef" in first
    stale = [item for item in claim(envelope, "C2")["evidence"] if "1,234,567" in item["words"]]
    assert stale and all(
        item["standing"] == "STALE" and "made for firmware deadbeef" in item["words"] for item in stale
    )
    assert "1,234,567" in red_texts(page)


def test_a_broken_invariant_is_said_to_be_broken(written, proof) -> None:
    result = proof
    result["exhaustive"]["claims"][0] = {"name": "I1", "words": "fuel behind oxidizer", "holds": False}
    envelope = told(written(prove=result))
    row = next(row for row in envelope["result"]["invariants"] if row["id"] == "I1")
    assert row["shown"] == "BROKEN" and claim(envelope, "C2")["standing"] == "BROKEN"
    assert "C0 DOES NOT HOLD" in page_of(envelope)


def test_every_invariant_is_listed_with_its_methods_or_as_missing(written, proof, fresh) -> None:
    rows = fresh["result"]["invariants"]
    assert [row["id"] for row in rows] == [f"I{number}" for number in range(1, 18)]
    assert all(row["shown"] == "HOLDS" and "symbolic" in row["shown_by"] for row in rows)
    rows = told(written(prove=proof | {"invariants": [], "symbolic": None, "exhaustive": {}}))
    assert all(row["shown"] == "MISSING" for row in rows["result"]["invariants"])


def test_an_argument_that_was_not_run_is_missing_not_silent(written, proof) -> None:
    envelope = told(written(prove=proof | {"symbolic": None, "mutants": None, "reference": None}))
    assert {claim(envelope, key)["standing"] for key in ("C2", "C3", "C4")} == {"MISSING"}


def test_a_card_whose_file_is_gone_is_named_in_red(fresh) -> None:
    assert "MISSING: the file is gone" in red_texts(page_of(fresh))


def test_a_section_without_a_verdict_shows_nothing(written, proof) -> None:
    envelope = told(written(prove=proof | {"reference": {"ticks": 5}, "liveness": {"dead_ends": ["TRIP 3"]}}))
    assert claim(envelope, "C3")["standing"] == "MISSING" and claim(envelope, "C9")["standing"] == "BROKEN"


def test_what_the_command_itself_found_wrong_cannot_be_hidden(written) -> None:
    envelope = told(written({"prove": {"ok": False, "exit": 1, "problems": ["I7 is broken: growth"]}}))
    assert claim(envelope, "C2")["standing"] == "BROKEN" and "I7 is broken: growth" in red_texts(page_of(envelope))


def case_of(folder: Path, installation: Installation, build: Build) -> Case:
    return Case(installation, build, read_all(folder, build), [], {})


def wanted(folder: Path, installation: Installation, quick: bool) -> dict[str, Piece]:
    build = Build(firmware_digest(), installation.digest, build_digest())
    return {one.key: one for one in pieces(case_of(folder, installation, build), None, folder, quick)}


def test_what_is_there_and_of_this_build_is_not_made_again(written, tug) -> None:
    folder = written({"cards": {"installation": "00000000"}}, run=None)
    quick = wanted(folder, tug, quick=True)
    assert [key for key, one in quick.items() if not one.is_there] == ["cards", "run", "flash"]
    assert [key for key, one in wanted(folder, tug, quick=False).items() if not one.is_there] == [
        "cards", "run", "faults", "flash",
    ]  # fmt: skip


def test_what_is_collected_flies_the_parts_that_are_fitted(written, tug) -> None:
    folder = written()
    assert "--quick" in wanted(folder, tug, quick=True)["faults"].arguments
    assert "--mutants" in wanted(folder, tug, quick=False)["prove"].arguments
    fewer = [part for part in tug.sensors.fitted if part != "oxidizer proof"]
    without = tug.model_copy(update={"sensors": tug.sensors.model_copy(update={"fitted": fewer})})
    arguments = wanted(folder, without, quick=True)["faults"].arguments
    assert "--quick" not in arguments and "no proof" in arguments


def test_a_boards_certificate_is_never_replaced_by_a_desks(written, tug) -> None:
    board = {"board": "rp2", "settings": "0a1b2c3d", "proof": "cafe0123", "proof_line": "PROVED"}
    folder = written({"flash": {"firmware": "deadbeef"}}, flash=board)
    made = wanted(folder, tug, quick=True)
    assert made["flash"].is_there and made["replay"].is_there


def test_a_desks_certificate_leaves_the_boards_missing(written) -> None:
    desk = {"board": "desk", "settings": "0a1b2c3d", "proof": "cafe0123", "proof_line": "PROVED: proof cafe0123"}
    row = claim(told(written(flash=desk)), "C7")
    assert row["standing"] == "MISSING"
    assert any("certificate of a board" in item["words"] for item in row["evidence"])


def test_a_sample_of_the_mutants_is_said_to_be_one(written, proof) -> None:
    row = claim(told(written(prove=proof | {"mutants": proof["mutants"] | {"share": 0.05}})), "C4")
    assert row["standing"] == "MISSING" and "5% of the rest were judged" in row["evidence"][-1]["words"]


def test_pairs_of_inputs_and_the_outside_check_are_missing_until_they_were_run(written, proof) -> None:
    row = claim(told(written(prove=proof | {"fitted_pairs": None, "outside": None})), "C2")
    missing = [item["words"] for item in row["evidence"] if item["standing"] == "MISSING"]
    assert row["standing"] == "MISSING" and len(missing) == 2 and "every pair of optional inputs" in missing[0]
    pairs = proof["fitted_pairs"] | {"ok": False, "rows": [{"fitted": 3, "problems": ["I1"]}]}
    assert claim(told(written(prove=proof | {"fitted_pairs": pairs})), "C2")["standing"] == "BROKEN"


def test_quick_without_collect_is_refused(fresh_folder) -> None:
    answer = call(fresh_folder, "--quick")
    assert answer.exit_code == 2 and "together with --collect" in json.loads(answer.stdout)["problems"][0]


def test_results_of_another_simulator_are_refused_though_the_firmware_is_the_same(written) -> None:
    answer = call(written({"run": {"build": "deadbeef"}}))
    message = json.loads(answer.stdout)["problems"][0]
    assert answer.exit_code == 2
    assert f"run.json: made by build deadbeef of simulator and tools, this is {build_digest()}" in message
    assert "made for firmware" not in message


def test_collecting_runs_what_is_missing_keeps_it_and_tells_a_refusal(tmp_path) -> None:
    piece = Piece("run", "listing", "oxlatch_tools.cli", ("run", "--list"))
    assert collect(piece, tmp_path) > 0
    assert json.loads((tmp_path / "run.json").read_text(encoding="utf-8"))["command"] == "run"
    with pytest.raises(CollectError, match="gave no result"):
        collect(Piece("prove", "proving", "oxlatch_tools.cli", ("prove", "--no-such-option")), tmp_path)
    assert not (tmp_path / "prove.json").exists()


def test_a_worst_tick_longer_than_a_tick_is_open(written) -> None:
    ticks = {"measured_on": "a desk", "is_board": False, "worst_us": 31.0}
    late = {"ok": False, "exit": 1, "problems": ["the worst tick takes about 5.9 ms"]}
    row = claim(told(written({"ticks": late}, ticks=ticks)), "C6")
    assert row["standing"] == "BROKEN" and any("5.9 ms" in item["words"] for item in row["evidence"])


def test_a_surviving_mutant_breaks_its_claim(written, proof) -> None:
    result = proof | {"mutants": {"total": 3, "survived": [{"where": "gate.py:40", "before": "and", "after": "or"}]}}
    envelope = told(written(prove=result))
    assert claim(envelope, "C4")["standing"] == "BROKEN" and "gate.py:40" in red_texts(page_of(envelope))


def test_a_fault_over_a_bound_and_declared_nowhere_breaks_the_claim(written, fault_row) -> None:
    rows = [fault_row("none", 0, 80), fault_row("bus_sags", 46.0, 20.0)]
    envelope = told(written(faults={"rows": rows}))
    assert claim(envelope, "N4")["standing"] == "BROKEN" and "declared nowhere: bus_sags" in page_of(envelope)


def with_parts(installation: Installation, parts: list[str]) -> Installation:
    return installation.model_copy(update={"sensors": installation.sensors.model_copy(update={"fitted": parts})})


def argued_words(case: Case) -> tuple[str, list[Any]]:
    """The pack's words, and its claims."""
    document, argued = make_document(case, DATE)
    return "\n".join(words_of(document)), argued


def words_of(node: Any) -> Iterator[str]:
    """Every line of a document, in order."""
    if isinstance(node, Line):
        yield node.text
    elif isinstance(node, tuple):
        for item in node:
            yield from words_of(item)
    elif dataclasses.is_dataclass(node):
        for field in dataclasses.fields(node):
            yield from words_of(getattr(node, field.name))


def test_each_part_left_out_changes_evidence_and_start_up_record_in_words(fresh_folder, tug, monkeypatch) -> None:
    monkeypatch.setattr("oxlatch_tools.evidence.case._every_run", lambda _stages, _fitted: [])
    build = Build(firmware_digest(), tug.digest, build_digest())
    files = read_all(fresh_folder, build)
    every = [part.part for part in not_fitted(with_parts(tug, []))]
    whole = with_parts(tug, every)
    full, _argued = argued_words(Case(whole, build, files, [], {}))
    assert "Every part that may be fitted is fitted" in full and "NOT FITTED" not in full
    names = set(fitted_names(fitted_mask(whole)))
    for part in every:
        fewer = with_parts(tug, [one for one in every if one != part])
        words, argued = argued_words(Case(fewer, build, files, [], {}))
        (lost,) = not_fitted(fewer)
        assert f"NOT FITTED: {part}. {lost.lost}" in words, part
        assert part == "lockout memory" or any(one.lost == (lost,) and "WEAKER" in one.in_words for one in argued), part
        assert len(names - set(fitted_names(fitted_mask(fewer)))) == 1, part


def test_what_is_not_shown_is_in_the_same_type_as_what_is(written) -> None:
    page = page_of(told(written(prove=None)))
    style = re.search(r"<style>(.*?)</style>", page, re.S)
    assert style is not None
    sizes = re.findall(r"([^{}]+)\{[^{}]*font(?:-size)?: ?([0-9.]+(?:px|rem|pt))", style.group(1))
    assert {selector.strip().split()[-1] for selector, _size in sizes} <= {"body", "h1", "h2", "h3"}


def test_the_same_results_and_date_give_the_same_bytes(fresh, fresh_folder, paper) -> None:
    first = [(path.name, path.read_bytes()) for path in files_of(fresh)]
    again = [(path.name, path.read_bytes()) for path in files_of(told(fresh_folder))]
    assert first == again


def files_of(envelope: dict[str, Any]) -> list[Path]:
    return [Path(name) for name in envelope["result"]["files"].values()]


def test_the_page_needs_nothing_beside_it(fresh) -> None:
    page = page_of(fresh)
    assert not re.search(r"""(?:src|href)\s*=\s*["'](?!data:)|url\(|@import""", page)


def test_the_pack_never_gives_the_verdict_safe(fresh) -> None:
    assert not re.search(r"\bsafe\b", page_of(fresh), re.I)


@pytest.mark.parametrize(
    "content", [b"", b"{", b"[]", b'{"command": "faults", "ok": true, "result": {}}', b'{"command": "prove", "ok": 1}']
)
def test_a_file_that_is_not_the_commands_output_is_refused_by_name(written, content) -> None:
    folder = written()
    (folder / "prove.json").write_bytes(content)
    answer = call(folder)
    assert answer.exit_code == 2 and "prove.json" in json.loads(answer.stdout)["problems"][0]
    assert not list(folder.glob("evidence-*"))


def test_a_complete_case_ends_with_exit_code_zero(written, tug, monkeypatch) -> None:
    from oxlatch_tools.commissioning.programme import programme
    from oxlatch_tools.commissioning.results import keep_result, parse_result
    board = {"board": "a board", "settings": "0a1b2c3d", "proof": "cafe0123", "proof_line": "PROVED: proof cafe0123"}
    folder = written(flash=board)
    for step in programme(tug):
        values = "\n".join(f"{one.key} = {one.low if one.low is not None else one.high}" for one in step.measures)
        text = f'step = "{step.key}"\ndate = {DATE}\nby = "A. Builder"\n[values]\n{values}\n'.replace("None", "1")
        keep_result(folder / "bench", parse_result(text, step.key, [step]), tug, step)
    assert call(folder).exit_code == 1
    monkeypatch.setattr("oxlatch_tools.evidence.case._every_run", lambda _stages, _fitted: [])
    answer = call(folder)
    assert answer.exit_code == 0, json.loads(answer.stdout)["problems"]


def test_a_result_of_an_unknown_shape_is_refused_by_file_and_field(written) -> None:
    answer = call(written(faults={"rows": [{"fault": "bus_sags"}]}))
    message = json.loads(answer.stdout)["problems"][0]
    assert answer.exit_code == 2 and "faults.json: result.rows.0.phase" in message


def test_a_bench_result_counts_until_the_installation_changes_under_it(written, tug) -> None:
    from oxlatch_tools.commissioning.programme import programme
    from oxlatch_tools.commissioning.results import keep_result, parse_result

    folder = written()
    step = next(step for step in programme(tug) if step.key == "power_cut")
    text = f'step = "power_cut"\ndate = {DATE}\nby = "A. Builder"\n[values]\n'
    text += "fuel_outlasts_ms = 1.5\nhalt_to_dead_ms = 31\n"
    keep_result(folder / "bench", parse_result(text, "sheet", [step]), tug, step)
    envelope = told(folder)
    assert claim(envelope, "D3")["standing"] == "HOLDS" and "1.5 ms, allowed at most 5 ms" in page_of(envelope)
    changed = tug.model_copy(
        update={
            "timing": tug.timing,
            "oxidizer_valve": tug.oxidizer_valve.model_copy(update={"opening": tug.oxidizer_valve.opening + 0.001}),
        }
    )
    keep_result(folder / "bench", parse_result(text, "sheet", [step]), changed, step)
    answer = call(folder)
    assert answer.exit_code == 2 and "power_cut" in json.loads(answer.stdout)["problems"][0]
