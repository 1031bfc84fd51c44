"""Would the arguments notice? Every mutant of the tick is told apart by one of them, or explained in a reviewed file.

The cheapest argument is asked first. A mutant that the file calls equivalent has to be proved the same tick by the
solver, or at least get past every argument; a line of the file that fits no mutant is an error as well. So is a
mutant that the solver proves the same and the file does not list: somebody has to have looked at it.
"""

import random
import time
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field
from functools import cache
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from oxlatch_sim.proof.mutant_arguments import ARGUMENTS, Arguments
from oxlatch_sim.proof.mutant_same import NotDecided, difference
from oxlatch_sim.proof.mutant_source import Mutant, mutants_of

EQUIVALENT_PATH = Path(__file__).with_name("equivalent_mutants.toml")
SAMPLE_SHARE = 0.05
LIGHT_BELOW = 1_000

Key = tuple[str, str, str, str]  # module, function, line, changed line


@dataclass
class Judged:
    """What became of one mutant: the argument that noticed it, "equivalent", "survived", or "wrongly listed".

    `reason` is that of the file, or what the solver says of a survivor.
    """

    where: str
    kind: str
    before: str
    after: str
    fate: str
    reason: str = ""
    is_proved: bool = False


@dataclass
class MutantReport:
    """All of them, and the lines of the file that fit none."""

    judged: list[Judged] = field(default_factory=list)
    seconds: float = 0.0
    unused: list[str] = field(default_factory=list)

    @property
    def killed_by(self) -> dict[str, int]:
        """How many each argument noticed."""
        return {name: self.count(name) for name in ARGUMENTS}

    @property
    def survivors(self) -> list[Judged]:
        """Mutants that nothing noticed and nobody explained."""
        return [one for one in self.judged if one.fate == "survived"]

    @property
    def wrongly_listed(self) -> list[Judged]:
        """Mutants that the file calls equivalent and an argument tells apart."""
        return [one for one in self.judged if one.fate == "wrongly listed"]

    def count(self, fate: str) -> int:
        """How many met this fate."""
        return sum(one.fate == fate for one in self.judged)

    def problems(self) -> list[str]:
        """Everything that is wrong, in sentences."""
        lives = [f"mutant lives: {one.where}: {one.before} -> {one.after}: {one.reason}" for one in self.survivors]
        wrong = [f"listed as equivalent but {one.reason}: {one.where}: {one.after}" for one in self.wrongly_listed]
        return [*lives, *wrong, *[f"listed as equivalent but no such mutant: {line}" for line in self.unused]]

    def row(self) -> dict[str, Any]:
        """The section of the report with its stable keys."""
        return {
            "total": len(self.judged),
            "killed_by": self.killed_by,
            "equivalent": self.count("equivalent"),
            "proved_the_same": sum(one.is_proved for one in self.judged),
            "survived": [asdict(one) for one in [*self.survivors, *self.wrongly_listed]],
            "unused": self.unused,
            "seconds": round(self.seconds, 1),
        }


def read_equivalents(path: Path = EQUIVALENT_PATH) -> dict[Key, str]:
    """Reviewed reasons, one per changed line. ValueError when one is listed twice or has no reason."""
    found: dict[Key, str] = {}
    for row in tomllib.loads(path.read_text("utf-8")).get("mutant", []):
        for after in row["after"]:
            key = (row["module"], row["function"], row["line"], after)
            if key in found or not row["reason"].strip():
                raise ValueError(f"{path.name}: {' | '.join(key)}: listed twice or without a reason")
            found[key] = row["reason"]
    return found


def key_of(mutant: Mutant) -> Key:
    """How the file names a mutant: it survives moved lines, and ends when the line itself changes.

    The second line of a function that reads and is changed alike is followed by "  # 2", and so on.
    """
    line = mutant.before if mutant.nth == 1 else f"{mutant.before}  # {mutant.nth}"
    return mutant.module, mutant.function, line, mutant.after


@cache
def equivalents() -> dict[Key, str]:
    """The file that comes with the package."""
    return read_equivalents()


def chosen(modules: tuple[str, ...], share: float = 1.0, seed: int = 0, whole: tuple[str, ...] = ()) -> list[Mutant]:
    """Mutants of the modules: a seeded share of them, and all of those in `whole`."""
    found: list[Mutant] = []
    for name in modules:
        mutants = mutants_of(name)
        if name not in whole and share < 1.0:
            kept = random.Random(f"{seed} {name}").sample(range(len(mutants)), max(1, round(share * len(mutants))))
            mutants = tuple(mutants[at] for at in sorted(kept))
        found += mutants
    return found


def unused_lines(modules: tuple[str, ...], listed: dict[Key, str]) -> list[str]:
    """Lines of the file that fit no mutant of these modules."""
    known = {key_of(mutant) for name in modules for mutant in mutants_of(name)}
    return [" | ".join(key) for key in listed if key not in known and (key[0] in modules or len(modules) > 1)]


def judge(mutant: Mutant, arguments: Arguments, listed: dict[Key, str]) -> Judged:
    """What becomes of one mutant."""
    judged = Judged(mutant.where, mutant.kind, mutant.before, mutant.after, "equivalent")
    reason = listed.get(key_of(mutant))
    told = told_by_solver(mutant) if reason is not None else ""
    if told == SAME:
        judged.reason, judged.is_proved = reason or "", True
        return judged
    judged.fate = arguments.fate_of(mutant)
    if reason is None:
        judged.reason = told_by_solver(mutant) if judged.fate == "survived" else ""
    elif judged.fate == "survived":
        judged.fate, judged.reason = "equivalent", reason
    else:
        judged.fate, judged.reason = "wrongly listed", f"{judged.fate} tells it apart"
    return judged


SAME = "the solver proves it the same tick"


def told_by_solver(mutant: Mutant) -> str:
    """Whether the solver can tell a mutant from the tick, in words."""
    try:
        found = difference(mutant)
    except NotDecided as undecided:
        return str(undecided)
    return SAME if found is None else f"within the invariants it can differ in {', '.join(found.words)}"


_shared: tuple[Arguments, dict[Key, str]] | None = None


def _judge(mutant: Mutant) -> Judged:
    assert _shared is not None
    return judge(mutant, *_shared)


def judge_mutants(
    mutants: list[Mutant],
    workers: int = 1,
    progress: Callable[[int, int, Judged], None] | None = None,
    arguments: Arguments | None = None,
) -> MutantReport:
    """Every mutant's fate."""
    began = time.perf_counter()
    report = MutantReport()
    for one in _judged(mutants, workers, arguments or Arguments(light=len(mutants) < LIGHT_BELOW)):
        report.judged.append(one)
        if progress:
            progress(len(report.judged), len(mutants), one)
    report.unused = unused_lines(tuple({mutant.module for mutant in mutants}), equivalents())
    report.seconds = time.perf_counter() - began
    return report


def _judged(mutants: list[Mutant], workers: int, arguments: Arguments) -> Iterator[Judged]:
    global _shared
    _shared = arguments, equivalents()
    if workers == 1:
        yield from map(_judge, mutants)
        return
    arguments.prepare()
    with get_context("fork").Pool(workers) as pool:
        yield from pool.imap(_judge, mutants, chunksize=4)
