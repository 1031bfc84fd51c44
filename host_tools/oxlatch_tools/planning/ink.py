"""The one style of every picture: black ink, line patterns, hatches and words, readable in sunlight and in print."""

import io
from typing import Any

import matplotlib
from matplotlib.figure import Figure as Canvas

from oxlatch_tools.presentation import Units, unit_of

INK = "black"
PAPER = "white"
GREY = "0.55"
DASHED = (0, (6, 3))
LETTER_INCH = 0.095
PATCH = {"facecolor": PAPER, "edgecolor": "none", "pad": 1.2}
STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": 11,
    "axes.linewidth": 1.2,
    "hatch.linewidth": 0.8,
    "svg.fonttype": "path",
    "svg.hashsalt": "oxlatch",
}


def canvas_of(width: float, height: float) -> Canvas:
    """An empty picture, in inches; draw on it within `in_style`, then `settle` it."""
    return Canvas(figsize=(width, height), facecolor=PAPER)


def settle(canvas: Canvas, longest: int = 5, right: float = 0.02, top: float = 0.07, bottom: float = 0.61) -> None:
    """Margins: room for `longest` letters beside the vertical axis and its title, `right` and `top` as shares, `bottom`
    in inches. Counting letters takes half the time of having them measured.
    """
    width, height = canvas.get_size_inches()
    left = (0.45 + LETTER_INCH * longest) / width
    canvas.subplots_adjust(left=left, right=1 - right, top=1 - top, bottom=bottom / height)


def axes_of(canvas: Canvas, x: str, y: str) -> Any:
    """One set of axes with its titles."""
    axes = canvas.subplots()
    axes.set_xlabel(x)
    axes.set_ylabel(y)
    return axes


def axis_title(words: str, kind: str, units: Units) -> str:
    """Words with the unit in brackets."""
    unit = unit_of(kind, units)
    return f"{words} ({unit})" if unit else words


def write(
    axes: Any,
    words: str,
    at: tuple[float, float],
    shift: tuple[float, float] = (4, 0),
    side: str = "left",
    size: float = 9,
    across: bool = False,
) -> None:
    """Words near a point on a patch of paper; `across` counts the first coordinate as a share of the width."""
    axes.annotate(
        words,
        at,
        xycoords=("axes fraction", "data") if across else "data",
        xytext=shift,
        textcoords="offset points",
        ha=side,
        va="center",
        fontsize=size,
        bbox=PATCH,
        zorder=6,
        annotation_clip=False,
    )


def bar(axes: Any, place: float, value: float, height: float = 0.6, hatch: str = "") -> None:
    """One horizontal bar."""
    axes.barh(place, value, height=height, facecolor=PAPER, edgecolor=INK, hatch=hatch, linewidth=1.2)


def level(axes: Any, value: float, words: str, share: float = 0.01, side: str = "left", above: bool = True) -> None:
    """A dotted horizontal line with its name."""
    axes.axhline(value, color=INK, linewidth=1, linestyle=":")
    write(axes, words, (share, value), shift=(0, 8 if above else -8), side=side, across=True)


def svg_of(canvas: Canvas) -> str:
    """Inline SVG, the same bytes on every run."""
    buffer = io.StringIO()
    canvas.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None})
    text = buffer.getvalue()
    return text[text.index("<svg") :]


def png_of(canvas: Canvas, dots_per_inch: int) -> bytes:
    """PNG, the same bytes on every run."""
    buffer = io.BytesIO()
    canvas.savefig(buffer, format="png", dpi=dots_per_inch, metadata={"Software": None})
    return buffer.getvalue()


def in_style() -> Any:
    """Context manager in which pictures are drawn and saved."""
    return matplotlib.rc_context(STYLE)
