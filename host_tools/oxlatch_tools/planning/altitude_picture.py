"""The altitude picture: regions of the one table, named by their strongest pattern; for the plan and for the card."""

from typing import Any

from oxlatch_sim.physics import atmosphere
from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.altitude import COLUMN_STEP_K, ROW_STEP_M, AltitudeTable, altitude_table, strongest_of
from oxlatch_tools.planning.ink import GREY, INK, PAPER, PATCH, axis_title, write
from oxlatch_tools.planning.page import pattern_name
from oxlatch_tools.planning.stage_flow import Pattern
from oxlatch_tools.presentation import Units, number_in, unit_of

LINES_M = {
    "metric": (0.0, 1000.0, 2000.0, 3000.0, 4000.0),
    "us": tuple(feet * atmosphere.FOOT_M for feet in (0, 4000, 8000, 12000)),
}
Cell = tuple[int, int]
Best = list[list[Pattern | None]]


def draw_altitude(installation: Installation, units: Units, axes: Any, size: float = 12) -> None:
    """Everything but titles; `size` is that of the stage numbers, in points."""
    table = altitude_table(installation)
    best = [[strongest_of(installation, mask) for mask in masks] for masks in table.masks]
    columns = [
        number_in(value, "temperature", units) for value in (*table.columns_k, table.columns_k[-1] + COLUMN_STEP_K)
    ]
    rows = [number_in(value, "altitude", units) for value in (*table.rows_m, table.rows_m[-1] + ROW_STEP_M)]
    _outlines(axes, best, columns, rows)
    _density_lines(axes, table, units)
    for cells in _regions(best):
        row, column = _middle(cells)
        pattern = best[row][column]
        x, y = (columns[column] + columns[column + 1]) / 2, (rows[row] + rows[row + 1]) / 2
        words = pattern_name(pattern) if pattern else "none"
        axes.text(x, y, words, ha="center", va="center", fontsize=size, fontweight="bold", bbox=PATCH, zorder=7)
    axes.set_xlim(columns[0], columns[-1])
    axes.set_ylim(rows[0], rows[-1])
    axes.set_xlabel(axis_title("Outside air", "temperature", units))
    axes.set_ylabel(axis_title("Pressure altitude", "altitude", units))


def _outlines(axes: Any, best: Best, columns: list[float], rows: list[float]) -> None:
    for row in range(len(best)):
        for column in range(len(best[0])):
            here = best[row][column]
            if column + 1 < len(best[0]) and best[row][column + 1] != here:
                axes.plot([columns[column + 1]] * 2, rows[row : row + 2], color=INK, linewidth=2)
            if row + 1 < len(best) and best[row + 1][column] != here:
                axes.plot(columns[column : column + 2], [rows[row + 1]] * 2, color=INK, linewidth=2)
            if here is None:
                across = columns[column : column + 2]
                axes.fill_between(
                    across, rows[row], rows[row + 1], facecolor=PAPER, edgecolor=GREY, hatch="///", linewidth=0
                )


def _regions(best: Best) -> list[list[Cell]]:
    """Connected cells of one pattern."""
    seen: set[Cell] = set()
    found = []
    for row in range(len(best)):
        for column in range(len(best[0])):
            if (row, column) not in seen:
                found.append(_region(best, (row, column), seen))
    return found


def _region(best: Best, start: Cell, seen: set[Cell]) -> list[Cell]:
    region, waiting = [], [start]
    seen.add(start)
    while waiting:
        cell = waiting.pop()
        region.append(cell)
        row, column = cell
        for near in ((row + 1, column), (row - 1, column), (row, column + 1), (row, column - 1)):
            inside = 0 <= near[0] < len(best) and 0 <= near[1] < len(best[0])
            if inside and near not in seen and best[near[0]][near[1]] == best[start[0]][start[1]]:
                seen.add(near)
                waiting.append(near)
    return region


def _middle(cells: list[Cell]) -> Cell:
    """The cell of a region nearest to its centre."""
    row = sum(cell[0] for cell in cells) / len(cells)
    column = sum(cell[1] for cell in cells) / len(cells)
    return min(cells, key=lambda cell: (cell[0] - row) ** 2 + (cell[1] - column) ** 2)


def _density_lines(axes: Any, table: AltitudeTable, units: Units) -> None:
    for line_m in LINES_M[units]:
        wanted = atmosphere.standard_density_kg_m3(line_m)
        points = []
        for step in range(0, 71, 2):
            temperature = table.columns_k[0] + step
            pressure = wanted * atmosphere.AIR_GAS_CONSTANT_J_KG_K * temperature
            if (
                atmosphere.standard_pressure_pa(table.rows_m[-1])
                < pressure
                < atmosphere.standard_pressure_pa(table.rows_m[0])
            ):
                height = atmosphere.pressure_altitude_m(pressure)
                points.append((number_in(temperature, "temperature", units), number_in(height, "altitude", units)))
        axes.plot([x for x, _y in points], [y for _x, y in points], color=GREY, linestyle=(0, (2, 2)), linewidth=1)
        name = f"{number_in(line_m, 'altitude', units):.0f} {unit_of('altitude', units)}"
        write(axes, name, points[-1], shift=(-2, 8), side="right", size=8)
