"""Diagram and matrix come from the table, whole, and as pictures that parse and keep within their frame."""

import re
import xml.etree.ElementTree as Xml

import pytest

from oxlatch.vocabulary import STATE_NAMES
from oxlatch_sim.proof import diagram
from oxlatch_sim.proof.reference_table import load_table

TABLE = load_table()
SPACE = "{http://www.w3.org/2000/svg}"


def test_mermaid_names_every_state_and_every_transition_that_moves() -> None:
    text = diagram.state_mermaid()
    assert text.startswith("stateDiagram-v2\n")
    for state in STATE_NAMES:
        assert state.replace("-", "_") in text
    for row in TABLE["transition"]:
        told = re.search(rf"(?<![\w-]){row['id']}(?![\w-])", text)
        assert bool(told) == ("to" in row), row["id"]


def test_every_transition_is_drawn_or_told_in_words() -> None:
    drawn = {number for rows in diagram.edges(TABLE).values() for number in rows}
    moving = {number for number, row in enumerate(TABLE["transition"], start=1) if "to" in row}
    assert drawn == moving
    assert set(diagram.told_in_words(TABLE)) <= moving


@pytest.mark.parametrize("svg", [diagram.state_svg(), diagram.matrix_svg()], ids=["states", "matrix"])
def test_pictures_parse_and_their_texts_stay_inside(svg: str) -> None:
    root = Xml.fromstring(svg)
    width, height = float(root.get("width", 0)), float(root.get("height", 0))
    texts = list(root.iter(f"{SPACE}text"))
    assert len(texts) > 40
    for text in texts:
        assert 0 <= float(text.get("x", -1)) <= width
        assert 0 <= float(text.get("y", -1)) <= height
    assert "http" not in re.sub(r'xmlns="[^"]*"', "", svg)


def test_labels_of_the_state_diagram_keep_apart() -> None:
    root = Xml.fromstring(diagram.state_svg())
    boxes = []
    for text in root.iter(f"{SPACE}text"):
        if text.get("class") == "number":
            x, y, half = float(text.get("x", 0)), float(text.get("y", 0)), 3.2 * len(text.text or "")
            boxes.append((x - half, y - 10, x + half, y + 2, text.text))
    for place, one in enumerate(boxes):
        for other in boxes[place + 1 :]:
            apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
            assert apart, (one, other)


def test_the_matrix_has_one_row_per_cause_in_hazard_order() -> None:
    rows = diagram.matrix_rows()
    assert len(rows) == len(TABLE["cause"])
    assert [row["hazard"] for row in rows] == sorted(row["hazard"] for row in rows)
    assert len(diagram.matrix_markdown().splitlines()) == 2 + len(rows)


def test_fuel_first_causes_keep_a_tail_and_all_others_do_not() -> None:
    for row in diagram.matrix_rows():
        assert ("O off after tail" in row["effects"]) == (row["class"] == "FUEL-FIRST")
        assert not {"O off now", "O off after tail"} <= row["effects"]
