"""Rows of a campaign as things to read: CSV, lines of text, and a grid of fault against phase."""

import csv
import io
from collections.abc import Iterable
from dataclasses import fields

from matplotlib.figure import Figure

from oxlatch_sim.campaign import NO_FAULT, Row, severity
from oxlatch_sim.fault_flight import PHASES
from oxlatch_sim.remedies import UNCOVERED, uncovered

INK = "black"
ROWS_PER_PAGE = 34
PAGE_INCHES = (15.5, 21.0)


def as_csv(rows: Iterable[Row]) -> str:
    """Every row, one per line."""
    out = io.StringIO()
    names = [field.name for field in fields(Row)]
    writer = csv.DictWriter(out, names, lineterminator="\n")
    writer.writeheader()
    for row in sorted(rows, key=order):
        writer.writerow(row.plain())
    return out.getvalue()


def order(row: Row) -> tuple[object, ...]:
    """Rows sort by hazard row, then fault, hardware, phase and corner."""
    return row.hazard_row, row.fault, row.hardware, PHASES.index(row.phase), row.corner, row.stages


def exceeds(row: Row) -> list[str]:
    """Fluids that flow alone for longer than the row's bounds: F, O, both or none."""
    return [letter for letter, within in (("F", row.within), ("O", row.oxidizer_within)) if not within]


def findings(rows: Iterable[Row], hardware: str) -> list[Row]:
    """Rows with this hardware that exceed a bound and are declared nowhere, worst first."""
    found = [
        row
        for row in rows
        if row.hardware == hardware and any(uncovered(row.fault, fluid) is None for fluid in exceeds(row))
    ]
    return sorted(found, key=severity, reverse=True)


def worst(rows: Iterable[Row]) -> dict[tuple[str, str], Row]:
    """The worst row of each fault and phase over everything else, the stage of the fault included."""
    kept: dict[tuple[str, str], Row] = {}
    for row in rows:
        key = (row.fault.partition("@")[0], row.phase)
        if key not in kept or severity(row) > severity(kept[key]):
            kept[key] = row
    return kept


def line_of(row: Row) -> str:
    """One row as one line."""
    off = "-" if row.off_ms is None else f"{row.off_ms}"
    mark = " ".join(f"{letter} OVER" for letter in exceeds(row))
    return (
        f"{row.fault:28}{row.phase:10}{row.corner:32}{row.hardware:15}"
        f"{row.fuel_only_ms:8.1f}{row.oxidizer_only_ms:9.1f}  {row.detected_by:24}{off:>6}  L{row.latch} {mark}"
    )


HEADING = (
    f"{'fault':28}{'phase':10}{'corner':32}{'hardware':15}{'F alone':>8}{'O alone':>9}  "
    f"{'seen by':24}{'off':>6}  latch\n{'':85}{'ms':>8}{'ms':>9}  {'':24}{'ms':>6}"
)


def summary(rows: list[Row], hardware: str) -> str:
    """What came of a campaign: worst of every fault, what is over a bound, what no part covers."""
    chosen = [row for row in rows if row.hardware == hardware]
    by_fault: dict[str, Row] = {}
    for row in chosen:
        if row.fault not in by_fault or severity(row) > severity(by_fault[row.fault]):
            by_fault[row.fault] = row
    lines = [f"Worst run of every fault, hardware {hardware}:", HEADING]
    lines += [line_of(row) for row in sorted(by_fault.values(), key=order)]
    lines += ["", *over_bounds(rows)]
    return "\n".join(lines)


def over_bounds(rows: list[Row]) -> list[str]:
    """Counts over the bounds per hardware option, then what the recommended parts do not cover."""
    lines = ["Runs over a bound (fuel alone 45 ms, oxidizer alone 150 ms; without a fault 10 and 90 ms):"]
    for name in dict.fromkeys(row.hardware for row in rows):
        own = [row for row in rows if row.hardware == name]
        fuel = sum(not row.within for row in own)
        oxidizer = sum(not row.oxidizer_within for row in own)
        faults = sorted({row.fault.partition("@")[0] for row in own if not row.within})
        named = f": {', '.join(faults)}" if faults else ""
        lines.append(f"  {name}: of {len(own)} runs {oxidizer} over for oxidizer, {fuel} for fuel{named}")
    seen = {row.fault.partition("@")[0] for row in rows}
    lines += ["", "Not covered, whatever of the recommended parts is fitted:"]
    for fault, entry in UNCOVERED.items():
        if fault in seen:
            lines.append(f"  {fault}: {entry.fluid} may flow alone; {entry.why}. Would remove it: {entry.remedy}.")
    return lines


def grid_pages(rows: list[Row], hardware: str, title: str) -> list[bytes]:
    """The grid of fault against phase as PNG pages: per cell the worst over the corners."""
    chosen = [row for row in rows if row.hardware == hardware and row.fault != NO_FAULT]
    cells = worst(chosen)
    faults = list(dict.fromkeys(row.fault.partition("@")[0] for row in sorted(chosen, key=order)))
    phases = [phase for phase in PHASES if any(row.phase == phase for row in chosen)]
    pages = []
    starts = range(0, len(faults), ROWS_PER_PAGE)
    for number, at in enumerate(starts, start=1):
        heading = f"{title}, hardware {hardware}: page {number} of {len(starts)}"
        pages.append(_page(cells, faults[at : at + ROWS_PER_PAGE], phases, heading))
    return pages


def _page(cells: dict[tuple[str, str], Row], faults: list[str], phases: list[str], heading: str) -> bytes:
    figure = Figure(figsize=(PAGE_INCHES[0], 2.0 + 0.55 * len(faults)), layout="constrained")
    axes = figure.add_subplot()
    axes.set_xlim(0, len(phases))
    axes.set_ylim(len(faults), 0)
    for at, fault in enumerate(faults):
        for column, phase in enumerate(phases):
            row = cells.get((fault, phase))
            if row is not None:
                _cell(axes, column, at, row)
    axes.set_xticks([column + 0.5 for column in range(len(phases))], phases, fontsize=12)
    axes.xaxis.tick_top()
    axes.set_yticks([at + 0.5 for at in range(len(faults))], faults, fontsize=10.5)
    axes.tick_params(length=0)
    axes.set_title(
        f"{heading}\nupper line: ms of F alone, O alone; lower line: seen by, ms to all off, latch."
        " Worst of corners and stages. Hatched: over a bound.",
        fontsize=11,
        loc="left",
    )
    out = io.BytesIO()
    figure.savefig(out, format="png", dpi=80)
    return out.getvalue()


def _cell(axes: object, column: int, at: int, row: Row) -> None:
    over = bool(exceeds(row))
    axes.bar(  # type: ignore[attr-defined]
        column + 0.5, 1.0, 1.0, at, facecolor="white", edgecolor=INK, linewidth=0.5, hatch="///" if over else None
    )
    off = "" if row.off_ms is None else f", {row.off_ms} ms"
    seen = row.detected_by.lower().replace("_", " ")
    text = f"F {row.fuel_only_ms:.0f}  O {row.oxidizer_only_ms:.0f}\n{seen}{off}, L{row.latch}"
    box = {"facecolor": "white", "edgecolor": "none", "pad": 0.8} if over else None
    axes.text(  # type: ignore[attr-defined]
        column + 0.5,
        at + 0.5,
        text,
        ha="center",
        va="center",
        fontsize=9,
        weight="bold" if over else "normal",
        bbox=box,
    )
