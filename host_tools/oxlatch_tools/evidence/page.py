"""What a pack is made of, apart from how it is drawn: the HTML page and the PDF show the same blocks."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Line:
    """Some words. `is_red` marks what is missing, stale or broken; the words say so too."""

    text: str
    is_red: bool = False
    is_bold: bool = False


@dataclass(frozen=True)
class Heading:
    """Level 1 begins a part, level 2 a claim. On paper `room_mm` stays free for what must stand with it."""

    text: str
    level: int = 1
    is_red: bool = False
    room_mm: float = 34.0


@dataclass(frozen=True)
class Listing:
    """Lines one below the other, with a mark before each."""

    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Words:
    """One paragraph."""

    line: Line


@dataclass(frozen=True)
class Box:
    """Framed lines under a title."""

    title: str
    lines: tuple[Line, ...]
    is_red: bool = False


@dataclass(frozen=True)
class Rows:
    """A table; `widths` are shares of the page."""

    head: tuple[str, ...]
    widths: tuple[float, ...]
    rows: tuple[tuple[Line, ...], ...]


@dataclass(frozen=True)
class Signatures:
    """Rooms to sign: name, date, signature."""

    roles: tuple[str, ...]


@dataclass(frozen=True)
class Picture:
    """A PNG as wide as the page, what it shows in words for those who cannot see it, and the line under it."""

    png: bytes
    shows: str
    caption: Line


Block = Heading | Listing | Words | Box | Rows | Signatures | Picture


@dataclass(frozen=True)
class Document:
    """A whole pack. `foot` stands at the bottom of every printed page."""

    title: str
    foot: str
    date: str
    blocks: tuple[Block, ...]
