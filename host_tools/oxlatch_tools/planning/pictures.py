"""One picture for each question, in one ink: told apart by line pattern, hatch and words, never by colour."""

import math
from collections.abc import Callable

from matplotlib.figure import Figure as Canvas

from oxlatch_tools.planning.altitude_picture import draw_altitude
from oxlatch_tools.planning.ink import (
    DASHED,
    INK,
    PAPER,
    axes_of,
    axis_title,
    bar,
    canvas_of,
    in_style,
    level,
    png_of,
    settle,
    svg_of,
    write,
)
from oxlatch_tools.planning.page import pattern_name
from oxlatch_tools.planning.plan import Plan
from oxlatch_tools.presentation import Units, number_in

Draw = Callable[[Plan, Units, Canvas], None]


def svg(plan: Plan, key: str, units: Units) -> str:
    """The picture of one page as inline SVG."""
    with in_style():
        return svg_of(_drawn(plan, key, units))


def png(plan: Plan, key: str, units: Units, dots_per_inch: int = 110) -> bytes:
    """The same picture as PNG."""
    with in_style():
        return png_of(_drawn(plan, key, units), dots_per_inch)


def _drawn(plan: Plan, key: str, units: Units) -> Canvas:
    canvas = canvas_of(7.6, 6.0 if key == "altitude" else 4.2)
    DRAWINGS[key](plan, units, canvas)
    return canvas


def _draw_why(plan: Plan, units: Units, canvas: Canvas) -> None:
    table = plan.page("why").table("alternatives")
    home = plan.departures[0]
    axes = axes_of(canvas, axis_title(f"Over the obstacle at {home.field.name}", "distance", units), "")
    places = list(range(len(table.rows)))[::-1]
    for place, row in zip(places, table.rows, strict=True):
        distance, name = row[3], str(row[0])
        value = number_in(distance, "distance", units) if isinstance(distance, float) else 0.0
        bar(axes, place, value, hatch="///" if "lost" in name else "xx" if "Nitrous" in name else "")
        write(axes, f"{value:.0f}" if isinstance(distance, float) else "never", (value, place), size=10)
    axes.set_yticks(places, [str(row[0]) for row in table.rows])
    length = number_in(home.field.length, "distance", units)
    axes.axvline(length, color=INK, linestyle=DASHED, linewidth=1.6)
    write(axes, "runway", (length, places[0] + 0.55), side="right", shift=(-3, 0))
    axes.set_xlim(0, 1.15 * max(length, *axes.get_xlim()))
    axes.set_ylim(-0.6, places[0] + 0.8)
    settle(canvas, longest=max(len(str(row[0])) for row in table.rows))


def _draw_ceiling(plan: Plan, units: Units, canvas: Canvas) -> None:
    rows = [row for row in plan.page("ceiling").table("margins").rows if isinstance(row[3], float)]
    axes = axes_of(canvas, "Part of the limit used (%)", "")
    axes.axvline(100, color=INK, linestyle=DASHED, linewidth=1.6)
    places = list(range(len(rows)))[::-1]
    for place, row in zip(places, rows, strict=True):
        for offset, column, hatch, words in ((0.18, 3, "", "no boost"), (-0.18, 4, "////", "at the ceiling")):
            share = 100 * float(row[column] or 0)
            bar(axes, place + offset, share, height=0.32, hatch=hatch)
            write(axes, f"{share:.0f} {words}", (share, place + offset))
    axes.set_yticks(places, [str(row[0]) for row in rows])
    axes.set_xlim(0, 130)
    settle(canvas, longest=max(len(str(row[0])) for row in rows))


def _draw_stages(plan: Plan, units: Units, canvas: Canvas) -> None:
    installation = plan.installation
    ordered = sorted(installation.patterns(), key=installation.pattern_power_w)
    axes = axes_of(canvas, axis_title("Shaft power added", "power", units), "Stages")
    places = list(range(len(ordered)))[::-1]
    for place, pattern in zip(places, ordered, strict=True):
        value = number_in(installation.pattern_power_w(pattern), "power", units)
        is_tested = installation.is_tested(pattern)
        bar(axes, place, value, hatch="///" if is_tested else "")
        words = f"{value:.1f}   {plan.endurance[pattern].seconds:.0f} s   {'tested' if is_tested else 'UNTESTED'}"
        write(axes, words, (value, place), size=10)
    axes.set_yticks(places, [pattern_name(pattern) for pattern in ordered])
    axes.set_xlim(0, 1.5 * number_in(installation.pattern_power_w(ordered[-1]), "power", units))
    settle(canvas, longest=7)


