"""A data logger's CSV, read strictly: every column named and with its unit, nothing guessed.

The column file (TOML) maps what we need to the logger's headings:

    [columns.time]
    heading = "Time"
    unit = "s"
"""

import csv
import io
import math
import re
import statistics
import tomllib
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from typing import Any

import pint

from oxlatch_tools.commissioning.line_faults import Faults

LARGEST_FILE_ROWS = 2_000_000
LEAP_S = 60.0
LEAP_STEPS = 20.0
"""A step of time longer than both is a clock that was set, not a gap; judgement."""
SWITCHES = ("detent", "command")

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
PLAUSIBLE = {
    "thrust": (-5e3, 1e5),
    "knock": (0.0, 1e6),
    "rpm": (0.0, 1e4),
    "manifold": (0.0, 4e5),
    "fuel_pressure": (-5e4, 2e6),
    "bottle_pressure": (-2e5, 4e7),
    "pressure": (-2e5, 4e7),
    "temperature": (200.0, 400.0),
    "egt": (220.0, 1500.0),
    "cht": (220.0, 650.0),
}
"""Wider than anything a log of a light aircraft shows, in kept units; judgement. Outside it a unit is wrong."""
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

    def kept_value(self, name: str, value: float) -> float:
        """A value of a column in its kept unit."""
        scale, shift = _to_kept(self.units[name], KEPT_UNITS[kind_of(name) or name])
        return scale * value + shift


@cache
def _to_kept(unit: str, kept: str) -> tuple[float, float]:
    """Every unit here is a line through its kept one: factor and shift."""
    if not unit:
        return 1.0, 0.0
    at_zero, at_one = (_UNITS.Quantity(value, unit).to(kept).magnitude for value in (0.0, 1.0))
    return at_one - at_zero, at_zero


@dataclass
class Log:
    """Columns of equal length in kept units (see KEPT_UNITS); `gap_s` is the largest step of time, `lines` where
    each sample stands in the file."""

    columns: dict[str, list[float]]
    gap_s: float
    lines: list[int] = field(default_factory=list)

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


def _other_unit(name: str, heading: str, stated: str) -> str:
    """What is wrong when a heading names a unit in brackets and the column file states another; else nothing."""
    for written in re.findall(r"[\[(]\s*([^\])]+?)\s*[\])]", heading):
        try:
            unit = _UNITS.Unit(written)
            if stated and unit.is_compatible_with(stated) and unit != _UNITS.Unit(stated):
                return f"column {heading!r} (for {name}) says {written}, the column file {stated!r}; allowed: the same"
        except (pint.PintError, ValueError, TypeError, AttributeError):
            continue
    return ""


def parse_log(text: str, where: str, columns: ColumnMap) -> Log:
    """Read a log. Any rate; gaps are allowed and reported; empty cells, NaN and clock jumps are not.

    Raises LoggerError with every problem of the file and its line numbers.
    """
    rows = csv.reader(io.StringIO(text), delimiter=columns.separator)
    first = next(rows, None)
    if first is None:
        raise LoggerError(f"{where}: empty; allowed: a first line of headings and one line a sample")
    headings = [cell.strip() for cell in first]
    faults = Faults()
    for name, heading in columns.headings.items():
        if headings.count(heading) != 1:
            found = "stands twice" if heading in headings else "is missing"
            faults.add(1, f"column {heading!r} (for {name}) {found}; allowed: once")
        other = _other_unit(name, heading, columns.units[name])
        if other:
            faults.add(1, other)
    places = {name: headings.index(heading) for name, heading in columns.headings.items() if heading in headings}
    kept: dict[str, list[float]] = {name: [] for name in places}
    lines: list[int] = []
    for cells in rows:
        if rows.line_num > LARGEST_FILE_ROWS:
            faults.add(rows.line_num, f"the log goes on; allowed: {LARGEST_FILE_ROWS:,} lines, so cut it to its runs")
            break
        if any(cell.strip() for cell in cells):
            lines.append(rows.line_num)
            _take(cells, rows.line_num, columns, places, kept, faults)
    _check_clock(kept.get("time", []), lines, faults)
    if faults:
        raise LoggerError("\n".join(f"{where}: {problem}" for problem in faults.told()))
    return Log(kept, max(b - a for a, b in pairwise(kept["time"])), lines)


def _take(
    cells: list[str],
    line: int,
    columns: ColumnMap,
    places: dict[str, int],
    kept: dict[str, list[float]],
    faults: Faults,
) -> None:
    """One line of samples, in kept units."""
    for name, place in places.items():
        text = cells[place].strip() if place < len(cells) else ""
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if math.isfinite(value):
            value = columns.kept_value(name, value)
            _check_value(name, value, line, columns, faults)
        else:
            faults.add(line, f"{name} is {text!r}; allowed: a number", f"{name} is no number")
        kept[name].append(value)


def _check_value(name: str, value: float, line: int, columns: ColumnMap, faults: Faults) -> None:
    """A value that no aircraft shows: its column is of another unit than stated, or of another quantity."""
    kind = kind_of(name) or name
    low, high = PLAUSIBLE.get(kind, (-math.inf, math.inf))
    if kind in SWITCHES and value not in (0.0, 1.0):
        faults.add(line, f"{name} is {value:g}; allowed: 0 or 1", f"{name} is not 0 or 1")
    elif not low <= value <= high:
        unit = columns.units[name] or "a count"
        kept = KEPT_UNITS[kind]
        faults.add(
            line,
            f"{name} read in {unit} is {value:.4g} {kept}; allowed: {low:g} to {high:g} {kept}; is its unit right?",
            f"{name} is out of range",
        )


def _check_clock(time_s: list[float], lines: list[int], faults: Faults) -> None:
    """Time must advance, and not leap: a gap is a gap, a leap is a clock that was set."""
    if len(time_s) < 2:
        faults.add(lines[-1] if lines else 1, f"{len(lines)} samples; allowed: two or more")
        return
    steps = [after - before for before, after in pairwise(time_s)]
    usual = statistics.median([step for step in steps if step > 0] or [0.0])
    longest = max(LEAP_S, LEAP_STEPS * usual)
    for line, before, after in zip(lines[1:], time_s, time_s[1:]):
        if after <= before:
            words = f"the clock jumps back from {before:g} s to {after:g} s; allowed: time that advances"
            faults.add(line, words, "the clock jumps back")
        elif after - before > longest:
            words = f"the clock leaps from {before:g} s to {after:g} s; allowed: gaps up to {longest:g} s"
            faults.add(line, words, "the clock leaps")
