"""A recording as one picture: states, switches, valves and readings over time, in one ink.

O (oxidizer) is drawn solid and F (fuel) hatched or dashed, so the two are told apart on any printer. The
left column is the whole recording, the others magnify the first opening and its end.
"""

import io
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from oxlatch.vocabulary import TICK_MS
from oxlatch_sim.observation import Tick
from oxlatch_sim.recording import Recording

INK = "black"
CHARACTER_INCHES = 0.075
"""Width of one character of the band texts, to leave out what would not fit."""
READINGS = (
    ("supply_bar", "O line,\nbar", "-", 2.0),
    ("fuel_bar", "F supply,\nbar", "--", 0.1),
    ("rpm", "engine\nspeed, rpm", "-", 200.0),
    ("bus_v", "bus, V", "-", 1.0),
)
"""Reading, axis title, line pattern, and the least span of its axis, so that noise looks like noise."""
Span = tuple[float, float]


@dataclass(frozen=True)
class Row:
    """One on-off trace."""

    label: str
    on: np.ndarray
    hatched: bool = False


@dataclass(frozen=True)
class Series:
    """A recording as columns; `seconds` is the time of each tick."""

    seconds: np.ndarray
    states: list[str]
    shown: list[str]
    switches: list[Row]
    valves: list[Row]
    readings: dict[str, np.ndarray]
    nozzle: dict[str, np.ndarray]


def draw(recording: Recording, title: str) -> bytes:
    """The picture as PNG bytes."""
    series = columns(recording)
    spans = [(float(series.seconds[0]), float(series.seconds[-1])), *close_ups(series)]
    names = ("whole recording", "first opening", "its end")
    widths = (2.2, 1.0, 1.0)[: len(spans)]
    panels = _panels(series)
    figure = Figure(figsize=(16, 10.5))
    figure.subplots_adjust(left=0.085, right=0.99, top=0.915, bottom=0.055, hspace=0.22, wspace=0.24)
    figure.suptitle(f"{title}\nO oxidizer: solid    F fuel: hatched or dashed", fontsize=12)
    grid = figure.subplots(
        len(panels),
        len(spans),
        squeeze=False,
        sharex="col",
        gridspec_kw={"height_ratios": [height for height, _ in panels], "width_ratios": widths},
    )
    for column, span in enumerate(spans):
        width_in = 14 * widths[column] / sum(widths)
        for row, (_height, paint) in enumerate(panels):
            axes = grid[row][column]
            paint(axes, span, width_in)
            _bare(axes, left=column == 0)
        grid[0][column].set_title(names[column], fontsize=10)
        grid[-1][column].set_xlabel("time, s", fontsize=10)
        grid[-1][column].set_xlim(*span)
    for axes in grid[:, 0]:
        axes.yaxis.set_label_coords(-0.15, 0.5)
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", dpi=110)
    return buffer.getvalue()


def columns(recording: Recording) -> Series:
    """Turn the ticks of a recording into columns. Raises ValueError when it has no tick with outputs."""
    ticks = [tick for tick in recording.ticks() if "out" in tick]
    if not ticks:
        raise ValueError("the recording has no tick with outputs; there is nothing to draw")
    stages = int(recording.header["stages"])
    seconds = np.array([tick["tick"] for tick in ticks]) * TICK_MS / 1000

    def flags(read: Any) -> np.ndarray:
        return np.array([bool(read(tick)) for tick in ticks])

    switches = [
        Row("MASTER", flags(lambda tick: tick.get("in", {}).get("master"))),
        *[
            Row(f"SELECT {i + 1}", flags(lambda tick, i=i: tick.get("in", {}).get("sel", 0) >> i & 1))
            for i in range(stages)
        ],
        Row("PURGE", flags(lambda tick: tick.get("in", {}).get("purge"))),
        Row("DETENT closed", flags(lambda tick: tick.get("in", {}).get("detent") == "CLOSED")),
    ]
    valves = [
        Row("RUN switch", flags(lambda tick: tick["out"]["run"])),
        Row("PURGE valve", flags(lambda tick: tick["out"]["purge"])),
        Row("MASTER F", flags(lambda tick: tick["out"]["master_fuel"]), hatched=True),
    ]
    for i in range(stages):
        valves.append(Row(f"O{i + 1}", flags(lambda tick, i=i: tick["out"]["ox"] >> i & 1)))
        valves.append(Row(f"F{i + 1}", flags(lambda tick, i=i: tick["out"]["fuel"] >> i & 1), hatched=True))
    return Series(
        seconds=seconds,
        states=[tick.get("state", "") for tick in ticks],
        shown=[tick["out"].get("text") or "" for tick in ticks],
        switches=switches,
        valves=valves,
        readings=_readings(ticks),
        nozzle=_nozzle(ticks),
    )


def _readings(ticks: list[Tick]) -> dict[str, np.ndarray]:
    found = {}
    for name, *_rest in READINGS:
        if all(name in tick.get("in", {}) for tick in ticks):
            found[name] = np.array([tick["in"][name] for tick in ticks], dtype=float)
    return found


def _nozzle(ticks: list[Tick]) -> dict[str, np.ndarray]:
    if not all("nozzle" in tick for tick in ticks):
        return {}
    return {
        letter: np.array([sum(tick["nozzle"][key]) for tick in ticks])
        for letter, key in (("O", "ox"), ("F", "fuel"))
    }


