"""A sheet finds what a reader could not read."""

import pytest

from notes.glyphs import width_of
from notes.ink import Sheet
from notes.symbols import spaced


def test_words_over_words_are_found() -> None:
    sheet = Sheet("title", "what it shows", 200, 200)
    sheet.text(40, 40, "one")
    sheet.text(45, 42, "two")
    assert sheet.problems() == ["'one' overlaps 'two'"]


def test_words_under_a_line_are_found_whichever_was_drawn_first() -> None:
    sheet = Sheet("title", "what it shows", 200, 200)
    sheet.text(40, 40, "crossed")
    sheet.line([(10, 40), (190, 40)])
    assert "crossed by a line" in sheet.problems()[0]


def test_words_on_a_patch_may_lie_over_a_line() -> None:
    sheet = Sheet("title", "what it shows", 200, 200)
    sheet.line([(10, 40), (190, 40)])
    sheet.text(40, 40, "on a patch", patch=True)
    assert sheet.problems() == []


def test_a_line_that_ends_before_the_words_does_not_cross_them() -> None:
    sheet = Sheet("title", "what it shows", 200, 200)
    sheet.text(100, 40, "clear")
    sheet.line([(10, 40), (95, 40)])
    assert sheet.problems() == []


def test_words_beyond_the_edge_are_found() -> None:
    sheet = Sheet("title", "what it shows", 200, 200)
    sheet.text(150, 40, "much too long for this place")
    assert sheet.problems() == ["'much too long for this place' leaves the sheet"]


def test_words_can_be_measured_and_found_again_in_the_drawing() -> None:
    assert width_of("mm", 12, False) == pytest.approx(2 * width_of("m", 12, False))
    sheet = Sheet("title", "what it shows", 200, 200)
    sheet.text(20, 40, 'a "quoted" < word & µ')
    assert "aria-label='a \"quoted\" &lt; word &amp; µ'" in sheet.svg()


def test_labels_are_spread_in_order_without_overlap() -> None:
    places = spaced([50.0, 51.0, 52.0, 100.0], [20.0, 30.0, 20.0, 20.0], 0.0, 120.0)
    assert places == sorted(places)
    for left, right, widths in zip(places, places[1:], ((20, 30), (30, 20), (20, 20)), strict=False):
        assert right - left >= sum(widths) / 2 - 1e-9
    assert places[0] >= 10 and places[-1] <= 110
