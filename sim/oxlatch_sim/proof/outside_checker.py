"""The outside check: a general model checker on the reduced model, beside our explorer.

spin turns the Promela text into a C program of its own, which searches every state. Nothing of ours decides there: not
which states are new, not when the search is over, not what breaks a property. Both must come to the same
verdict, the same number of states and of steps, and must find the same seeded bugs after the same number of ticks.
"""

import os
import re
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from oxlatch_sim.proof.explore import FastSpace, explore
from oxlatch_sim.proof.explore_result import Exploration
from oxlatch_sim.proof.promela import PROPERTIES, STEPS_PER_TICK, promela
from oxlatch_sim.proof.reduced_model import (
    BUGS,
    DRIVEN,
    INPUTS,
    TICKS,
    Bug,
    Relation,
    Words,
    pick_name,
    picks,
    reduced,
    relation,
    seeded,
)
from oxlatch_sim.proof.translate_columns import ColumnProgram

TICKS_MAX = 60
"""Ticks up to which a shortest counterexample is looked for; the small timers need a third of them."""
DEPTH_MAX = 1_000_000
TIMEOUT_S = 300
TABLE_BITS = 18  # of the search's table of states: 2^18 places
# No statement is merged or dropped, so that steps are those of the text.
SPIN = ("spin", "-a", "-o1", "-o2", "-o3")
# Only assertions and dead ends; every step is taken, none left out as if it did not matter.
DEFINES = ("-DSAFETY", "-DNOREDUCE")
AGAIN = "-DREACH"  # a state is searched again when it is reached by a shorter way: needed when the depth is bounded


class CheckerError(RuntimeError):
    """The checker is not installed, or did not end as it should; the message says which and what it said."""


def missing_tools() -> list[str]:
    """What the check needs and this machine lacks."""
    return [tool for tool in ("spin", "gcc") if shutil.which(tool) is None]


def checker_version() -> str:
    """The checker's own words for its version."""
    return _run(["spin", "-V"], None).strip()


@dataclass(frozen=True)
class Search:
    """One search: states stored, transitions taken, the property broken and after how many ticks."""

    states: int
    transitions: int
    broken: str
    ticks: int


class Checker:
    """The search program that spin makes of one model; `making_seconds` of processor time went into it."""

    def __init__(self, folder: Path, text: str, bounded: bool, optimised: bool) -> None:
        self._folder = folder
        (folder / "model.pml").write_text(text, encoding="ascii")
        before = os.times()
        _run([*SPIN, "model.pml"], folder)
        defines = (*DEFINES, AGAIN) if bounded else DEFINES
        _run(["gcc", "-O2" if optimised else "-O0", "-w", *defines, "-o", "pan", "pan.c"], folder)
        after = os.times()
        self.making_seconds = sum(after[:4]) - sum(before[:4])

    def search(self, depth: int = DEPTH_MAX) -> Search:
        """Search to the first broken property, or everything that `depth` steps reach."""
        said = _run(["./pan", f"-m{depth}", f"-w{TABLE_BITS}"], self._folder)
        broken = re.search(r"assertion violated\W*(\w+)\) \(at depth (\d+)\)", said)
        errors = _number(said, r"errors: (\d+)")
        if bool(errors) != bool(broken) or (broken and broken[1] not in PROPERTIES):
            raise CheckerError(f"the search ended otherwise than with a property: {said.strip()[:300]}")
        states, transitions = _number(said, r"(\S+) states, stored"), _number(said, r"(\S+) transitions \(")
        ticks = (int(broken[2]) + 1) // STEPS_PER_TICK if broken else 0
        return Search(states, transitions, broken[1] if broken else "", ticks)

    def nearest(self) -> Search:
        """The search that finds the nearest breach, made one tick deeper at a time; a whole one when there is none."""
        for ticks in range(1, TICKS_MAX + 1):
            found = self.search(ticks * STEPS_PER_TICK)
            if found.broken:
                return found
        return self.search()


@contextmanager
def checker(text: str, bounded: bool = False, optimised: bool = False) -> Iterator[Checker]:
    """The search program of a Promela text, in a folder that goes with it. Raises CheckerError.

    `bounded`: for `nearest`; it searches states again, so its count of transitions is not that of the model.
    """
    if missing_tools():
        raise CheckerError(f"not installed: {', '.join(missing_tools())}")
    with tempfile.TemporaryDirectory() as folder:
        yield Checker(Path(folder), text, bounded, optimised)


def _run(command: list[str], folder: Path | None) -> str:
    try:
        ran = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=TIMEOUT_S)
    except subprocess.TimeoutExpired as error:
        raise CheckerError(f"{command[0]} did not end within {TIMEOUT_S} s") from error
    if ran.returncode:
        raise CheckerError(f"{command[0]} ended with {ran.returncode}: {(ran.stderr or ran.stdout).strip()[-300:]}")
    return ran.stdout


