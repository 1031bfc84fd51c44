"""What differs between two installation files, in words, and which tests that re-opens."""

import datetime
import typing
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BaseModel

from oxlatch_tools.cards.card import Card, Caution, Grid, Steps, Words
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_quantities import Quantity, from_kept

LEAK = "Leak and pressure test"
FLOW = "Weighed bench shots and balance by cylinder"
DRY = "Dry run of the sequence, inert gas, fuel absent"
ACCEPT = "Controller: new settings flashed, digest compared, replay"
STATIC = "Static engine run, smallest stage first, one step at a time"
LIMIT = "Limits reviewed and signed again"
CARDS = "New plan and cards; old ones withdrawn"
FLIGHT = "Flight test as for a major change; ask your authority"
ELECTRICAL = "Voltage at every coil, hot, everything on"
ORDER = (LEAK, FLOW, ELECTRICAL, DRY, ACCEPT, STATIC, LIMIT, FLIGHT, CARDS)
ALWAYS = (ACCEPT, CARDS)

REOPENS: dict[str, tuple[str, ...]] = {
    "aircraft": (FLIGHT,),
    "engine": (STATIC, LIMIT),
    "ceiling": (STATIC, LIMIT),
    "propeller": (STATIC, LIMIT, FLIGHT),
    "oxidizer": (FLOW, STATIC, LIMIT),
    "bottle": (LEAK, FLOW),
    "feed": (LEAK, FLOW, DRY),
    "stages": (LEAK, FLOW, DRY, STATIC, LIMIT),
    "jets": (FLOW, STATIC),
    "fuel": (FLOW, STATIC),
    "oxidizer_valve": (LEAK, FLOW, ELECTRICAL, DRY, STATIC),
    "fuel_valve": (LEAK, FLOW, ELECTRICAL, DRY, STATIC),
    "purge_valve": (LEAK, ELECTRICAL, DRY),
    "master_fuel_valve": (LEAK, FLOW, ELECTRICAL, DRY, STATIC),
    "electrical": (ELECTRICAL, DRY),
    "sensors": (DRY, STATIC),
    "limits": (DRY, STATIC, LIMIT),
    "timing": (DRY, STATIC, LIMIT),
    "tested": (LIMIT,),
}


@dataclass(frozen=True)
class Change:
    """One value that differs: where, before, after."""

    where: str
    section: str
    before: str
    after: str


def changes_between(before: Installation, after: Installation) -> list[Change]:
    """Every difference, in the order of the file; "absent" where one file has no such value."""
    old, new = dict(_values(before)), dict(_values(after))
    found = []
    for path in [*new, *(path for path in old if path not in new)]:
        first, second = old.get(path, "absent"), new.get(path, "absent")
        if first != second and path != ("aircraft", "units"):
            found.append(Change(_words(path), str(path[0]), first, second))
    return found


def reopened(changes: list[Change]) -> list[str]:
    """The tests that the changes re-open, in the order they are done."""
    if not changes:
        return []
    wanted = {test for change in changes for test in REOPENS.get(change.section, ())} | set(ALWAYS)
    return [test for test in ORDER if test in wanted]


def change_sheet(before: Installation, after: Installation) -> Card:
    """The sheet."""
    found = changes_between(before, after)
    rows = [[change.where, change.before, change.after] for change in found]
    tests = reopened(found)
    words = [
        f"From {before.aircraft.name} {before.digest} to {after.aircraft.name} {after.digest}: {len(found)} "
        "value(s) differ."
    ]
    blocks: list[Any] = [Words(words, 11)]
    if rows:
        blocks.append(Grid(["What", "Before", "After"], rows, (0.46, 0.27, 0.27), 9.5, 6.4))
        blocks.append(Steps("Tests this re-opens", tests, is_ticked=True, size=11))
    else:
        blocks.append(Words(["Nothing that counts differs."], 11))
    blocks.append(
        Caution(["A change that looks small is tested as if it were not. Nothing is flown until every box is ticked."])
    )
    return Card("changes", "Change sheet", "A4", blocks, ("Changed by", "Tests done by", "Date"))


Path = tuple[str | int, ...]


def section_values(installation: Installation, sections: tuple[str, ...]) -> list[tuple[Path, str]]:
    """Every value of the named sections as text, in the order of the file."""
    return [(path, text) for path, text in _values(installation) if path[0] in sections]


def _values(installation: Installation) -> Iterator[tuple[Path, str]]:
    yield from _section(installation, ())


def _section(section: BaseModel, path: Path) -> Iterator[tuple[Path, str]]:
    for name, info in type(section).model_fields.items():
        value = getattr(section, name)
        if value is not None:
            yield from _value(value, _quantity(info.annotation, list(info.metadata)), (*path, name))


def _value(value: Any, mark: Quantity | None, path: Path) -> Iterator[tuple[Path, str]]:
    if isinstance(value, BaseModel):
        yield from _section(value, path)
    elif isinstance(value, list) and value and isinstance(value[0], BaseModel):
        for index, item in enumerate(value):
            yield from _section(item, (*path, getattr(item, "name", index + 1)))
    else:
        yield path, _shown(value, mark)


def _shown(value: Any, mark: Quantity | None) -> str:
    if isinstance(value, list):
        return ", ".join(_shown(item, mark) for item in value) or "none"
    if mark is not None and isinstance(value, float):
        text = f"{from_kept(value, mark.unit, mark.kind):.5g}"
        return f"{text} %" if mark.unit == "%" else f"{text} {mark.unit}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value.isoformat() if isinstance(value, datetime.date) else str(value)


def _quantity(annotation: Any, metadata: list[Any]) -> Quantity | None:
    for mark in metadata:
        if isinstance(mark, Quantity):
            return mark
    if typing.get_origin(annotation) is Annotated:
        inner, *marks = typing.get_args(annotation)
        return _quantity(inner, marks)
    for inner in typing.get_args(annotation):
        found = _quantity(inner, [])
        if found is not None:
            return found
    return None


def _words(path: Path) -> str:
    return ", ".join(str(part).replace("_", " ") for part in path)
