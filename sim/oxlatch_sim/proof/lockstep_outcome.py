"""What running two of a kind side by side has found."""

from dataclasses import dataclass, field
from typing import Any

HISTORY_TICKS = 10


@dataclass
class Mismatch:
    """One difference: where, in what, and the ticks before it."""

    tick: int
    differs: dict[str, tuple[Any, Any]]
    before: list[dict[str, Any]]
    episode: int = -1

    def words(self) -> str:
        """The difference for a person: one line per tick, verdicts only where they change."""
        told = ", ".join(f"{name}: controller {a}, reference {b}" for name, (a, b) in self.differs.items())
        lines = [f"episode {self.episode}, tick {self.tick}: {told}"]
        last: dict[str, Any] = {}
        for row in self.before:
            changed = [f"{name}={value}" for name, value in row.items() if last.get(name) != value]
            lines.append("  " + ", ".join(changed))
            last = row
        return "\n".join(lines)


@dataclass
class Outcome:
    """What a lockstep run did: ticks, episodes, differences, and how often each row of the table was used."""

    steps: int = 0
    episodes: int = 0
    mismatches: list[Mismatch] = field(default_factory=list)
    hits: dict[str, int] = field(default_factory=dict)

    def add(self, other: "Outcome") -> None:
        """Take in the outcome of another run."""
        self.steps += other.steps
        self.episodes += other.episodes
        self.mismatches += other.mismatches
        for name, count in other.hits.items():
            self.hits[name] = self.hits.get(name, 0) + count

    def rarest(self, count: int = 10) -> list[tuple[int, str]]:
        """The rows used least, fewest first."""
        return sorted((hits, name) for name, hits in self.hits.items())[:count]
