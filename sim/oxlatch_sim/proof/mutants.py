"""Would the arguments notice? Every mutant of the tick is killed by one of them or explained in a reviewed file.

The cheapest argument is asked first: replay of recorded runs, the symbolic proof of the part concerned, the
exhaustive exploration, lockstep with the reference. A crash counts for the argument that met it.
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

from oxlatch_sim.proof.channel_lemmas import CHANNELS
from oxlatch_sim.proof.channels import explore_channel
from oxlatch_sim.proof.explore import explore
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.lockstep import run_share
from oxlatch_sim.proof.mutant_recordings import core_runs, gate_runs, sense_runs, whole_runs
from oxlatch_sim.proof.mutant_source import MODULES, Mutant, applied, mutants_of
from oxlatch_sim.proof.mutant_ticks import tick_runs
from oxlatch_sim.proof.symbolic import system_of
from oxlatch_sim.proof.symbolic_prove import is_broken

EQUIVALENT_PATH = Path(__file__).with_name("equivalent_mutants.toml")
ARGUMENTS = ("replay", "symbolic", "exhaustive", "reference")
SAMPLE_SHARE = 0.05
LOCKSTEP_TICKS = 30_000
LOCKSTEP_SEED = 7
SENSE_MODULES = tuple(name for name in MODULES if name.startswith("sense"))
CHANNELS_OF = {
    "sense": ("switch", "contact", "proof", "coil", "time"),
    "sense_engine": ("throttle", "rpm"),
    "sense_fuel": ("fuel", "block"),
    "sense_supply": ("supply", "collapse", "line"),
    "sense_volts": ("bus", "rail"),
}


@dataclass
class Judged:
    """What became of one mutant: the argument that killed it, or "equivalent" with a reason, or "survived"."""

    where: str
    kind: str
    before: str
    after: str
    fate: str
    reason: str = ""


@dataclass
class MutantReport:
    """All of them."""

    judged: list[Judged] = field(default_factory=list)
    seconds: float = 0.0
    unused: list[str] = field(default_factory=list)

    @property
    def killed_by(self) -> dict[str, int]:
        """How many each argument killed."""
        return {name: sum(one.fate == name for one in self.judged) for name in ARGUMENTS}

    @property
    def survivors(self) -> list[Judged]:
        """Mutants that nothing killed and nobody explained."""
        return [one for one in self.judged if one.fate == "survived"]

    def row(self) -> dict[str, Any]:
        """The section of the report with its stable keys."""
        return {
            "total": len(self.judged),
            "killed_by": self.killed_by,
            "equivalent": sum(one.fate == "equivalent" for one in self.judged),
            "survived": [asdict(one) for one in self.survivors],
            "seconds": round(self.seconds, 1),
        }


class Killers:
    """The arguments with what they need from the unchanged code, made once."""

    def __init__(self) -> None:
        self.core = core_runs()
        self.gate = gate_runs()
        self.ticks = tick_runs()
        self.sense = sense_runs()
        self.whole = whole_runs()

    @cache  # noqa: B019 - one object lives as long as the process
    def explored(self, stages: int) -> tuple[Any, ...]:
        """What the exploration of the unchanged code answers."""
        return _explored(stages)

    @cache  # noqa: B019
    def channel(self, name: str) -> tuple[Any, ...]:
        """What the exploration of one channel of the unchanged code answers."""
        return _channel(name)

    def prepare(self) -> None:
        """Run every argument once on the unchanged code."""
        for stages in (1, 2):
            self.explored(stages)
        for names in CHANNELS_OF.values():
            for name in names:
                self.channel(name)

    def replay(self, module: str) -> bool:
        """Whether a recorded run comes out differently."""
        runs: list[Any] = [*self.whole]
        if module in SENSE_MODULES:
            runs = [*self.sense, *runs]
        elif module == "gate":
            runs = [*self.gate, *self.core, *runs]
        elif module != "controller":
            runs = [*self.core, *self.ticks, *runs]
        return any(run.differs() for run in runs)

    def symbolic(self, module: str) -> bool:
        """Whether a claim about the part concerned fails."""
        systems = ["sense"] if module in SENSE_MODULES else ["core"]
        if module == "gate":
            systems = ["gate", "core"]
        return any(is_broken(system_of(name)) for name in systems)

    def exhaustive(self, module: str) -> bool:
        """Whether the exploration finds other states, other transitions or a broken claim."""
        if module in SENSE_MODULES:
            return any(_channel(name) != self.channel(name) for name in CHANNELS_OF[module])
        if module == "controller":
            return False
        return any(_explored(stages) != self.explored(stages) for stages in (1, 2))

    def reference(self, module: str) -> bool:
        """Whether the lockstep with the reference breaks."""
        return module != "controller" and bool(run_share(LOCKSTEP_TICKS, LOCKSTEP_SEED).mismatches)


def _explored(stages: int) -> tuple[Any, ...]:
    found = explore(Small(stages, reduced=True))
    return found.digest, len(found.order), tuple(sorted(found.breaches)), tuple(found.seen.reasons)


def _channel(name: str) -> tuple[Any, ...]:
    found = explore_channel({channel.name: channel for channel in CHANNELS}[name])
    return found.states, found.transitions, found.broken, str(found.levels)


def fate_of(mutant: Mutant, killers: Killers) -> str:
    """The first argument that kills a mutant, cheapest first, or "survived"."""
    with applied(mutant.module, mutant.text):
        for name in ARGUMENTS:
            argument: Callable[[str], bool] = getattr(killers, name)
            try:
                if argument(mutant.module):
                    return name
            except Exception:  # a mutant that crashes has been noticed
                return name
    return "survived"


@cache
def equivalents() -> dict[tuple[str, str, str], str]:
    """Reviewed reasons: (module, line, changed line or "*") to reason."""
    table = tomllib.loads(EQUIVALENT_PATH.read_text("utf-8"))
    found = {}
    for row in table["mutant"]:
        for after in row.get("after", ["*"]):
            found[(row["module"], row["line"], after)] = row["reason"]
    return found


def reason_for(mutant: Mutant) -> str | None:
    """Why a mutant cannot be told apart, if that was reviewed."""
    known = equivalents()
    return known.get((mutant.module, mutant.before, mutant.after)) or known.get((mutant.module, mutant.before, "*"))


def chosen(modules: tuple[str, ...], share: float = 1.0, seed: int = 0, whole: tuple[str, ...] = ()) -> list[Mutant]:
    """Mutants of the modules: a seeded share of them, and all of those in `whole`."""
    found = []
    for name in modules:
        mutants = mutants_of(name)
        if name not in whole and share < 1.0:
            mutants = random.Random(f"{seed} {name}").sample(mutants, max(1, round(share * len(mutants))))
        found += mutants
    return found


_killers: Killers | None = None


def _start(killers: Killers) -> None:
    global _killers
    _killers = killers


def _judge(mutant: Mutant) -> Judged:
    assert _killers is not None
    reason = reason_for(mutant)
    fate = "equivalent" if reason else fate_of(mutant, _killers)
    return Judged(mutant.where, mutant.kind, mutant.before, mutant.after, fate, reason or "")


def judge_mutants(
    mutants: list[Mutant], workers: int = 1, progress: Callable[[int, int, Judged], None] | None = None
) -> MutantReport:
    """Every mutant's fate. An explained mutant is not run again: `contradicted` does that."""
    began = time.perf_counter()
    killers = Killers()
    killers.prepare()
    report = MutantReport()
    for one in _judged(mutants, killers, workers):
        report.judged.append(one)
        if progress:
            progress(len(report.judged), len(mutants), one)
    report.seconds = time.perf_counter() - began
    return report


def _judged(mutants: list[Mutant], killers: Killers, workers: int) -> Iterator[Judged]:
    if workers == 1:
        _start(killers)
        yield from map(_judge, mutants)
        return
    with get_context("fork").Pool(workers, _start, (killers,)) as pool:
        yield from pool.imap(_judge, mutants, chunksize=4)


def contradicted(mutants: list[Mutant], killers: Killers) -> list[Mutant]:
    """Mutants listed as equivalent that some argument kills after all: the file is wrong about them."""
    return [one for one in mutants if reason_for(one) and fate_of(one, killers) != "survived"]
