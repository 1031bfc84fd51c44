"""Our explorer, spin and plain Hypothesis on one reduced model: transitions per second, and seconds to each seeded bug.

One process each, processor seconds throughout. For spin the search alone is counted; what it takes to make its search
program stands apart. A dash means not found in the time given, or nothing to count.
"""

import os
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TypeVar

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from oxlatch.core import CoreState
from oxlatch.gate import GateState
from oxlatch_sim.proof.explore import explore
from oxlatch_sim.proof.explore_claims import Past
from oxlatch_sim.proof.explore_core import Driven, Found, Space, explored_tick
from oxlatch_sim.proof.explore_inputs import Inputs, Letter
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.outside_checker import checker, checker_version, missing_tools
from oxlatch_sim.proof.promela import promela
from oxlatch_sim.proof.reduced_model import BUGS, LONGER, Bug, reduced, relation, seeded

GIVEN_S = 30.0
LIST_MIN, LIST_MAX = 30, 60  # ticks of one random run; the nearest bug needs about a dozen

T = TypeVar("T")


@dataclass
class Row:
    """What one way did: transitions and seconds of a whole search, and seconds and ticks to each bug."""

    name: str
    making_s: float | None = None
    states: int | None = None
    transitions: int = 0
    seconds: float = 0.0
    bugs: list[tuple[float, int] | None] = field(default_factory=list)
    is_nearest: bool = True  # no way to the bugs is shorter

    def text(self) -> str:
        making = "-" if self.making_s is None else f"{self.making_s:.1f}"
        states = "-" if self.states is None else f"{self.states:,}"
        cells = ["-" if found is None else f"{found[0]:.2f} ({found[1]})" for found in self.bugs]
        rate = f"{self.transitions / self.seconds:,.0f}"
        return f"{self.name:30}{making:>9}{states:>9}{rate:>12}" + "".join(f"{cell:>22}" for cell in cells)


def timed(run: Callable[[], T]) -> tuple[T, float]:
    """What `run` answers, and the processor seconds of this process and its children for it."""
    before = os.times()
    answer = run()
    after = os.times()
    return answer, sum(after[:4]) - sum(before[:4])


def ours(small: Small, way: str, name: str) -> Row:
    """Breadth first; the way it finds is a shortest one."""
    whole, seconds = timed(lambda: explore(small, way=way))
    row = Row(name, None, len(whole.order), whole.transitions, seconds)
    for bug in BUGS:
        with seeded(bug):
            found, seconds = timed(lambda: explore(small, way=way, to_first_breach=True))
        ticks = min(len(found.path_to(breach.state)) + 1 for breach in found.breaches.values())
        row.bugs.append((seconds, ticks))
    return row


def spin_rows(small: Small) -> list[Row]:
    """The first breach its search meets, and the nearest."""
    with checker(promela(relation(small)), optimised=True) as program:
        whole, seconds = timed(program.search)
        counted = program.making_seconds, whole.states, whole.transitions, seconds
    first = Row("spin, the first it meets", *counted, is_nearest=False)
    nearest = Row("spin, the nearest", *counted)
    for bug in BUGS:
        with seeded(bug):
            text = promela(relation(small))
        with checker(text, bounded=True, optimised=True) as program:
            met, seconds = timed(program.search)
            first.bugs.append((seconds, met.ticks))
            near, seconds = timed(program.nearest)
            nearest.bugs.append((seconds, near.ticks))
    return [first, nearest]


class Hunt:
    """Random runs from a reset, by plain Hypothesis, until a claim breaks or the time is over."""

    def __init__(self, small: Small) -> None:
        self.small = small
        self.letters: list[Letter] = Inputs(small).letters(Space(small).initial()[0])
        self.ticks = 0
        self.found: tuple[float, int] | None = None
        self.seconds = 0.0
        self._started = 0.0

    def run(self) -> None:
        """Search; `found`, `ticks` and `seconds` tell what came of it."""
        numbers = st.lists(st.sampled_from(range(len(self.letters))), min_size=LIST_MIN, max_size=LIST_MAX)
        asked = settings(
            max_examples=10**9,
            phases=[Phase.generate],
            database=None,
            deadline=None,
            derandomize=True,
            report_multiple_bugs=False,
            suppress_health_check=list(HealthCheck),
        )
        hunt: Callable[[], None] = asked(given(numbers)(self._one))
        self._started = time.process_time()
        with suppress(Over):
            hunt()
        self.seconds = self.seconds or time.process_time() - self._started

    def _one(self, numbers: list[int]) -> None:
        if self.seconds:  # over: what follows is Hypothesis trying its find again
            raise Over
        core, gate, past, out, found = CoreState(), GateState(), Past(), Driven(), Found()
        for n, number in enumerate(numbers, start=1):
            letter = self.letters[number]
            core.__dict__.update(letter.preset)
            explored_tick(core, gate, past, letter.v, self.small, out, found)
            self.ticks += 1
            if found.claim:
                self.seconds = time.process_time() - self._started
                self.found = self.seconds, n
                raise Over
        if time.process_time() - self._started > GIVEN_S:
            self.seconds = time.process_time() - self._started
            raise Over


class Over(Exception):
    """The hunt is over."""


def hypothesis_row(small: Small) -> Row:
    """Random runs; the ticks are those of the run that broke a claim, not shrunk."""
    row = Row("plain Hypothesis", is_nearest=False)
    for bug in BUGS:
        hunt = Hunt(small)
        with seeded(bug):
            hunt.run()
        row.bugs.append(hunt.found)
        row.transitions += hunt.ticks
        row.seconds += hunt.seconds
    return row


def heading(bugs: tuple[Bug, ...]) -> str:
    return f"{'':30}{'made in s':>9}{'states':>9}{'steps/s':>12}" + "".join(f"{bug.name:>22}" for bug in bugs)


def main() -> int:
    small = reduced(LONGER)
    print("The reduced model with its longer timers, processor seconds; to each bug: seconds (ticks of the way).")
    print(f"Hypothesis is given {GIVEN_S:.0f} s for each bug.\n")
    print(heading(BUGS))
    rows = [ours(small, "running", "ours, running the code"), ours(small, "columns", "ours, on columns")]
    if missing_tools():
        print(f"without spin: not installed: {', '.join(missing_tools())}")
    else:
        rows += spin_rows(small)
    rows.append(hypothesis_row(small))
    for row in rows:
        print(row.text())
    if not missing_tools():
        print(f"\n{checker_version()}")
    searched = {row.states for row in rows if row.states is not None}
    nearest = {tuple(found and found[1] for found in row.bugs) for row in rows if row.is_nearest}
    return 0 if len(searched) == len(nearest) == 1 else 1


if __name__ == "__main__":
    sys.exit(main())
