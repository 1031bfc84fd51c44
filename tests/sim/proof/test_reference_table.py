"""The cause-and-effect table as data: complete, consistent, and readable by its own small language only."""

import re
from itertools import chain

import pytest

from oxlatch.settings import Settings
from oxlatch.vocabulary import CLASS_NAMES, LEAD_IN, REST, STATE_NAMES
from oxlatch_sim.proof.reference import Reference
from oxlatch_sim.proof.reference_actions import Actions
from oxlatch_sim.proof.reference_code import row_names
from oxlatch_sim.proof.reference_table import TABLE_PATH, Resolver, TableError, load_table, reason_place
from oxlatch_sim.reason_words import REASONS

TABLE = load_table()


def test_every_reason_of_the_firmware_has_its_row() -> None:
    told = {row["reason"] for kind in ("cause", "wait", "note") for row in TABLE[kind]}
    assert {reason_place(name) for name in told} == {(row[0], row[1]) for row in REASONS}


@pytest.mark.parametrize("row", TABLE["cause"], ids=lambda row: row["reason"])
def test_class_latch_and_hazard_row_are_those_of_the_reason_table(row: dict) -> None:
    word, bit = reason_place(row["reason"])
    reason = next(one for one in REASONS if one[:2] == (word, bit))
    assert (row["class"], row["latch"], row["row"]) == (CLASS_NAMES[reason[3]], reason[4], reason[5])


def test_transitions_name_known_states_and_actions() -> None:
    for row in TABLE["transition"]:
        assert set(row["from"]) <= set(STATE_NAMES), row["id"]
        assert row.get("to", "REST") in STATE_NAMES, row["id"]
        assert all(callable(getattr(Actions, name)) for name in row["actions"]), row["id"]


def test_every_state_is_entered_and_left() -> None:
    left = set(chain.from_iterable(row["from"] for row in TABLE["transition"] if row["id"] != "corrupt"))
    entered = {row["to"] for row in TABLE["transition"] if "to" in row}
    assert left == entered == set(STATE_NAMES)


def test_rows_of_one_kind_have_names_of_their_own() -> None:
    names = row_names(TABLE)
    twice = {name for name in names if names.count(name) > 1}
    assert twice == {"cause: RAIL_NOT_LIVE"}  # a rail that goes, and one that never came


def test_every_condition_and_memory_is_used() -> None:
    text = TABLE_PATH.read_text() + "".join(
        TABLE_PATH.with_name(name).read_text()
        for name in ("reference.py", "reference_actions.py", "reference_code.py", "lockstep.py")
    )
    text = text[text.index("# --- named conditions") :]
    named = [*TABLE["memory"], *(row["name"] for kind in ("condition", "counter") for row in TABLE[kind])]
    assert [name for name in named if len(re.findall(rf"\b{name}\b", text)) < 2] == []


def test_settings_and_state_are_folded_away() -> None:
    settings = Settings()
    resolver = Resolver(TABLE, settings)
    assert resolver.source("opened and age >= lead_ticks", {"state": LEAD_IN}) == f"m.age >= {settings.lead_ticks}"
    assert resolver.source("opened and age >= lead_ticks", {"state": REST}) == "False"


@pytest.mark.parametrize("text", ["no_such_name == 1", "rpm ** 2", "1 < rpm < 3", "rpm ==", "__import__('os')"])
def test_a_test_outside_the_language_is_refused_by_name(text: str) -> None:
    with pytest.raises(TableError, match=re.escape(repr(text))):
        Resolver(TABLE, Settings()).source(text, {"state": REST})


def test_an_action_the_machine_does_not_allow_cannot_happen() -> None:
    reference = Reference(Settings())
    with pytest.raises(Exception, match="push"):
        reference.trigger("push")  # type: ignore[attr-defined]
    assert reference.state_name == "WAKE"
