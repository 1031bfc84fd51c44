"""The run so far: every deed with its tick, and snapshots of the bench from which any tick can be reached again.

Memory is bounded: when there are too many snapshots every second one goes and the distance doubles; beyond the
longest distance the oldest go, and the run can then be rewound to the oldest one left.
"""

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field
from typing import Any

from oxlatch_tools.panel.deeds import Deed, Setup

SNAPSHOTS_MAX = 400
SHORTEST_GAP_TICKS = 256
LONGEST_GAP_TICKS = 4096
DEEDS_MAX = 50_000
BRANCHES_MAX = 8


@dataclass(frozen=True)
class Snapshot:
    """The bench at the end of a tick, before any deed of the next one."""

    tick: int
    token: dict[str, Any]
    setup: Setup


@dataclass
class Branch:
    """One course of events: its deeds, and how far it was flown."""

    number: int
    head: int = 0
    deeds: list[tuple[int, Deed]] = field(default_factory=list)


class History:
    """Deeds of the branch being flown, snapshots along it, and earlier branches to come back to."""

    def __init__(self) -> None:
        self.branch = Branch(1)
        self.left: list[Branch] = []
        self.snapshots: list[Snapshot] = []
        self.gap_ticks = SHORTEST_GAP_TICKS
        self.next_deed = 0
        """Index of the first deed not yet done at the present tick."""
        self._numbers = 1

    @property
    def first_tick(self) -> int:
        """The earliest tick that can be reached."""
        return self.snapshots[0].tick

    def due(self, tick: int) -> list[Deed]:
        """Deeds of this tick that are still to do, in their order; they count as done from now on."""
        found = []
        deeds = self.branch.deeds
        while self.next_deed < len(deeds) and deeds[self.next_deed][0] <= tick:
            found.append(deeds[self.next_deed][1])
            self.next_deed += 1
        return found

    def add(self, tick: int, deed: Deed) -> None:
        """A new deed at the present tick: what was done after it on this branch stays behind as a branch of its own."""
        if tick < self.branch.head:
            self._leave()
            self.branch = Branch(self._number(), tick, self.branch.deeds[: self.next_deed])
            self._forget_after(tick)
        del self.branch.deeds[self.next_deed :]
        self.branch.deeds.append((tick, deed))
        self.next_deed += 1
        if len(self.branch.deeds) > DEEDS_MAX:
            self._shed_oldest()

    def reached(self, tick: int) -> None:
        """The branch has been flown at least to this tick."""
        self.branch.head = max(self.branch.head, tick)

    def wants_snapshot(self, tick: int) -> bool:
        """Whether a snapshot is due at this tick."""
        return tick % self.gap_ticks == 0 and (not self.snapshots or tick > self.snapshots[-1].tick)

    def keep(self, snapshot: Snapshot) -> None:
        """Keep a snapshot, and keep their number bounded."""
        self.snapshots.append(snapshot)
        if len(self.snapshots) <= SNAPSHOTS_MAX:
            return
        if self.gap_ticks < LONGEST_GAP_TICKS:
            self.gap_ticks *= 2
            self.snapshots = [kept for kept in self.snapshots if kept.tick % self.gap_ticks == 0]
        else:
            self._shed_oldest()

    def before(self, tick: int) -> Snapshot:
        """The latest snapshot at or before a tick, or the oldest there is."""
        at = bisect_right(self.snapshots, tick, key=lambda kept: kept.tick) - 1
        return self.snapshots[max(at, 0)]

    def rewound(self, tick: int) -> None:
        """The bench now stands at the snapshot of this tick."""
        self.next_deed = bisect_left(self.branch.deeds, tick, key=lambda done: done[0])

    def switch(self, number: int) -> int | None:
        """Make a left branch the one being flown; the tick up to which both are the same, none if there is no such."""
        wanted = next((branch for branch in self.left if branch.number == number), None)
        if wanted is None:
            return None
        common = _common_tick(self.branch, wanted)
        self._leave()
        self.left.remove(wanted)
        self.branch = wanted
        self._forget_after(common)
        return common

    def _leave(self) -> None:
        self.left = [*self.left, self.branch][-BRANCHES_MAX:]

    def _number(self) -> int:
        self._numbers += 1
        return self._numbers

    def _forget_after(self, tick: int) -> None:
        self.snapshots = [kept for kept in self.snapshots if kept.tick <= tick] or self.snapshots[:1]

    def _shed_oldest(self) -> None:
        """Drop the oldest quarter of the snapshots and the deeds and branches that need them."""
        self.snapshots = self.snapshots[max(len(self.snapshots) // 4, 1) :] or self.snapshots[-1:]
        first = self.first_tick
        gone = bisect_left(self.branch.deeds, first, key=lambda done: done[0])
        del self.branch.deeds[:gone]
        self.next_deed = max(self.next_deed - gone, 0)
        self.left = [branch for branch in self.left if branch.head > first and not _needs(branch, first)]


def _common_tick(one: Branch, other: Branch) -> int:
    """The last tick up to which two branches are the same."""
    for mine, theirs in zip(one.deeds, other.deeds, strict=False):
        if mine != theirs:
            return min(mine[0], theirs[0])
    shorter = min(len(one.deeds), len(other.deeds))
    rest = [branch.deeds[shorter][0] for branch in (one, other) if len(branch.deeds) > shorter]
    return min([*rest, one.head, other.head])


def _needs(branch: Branch, first: int) -> bool:
    """Whether a branch has deeds before the first tick that can be reached."""
    return bool(branch.deeds) and branch.deeds[0][0] < first
