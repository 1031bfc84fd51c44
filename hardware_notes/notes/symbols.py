"""Symbols of pipes and blocks: valves, bottle, filter, relief, bubbles, boxes. Plain shapes of general practice."""

from collections.abc import Sequence
from itertools import pairwise

from notes.glyphs import width_of
from notes.ink import EDGE, FUEL, LINKAGE, OXIDIZER, VENT, WIRE, Point, Sheet


def bow(sheet: Sheet, x: float, y: float, upright: bool = False, size: float = 13.0) -> None:
    """A valve body centred at a point, in a line that runs across, or upright."""
    half = size * 0.62
    if upright:
        points = [(x - half, y - size), (x + half, y - size), (x - half, y + size), (x + half, y + size)]
    else:
        points = [(x - size, y - half), (x - size, y + half), (x + size, y - half), (x + size, y + half)]
    sheet.shape(points, paper=True)


def solenoid(sheet: Sheet, x: float, y: float, letter: str, upright: bool = False) -> Point:
    """A normally closed valve with its coil; returns where the wire meets the coil."""
    bow(sheet, x, y, upright)
    if upright:
        sheet.line([(x, y), (x + 17, y)], WIRE)
        sheet.rectangle(x + 17, y - 11, 22, 22, paper=True)
        sheet.text(x + 28, y, letter, 13, "middle", bold=True, patch=True)
        return x + 39, y
    sheet.line([(x, y), (x, y - 15)], WIRE)
    sheet.rectangle(x - 11, y - 37, 22, 22, paper=True)
    sheet.text(x, y - 26, letter, 13, "middle", bold=True, patch=True)
    return x, y - 37


def hand_valve(sheet: Sheet, x: float, y: float, upright: bool = False) -> None:
    """A valve with a handle."""
    bow(sheet, x, y, upright)
    if upright:
        sheet.line([(x, y), (x + 16, y)], WIRE)
        sheet.line([(x + 16, y - 8), (x + 16, y + 8)], WIRE, weight=2.4)
    else:
        sheet.line([(x, y), (x, y - 16)], WIRE)
        sheet.line([(x - 8, y - 16), (x + 8, y - 16)], WIRE, weight=2.4)


def filter_body(sheet: Sheet, x: float, y: float) -> None:
    """A filter: a diamond with its screen."""
    sheet.shape([(x - 15, y), (x, y - 13), (x + 15, y), (x, y + 13)], paper=True)
    sheet.line([(x, y - 12), (x, y + 12)], VENT)


def check_valve(sheet: Sheet, x: float, y: float) -> None:
    """Lets pass from left to right only."""
    sheet.shape([(x - 9, y - 9), (x + 9, y), (x - 9, y + 9)], paper=True)
    sheet.line([(x + 9, y - 10), (x + 9, y + 10)], EDGE, weight=2.4)


def relief(sheet: Sheet, x: float, y: float, down: bool = False) -> None:
    """A relief valve that opens upwards, or down: body with a spring beyond its point."""
    way = -1 if down else 1
    sheet.shape([(x - 9, y + 14 * way), (x + 9, y + 14 * way), (x, y)], paper=True)
    turns = [(0, 0), (-6, 4), (6, 9), (-6, 14), (6, 19), (0, 23)]
    sheet.line([(x + dx, y - dy * way) for dx, dy in turns], WIRE)


def bottle(sheet: Sheet, x: float, y: float, width: float = 62.0, height: float = 170.0) -> Point:
    """A standing bottle by its upper left corner; returns its mouth."""
    neck, shoulder = width * 0.28, height * 0.2
    middle = x + width / 2
    path = (
        f"M{x},{y + height - 12} Q{x},{y + height} {x + 12},{y + height} L{x + width - 12},{y + height} "
        f"Q{x + width},{y + height} {x + width},{y + height - 12} L{x + width},{y + shoulder + 14} "
        f"Q{x + width},{y + shoulder - 6} {middle + neck},{y + 10} L{middle + neck},{y} L{middle - neck},{y} "
        f"L{middle - neck},{y + 10} Q{x},{y + shoulder - 6} {x},{y + shoulder + 14} Z"
    )
    sheet.curve(path, EDGE, paper=True)
    return middle, y


def bubble(sheet: Sheet, x: float, y: float, tag: str, radius: float = 17.0) -> None:
    """A sensor: a circle with its tag."""
    sheet.circle(x, y, radius, paper=True)
    sheet.text(x, y, tag, 12, "middle", bold=True, patch=True)


def block(
    sheet: Sheet,
    x: float,
    y: float,
    width: float,
    height: float,
    heading: str,
    rows: Sequence[str] = (),
    size: float = 13.0,
) -> None:
    """A box with a heading and a few lines, set from the top."""
    sheet.rectangle(x, y, width, height, paper=True)
    below = sheet.text(x + 10, y + 16, heading, size, bold=True)
    sheet.text(x + 10, below + 1, rows, size - 1)


def flow(sheet: Sheet, points: Sequence[Point], fluid: str, arrow: bool = False) -> None:
    """A pipe run of O or F; the letter rides on the longest straight part."""
    sheet.line(points, fluid, arrow=arrow)
    start, end = max(pairwise(points), key=lambda pair: abs(pair[0][0] - pair[1][0]) + abs(pair[0][1] - pair[1][1]))
    x, y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    if abs(start[0] - end[0]) + abs(start[1] - end[1]) > 60:
        sheet.text(x, y, {OXIDIZER: "O", FUEL: "F"}[fluid], 13, "middle", bold=True, patch=True)


def spring_arrow(sheet: Sheet, start: Point, end: Point) -> None:
    """Movement by hand or cable."""
    sheet.line([start, end], LINKAGE, arrow=True)


def number_line(
    sheet: Sheet,
    left: float,
    right: float,
    y: float,
    low: float,
    high: float,
    marks: Sequence[tuple[float, Sequence[str]]],
    ticks: Sequence[tuple[float, str]],
    above: float = 30.0,
) -> None:
    """A scale with named marks above, spread so that none overlap, and numbers below."""

    def place(value: float) -> float:
        return left + (value - low) / (high - low) * (right - left)

    sheet.line([(left, y), (right, y)], EDGE, weight=2.0)
    for value, number in ticks:
        sheet.line([(place(value), y), (place(value), y + 7)], EDGE)
        sheet.text(place(value), y + 18, number, 12, "middle")
    wanted = [place(value) for value, _words in marks]
    spread = spaced(wanted, [_need(words) for _value, words in marks], left - 20, right + 20)
    for x, label_x, (_value, words) in zip(wanted, spread, marks):
        sheet.line([(x, y), (x, y - 8), (label_x, y - above + 4)], EDGE, weight=1.0)
        rows = list(words)
        sheet.text(label_x, y - above - 6 - 15 * (len(rows) - 1), rows, 12, "middle", spacing=1.25)


def _need(words: Sequence[str]) -> float:
    return max(width_of(row, 12, False) for row in words) + 10


def spaced(wanted: Sequence[float], widths: Sequence[float], low: float, high: float) -> list[float]:
    """Centres as near as may be to where they are wanted, in the same order, without overlap, within the bounds."""
    places = list(wanted)
    for index in range(len(places)):
        edge = low + widths[0] / 2 if index == 0 else places[index - 1] + (widths[index - 1] + widths[index]) / 2
        places[index] = max(places[index], edge)
    for index in reversed(range(len(places))):
        last = index == len(places) - 1
        edge = high - widths[-1] / 2 if last else places[index + 1] - (widths[index + 1] + widths[index]) / 2
        places[index] = min(places[index], edge)
    return places
