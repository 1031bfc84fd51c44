"""Pairwise combinations of what is fitted: every pair of optional flags in all four ways, in few explorations.

A greedy covering array with its own small generator: rows are added until every pair that the settings allow is
covered; of several random candidates the row that covers most is kept. The seed is fixed, so the rows are always
the same.
"""

import random
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from itertools import combinations
from typing import Any

from oxlatch import vocabulary
from oxlatch.vocabulary import FIT_ALL, FIT_ALWAYS, FIT_DETENT_NC, FIT_THROTTLE
from oxlatch_sim.proof.explore import explore
from oxlatch_sim.proof.explore_audit import Auditor
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.explore_witness import witnesses

OPTIONAL = tuple(1 << bit for bit in range(FIT_ALL.bit_length()) if FIT_ALL & ~FIT_ALWAYS & 1 << bit)
NAMES = {value: name for name, value in vars(vocabulary).items() if name.startswith("FIT_") and value in OPTIONAL}
CANDIDATES = 60
AUDIT_TRIALS = 2_000

Told = Callable[[int, int, str], None]  # done, total, what is being done
Pair = tuple[int, int, bool, bool]  # two flags, whether each is fitted


def is_allowed(fitted: int) -> bool:
    """The rule between flags: one of the detent's other pole and the throttle position is always fitted."""
    return fitted & (FIT_DETENT_NC | FIT_THROTTLE) != 0


def pairs_of(fitted: int) -> set[Pair]:
    """The pairs that one combination covers."""
    return {(a, b, bool(fitted & a), bool(fitted & b)) for a, b in combinations(OPTIONAL, 2)}


def every_pair() -> set[Pair]:
    """All pairs but the one that the rule between flags forbids."""
    ways = [(first, second) for first in (False, True) for second in (False, True)]
    pairs = {(a, b, *way) for a, b in combinations(OPTIONAL, 2) for way in ways}
    return pairs - {(FIT_DETENT_NC, FIT_THROTTLE, False, False)}


def fitted_pairs(seed: int = 1) -> list[int]:
    """Words of fitted flags that cover every pair; the first has everything fitted."""
    rng = random.Random(seed)
    rows = [FIT_ALL]
    missing = every_pair() - pairs_of(FIT_ALL)
    while missing:
        best = max((_candidate(rng, missing) for _ in range(CANDIDATES)), key=lambda row: len(pairs_of(row) & missing))
        if pairs_of(best) & missing:
            rows.append(best)
            missing -= pairs_of(best)
    return rows


def _candidate(rng: random.Random, missing: set[Pair]) -> int:
    """A combination that has one missing pair, its other flags set one after the other to cover most."""
    a, b, has_a, has_b = rng.choice(sorted(missing))
    chosen = {a: has_a, b: has_b}
    for flag in rng.sample(OPTIONAL, len(OPTIONAL)):
        if flag not in chosen:
            gains = [sum(_covers(missing, flag, way, chosen)) for way in (False, True)]
            chosen[flag] = rng.random() < 0.5 if gains[0] == gains[1] else gains[1] > gains[0]
    fitted = FIT_ALWAYS | sum(flag for flag, is_fitted in chosen.items() if is_fitted)
    return fitted if is_allowed(fitted) else fitted | FIT_THROTTLE


def _covers(missing: set[Pair], flag: int, way: bool, chosen: dict[int, bool]) -> Iterator[bool]:
    for other, is_fitted in chosen.items():
        yield ((flag, other, way, is_fitted) if flag < other else (other, flag, is_fitted, way)) in missing


@dataclass
class Combination:
    """One combination explored: what is not fitted, how much was explored, what does not hold."""

    fitted: int
    without: list[str]
    states: int
    transitions: int
    digest: str
    seconds: float
    problems: list[str]


def explore_combination(fitted: int, workers: int = 1) -> Combination:
    """One stage, whole, with these inputs: claims, witnesses and a short audit."""
    found = explore(Small(1, fitted=fitted), workers, way="columns")
    seen = witnesses(found)
    audit = Auditor(found).run(AUDIT_TRIALS)
    problems = [f"{name} is broken" for name in found.breaches]
    problems += [f"without a witness: {name}" for name in seen.unvisited]
    problems += [f"not foreseen: {name}" for name in seen.unexpected]
    if not audit.clean:
        problems.append(f"the audit missed {len(audit.misses)} of {audit.trials} vectors")
    without = [name.removeprefix("FIT_").lower() for flag, name in NAMES.items() if not fitted & flag]
    states, seconds = len(found.order), round(found.seconds, 2)
    return Combination(fitted, without, states, found.transitions, found.digest, seconds, problems)


def explore_pairs(workers: int, told: Told | None = None) -> tuple[dict[str, Any], list[str]]:
    """Every combination of the covering array; the section and its problems in sentences."""
    rows = fitted_pairs()
    found = []
    for number, fitted in enumerate(rows):
        if told is not None:
            told(number, len(rows), f"fitted {fitted:07x}")
        found.append(explore_combination(fitted, workers))
    problems = [f"fitted {one.fitted:07x}: {text}" for one in found for text in one.problems]
    section = {
        "flags": [name.removeprefix("FIT_").lower() for name in NAMES.values()],
        "pairs": len(every_pair()),
        "combinations": len(rows),
        "states": sum(one.states for one in found),
        "transitions": sum(one.transitions for one in found),
        "seconds": round(sum(one.seconds for one in found), 1),
        "rows": [asdict(one) for one in found],
        "ok": not problems,
    }
    return section, problems
