"""What a stage does, drawn from the recordings of the scenarios: command, current, nozzle; and the mixture.

One ink; O (oxidizer) solid, F (fuel) dashed. Drawn for a page of A4: every letter is as large as the text around it.
"""

import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MultipleLocator

from oxlatch.vocabulary import COIL_FUEL_SHIFT, COIL_OX_SHIFT, TICK_MS
from oxlatch_sim.recording import Recording, RecordingError, read_recording
from oxlatch_tools.evidence.case import Case
from oxlatch_tools.evidence.page import Line, Picture, Words

INK = "black"
PATTERN = {"O": "-", "F": (0, (4, 2))}
WIDTH_IN = 7.1
POINTS = 9
DPI = 200
STYLE: Any = {"font.family": "DejaVu Sans", "font.size": POINTS}
BEFORE_S, AFTER_OPENING_S, AFTER_CLOSING_S = 0.03, 0.23, 0.18
FLOWS = 0.10
"""Share of its steady flow from which a fluid counts as flowing when its mixture is drawn."""


@dataclass(frozen=True)
class Trace:
    """One stage in one recording: times in s, each fluid's command, current and flow in g/s."""

    stage: int
    seconds: np.ndarray
    flow_seconds: np.ndarray
    command: dict[str, np.ndarray]
    current: dict[str, np.ndarray]
    flow: dict[str, np.ndarray]

    @property
    def opening_s(self) -> float:
        """When its oxidizer was first commanded."""
        return float(self.seconds[int(np.argmax(self.command["O"]))])

    @property
    def closing_s(self) -> float:
        """When its fuel was first commanded off again."""
        on = self.command["F"]
        first = int(np.argmax(on))
        return float(self.seconds[first + int(np.argmin(on[first:]))])

    def steady(self, letter: str) -> float:
        """Median flow while both are commanded, g/s; 0 when they never are."""
        both = self.command["O"] & self.command["F"]
        return float(np.median(self.flow[letter][both])) if both.any() else 0.0


def traced(recording: Recording, stage: int) -> Trace:
    """One stage of a recording. Raises ValueError when the stage never delivered, or no flow was recorded.

    A tick of a recording carries what the controller saw and drove at its beginning and the flow at its end.
    """
    ticks = [tick for tick in recording.ticks() if "out" in tick and "nozzle" in tick]
    seconds = np.array([tick["tick"] for tick in ticks]) * TICK_MS / 1000
    at = stage - 1
    command, current, flow = {}, {}, {}
    for letter, key, shift in (("O", "ox", COIL_OX_SHIFT), ("F", "fuel", COIL_FUEL_SHIFT)):
        command[letter] = np.array([bool(tick["out"][key] >> at & 1) for tick in ticks])
        current[letter] = np.array([bool(tick["in"].get("currents", 0) >> (shift + at) & 1) for tick in ticks])
        flow[letter] = np.array([float(tick["nozzle"][key][at]) for tick in ticks])
    if not ticks or not (command["O"] & command["F"]).any():
        raise ValueError(f"stage {stage} does not deliver in this recording")
    return Trace(stage, seconds, seconds + TICK_MS / 1000, command, current, flow)


def stage_pictures(case: Case) -> Iterator[Picture | Words]:
    """Three traces of every stage at opening and release, and its mixture; what cannot be drawn is named in red."""
    file = case.files["traces"]
    if file.freshness == "missing":
        yield Words(Line(f"{file.why}: no trace can be drawn.", True, True))
        return
    try:
        recording = read_recording(Path(file.data["recording"]))
        wrong = strange(case, recording)
        traces = [traced(recording, stage) for stage in range(1, len(case.installation.stages) + 1)]
    except (RecordingError, ValueError) as error:
        yield Words(Line(f"MISSING: traces of the stages: {error}", True, True))
        return
    for trace in traces:
        words = (
            f"Stage {trace.stage}, every stage opened in one push, nominal values, simulated plant. Steady flow O "
            f"{trace.steady('O'):.1f} g/s, F {trace.steady('F'):.2f} g/s. Coil current: whether its comparator sees it."
        )
        caption = Line(f"STALE: {'; '.join(wrong)}. {words}", True) if wrong else Line(words)
        yield Picture(three_traces(trace), words, caption)
    words = (
        f"Longest in this flight, over all stages: F alone {file.data['fuel_only_ms']:.1f} ms, O alone "
        f"{file.data['oxidizer_only_ms']:.1f} ms. Over the whole box of tolerances: claim N1."
    )
    yield Words(Line(words, bool(wrong)))


