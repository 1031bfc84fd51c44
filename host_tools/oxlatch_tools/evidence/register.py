"""The register of failed tests and fixes: what was found wrong, when, by what, what was changed, what guards it now.

Two sources: every result of the commissioning programme that did not pass, kept when the step was repeated, and a
reviewed file of the controller's own faults that the proof and the simulator found.
"""

import datetime
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from oxlatch_tools.commissioning.results import Kept

FINDINGS = Path(__file__).with_name("findings.toml")
KEYS = {"date", "what", "found_by", "changed", "guard"}
OPEN = "OPEN: nothing has been changed yet"


@dataclass(frozen=True)
class Entry:
    """One thing found wrong. `is_open` while nothing has been changed or the repeat has not passed."""

    date: datetime.date
    what: str
    found_by: str
    changed: str
    guard: tuple[str, ...]
    is_open: bool = False


@cache
def findings() -> tuple[Entry, ...]:
    """The reviewed file. Raises ValueError when an entry is not complete."""
    return tuple(_entry(row) for row in tomllib.loads(FINDINGS.read_text(encoding="utf-8"))["finding"])


def _entry(row: dict[str, Any]) -> Entry:
    if set(row) != KEYS or not all(row.values()):
        raise ValueError(f"{FINDINGS.name}: {row.get('what')!r} has {sorted(row)}; allowed: {sorted(KEYS)}, all filled")
    return Entry(row["date"], row["what"], row["found_by"], row["changed"], tuple(row["guard"]))


def bench_entries(history: dict[str, list[Kept]]) -> Iterator[Entry]:
    """Every kept result that did not pass, by step in the order of the programme, oldest first."""
    for kept in history.values():
        for number, one in enumerate(kept):
            if not one.failed:
                continue
            after = kept[number + 1] if number + 1 < len(kept) else None
            changed = after.result.changed if after else ""
            passed = after is not None and not after.failed
            again = f"repeated {after.result.date}" if after else "not repeated"
            repeat = again if after is None else f"{again}: {'passed' if passed else 'failed again'}"
            yield Entry(
                one.result.date,
                f"{one.step.title}: {'; '.join(one.failed)}",
                f"commissioning, {one.result.by}",
                changed or OPEN,
                (f"step {one.step.key}, {repeat}",),
                not passed,
            )