def _draw_jets(plan: Plan, units: Units, canvas: Canvas) -> None:
    table = plan.page("jets").table("changes")
    left, right = canvas.subplots(1, 2, sharey=True)
    places = list(range(len(table.rows)))[::-1]
    for axes, column, title in ((left, 1, "Added power (%)"), (right, 2, "Mixture O:F (%), + is leaner")):
        values = [100 * float(row[column] or 0.0) for row in table.rows]
        axes.axvline(0, color=INK, linewidth=1.2)
        axes.set_xlabel(title)
        widest = max(5.0, max(abs(value) for value in values))
        axes.set_xlim(-1.8 * widest, 1.8 * widest)
        for place, value in zip(places, values, strict=True):
            bar(axes, place, value, hatch="///")
            if abs(value) >= 0.05:
                side = "left" if value > 0 else "right"
                write(axes, f"{value:+.1f}", (value, place), shift=(4 if value > 0 else -4, 0), side=side, size=8)
    left.set_yticks(places, [str(row[0]) for row in table.rows], fontsize=9)
    settle(canvas, longest=23)
    canvas.subplots_adjust(wspace=0.05)


def _draw_bottle(plan: Plan, units: Units, canvas: Canvas) -> None:
    table = plan.page("bottle").table("trace")
    limits, mixture = plan.installation.limits, plan.installation.oxidizer
    seconds = [float(row[0] or 0) for row in table.rows]
    upper, lower = canvas.subplots(2, 1, sharex=True, height_ratios=(3, 2))

    def column(key: str) -> list[float]:
        return [number_in(float(value or 0), "pressure", units) for value in table.column(key)]

    upper.plot(seconds, column("bottle"), color=INK, linewidth=2, label="bottle")
    upper.plot(seconds, column("block"), color=INK, linewidth=2, linestyle="--", label="valve block")
    cut = number_in(limits.supply_cut, "pressure", units)
    level(upper, cut, "cut: flow stops", share=0.4, above=False)
    level(upper, number_in(limits.supply_permit, "pressure", units), "needed to become ready", share=0.99, side="right")
    upper.set_ylabel(axis_title("Pressure, absolute", "pressure", units))
    upper.legend(loc="upper right", frameon=False, fontsize=9)
    upper.set_ylim(bottom=0.88 * cut)
    lower.plot(seconds, [float(value or 0) for value in table.column("mixture")], color=INK, linewidth=2)
    level(lower, mixture.mixture_lean, "lean limit")
    level(lower, mixture.mixture_rich, "rich limit")
    lower.set_ylabel("Mixture O:F")
    lower.margins(y=0.3)
    lower.set_xlabel("Seconds of flow")
    canvas.suptitle(table.title, fontsize=11)
    settle(canvas, top=0.09)
    canvas.subplots_adjust(hspace=0.12)


def _draw_altitude(plan: Plan, units: Units, canvas: Canvas) -> None:
    axes = canvas.subplots()
    draw_altitude(plan.installation, units, axes)
    axes.set_title("Strongest pattern by stage number; hatched: none. Dotted: density altitude, dry air.", fontsize=9)
    settle(canvas)


