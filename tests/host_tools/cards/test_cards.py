"""Cards: what stands on every one, the same bytes, drafts, the change sheet."""

import re
from io import BytesIO

import pypdfium2
import pytest
from click.testing import CliRunner
from PIL import Image

from oxlatch_tools.cards.changes import ACCEPT, CARDS, FLOW, LEAK, STATIC, change_sheet, changes_between, reopened
from oxlatch_tools.cards.deck import MAKERS, deck, origin_of
from oxlatch_tools.cards.preview import previews
from oxlatch_tools.cards.sheet import cards_pdf
from oxlatch_tools.commands.cards import command
from oxlatch_tools.installation import example, load_installation, parse_installation
from oxlatch_tools.planning.altitude import altitude_table, strongest_of
from oxlatch_tools.planning.page import pattern_name
from oxlatch_tools.planning.plan import make_plan

TUG = example("alpine_tug").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def plans():
    return {name: make_plan(load_installation(example(name))) for name in ("alpine_tug", "valley_two_seater")}


@pytest.fixture(scope="module")
def pages(plans):
    """Text of every page of every card, by aircraft."""
    return {
        name: texts(cards_pdf(deck(plan, plan.installation.aircraft.units), origin_of(plan, "2026-05-01", "12345678")))
        for name, plan in plans.items()
    }


def texts(pdf):
    document = pypdfium2.PdfDocument(pdf)
    return [page.get_textpage().get_text_bounded() for page in document]


def test_every_card_fits_its_page(pages):
    for found in pages.values():
        assert len(found) == len(MAKERS)


def test_every_page_carries_digest_date_caution_and_room_to_sign(plans, pages):
    for name, found in pages.items():
        for text in found:
            assert plans[name].installation.digest in text
            assert "2026-05-01" in text and "Not approved" in text and "Verify" in text.replace("verify", "Verify")
            assert "Checked against" in text or "Inspected by" in text


def test_caution_boxes_are_on_all_but_the_placards_and_the_picture(pages):
    for found in pages.values():
        for key, text in zip(MAKERS, found, strict=True):
            assert ("CAUTION" in text) == (key not in ("placards", "altitude-chart"))


def test_cards_are_drafts_until_the_builders_figures_are_in_the_file(plans, pages):
    assert all("DRAFT" not in text and "INVENTED EXAMPLE" in text for text in pages["alpine_tug"])
    assert all("DRAFT" in text for text in pages["valley_two_seater"])
    without = parse_installation(TUG[: TUG.index("# Weighed bench shots")])
    assert origin_of(make_plan(without), "2026-05-01", "0").is_draft


def test_a_plan_beyond_a_limit_prints_drafts_only():
    over = parse_installation(TUG.replace('alternator = "95 A"', 'alternator = "45 A"'))
    assert origin_of(make_plan(over), "2026-05-01", "0").is_draft


def test_the_same_installation_and_date_give_the_same_bytes(plans):
    plan = plans["alpine_tug"]
    origin = origin_of(plan, "2026-05-01", "12345678")

    def printed(from_origin):
        return cards_pdf([MAKERS[name](plan, "metric") for name in ("altitude-chart", "emergency")], from_origin)

    first = printed(origin)
    assert printed(origin) == first
    assert printed(origin_of(plan, "2026-05-02", "12345678")) != first


def test_the_font_is_embedded_and_no_other_is_named(plans):
    plan = plans["alpine_tug"]
    pdf = cards_pdf([MAKERS["emergency"](plan, "metric")], origin_of(plan, "2026-05-01", "1"))
    names = set(re.findall(rb"/BaseFont /([A-Z]+\+)?([\w-]+)", pdf))
    assert names and all(b"DejaVuSans" in name for _tag, name in names)
    assert b"/FontFile2" in pdf


def test_the_altitude_card_is_the_table_of_the_controller(plans, pages):
    installation = plans["alpine_tug"].installation
    table = altitude_table(installation)
    lines = pages["alpine_tug"][list(MAKERS).index("altitude")].splitlines()
    for feet, index in ((5000, 6), (9000, 10)):
        row = next(line for line in lines if line.startswith(f"{feet} ft"))
        best = [strongest_of(installation, mask) for mask in table.masks[index]]
        assert row.split("m", 1)[1].split() == [pattern_name(pattern) for pattern in best]


