"""The page of the controller's rules is that of the present table, and its own parts agree with each other."""

import re

import pytest

from make_rules import HERE, pages
from oxlatch.vocabulary import STATE_NAMES
from oxlatch_sim.proof.reference_table import load_table

PAGES = pages()


@pytest.mark.parametrize("name", PAGES)
def test_no_part_is_stale(name: str) -> None:
    assert (HERE / name).read_text(encoding="utf-8") == PAGES[name], f"rules/{name} is stale: run `make notes`"


def test_every_transition_stands_in_one_line_and_no_cell_is_split() -> None:
    rows = re.findall(r"^\| \d+ \| .*\|$", PAGES["README.md"], re.MULTILINE)
    told = [row for row in rows if "`" in row]
    assert len(told) == len(load_table()["transition"])
    assert {row.count(" | ") for row in told} == {4}


def test_every_state_is_on_the_page_and_cautions_come_first() -> None:
    page = PAGES["README.md"]
    assert all(state in page for state in STATE_NAMES)
    assert page.index("Cautions first") < page.index("## ")
