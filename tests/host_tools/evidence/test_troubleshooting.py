"""Every reason of the controller leads to ranked causes, each with the test that tells."""

from pathlib import Path

import pytest

from oxlatch_sim.reason_words import REASONS
from oxlatch_tools.evidence import troubleshooting
from oxlatch_tools.evidence.troubleshooting import symptoms, trouble, troubles

NOTES = Path(__file__).resolve().parents[3] / "hardware_notes"


def test_every_reason_is_there_once_in_the_order_shown() -> None:
    assert [found.words for found in troubles()] == [row[2] for row in REASONS]


def test_every_cause_has_a_test_and_every_page_exists() -> None:
    for found in troubles():
        assert found.causes
        assert all(cause.words and cause.test for cause in found.causes)
        assert (NOTES / f"{found.page}.md").is_file()


def test_class_latch_and_what_to_do_are_those_of_the_firmware() -> None:
    found = trouble("O NOT PROVED")
    assert (found.name, found.reaction, found.latch, found.row) == ("O_NOT_PROVED", "ALL-STOP", 2, 1)
    assert found == trouble("O_NOT_PROVED")


def test_an_unknown_reason_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        trouble("NO SUCH REASON")


def test_a_reason_without_an_entry_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    data = dict(troubleshooting._data())
    del data["RPM_LOST"]
    monkeypatch.setattr(troubleshooting, "_data", lambda: data)
    with pytest.raises(ValueError, match="RPM_LOST"):
        troubles()


def test_the_complaints_of_the_trade_are_there() -> None:
    words = " ".join(found.words.lower() for found in symptoms())
    for complaint in ("nothing happens", "weak", "rich", "lean", "slow", "bang", "frost"):
        assert complaint in words