def test_seconds_stand_beside_no_boost(pages):
    for found in pages.values():
        text = found[list(MAKERS).index("seconds")]
        assert "no boost" in text and "power falls back to no boost" in text.replace("\r\n", " ")
        assert "LOCKED" in text


def test_emergencies_are_all_there(pages):
    text = pages["alpine_tug"][list(MAKERS).index("emergency")]
    for words in ("BOOST LOST", "CLOSE BOTTLE", "FIRE", "LEAK IN THE CABIN", "MASTER off", "Controller dark"):
        assert words in text


def test_limits_page_prints_what_is_not_fitted_and_not_measured(pages):
    text = pages["valley_two_seater"][list(MAKERS).index("limits")]
    assert "Not fitted: master fuel valve" in text and "Not yet in the file: who answers for the ceiling" in text
    assert "NOT TESTED" in text


def test_no_card_calls_anything_safe(pages):
    assert not any(re.search(r"\bsafe(ly)?\b", text.lower()) for found in pages.values() for text in found)


def test_previews_are_grey_pictures_of_every_page(plans):
    plan = plans["alpine_tug"]
    pdf = cards_pdf([MAKERS["altitude"](plan, "metric")], origin_of(plan, "2026-05-01", "1"))
    (png,) = previews(pdf, 60)
    image = Image.open(BytesIO(png))
    assert image.mode == "L" and image.size[0] > 300
    low, high = image.getextrema()
    assert low < 40 and high == 255


def changed(*pairs):
    text = TUG
    for old, new in pairs:
        text = text.replace(old, new)
    return parse_installation(text)


def test_the_change_sheet_says_in_words_what_differs_and_what_it_reopens():
    before, after = changed(), changed(('power = "55 kW"', 'power = "58 kW"'), ('lead = "30 ms"', 'lead = "35 ms"'))
    found = changes_between(before, after)
    assert [(change.where, change.before, change.after) for change in found] == [
        ("stages, Stage 3, power", "55 kW", "58 kW"),
        ("timing, lead", "30 ms", "35 ms"),
    ]
    tests = reopened(found)
    assert {LEAK, FLOW, STATIC, ACCEPT, CARDS} <= set(tests)
    assert tests.index(LEAK) < tests.index(STATIC) < tests.index(CARDS)
    text = "".join(texts(cards_pdf([change_sheet(before, after)], origin_of(make_plan(after), "2026-05-01", "1"))))
    assert "stages, Stage 3, power" in text and before.digest in text and after.digest in text


def test_other_units_or_order_are_no_change():
    assert (
        changes_between(
            changed(), changed(('bore = "126 mm"', 'bore = "12.6 cm"'), ('units = "metric"', 'units = "us"'))
        )
        == []
    )
    assert reopened([]) == []


def test_parts_added_and_taken_away_are_named():
    found = changes_between(changed(), changed(('propeller_power = "235 kW"\n', "")))
    assert [(change.where, change.before, change.after) for change in found] == [
        ("ceiling, propeller power", "235 kW", "absent")
    ]


def test_the_command_writes_each_card_and_a_picture_of_it(tmp_path):
    found = CliRunner().invoke(
        command, ["--out", str(tmp_path), "--date", "2026-05-01", "--only", "emergency", "--only", "seconds"]
    )
    assert found.exit_code == 0, found.output
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "card-alpine-tug-emergency-1.png",
        "card-alpine-tug-emergency.pdf",
        "card-alpine-tug-seconds-1.png",
        "card-alpine-tug-seconds.pdf",
    ]


def test_an_unknown_card_or_file_is_exit_2(tmp_path):
    found = CliRunner().invoke(command, ["--only", "lucky", "--out", str(tmp_path / "out")])
    assert found.exit_code == 2 and "emergency" in found.output
    assert CliRunner().invoke(command, [str(tmp_path / "none.toml")]).exit_code == 2
    assert not (tmp_path / "out").exists()


def test_the_list_names_every_card():
    found = CliRunner().invoke(command, ["--list"])
    assert found.output.split() == [*MAKERS, "inspection"]
