"""What a card is made of: blocks of words, steps, tables and pictures under one title."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Format = Literal["A5", "A4"]


@dataclass(frozen=True)
class Words:
    """Lines of text; `size` in points."""

    lines: Sequence[str]
    size: float = 14.0
    is_bold: bool = False


@dataclass(frozen=True)
class Steps:
    """Numbered or ticked steps under a heading."""

    heading: str
    steps: Sequence[str]
    is_ticked: bool = False
    size: float = 13.5


@dataclass(frozen=True)
class Grid:
    """A table with ruled lines. `widths` are shares of the page width; empty rows are for writing in by hand."""

    head: Sequence[str]
    rows: Sequence[Sequence[str]]
    widths: Sequence[float]
    size: float = 11.0
    row_mm: float = 7.0
    empty_rows: int = 0


@dataclass(frozen=True)
class Placard:
    """A framed notice to cut out: a heading and a few lines."""

    heading: str
    lines: Sequence[str]


@dataclass(frozen=True)
class Picture:
    """A PNG across the page."""

    png: bytes


@dataclass(frozen=True)
class Caution:
    """Framed cautions."""

    lines: Sequence[str]


Block = Words | Steps | Grid | Placard | Picture | Caution


@dataclass(frozen=True)
class Card:
    """One card or paper."""

    key: str
    title: str
    format: Format
    blocks: Sequence[Block]
    signatures: Sequence[str] = ("Checked against the aircraft", "Date")
