"""From a recorded reason to its causes, likeliest first, each with the test that tells.

The words are data in `troubleshooting.toml`; class, latch, what to do and how it clears come from the firmware's own
table of reasons, so that neither can drift from what the controller does.
"""

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from oxlatch.vocabulary import CLASS_NAMES
from oxlatch_sim.reason_names import reasons_by_name
from oxlatch_sim.reason_words import REASONS

_FILE = Path(__file__).with_name("troubleshooting.toml")


@dataclass(frozen=True)
class Cause:
    """One thing that may lie behind a reason, and the test that tells."""

    words: str
    test: str


@dataclass(frozen=True)
class Trouble:
    """One reason of the controller with its ranked causes; `page` names the page of the hardware notes."""

    name: str
    words: str
    reaction: str
    latch: int
    row: int
    what_to_do: str
    clears: str
    page: str
    causes: tuple[Cause, ...]


@dataclass(frozen=True)
class Symptom:
    """Something seen or felt that no reason names."""

    words: str
    causes: tuple[Cause, ...]


def troubles() -> list[Trouble]:
    """Every reason, in the order in which the controller shows them.

    Errors: ValueError naming a reason that has no entry, or an entry that is no reason.
    """
    entries = {name: entry for name, entry in _data().items() if name != "symptom"}
    names = reasons_by_name()
    missing, extra = sorted(set(names) - set(entries)), sorted(set(entries) - set(names))
    if missing or extra:
        raise ValueError(f"{_FILE.name}: reasons without causes: {missing}; entries that are no reason: {extra}")
    return [_trouble(name, place, entries[name]) for name, place in names.items()]


def trouble(reason: str) -> Trouble:
    """The entry of one reason, by the name of its constant or by the words shown. Errors: KeyError."""
    for found in troubles():
        if reason in (found.name, found.words):
            return found
    raise KeyError(reason)


def symptoms() -> list[Symptom]:
    """What no reason names."""
    return [Symptom(entry["words"], _causes(entry)) for entry in _data()["symptom"].values()]


def _trouble(name: str, place: tuple[int, int], entry: dict[str, Any]) -> Trouble:
    row = next(each for each in REASONS if (each[0], each[1]) == place)
    _word, _bit, words, reaction, latch, hazard, what_to_do, clears = row
    return Trouble(name, words, CLASS_NAMES[reaction], latch, hazard, what_to_do, clears, entry["page"], _causes(entry))


def _causes(entry: dict[str, Any]) -> tuple[Cause, ...]:
    return tuple(Cause(words, test) for words, test in entry["causes"])


@lru_cache(maxsize=1)
def _data() -> dict[str, Any]:
    return tomllib.loads(_FILE.read_text(encoding="utf-8"))