def _draw_fuel(plan: Plan, units: Units, canvas: Canvas) -> None:
    table = plan.page("fuel_supply").table("ladder")
    axes = axes_of(canvas, "", axis_title("Pressure above outside air", "fuel pressure", units))
    names = ["pump", "after head", "after filter,\nhalf blocked", "at the block,\nbefore regulator"]
    for index, (line, mark) in enumerate((("-", "o"), ("--", "s"), (":", "^")), start=1):
        values = [number_in(float(row[index] or 0), "fuel pressure", units) for row in table.rows[:4]]
        name = table.columns[index].label
        axes.plot(range(4), values, color=INK, linestyle=line, marker=mark, linewidth=1.8, label=name)
    level(axes, number_in(plan.installation.fuel.set_pressure, "fuel pressure", units), "set pressure")
    axes.set_xticks(range(4), names)
    axes.set_ylim(0, 1.1 * axes.get_ylim()[1])
    axes.set_xlim(-0.2, 3.4)
    axes.legend(frameon=False, loc="lower right", fontsize=9)
    settle(canvas)


def _draw_electrical(plan: Plan, units: Units, canvas: Canvas) -> None:
    table = plan.page("electrical").table("coils")
    axes = axes_of(canvas, "Voltage at the coil (V)", "")
    places = list(range(len(table.rows)))[::-1]
    for place, row in zip(places, table.rows, strict=True):
        flight, lowest, needed = float(row[2] or 0), float(row[4] or 0), float(row[5] or 0)
        bar(axes, place + 0.18, flight, height=0.3)
        bar(axes, place - 0.18, lowest, height=0.3, hatch="////")
        axes.plot([needed, needed], [place - 0.36, place + 0.36], color=INK, linewidth=3.5)
        write(axes, "cold, bus in flight", (flight, place + 0.18), size=8)
        write(axes, "hot, lowest bus", (lowest, place - 0.18), size=8)
    axes.set_yticks(places, [str(row[0]) for row in table.rows])
    axes.set_xlim(0, 1.35 * max(float(row[2] or 0) for row in table.rows))
    axes.set_ylim(-0.6, len(places) - 0.3)
    axes.set_title("thick mark: what the hot coil needs to open", fontsize=9, loc="right")
    settle(canvas, longest=max(len(str(row[0])) for row in table.rows), top=0.09)


def _draw_takeoff(plan: Plan, units: Units, canvas: Canvas) -> None:
    home = plan.departures[0]
    axes = axes_of(canvas, f"Boost lost at second, {home.field.name}", axis_title("Distance", "distance", units))
    seconds = [loss.second for loss in home.losses]

    def shown(values: list[float]) -> list[float]:
        return [number_in(value, "distance", units) if math.isfinite(value) else math.nan for value in values]

    going, stopping = shown([loss.go_m for loss in home.losses]), shown([loss.stop_m for loss in home.losses])
    axes.plot(seconds, going, color=INK, linewidth=2, label="going on, over the obstacle")
    axes.plot(seconds, stopping, color=INK, linewidth=2, linestyle="--", label="stopping, stands at")
    lines = [(home.field.length, "runway"), (home.plain[1], "no boost"), (home.boosted[1], "boost lasting")]
    heights = [number_in(value, "distance", units) for value, _name in lines if math.isfinite(value)]
    for value, name in lines:
        if math.isfinite(value):
            height = number_in(value, "distance", units)
            axes.axhline(height, color=INK, linewidth=1, linestyle=":")
            write(axes, f"{name} {height:.0f}", (1.0, height), across=True)
    worst = home.worst
    if worst is not None and math.isfinite(worst.needed_m):
        height = number_in(worst.needed_m, "distance", units)
        axes.plot([worst.second], [height], marker="o", markersize=9, markerfacecolor=PAPER, markeredgecolor=INK)
        write(axes, f"worst second {worst.second:.0f}: {height:.0f}", (worst.second, height), shift=(14, 10), size=10)
    axes.set_ylim(0, 1.25 * max(heights))
    axes.set_xlim(0, 1.15 * max(seconds, default=1.0))
    axes.legend(frameon=False, loc="lower right", fontsize=9)
    settle(canvas, right=0.16)


DRAWINGS: dict[str, Draw] = {
    "why": _draw_why,
    "ceiling": _draw_ceiling,
    "stages": _draw_stages,
    "jets": _draw_jets,
    "bottle": _draw_bottle,
    "altitude": _draw_altitude,
    "fuel_supply": _draw_fuel,
    "electrical": _draw_electrical,
    "takeoff": _draw_takeoff,
}
