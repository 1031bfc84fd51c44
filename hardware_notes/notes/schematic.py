"""Electrical symbols by schemdraw, placed on a sheet; their names are written by the sheet, never by schemdraw."""

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import schemdraw
from schemdraw import elements

from notes.ink import Point, Sheet

_PIXELS_PER_UNIT = 36.0
_SHAPES = re.compile(r"<(?:path|polygon|circle|ellipse|rect)\b[^>]*>")
_PATH = re.compile(r' d="([^"]*)"')
_STEP = re.compile(r"([ML])\s*(-?[\d.]+(?:e-?\d+)?)[ ,]+(-?[\d.]+(?:e-?\d+)?)")


class Schematic:
    """A field of electrical symbols on a sheet. Use as a context manager; give elements without labels.

    One unit of schemdraw is `unit` wide on the sheet; `x`, `y` is where schemdraw's origin lies.
    """

    def __init__(self, sheet: Sheet, x: float, y: float, unit: float = 26.0) -> None:
        self.sheet = sheet
        self.x = x
        self.y = y
        self.unit = unit
        self._drawing: Any = None

    def __enter__(self) -> "Schematic":
        schemdraw.use("svg")
        self._drawing = schemdraw.Drawing(show=False)
        self._drawing.config(unit=3, lw=1.6 * _PIXELS_PER_UNIT / self.unit)
        return self

    def __exit__(self, kind: object, error: object, trace: object) -> None:
        if kind is None:
            self._place()

    def add(self, element: Any) -> Any:
        """Place one element; returns it with its anchors fixed."""
        self._drawing += element
        return element

    def wire(self, *points: Any) -> None:
        """A run of wire through points in schemdraw's units."""
        for start, end in pairwise(points):
            self.add(elements.Line().at(tuple(start)).to(tuple(end)))

    def on_sheet(self, point: Any) -> Point:
        """Where a point in schemdraw's units lies on the sheet."""
        return self.x + self.unit * float(point[0]), self.y - self.unit * float(point[1])

    def name(
        self,
        point: Any,
        dx: float,
        dy: float,
        words: str | Sequence[str],
        side: str = "left",
        size: float = 12.0,
        bold: bool = False,
    ) -> None:
        """Words near a point in schemdraw's units, shifted on the sheet."""
        x, y = self.on_sheet(point)
        self.sheet.text(x + dx, y + dy, words, size, side, bold=bold)

    def _place(self) -> None:
        markup = self._drawing.get_imagedata("svg").decode()
        scale = self.unit / _PIXELS_PER_UNIT
        shapes = _SHAPES.findall(markup)
        segments = []
        for shape in shapes:
            found = _PATH.search(shape)
            if found:
                segments += self._segments(found.group(1), scale)
        tidy = "".join(_tidy(shape) for shape in shapes)
        self.sheet.raw(f'<g transform="translate({self.x:g} {self.y:g}) scale({scale:.4f})">{tidy}</g>', segments)

    def _segments(self, path: str, scale: float) -> list[tuple[Point, Point]]:
        found: list[tuple[Point, Point]] = []
        last: Point | None = None
        for kind, px, py in _STEP.findall(path):
            point = (self.x + scale * float(px), self.y + scale * float(py))
            if kind == "L" and last is not None:
                found.append((last, point))
            last = point
        return found


def _tidy(shape: str) -> str:
    """Shorter numbers, and no dash list where there are no dashes."""
    shape = (
        shape.replace("stroke-dasharray:-;", "")
        .replace("stroke-linejoin:round;", "")
        .replace("stroke-linecap:round;", "")
    )
    return re.sub(r"-?\d+\.\d{3,}(?:e-?\d+)?", lambda number: f"{float(number.group()):.2f}", shape)
