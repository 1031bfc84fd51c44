"""What one page of the plan is made of: figures, tables, findings, assumptions, cautions."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from oxlatch_tools.presentation import Units, number_text, quantity_text, unit_of

Cell = float | str | None
COMPUTED = "elementary mechanics"
COMMON = "common practice of the trade, no source"


def plain(value: Cell) -> Cell:
    """A value that JSON can write: no number where there is none."""
    return None if isinstance(value, float) and not math.isfinite(value) else value


@dataclass(frozen=True)
class Figure:
    """One number: kept value, kind (see `presentation`), how it is found and where that comes from."""

    key: str
    label: str
    value: float | None
    kind: str
    formula: str = ""
    source: str = ""
    low: float | None = None
    high: float | None = None

    def text(self, units: Units) -> str:
        """The value with its unit, and its band where there is one."""
        main = quantity_text(self.value, self.kind, units)
        if self.low is None or self.high is None:
            return main
        return f"{main} ({number_text(self.low, self.kind, units)} to {quantity_text(self.high, self.kind, units)})"

    def data(self) -> dict[str, Any]:
        """For JSON, in kept units."""
        return {
            "key": self.key,
            "label": self.label,
            "value": plain(self.value),
            "low": plain(self.low),
            "high": plain(self.high),
            "kind": self.kind,
            "formula": self.formula,
            "source": self.source,
        }


@dataclass(frozen=True)
class Column:
    """One column: a kind of quantity, or "text"."""

    key: str
    label: str
    kind: str = "text"

    def heading(self, units: Units) -> str:
        """Label with the unit in brackets."""
        unit = "" if self.kind == "text" else unit_of(self.kind, units)
        return f"{self.label} ({unit})" if unit else self.label


@dataclass(frozen=True)
class Table:
    """Rows of kept values and texts under one title."""

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: Sequence[Sequence[Cell]]
    formula: str = ""
    source: str = ""
    note: str = ""

    def texts(self, units: Units) -> list[list[str]]:
        """Every cell as printed."""
        return [
            [_cell(value, column, units) for value, column in zip(row, self.columns, strict=True)] for row in self.rows
        ]

    def column(self, key: str) -> list[Cell]:
        """All values of one column."""
        index = [column.key for column in self.columns].index(key)
        return [row[index] for row in self.rows]

    def data(self) -> dict[str, Any]:
        """For JSON, in kept units."""
        names = [column.key for column in self.columns]
        return {
            "key": self.key,
            "title": self.title,
            "columns": [{"key": c.key, "label": c.label, "kind": c.kind} for c in self.columns],
            "rows": [dict(zip(names, map(plain, row), strict=True)) for row in self.rows],
            "formula": self.formula,
            "source": self.source,
            "note": self.note,
        }


def _cell(value: Cell, column: Column, units: Units) -> str:
    if isinstance(value, str):
        return value
    return "–" if value is None else number_text(value, column.kind, units)


@dataclass(frozen=True)
class Finding:
    """Something to act on. "exceeded": a limit is exceeded, exit 1. "note": worth knowing."""

    severity: Literal["exceeded", "note"]
    field: str
    found: str
    allowed: str
    change: str = ""

    def text(self) -> str:
        """One sentence for the terminal and the pages."""
        change = f" {self.change}" if self.change else ""
        return f"{self.field}: {self.found}; allowed: {self.allowed}.{change}"


@dataclass
class Page:
    """One question with its answer. `answer` may name figures in braces."""

    key: str
    question: str
    answer: list[str]
    figures: list[Figure] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    assumptions: list[str] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)

    def figure(self, key: str) -> Figure:
        """The figure of that key; KeyError when the page has none."""
        for figure in self.figures:
            if figure.key == key:
                return figure
        raise KeyError(key)

    def table(self, key: str) -> Table:
        """The table of that key; KeyError when the page has none."""
        for table in self.tables:
            if table.key == key:
                return table
        raise KeyError(key)

    def answer_text(self, units: Units) -> list[str]:
        """The answer with its figures filled in."""
        values = {figure.key: figure.text(units) for figure in self.figures}
        return [line.format_map(values) for line in self.answer]

    def data(self) -> dict[str, Any]:
        """For JSON, in kept units."""
        return {
            "key": self.key,
            "question": self.question,
            "figures": [figure.data() for figure in self.figures],
            "tables": [table.data() for table in self.tables],
            "findings": [vars(finding) for finding in self.findings],
            "assumptions": self.assumptions,
            "cautions": self.cautions,
        }


def exceeded(pages: Sequence[Page]) -> list[Finding]:
    """All findings of exceeded limits."""
    return [finding for page in pages for finding in page.findings if finding.severity == "exceeded"]


def pattern_name(pattern: Sequence[int]) -> str:
    """Stage numbers joined, such as "1+3"."""
    return "+".join(str(number) for number in pattern)
