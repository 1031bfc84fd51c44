"""One sheet of a drawing: black ink on white, fluids by letter and line pattern, words as outlines.

Coordinates run from the upper left corner, y downwards; a sheet is 1000 wide and prints on the long side of A4, so a
size of 12 is about 9 points. `problems` finds words that collide with words, with lines, or with the edge.
"""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from xml.sax.saxutils import escape, quoteattr

from notes.glyphs import CAP_SHARE, advances, outline, units_per_em, width_of

Point = tuple[float, float]

OXIDIZER = "oxidizer"
FUEL = "fuel"
WIRE = "wire"
SIGNAL = "signal"
LINKAGE = "linkage"
VENT = "vent"
EDGE = "edge"
GUIDE = "guide"
STYLES = {
    OXIDIZER: (3.6, ""),
    FUEL: (3.6, "9 5"),
    WIRE: (1.6, ""),
    SIGNAL: (1.3, "1.5 3.5"),
    LINKAGE: (1.6, "12 4 2 4"),
    VENT: (1.3, "5 3"),
    EDGE: (1.6, ""),
    GUIDE: (0.8, "2 2"),
}
"""Width and dashes of every line. O is a heavy solid line, F a heavy dashed one."""
NAMES = {
    OXIDIZER: "O, oxidizer",
    FUEL: "F, fuel",
    WIRE: "wire, coil current",
    SIGNAL: "signal",
    LINKAGE: "moved by hand or cable",
    VENT: "overboard",
}
SMALLEST = 12.0
MARGIN = 24.0


