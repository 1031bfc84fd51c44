"""A data logger's CSV, read strictly: every column named and with its unit, nothing guessed.

The column file (TOML) maps what we need to the logger's headings:

    [columns.time]
    heading = "Time"
    unit = "s"
"""

import csv
import io
import math
import tomllib
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import pint

MOST_PROBLEMS = 20
LARGEST_FILE_ROWS = 2_000_000

# quantity -> unit kept
KEPT_UNITS = {
    "time": "s",
    "detent": "",
    "command": "",
    "thrust": "N",
    "knock": "",
    "rpm": "rpm",
    "manifold": "Pa",
    "fuel_pressure": "Pa",
    "bottle_pressure": "Pa",
    "pressure": "Pa",
    "temperature": "K",
    "egt": "K",
    "cht": "K",
}
SEVERAL = ("egt", "cht")  # one column a cylinder: egt_1, egt_2, ...

_UNITS: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True, cache_folder=None)


class LoggerError(ValueError):
    """A log or its column file cannot be used; the message lists every problem found with its line."""


@dataclass(frozen=True)
class ColumnMap:
    """Which heading carries which quantity, in which unit."""

    headings: dict[str, str]
    units: dict[str, str]
    separator: str = ","


@dataclass
class Log:
    """Columns of equal length in kept units (see KEPT_UNITS); `gap_s` is the largest step of time."""

    columns: dict[str, list[float]]
    gap_s: float

    @property
    def time_s(self) -> list[float]:
        """The time column."""
        return self.columns["time"]


def kind_of(name: str) -> str | None:
    """The quantity behind a column's name; egt_3 is an egt. None when there is no such quantity."""
    if name in KEPT_UNITS and name not in SEVERAL:
        return name
    stem, _, number = name.rpartition("_")
    return stem if stem in SEVERAL and number.isdigit() else None


def parse_columns(text: str, where: str, needed: tuple[str, ...]) -> ColumnMap:
    """The column file. Raises LoggerError with every problem at once."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise LoggerError(f"{where}: not TOML: {error}") from error
    fields = ("columns", "separator")
    problems = [f"{key!r} is no field; allowed: columns, separator" for key in data if key not in fields]
    columns = data.get("columns")
    if not isinstance(columns, dict):
        columns = {}
        problems.append("[columns.NAME] tables are missing")
    headings: dict[str, str] = {}
    units: dict[str, str] = {}
    for name, entry in columns.items():
        problem = _entry_problem(name, entry)
        if problem:
            problems.append(problem)
        else:
            headings[name] = entry["heading"]
            units[name] = entry.get("unit", "")
    problems += [f"columns.{name} is missing" for name in needed if name not in headings]
    separator = data.get("separator", ",")
    if separator not in (",", ";", "\t"):
        problems.append(f"separator = {separator!r}; allowed: comma, semicolon or tab")
    if problems:
        raise LoggerError("\n".join(f"{where}: {problem}" for problem in problems))
    return ColumnMap(headings, units, separator)


def _entry_problem(name: str, entry: Any) -> str | None:
    kind = kind_of(name)
    if kind is None:
        single = ", ".join(key for key in KEPT_UNITS if key not in SEVERAL)
        return f"columns.{name} is no quantity; allowed: {single}, egt_1, egt_2, ..., cht_1, cht_2, ..."
    if not isinstance(entry, dict) or not isinstance(entry.get("heading"), str):
        return f"columns.{name} needs a heading, the text in the first line of the log"
    unit = entry.get("unit", "")
    kept = KEPT_UNITS[kind]
    if not kept:
        return None if unit == "" else f"columns.{name}: unit {unit!r}; allowed: none, it is a count or a 0 or 1"
    try:
        if _UNITS.Unit(unit).is_compatible_with(kept):
            return None
    except (pint.PintError, ValueError, TypeError, AttributeError):
        pass
    return f"columns.{name}: unit {unit!r}; allowed: a unit of the kind of {kept}, stated, such as {kept!r}"


def parse_log(text: str, where: str, columns: ColumnMap) -> Log:
    """Read a log. Any rate; gaps are allowed and reported; empty cells, NaN and clock jumps are not.

    Raises LoggerError with every problem and its line number (at most 20 are listed).
    """
    rows = csv.reader(io.StringIO(text), delimiter=columns.separator)
    first = next(rows, None)
    if first is None:
        raise LoggerError(f"{where}: empty; allowed: a first line of headings and one line a sample")
    headings = [cell.strip() for cell in first]
    wrong = []
    for name, heading in columns.headings.items():
        if headings.count(heading) != 1:
            found = "stands twice" if heading in headings else "is missing"
            wrong.append(f"line 1: column {heading!r} (for {name}) {found}; allowed: once")
    if wrong:
        raise LoggerError("\n".join(f"{where}: {problem}" for problem in wrong))
    places = {name: headings.index(heading) for name, heading in columns.headings.items()}
    kept: dict[str, list[float]] = {name: [] for name in places}
    problems: list[str] = []
    for cells in rows:
        if cells and any(cell.strip() for cell in cells):
            problems += _take(cells, rows.line_num, places, kept)
        if len(problems) > MOST_PROBLEMS or rows.line_num > LARGEST_FILE_ROWS:
            break
    problems += [] if problems else _clock_problems(kept["time"])
    if problems:
        listed = problems[:MOST_PROBLEMS] + (["more follow"] if len(problems) > MOST_PROBLEMS else [])
        raise LoggerError("\n".join(f"{where}: {problem}" for problem in listed))
    for name, values in kept.items():
        unit = columns.units[name]
        if unit:
            kept[name] = _UNITS.Quantity(values, unit).to(KEPT_UNITS[kind_of(name) or name]).magnitude.tolist()
    time = kept["time"]
    return Log(kept, max(b - a for a, b in pairwise(time)))


def _take(cells: list[str], line: int, places: dict[str, int], kept: dict[str, list[float]]) -> list[str]:
    problems = []
    for name, place in places.items():
        text = cells[place].strip() if place < len(cells) else ""
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            problems.append(f"line {line}: {name} is {text!r}; allowed: a number")
        kept[name].append(value)
    return problems


def _clock_problems(time_s: list[float]) -> list[str]:
    if len(time_s) < 2:
        return [f"{len(time_s)} samples; allowed: two or more"]
    return [
        f"line {number + 2}: the clock jumps from {before:g} to {after:g}; allowed: time that advances"
        for number, (before, after) in enumerate(pairwise(time_s), start=1)
        if after <= before
    ]
