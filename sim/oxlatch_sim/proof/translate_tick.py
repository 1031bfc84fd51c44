"""The tick, or its second half, on columns of states for one settings record.

Column names are those of the state words ("core.state", "gate.stage[0]"), of the verdicts ("v.contact"),
of the raw samples ("raw[4]") and of the outputs ("out.ox").
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from oxlatch_sim.proof.symbolic_parts import OBJECTS, TICK_PARTS, core_part, gate_part, sense_part
from oxlatch_sim.proof.symbolic_ranges import Range, word_range
from oxlatch_sim.proof.translate import Translator
from oxlatch_sim.proof.translate_cells import cells_of
from oxlatch_sim.proof.translate_columns import BLOCK_ROWS, ColumnProgram
from oxlatch_sim.proof.translate_source import read_function
from oxlatch_sim.proof.translate_terms import Space, Value

CORE_TICK = (core_part, gate_part)
WHOLE_TICK = TICK_PARTS

Step = Callable[..., object]


def translate_steps(
    steps: Sequence[Step], ranges: Callable[[str], Range], space: Space | None = None
) -> dict[str, Value]:
    """Every cell after the steps, run in order on the objects they name; equal bounds make a constant.

    Where sense is among the steps the verdicts begin at zero: it writes them all, but those of extras that are
    not fitted, which are zero since the reset.
    """
    space = Space() if space is None else space
    walker = Translator(space)
    names = {name for step in steps for name in read_function(step).parameters}
    operands = {}
    for name, make in OBJECTS.items():
        if name in names:
            written = dict(cells_of(name, make())) if name == "v" and sense_part in steps else {}

            def value_of(cell: str, written: dict[str, int] = written) -> Value:
                return written[cell] if cell in written else space.variable(cell, *ranges(cell))

            operands[name] = walker.place(name, make(), value_of)
    for step in steps:
        walker.call(step, [operands[name] for name in read_function(step).parameters])
    return walker.store


def settings_ranges(settings: Any) -> Callable[[str], Range]:
    """Intervals of all words for one settings record: its fields are constants and bound the counters."""

    def ranges(cell: str) -> Range:
        if cell.startswith("c."):
            value = getattr(settings, cell[2:])
            return value, value
        return word_range(cell, settings)

    return ranges


def tick_columns(settings: Any, steps: Sequence[Step] = CORE_TICK, rows: int = BLOCK_ROWS) -> ColumnProgram:
    """One tick of many states under one settings record: every word of state and output after it.

    By default verdicts in, core, gate and outputs after; with WHOLE_TICK raw samples in. The settings
    need not satisfy the field table, so small timer bounds are allowed.
    """
    after = translate_steps(steps, settings_ranges(settings))
    kept = {cell: value for cell, value in after.items() if cell.partition(".")[0] in ("sense", "core", "gate", "out")}
    return ColumnProgram(kept, rows)
