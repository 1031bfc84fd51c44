"""What is wrong with a file, told with its lines: all of it, each fault once however many lines it runs over."""

from dataclasses import dataclass

MOST_ENTRIES = 500
"""Nobody reads on; what is left out is counted."""


@dataclass
class Run:
    """One fault and the lines it stands on, first to last."""

    first: int
    last: int
    words: str


class Faults:
    """Faults of a file in the order in which they are found."""

    def __init__(self) -> None:
        self._runs: list[Run] = []
        self._open: dict[str, Run] = {}

    def __bool__(self) -> bool:
        return bool(self._runs)

    def add(self, line: int, words: str, kind: str = "") -> None:
        """A fault of a line. Faults of one `kind` on lines that follow each other are one entry."""
        run = self._open.get(kind) if kind else None
        if run is not None and line - run.last <= 1:
            run.last = line
            return
        self._runs.append(Run(line, line, words))
        self._open[kind] = self._runs[-1]

    def told(self) -> list[str]:
        """One sentence an entry, in the order of the lines."""
        ordered = sorted(self._runs, key=lambda run: run.first)
        found = [
            f"line {run.first}: {run.words}"
            if run.first == run.last
            else f"lines {run.first} to {run.last}: {run.words} (the first of them)"
            for run in ordered[:MOST_ENTRIES]
        ]
        more = len(ordered) - MOST_ENTRIES
        return found + ([f"and {more:,} more"] if more > 0 else [])