def close_ups(series: Series) -> list[Span]:
    """The spans around the first opening of an oxidizer valve and around the end of that flow."""
    flow = np.any([row.on for row in series.valves if row.label[0] == "O"], axis=0)
    if not flow.any():
        return []
    first = int(np.argmax(flow))
    length = int(np.argmin(flow[first:])) if not flow[first:].all() else len(flow) - first
    start, end = series.seconds[first], series.seconds[min(first + length, len(flow) - 1)]
    return [(float(start) - 0.1, float(start) + 0.5), (float(end) - 0.3, float(end) + 0.3)]


def _panels(series: Series) -> list[tuple[float, Any]]:
    """Height and painter of each row of the picture."""
    panels: list[tuple[float, Any]] = [
        (0.5, lambda axes, span, width: _band(axes, series, series.states, span, width, "state")),
        (0.5, lambda axes, span, width: _band(axes, series, series.shown, span, width, "shown")),
        (
            0.28 * len(series.switches),
            lambda axes, span, width: _traces(axes, series, series.switches, span, "crew"),
        ),
        (
            0.28 * len(series.valves),
            lambda axes, span, width: _traces(axes, series, series.valves, span, "driven"),
        ),
    ]
    if series.nozzle:
        panels.append((1.1, lambda axes, span, width: _flows(axes, series, span)))
    for row in READINGS:
        if row[0] in series.readings:
            panels.append((1.0, lambda axes, span, width, row=row: _reading(axes, series, row, span)))
    return panels


def _bare(axes: Axes, left: bool) -> None:
    axes.tick_params(labelsize=8)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    if not left:
        axes.set_ylabel("")


def runs(values: list[str]) -> list[tuple[int, int, str]]:
    """Start, end (one past) and value of each run of equal values."""
    found: list[tuple[int, int, str]] = []
    start = 0
    for at in range(1, len(values) + 1):
        if at == len(values) or values[at] != values[start]:
            found.append((start, at, values[start]))
            start = at
    return found


def _band(axes: Axes, series: Series, texts: list[str], span: Span, width_in: float, label: str) -> None:
    """A band of named intervals; every other one grey, the name written where it fits."""
    tick_s = TICK_MS / 1000
    for number, (start, end, text) in enumerate(runs(texts)):
        left = max(float(series.seconds[start]), span[0])
        right = min(float(series.seconds[end - 1]) + tick_s, span[1])
        if right <= left:
            continue
        if text:
            axes.axvspan(
                left, right, facecolor="0.82" if number % 2 else "white", edgecolor=INK, linewidth=0.6
            )
        if text and len(text) * CHARACTER_INCHES <= (right - left) / (span[1] - span[0]) * width_in:
            axes.text((left + right) / 2, 0.5, text, ha="center", va="center", fontsize=7.5)
    axes.set_ylim(0, 1)
    axes.set_yticks([])
    axes.set_ylabel(label, fontsize=9, rotation=0, ha="center", va="center")


def _traces(axes: Axes, series: Series, rows: list[Row], span: Span, label: str) -> None:
    """On-off bars, one row each, top to bottom; F rows hatched."""
    tick_s = TICK_MS / 1000
    for at, row in enumerate(rows):
        bars = [
            (float(series.seconds[start]), float(series.seconds[end - 1] - series.seconds[start]) + tick_s)
            for start, end, on in runs(["on" if on else "" for on in row.on])
            if on
        ]
        base = len(rows) - 1 - at
        face, hatch = ("white", "/////") if row.hatched else (INK, None)
        axes.broken_barh(bars, (base + 0.15, 0.6), facecolor=face, edgecolor=INK, hatch=hatch, linewidth=0.7)
        axes.axhline(base + 0.15, color=INK, linewidth=0.3)
    axes.set_ylim(0, len(rows))
    axes.set_yticks([len(rows) - 1 - at + 0.45 for at in range(len(rows))], [row.label for row in rows])
    axes.set_ylabel(label, fontsize=9)


def _window(series: Series, span: Span) -> slice:
    inside = np.flatnonzero((series.seconds >= span[0]) & (series.seconds <= span[1]))
    return slice(int(inside[0]), int(inside[-1]) + 1)


def _flows(axes: Axes, series: Series, span: Span) -> None:
    window = _window(series, span)
    for letter, line in (("O", "-"), ("F", "--")):
        axes.plot(
            series.seconds[window],
            series.nozzle[letter][window],
            line,
            color=INK,
            linewidth=1.1,
            label=letter,
        )
    axes.set_ylabel("at nozzles,\ng/s", fontsize=9)
    axes.legend(fontsize=8, loc="upper left", frameon=False, ncols=2)


def _reading(axes: Axes, series: Series, row: tuple[str, str, str, float], span: Span) -> None:
    name, label, line, least = row
    window = _window(series, span)
    values = series.readings[name][window]
    axes.plot(series.seconds[window], values, line, color=INK, linewidth=1.0)
    middle, reach = (values.max() + values.min()) / 2, max(values.max() - values.min(), least) * 0.55
    axes.set_ylim(middle - reach, middle + reach)
    axes.set_ylabel(label, fontsize=9)
    axes.grid(axis="y", color="0.8", linewidth=0.5)
