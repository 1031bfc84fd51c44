"""Reading the sections of a proof file: their claims and their figures, whatever else a section carries."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

FAILURES = ("differences", "mismatches", "problems", "survived", "survivors", "dead_ends", "not_delivered", "swinging")
"""Keys under which a section lists or counts what does not hold."""
INSIDE = ("liveness", "alive")
"""Sections that may stand inside the exploration they were made from."""


@dataclass(frozen=True)
class ClaimRow:
    """One claim of a section."""

    name: str
    words: str
    holds: bool


def section_of(data: dict[str, Any], name: str) -> dict[str, Any]:
    """A section of the result; empty when it was not run. A bare list counts as a list of claims."""
    found = data.get(name)
    if found is None and name in INSIDE and isinstance(data.get("exhaustive"), dict):
        found = data["exhaustive"].get(name)
    if isinstance(found, list):
        return {"claims": found}
    return found if isinstance(found, dict) else {}


def failures(section: dict[str, Any]) -> tuple[bool, list[str]]:
    """Whether a section carries a verdict beside its claims, and every failure it lists, in words."""
    found: list[str] = []
    has_verdict = "ok" in section
    if section.get("ok") is False:
        found.append("does not hold")
    for key in FAILURES:
        if key not in section:
            continue
        has_verdict = True
        value = section[key]
        words = key.replace("_", " ")
        if isinstance(value, list):
            found += [f"{words}: {_told(item)}" for item in value]
        elif value:
            found.append(f"{words}: {value}")
    return has_verdict, found


def _told(item: Any) -> str:
    return ", ".join(f"{value}" for value in item.values() if value) if isinstance(item, dict) else str(item)


def claim_rows(section: Any) -> list[ClaimRow]:
    """Every claim anywhere in a section: an object with a name and a verdict, `holds` or `proved`."""
    return list(_claim_rows(section))


def _claim_rows(node: Any) -> Iterator[ClaimRow]:
    if isinstance(node, list):
        for item in node:
            yield from _claim_rows(item)
    elif isinstance(node, dict):
        verdict = node.get("holds", node.get("proved"))
        name = node.get("name", node.get("id"))
        if isinstance(verdict, bool) and isinstance(name, str):
            yield ClaimRow(name, str(node.get("words", "")), verdict)
            return
        for item in node.values():
            yield from _claim_rows(item)


def figures(section: dict[str, Any]) -> str:
    """The plain numbers and texts of a section, in its own order."""
    parts = []
    for key, value in section.items():
        if isinstance(value, dict) and value and all(isinstance(count, int) for count in value.values()):
            value = ", ".join(f"{name} {count:,}" for name, count in value.items())
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            continue
        shown = f"{value:,}" if isinstance(value, int) else f"{value:,.4g}" if isinstance(value, float) else value
        parts.append(f"{key.replace('_', ' ')} {shown}")
    return ", ".join(parts)


def audit_words(section: dict[str, Any]) -> tuple[str, bool]:
    """The audit in words, and whether it missed nothing."""
    audit = section.get("audit")
    if not isinstance(audit, dict):
        return "", True
    misses = int(audit.get("misses", 0))
    return f"Audit: {int(audit.get('trials', 0)):,} random whole verdict vectors, {misses} missed", not misses


def methods_of(data: dict[str, Any], invariant: str) -> list[str]:
    """The methods that show an invariant. A section's verdict counts only when it names the invariant."""
    listed = {str(row.get("id")): row for row in data.get("invariants") or [] if isinstance(row, dict)}
    if invariant in listed:
        methods = listed[invariant].get("methods") or []
        return [str(item.get("method", item)) if isinstance(item, dict) else str(item) for item in methods]
    return [
        name
        for name in ("symbolic", "exhaustive", "reference")
        for row in claim_rows(section_of(data, name))
        if row.holds and row.name.split()[0] == invariant
    ]


def assumptions_of(data: dict[str, Any], invariant: str) -> list[str]:
    """What the file says an invariant takes for granted beside the abstraction."""
    for row in data.get("invariants") or []:
        if isinstance(row, dict) and row.get("id") == invariant:
            return [str(item) for item in row.get("assumptions") or []]
    return []


def is_broken(data: dict[str, Any], invariant: str) -> bool:
    """Whether any section says that the invariant does not hold."""
    sections = [section_of(data, name) for name in ("symbolic", "exhaustive", "reference")]
    return any(not row.holds and row.name.split()[0] == invariant for part in sections for row in claim_rows(part))
