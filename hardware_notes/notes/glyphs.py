"""Letters as outlines, so that a drawing looks the same on every machine and its words can be measured."""

from functools import cache, lru_cache
from pathlib import Path

import matplotlib
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.ttLib import TTFont

_FILES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}
CAP_SHARE = 0.73
"""Height of a capital letter over the size of the type."""


@lru_cache(maxsize=2)
def _font(is_bold: bool) -> TTFont:
    return TTFont(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / _FILES[is_bold])


@cache
def _glyph(character: str, is_bold: bool) -> tuple[str, int]:
    """Name of the glyph and its advance in font units. Errors: ValueError for a character the font lacks."""
    font = _font(is_bold)
    name = font.getBestCmap().get(ord(character))
    if name is None:
        raise ValueError(f"the font has no {character!r}")
    return str(name), int(font["hmtx"][name][0])


@cache
def outline(character: str, is_bold: bool) -> str:
    """SVG path of one character in font units, y upwards."""
    pen = SVGPathPen(_font(is_bold).getGlyphSet(), ntos=lambda value: f"{value:.0f}")
    _font(is_bold).getGlyphSet()[_glyph(character, is_bold)[0]].draw(pen)
    return str(pen.getCommands())


def units_per_em(is_bold: bool) -> int:
    """Font units per size of the type."""
    return int(_font(is_bold)["head"].unitsPerEm)


def advances(words: str, is_bold: bool) -> list[int]:
    """Where each character begins, and where the last one ends, in font units."""
    places = [0]
    for character in words:
        places.append(places[-1] + _glyph(character, is_bold)[1])
    return places


def width_of(words: str, size: float, is_bold: bool) -> float:
    """Width of a line of words at a size."""
    return advances(words, is_bold)[-1] * size / units_per_em(is_bold)
