"""Pages: generated parts fresh, cautions first, links and commands that exist, hazards and words complete."""

import importlib
import re
import shlex
import tomllib
from pathlib import Path

import click
import pytest

from notes.facts import UNITS, tug
from notes.pages import PageError, renewed
from notes.tables import TABLES
from oxlatch.vocabulary import STATE_NAMES
from oxlatch_sim.fault_catalogue import CATALOGUE
from oxlatch_sim.reason_names import reasons_by_name
from oxlatch_sim.reason_words import REASONS
from oxlatch_tools.cli import HELPS, main

NOTES = Path(__file__).resolve().parents[2] / "hardware_notes"
PAGES = sorted(path.name for path in NOTES.glob("*.md"))
OWN = [name for name in PAGES if name not in ("fmea.md", "protocol.md")]
DATA = NOTES / "notes"


def text_of(name: str) -> str:
    return (NOTES / name).read_text(encoding="utf-8")


@pytest.mark.parametrize("name", PAGES)
def test_no_generated_part_is_stale(name: str) -> None:
    assert renewed(text_of(name), tug(), name) == text_of(name), f"{name} is stale: run `make notes`"


def test_every_table_stands_on_a_page() -> None:
    shown = {found for name in PAGES for found in re.findall(r"<!-- table: ([a-z ]+) -->", text_of(name))}
    assert shown == set(TABLES)


def test_an_unknown_table_or_an_open_mark_is_refused_by_name() -> None:
    with pytest.raises(PageError, match=r"x\.md: no table 'nothing'"):
        renewed("<!-- table: nothing -->\n<!-- end -->", tug(), "x.md")
    with pytest.raises(PageError, match="needs its"):
        renewed("<!-- table: coils -->\n", tug(), "x.md")


@pytest.mark.parametrize("name", OWN)
def test_a_page_opens_with_its_cautions_and_defers(name: str) -> None:
    opening = text_of(name).split("\n## ")[0].split("\n![")[0]
    assert re.match(r"# .+\n\n\*\*Cautions", opening)
    defers = re.search(r"come[s]? first|first\.|decide;|by the practice your authority accepts", opening)
    assert defers, "a page defers to maker, supplier, local rules and licensed practice"


@pytest.mark.parametrize("name", PAGES)
def test_every_link_leads_somewhere(name: str) -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", text_of(name)):
        assert (NOTES / target).is_file(), f"{name}: {target} does not exist"


def test_every_drawing_is_shown_on_a_page_and_listed() -> None:
    drawings = {path.name for path in (NOTES / "drawings").glob("*.svg")}
    shown = {found for name in PAGES for found in re.findall(r"!\[[^\]]*\]\(drawings/([^)]+)\)", text_of(name))}
    listed = set(re.findall(r"\]\(drawings/([^)]+)\)", text_of("README.md")))
    assert shown == drawings == listed


def test_the_index_names_every_page() -> None:
    assert set(re.findall(r"\]\(([a-z_]+\.md)\)", text_of("README.md"))) >= set(PAGES) - {"README.md"}


@pytest.mark.parametrize("name", OWN)
def test_nothing_is_called_safe(name: str) -> None:
    words = re.sub(r"Safe Practices|safetied|safety it|Safety", "", text_of(name))
    assert not re.search(r"\bsafe\b|\bsafely\b", words, re.IGNORECASE)


def commands() -> list[tuple[str, str]]:
    found = []
    for name in PAGES:
        text = text_of(name)
        blocks = [line for block in re.findall(r"```\n(.*?)```", text, re.DOTALL) for line in block.splitlines()]
        inline = re.findall(r"`((?:oxlatch|make|python -m) [^`]+)`", text)
        found += [
            (name, line.strip()) for line in (*blocks, *inline) if line.startswith(("oxlatch ", "make ", "python -m "))
        ]
    return found


@pytest.mark.parametrize(("page", "line"), commands())
def test_a_command_shown_exists_with_its_options(page: str, line: str) -> None:
    tool, *words = shlex.split(line)
    if tool == "make":
        assert f"\n{words[0]}:" in (NOTES.parent / "Makefile").read_text()
        return
    if tool == "python":
        assert importlib.import_module(words[1]).main
        return
    assert words[0] in HELPS, f"{page}: no command {words[0]}"
    context = click.Context(main)
    command = main.get_command(context, words[0])
    if command is None:
        pytest.skip(f"this build carries no `oxlatch {words[0]}`")
    if isinstance(command, click.Group):
        inner = command.get_command(context, words[1])
        command = inner or command
    options = {option for parameter in command.params for option in (*parameter.opts, *parameter.secondary_opts)}
    for word in words[1:]:
        assert not word.startswith("--") or word in options, f"{page}: `oxlatch {words[0]}` has no {word}"


def test_the_commands_were_found() -> None:
    assert len(commands()) >= 12


def hazards() -> list[dict[str, object]]:
    return list(tomllib.loads((DATA / "hazards.toml").read_text(encoding="utf-8"))["row"])


def test_hazard_rows_are_numbered_without_gaps_and_cover_reasons_and_faults() -> None:
    numbers = [row["n"] for row in hazards()]
    assert numbers == list(range(1, len(numbers) + 1))
    assert {row[5] for row in REASONS} <= set(numbers)
    assert {fault.row for fault in CATALOGUE.values()} <= set(numbers)


def test_a_hazard_without_a_reason_says_who_answers() -> None:
    with_reason = {row[5] for row in REASONS}
    for row in hazards():
        assert ("by" in row) == (row["n"] not in with_reason), f"row {row['n']}"
        assert row["event"] and row["sees"]


def test_icing_by_charge_cooling_has_its_row_and_its_answer() -> None:
    (row,) = [row for row in hazards() if "ices the intake" in str(row["event"])]
    assert "humid" in str(row["cause"]) and "10 to 20 K" in str(row["cause"])
    assert "card" in str(row["by"])


def test_trade_words_name_states_reasons_and_settings_that_exist() -> None:
    for entry in tomllib.loads((DATA / "words.toml").read_text(encoding="utf-8"))["word"]:
        assert set(entry["states"]) <= set(STATE_NAMES), entry["trade"]
        assert set(entry["reasons"]) <= set(reasons_by_name()), entry["trade"]
        assert set(entry["settings"]) <= set(UNITS), entry["trade"]


def test_every_state_but_the_first_is_reached_by_a_word_of_the_trade() -> None:
    entries = tomllib.loads((DATA / "words.toml").read_text(encoding="utf-8"))["word"]
    named = {state for entry in entries for state in entry["states"]}
    assert named == set(STATE_NAMES) - {"WAKE"}