def _number(said: str, pattern: str) -> int:
    found = re.search(pattern, said)
    if found is None:
        raise CheckerError(f"the search did not say {pattern!r}: {said.strip()[-300:]}")
    return int(float(found[1]))


ASSUMED = (
    "one stage, short timers; whatever no letter names stands where all is well",
    "states in the normal form of the exhaustive argument, whose free words stand still here",
    "the Promela text comes from the terms that were compared with the running code, by a generator of ours",
)


def differing_words(model: Relation, found: Exploration) -> tuple[int, list[str]]:
    """The relation against the running code on every explored state and letter: how many, and what words differ."""
    space = FastSpace(found.small)
    ran = [
        (*after, space.out.ox, space.out.fuel, space.out.bits)
        for key in found.order
        for after, _claim in space.expand(key)
    ]
    levels = np.array(list(picks()), dtype=np.int32)
    states = np.array(found.order, dtype=np.int32)
    columns = {name: np.repeat(states[:, at], len(levels)) for at, name in enumerate(model.ranges)}
    for at, (name, _levels) in enumerate(INPUTS):
        columns[pick_name(name)] = np.tile(levels[:, at], len(states))
    after = ColumnProgram(model.after).run(columns)
    names = (*model.ranges, *DRIVEN)
    by_code = dict(zip(names, np.array(ran).T, strict=True))
    return len(ran), [name for name in names if not np.array_equal(after[name], by_code[name])]


@dataclass(frozen=True)
class Whole:
    """Both on the model without a bug: what they counted, and what they found broken, if anything.

    `compared`: ticks on which the terms of the model were compared with the running code; `differing`: words.
    """

    states: int
    states_outside: int
    transitions: int
    transitions_outside: int
    broken: str
    broken_outside: str
    compared: int
    differing: list[str]

    @property
    def same(self) -> bool:
        """Whether both say the same. The checker counts the reset as a step, which our explorer does not."""
        ours = self.states, self.transitions + 1, bool(self.broken)
        return ours == (self.states_outside, self.transitions_outside, bool(self.broken_outside))


@dataclass(frozen=True)
class Nearest:
    """Both on one seeded bug: what each says is broken, and after how many ticks at the earliest; 0 for never."""

    name: str
    words: str
    claim: str
    ticks: int
    property_outside: str
    ticks_outside: int

    @property
    def same(self) -> bool:
        """Whether both found it, equally near."""
        return self.ticks == self.ticks_outside > 0


def compare_whole(ticks: Words) -> Whole:
    """Every state of the model by both. Raises CheckerError."""
    small = reduced(ticks)
    ours = explore(small)
    model = relation(small)
    with checker(promela(model)) as program:
        theirs = program.search()
    return Whole(
        len(ours.order),
        theirs.states,
        ours.transitions,
        theirs.transitions,
        ", ".join(ours.breaches),
        theirs.broken,
        *differing_words(model, ours),
    )


def compare_bug(bug: Bug, ticks: Words) -> Nearest:
    """The nearest breach of a seeded bug by both. Raises CheckerError."""
    small = reduced(ticks)
    with seeded(bug):
        ours = explore(small, to_first_breach=True)
        text = promela(relation(small))
    ways = sorted((len(ours.path_to(breach.state)) + 1, claim) for claim, breach in ours.breaches.items())
    ticks_ours, claim = ways[0] if ways else (0, "")
    with checker(text, bounded=True) as program:
        theirs = program.nearest()
    return Nearest(bug.name, bug.words, claim, ticks_ours, theirs.broken, theirs.ticks)


def check_outside(ticks: Words = TICKS) -> tuple[dict[str, Any], list[str]]:
    """The whole check as a section with stable keys, and its problems in sentences. Raises CheckerError."""
    started = time.perf_counter()
    whole = compare_whole(ticks)
    bugs = [compare_bug(bug, ticks) for bug in BUGS]
    problems = []
    if whole.broken or whole.broken_outside:
        problems.append(f"outside check: broken in the reduced model: {whole.broken_outside or whole.broken}")
    if whole.differing:
        problems.append(f"outside check: the model is not the running code in {', '.join(whole.differing)}")
    if not whole.same:
        problems.append(
            f"outside check: {whole.states_outside} states and {whole.transitions_outside} steps instead of "
            f"{whole.states} and {whole.transitions + 1}"
        )
    problems += [
        f"outside check: {bug.name}: found after {bug.ticks_outside} ticks, by our explorer after {bug.ticks}"
        for bug in bugs
        if not bug.same
    ]
    section = {
        "tool": checker_version(),
        "letters": len(list(picks())),
        "properties": PROPERTIES,
        **vars(whole),
        "same": whole.same,
        "bugs": [{**vars(bug), "same": bug.same} for bug in bugs],
        "assumed": list(ASSUMED),
        "seconds": round(time.perf_counter() - started, 2),
    }
    return section, problems