def strange(case: Case, recording: Recording) -> list[str]:
    """What keeps a recording from being one of this build, in words."""
    file, header = case.files["traces"], recording.header
    found = [file.why.removeprefix("STALE: ")] if file.freshness == "stale" else []
    for key in ("firmware", "installation"):
        if header.get(key) != getattr(case.build, key):
            found.append(f"recorded with {key} {header.get(key)}")
    return found if recording.complete else [*found, "not a whole recording"]


def three_traces(trace: Trace) -> bytes:
    """The picture as PNG bytes."""
    planned = ("opening", trace.opening_s, AFTER_OPENING_S), ("release", trace.closing_s, AFTER_CLOSING_S)
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH_IN, 4.3))
        grid = figure.subplots(
            4, 2, sharex="col", sharey="row",
            gridspec_kw={"height_ratios": (0.8, 0.8, 1.5, 1.1), "width_ratios": (1.2, 1.0)},
        )  # fmt: skip
        figure.subplots_adjust(left=0.135, right=0.985, top=0.935, bottom=0.115, hspace=0.16, wspace=0.05)
        for column, (name, zero, after) in enumerate(planned):
            axes = grid[:, column]
            _switched(axes[0], trace, trace.command, zero)
            _switched(axes[1], trace, trace.current, zero)
            _flows(axes[2], trace, zero)
            _mixture(axes[3], trace, zero)
            axes[0].set_title(f"stage {trace.stage}, {name}", fontsize=POINTS)
            axes[3].set_xlim(-1000 * BEFORE_S, 1000 * after)
            axes[3].xaxis.set_major_locator(MultipleLocator(50))
        grid[3][0].set_xlabel("ms after the O command")
        grid[3][1].set_xlabel("ms after the F command ends")
        titles = ("command", "coil\ncurrent", "flow at nozzle,\n% of steady", "O : F\nby mass")
        for axis, words in zip(grid[:, 0], titles, strict=True):
            axis.set_ylabel(words)
            axis.yaxis.set_label_coords(-0.155, 0.5)
        figure.align_ylabels(grid[:, 0])
        buffer = io.BytesIO()
        figure.savefig(buffer, format="png", dpi=DPI)
    return buffer.getvalue()


def _bare(axes: Axes) -> None:
    axes.spines[["top", "right"]].set_visible(False)
    axes.grid(True, color="0.88", linewidth=0.6)
    axes.axvline(0.0, color="0.6", linewidth=0.8)


def _switched(axes: Axes, trace: Trace, values: dict[str, np.ndarray], zero_s: float) -> None:
    """Two on-off traces one above the other."""
    for base, letter in ((1.3, "O"), (0.0, "F")):
        times = 1000 * (trace.seconds - zero_s)
        levels = base + values[letter]
        axes.step(times, levels, where="post", linestyle=PATTERN[letter], color=INK, linewidth=1.3)
    axes.set_ylim(-0.2, 2.6)
    axes.set_yticks([0.5, 1.8], ["F", "O"])
    _bare(axes)
    axes.grid(False, axis="y")


def _flows(axes: Axes, trace: Trace, zero_s: float) -> None:
    times = 1000 * (trace.flow_seconds - zero_s)
    for letter in ("O", "F"):
        steady = trace.steady(letter)
        share = 100 * trace.flow[letter] / steady if steady else trace.flow[letter]
        axes.plot(times, share, linestyle=PATTERN[letter], color=INK, linewidth=1.3, label=letter)
    axes.set_ylim(-6, 135)
    axes.set_yticks([0, 50, 100])
    axes.legend(loc="upper right", ncols=2, frameon=False, borderpad=0.1, handlelength=2.6)
    _bare(axes)


def _mixture(axes: Axes, trace: Trace, zero_s: float) -> None:
    """O to F where both flow; the steady ratio as a thin line."""
    flowing = np.ones_like(trace.command["O"])
    for letter in ("O", "F"):
        flowing &= trace.flow[letter] > FLOWS * trace.steady(letter)
    ratio = np.full(len(trace.seconds), np.nan)
    ratio[flowing] = trace.flow["O"][flowing] / trace.flow["F"][flowing]
    steady = trace.steady("O") / trace.steady("F")
    axes.plot(1000 * (trace.flow_seconds - zero_s), ratio, color=INK, linewidth=1.3)
    axes.axhline(steady, color=INK, linewidth=0.7, linestyle=":")
    axes.set_ylim(0, 2.2 * steady)
    _bare(axes)