@dataclass(frozen=True)
class Box:
    """Where something is: left, top, right, bottom."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box", room: float = 0.0) -> bool:
        """Whether the two overlap by more than nothing, with `room` added around."""
        return (
            self.left - room < other.right
            and other.left < self.right + room
            and self.top - room < other.bottom
            and other.top < self.bottom + room
        )


@dataclass(frozen=True)
class Written:
    """One line of words on the sheet."""

    words: str
    box: Box
    on_patch: bool


class Sheet:
    """One drawing with its title, its caution and where its values come from."""

    def __init__(self, title: str, describes: str, height: float = 700.0, width: float = 1000.0) -> None:
        self.title = title
        self.describes = describes
        self.width = width
        self.height = height
        self.written: list[Written] = []
        self._segments: list[tuple[Point, Point]] = []
        self._shapes: list[str] = []
        self._letters: dict[tuple[str, bool], str] = {}

    # --- lines and shapes ------------------------------------------------------------------------
    def line(
        self, points: Sequence[Point], style: str = WIRE, arrow: bool = False, weight: float | None = None
    ) -> None:
        """A run of straight lines, with an arrowhead at its end if asked."""
        width, dashes = STYLES[style]
        path = "M" + " L".join(f"{x:.1f},{y:.1f}" for x, y in points)
        self._shapes.append(_stroke(path, weight or width, dashes))
        self._segments += list(pairwise(points))
        if arrow:
            self._arrowhead(points[-2], points[-1])

    def _arrowhead(self, start: Point, end: Point) -> None:
        dx, dy = end[0] - start[0], end[1] - start[1]
        length = max((dx * dx + dy * dy) ** 0.5, 1e-9)
        ux, uy = dx / length, dy / length
        left = (end[0] - 9 * ux - 4 * uy, end[1] - 9 * uy + 4 * ux)
        right = (end[0] - 9 * ux + 4 * uy, end[1] - 9 * uy - 4 * ux)
        self.shape([end, left, right], filled=True)

    def shape(self, points: Sequence[Point], filled: bool = False, style: str = EDGE, paper: bool = False) -> None:
        """A closed outline; `filled` with ink, or with `paper` to cover what lies below."""
        width, dashes = STYLES[style]
        path = "M" + " L".join(f"{x:.1f},{y:.1f}" for x, y in points) + " Z"
        fill = "black" if filled else "white" if paper else "none"
        self._shapes.append(_stroke(path, 1.0 if filled else width, dashes, fill))
        if not filled:
            self._segments += list(pairwise([*points, points[0]]))

    def rectangle(
        self, x: float, y: float, width: float, height: float, style: str = EDGE, paper: bool = False
    ) -> None:
        """An upright rectangle by its upper left corner."""
        self.shape([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], style=style, paper=paper)

    def hatched(self, x: float, y: float, width: float, height: float, step: float = 7.0) -> None:
        """A rectangle with hatching, for what is cut through or in the way."""
        self.rectangle(x, y, width, height)
        reach = width + height
        offset = step
        while offset < reach:
            start = (x + min(offset, width), y + max(0.0, offset - width))
            end = (x + max(0.0, offset - height), y + min(offset, height))
            self._shapes.append(_stroke(f"M{start[0]:.1f},{start[1]:.1f} L{end[0]:.1f},{end[1]:.1f}", 0.8, ""))
            offset += step
        self._segments.append(((x, y), (x + width, y + height)))

    def circle(self, x: float, y: float, radius: float, filled: bool = False, paper: bool = False) -> None:
        """A circle by its centre."""
        fill = "black" if filled else "white" if paper else "none"
        self._shapes.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" stroke="black" stroke-width="1.6" fill="{fill}"/>'
        )
        if not filled:
            half = radius * 0.9
            self._segments += [
                ((x - half, y - radius), (x + half, y - radius)),
                ((x - half, y + radius), (x + half, y + radius)),
            ]

    def curve(self, path: str, style: str = EDGE, paper: bool = False) -> None:
        """An SVG path as it stands, for shapes that are not straight; it takes no part in the collision check."""
        width, dashes = STYLES[style]
        self._shapes.append(_stroke(path, width, dashes, "white" if paper else "none"))

    def dot(self, x: float, y: float) -> None:
        """A joint of wires or lines."""
        self._shapes.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.4" fill="black"/>')

    def raw(self, markup: str, segments: Iterable[tuple[Point, Point]]) -> None:
        """Markup made elsewhere, with the straight lines in it that words must keep clear of."""
        self._shapes.append(markup)
        self._segments += list(segments)

    # --- words -----------------------------------------------------------------------------------
    def text(
        self,
        x: float,
        y: float,
        words: str | Sequence[str],
        size: float = 13.0,
        side: str = "left",
        bold: bool = False,
        patch: bool = False,
        spacing: float = 1.3,
    ) -> float:
        """Lines of words, the middle of the first at height `y`; returns the height for the next line.

        `side` says which side of the words is at `x`: left, middle or right. `patch` covers what lies below.
        """
        for row in [words] if isinstance(words, str) else words:
            if row:
                self._row(x, y, row, size, side, bold, patch)
            y += spacing * size
        return y

    def _row(self, x: float, y: float, words: str, size: float, side: str, bold: bool, patch: bool) -> None:
        width = width_of(words, size, bold)
        left = x - {"left": 0.0, "middle": width / 2, "right": width}[side]
        half = CAP_SHARE * size / 2
        box = Box(left, y - half - 0.08 * size, left + width, y + half + 0.2 * size)
        if patch:
            self._shapes.append(
                f'<rect x="{left - 3:.1f}" y="{box.top - 2:.1f}" width="{width + 6:.1f}" '
                f'height="{box.bottom - box.top + 3:.1f}" fill="white"/>'
            )
        scale = size / units_per_em(bold)
        uses = []
        for character, place in zip(words, advances(words, bold)):
            if character.strip():
                uses.append(f'<use href="#{self._letter(character, bold)}" x="{place}"/>')
        self._shapes.append(
            f'<g role="img" aria-label={quoteattr(words)} transform="translate({left:.2f} {y + half:.2f}) '
            f'scale({scale:.5f} {-scale:.5f})">{"".join(uses)}</g>'
        )
        self.written.append(Written(words, box, patch))

    def _letter(self, character: str, bold: bool) -> str:
        key = (character, bold)
        if key not in self._letters:
            self._letters[key] = f"{'b' if bold else 'r'}{ord(character)}"
        return self._letters[key]

    # --- the whole -------------------------------------------------------------------------------
    def frame(self, cautions: str, origin: str, legend: Sequence[str] = ()) -> None:
        """Title above, cautions and origin below, and the line patterns that are used."""
        self.text(MARGIN, 30, self.title, 20, bold=True)
        x = self.width - MARGIN
        for style in reversed(legend):
            name = NAMES[style]
            width = width_of(name, 12, False)
            self.text(x, 30, name, 12, "right")
            self.line([(x - width - 44, 30), (x - width - 8, 30)], style)
            x -= width + 62
        self.line([(MARGIN, 48), (self.width - MARGIN, 48)], EDGE)
        self.line([(MARGIN, self.height - 54), (self.width - MARGIN, self.height - 54)], EDGE)
        self.text(MARGIN, self.height - 38, cautions, 12, bold=True)
        self.text(MARGIN, self.height - 19, origin, 12)

    def problems(self) -> list[str]:
        """Words that collide with words, lines or the edge, and words too small to read."""
        found = []
        for index, one in enumerate(self.written):
            box = one.box
            if box.left < 4 or box.top < 4 or box.right > self.width - 4 or box.bottom > self.height - 4:
                found.append(f"{one.words!r} leaves the sheet")
            for other in self.written[index + 1 :]:
                if box.meets(other.box):
                    found.append(f"{one.words!r} overlaps {other.words!r}")
            if not one.on_patch:
                found += [
                    f"{one.words!r} is crossed by a line at {_at(line)}"
                    for line in self._segments
                    if _crosses(line, box)
                ]
        return found

    def texts(self) -> list[str]:
        """Every line of words, in the order of drawing."""
        return [one.words for one in self.written]

    def svg(self, made_from: str = "") -> str:
        """The drawing as one SVG document; `made_from` is the fingerprint of what it was made from."""
        letters = "".join(
            f'<path id="{name}" d="{outline(character, bold)}"/>' for (character, bold), name in self._letters.items()
        )
        body = "\n".join(self._shapes)
        content = hashlib.sha256((letters + body).encode()).hexdigest()[:8]
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width:g} {self.height:g}" '
            f'width="{self.width:g}" height="{self.height:g}" data-made-from="{made_from}" data-content="{content}">\n'
            f"<title>{escape(self.title)}</title>\n<desc>{escape(self.describes)}</desc>\n"
            f'<rect width="{self.width:g}" height="{self.height:g}" fill="white"/>\n<defs>{letters}</defs>\n{body}\n</svg>\n'
        )


def _stroke(path: str, width: float, dashes: str, fill: str = "none") -> str:
    pattern = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<path d="{path}" fill="{fill}" stroke="black" stroke-width="{width:g}"{pattern} stroke-linejoin="round"/>'


def _at(line: tuple[Point, Point]) -> str:
    (x0, y0), (x1, y1) = line
    return f"{x0:.0f},{y0:.0f} to {x1:.0f},{y1:.0f}"


def _crosses(line: tuple[Point, Point], box: Box) -> bool:
    """Whether a straight line passes through the inside of a box (Liang and Barsky's clipping)."""
    (x0, y0), (x1, y1) = line
    low, high = 0.0, 1.0
    for start, change, least, most in (
        (x0, x1 - x0, box.left + 0.5, box.right - 0.5),
        (y0, y1 - y0, box.top + 0.5, box.bottom - 0.5),
    ):
        if abs(change) < 1e-9:
            if not least <= start <= most:
                return False
            continue
        first, second = sorted(((least - start) / change, (most - start) / change))
        low, high = max(low, first), min(high, second)
        if low > high:
            return False
    return True
