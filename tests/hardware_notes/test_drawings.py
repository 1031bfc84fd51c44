"""Drawings are those of the present scripts and values, readable, in one ink, and right for another aircraft too."""

import hashlib
import re
import xml.etree.ElementTree as Tree
from functools import cache
from pathlib import Path

import pytest

from notes.deck import DRAWINGS, drawn
from notes.facts import Facts, tug
from notes.ink import SMALLEST, Sheet
from oxlatch.vocabulary import TICK_MS

DRAWN = Path(__file__).resolve().parents[2] / "hardware_notes" / "drawings"
NAMES = sorted(DRAWINGS)
STALE = "run `make notes`"


@cache
def of_the_tug(name: str) -> tuple[Sheet, str]:
    return drawn(name, tug())


@pytest.fixture(scope="module")
def valley() -> Facts:
    return Facts("valley_two_seater")


def test_every_drawing_has_its_file_and_every_file_its_drawing() -> None:
    assert sorted(path.stem for path in DRAWN.glob("*.svg")) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_no_drawing_is_stale_or_touched_by_hand(name: str) -> None:
    _sheet, fresh = of_the_tug(name)
    kept = (DRAWN / f"{name}.svg").read_text(encoding="utf-8")
    wanted = re.search(r'data-made-from="(\w+)"', fresh)
    found = re.search(r'data-made-from="(\w+)" data-content="(\w+)"', kept)
    assert wanted and found
    assert found.group(1) == wanted.group(1), f"drawings/{name}.svg is stale: {STALE}"
    letters = re.search(r"<defs>(.*?)</defs>\n(.*)\n</svg>\n", kept, re.DOTALL)
    assert letters
    content = hashlib.sha256((letters.group(1) + letters.group(2)).encode()).hexdigest()[:8]
    assert content == found.group(2), f"drawings/{name}.svg was changed by hand: {STALE}"


@pytest.mark.parametrize("name", NAMES)
def test_no_words_collide(name: str) -> None:
    assert of_the_tug(name)[0].problems() == []


@pytest.mark.parametrize("name", NAMES)
def test_no_words_collide_on_an_aircraft_of_two_stages_and_28_volts(name: str, valley: Facts) -> None:
    sheet = drawn(name, valley)[0]
    assert sheet.problems() == []
    assert any(valley.installation.digest in words for words in sheet.texts())


@pytest.mark.parametrize("name", NAMES)
def test_a_drawing_is_well_formed_and_in_one_ink(name: str) -> None:
    text = (DRAWN / f"{name}.svg").read_text(encoding="utf-8")
    root = Tree.fromstring(text)
    colours = set(re.findall(r'(?:fill|stroke)[=:]"?([#\w]+)', text))
    assert colours <= {"black", "white", "none"}
    title = root.find("{http://www.w3.org/2000/svg}title")
    assert title is not None and title.text
    assert "CAUTION: " in text


@pytest.mark.parametrize("name", NAMES)
def test_words_are_large_enough_for_print(name: str) -> None:
    text = (DRAWN / f"{name}.svg").read_text(encoding="utf-8")
    scales = [float(scale) * 2048 for scale in re.findall(r"scale\((0\.0\d+) -0\.0\d+\)", text)]
    assert scales and min(scales) >= SMALLEST - 0.02


def test_values_follow_the_settings_and_the_installation() -> None:
    facts = Facts("alpine_tug")
    tail_ms = facts.ticks_ms("tail_ticks")
    before = drawn("one_shot", facts)[0].texts()
    facts.settings.tail_ticks += 4  # type: ignore[attr-defined]
    after = drawn("one_shot", facts)[0].texts()
    off, later = f"{2 * TICK_MS + tail_ms} ms", f"{6 * TICK_MS + tail_ms} ms"
    assert off in before and later not in before
    assert later in after and off not in after


def test_the_fingerprint_changes_with_a_value() -> None:
    facts = Facts("alpine_tug")
    first = drawn("scales", facts)[1]
    facts.settings.supply_cut_mv += 40  # type: ignore[attr-defined]
    second = drawn("scales", facts)[1]
    assert re.findall(r'made-from="(\w+)"', first) != re.findall(r'made-from="(\w+)"', second)
