"""Runs of one step laid over each other, from two seconds before the detent event. One ink, line patterns."""

import io

from oxlatch_tools.commissioning.logger import Log
from oxlatch_tools.commissioning.static_run import BEFORE_S, Run, rising_edges

ROWS = (
    ("thrust", "thrust, N", 1.0, 0.0),
    ("rpm", "engine speed,\nrpm", 1.0, 0.0),
    ("manifold", "manifold,\nbar", 1e-5, 0.0),
    ("egt_", "exhaust,\n°C", 1.0, -273.15),
    ("fuel_pressure", "F supply,\nbar", 1e-5, 0.0),
    ("bottle_pressure", "bottle,\nbar", 1e-5, 0.0),
)
PATTERNS = ("-", "--", "-.", ":")
AFTER_S = 3.0


def overlay(logs: list[Log], runs: list[Run], title: str) -> bytes:
    """A PNG of every logged quantity; the flow of the first run is shaded."""
    from matplotlib.figure import Figure

    rows = [row for row in ROWS if any(name.startswith(row[0]) for log in logs for name in log.columns)]
    figure = Figure(figsize=(9, 1.2 + 1.35 * len(rows)), layout="constrained")
    figure.suptitle(title)
    axes = figure.subplots(len(rows), 1, sharex=True, squeeze=False)[:, 0]
    for axis, (name, label, scale, shift) in zip(axes, rows):
        axis.set_ylabel(label)
        axis.grid(True, color="0.85")
        axis.spines[["top", "right"]].set_visible(False)
        for number, log in enumerate(logs):
            event = rising_edges(log.time_s, log.columns["detent"])[0]
            times = [time - event for time in log.time_s]
            for column in (key for key in log.columns if key.startswith(name)):
                values = [scale * value + shift for value in log.columns[column]]
                style = PATTERNS[number % len(PATTERNS)]
                is_first = column in (name, f"{name}1")
                axis.plot(times, values, style, color="black", lw=1.2, label=f"run {number + 1}" if is_first else None)
        axis.axvspan(runs[0].opened_s, runs[0].opened_s + runs[0].flow_s, color="0.92", zorder=0)
    axes[0].legend(loc="upper right", ncols=len(logs), frameon=False)
    axes[-1].set_xlim(-BEFORE_S, max(run.flow_s for run in runs) + AFTER_S)
    axes[-1].set_xlabel("time after the detent closed, s (shaded: all stages of the first run flow)")
    picture = io.BytesIO()
    figure.savefig(picture, format="png", dpi=130)
    return picture.getvalue()
