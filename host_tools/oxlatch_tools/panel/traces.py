"""The last half minute as rows of numbers for the strip charts, kept as JSON text and sent once to every page.

A row: tick, bottle, block and sensed oxidizer pressure (bar), fuel supply and block pressure (bar), bus and rail (V),
the word asked and the word driven (see `word`), then oxidizer and fuel at the nozzles of each stage (g/s).
None stands for what is not known.
"""

import json
from collections import deque
from collections.abc import Mapping, Sequence
from typing import Any

from oxlatch.vocabulary import TICK_MS

SPAN_TICKS = 30_000 // TICK_MS
ROWS_MAX = 8000
FUEL_SHIFT, MASTER_FUEL, PURGE, RUN = 4, 1 << 8, 1 << 9, 1 << 10


def word(driven: Mapping[str, Any] | None) -> int | None:
    """Outputs as one word: oxidizer in bits 0 to 3, fuel in 4 to 7, master fuel 8, purge 9, run 10."""
    if driven is None:
        return None
    return int(
        driven["ox"]
        | driven["fuel"] << FUEL_SHIFT
        | (MASTER_FUEL if driven["master_fuel"] else 0)
        | (PURGE if driven["purge"] else 0)
        | (RUN if driven["run"] else 0)
    )


def row_text(values: Sequence[float | int | None]) -> str:
    """One row as JSON."""
    return json.dumps(values, separators=(",", ":"))


class Traces:
    """Rows of the last 30 s. `epoch` grows whenever they start afresh."""

    def __init__(self) -> None:
        self.epoch = 0
        self.total = 0
        """Rows ever added in this epoch."""
        self._rows: deque[tuple[int, str]] = deque(maxlen=ROWS_MAX)

    def add(self, tick: int, text: str) -> None:
        """One more row; rows over 30 s old go."""
        rows = self._rows
        while rows and rows[0][0] < tick - SPAN_TICKS:
            rows.popleft()
        rows.append((tick, text))
        self.total += 1

    def start_afresh(self) -> None:
        """Forget every row."""
        self._rows.clear()
        self.total = 0
        self.epoch += 1

    def covers(self, tick: int) -> bool:
        """Whether the rows reach back 30 s from this tick, or to the beginning."""
        return bool(self._rows) and self._rows[0][0] <= max(0, tick - SPAN_TICKS) + 1

    def cut_after(self, tick: int) -> None:
        """Forget the rows after a tick."""
        rows = self._rows
        while rows and rows[-1][0] > tick:
            rows.pop()
        self.total = len(rows)
        self.epoch += 1

    def since(self, epoch: int, total: int) -> tuple[bool, str]:
        """Rows that one who has seen `total` of `epoch` lacks, joined; and whether they start afresh."""
        rows = self._rows
        is_fresh = epoch != self.epoch
        missing = len(rows) if is_fresh else min(self.total - total, len(rows))
        if missing <= 0:
            return is_fresh, ""
        start = len(rows) - missing
        return is_fresh, ",".join(rows[at][1] for at in range(start, len(rows)))
