"""The arguments a mutant has to get past, with what they need from the unchanged code made once."""

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from functools import cache
from types import FrameType
from typing import Any

from oxlatch_sim.proof.channel_lemmas import CHANNELS
from oxlatch_sim.proof.channels import explore_channel
from oxlatch_sim.proof.explore import explore
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.lockstep import run_share
from oxlatch_sim.proof.mutant_recordings import Tick, shuffled
from oxlatch_sim.proof.mutant_same import NotDecided, difference, told_apart
from oxlatch_sim.proof.mutant_samples import SCENARIOS, sense_recordings, whole_recordings
from oxlatch_sim.proof.mutant_source import Mutant, applied
from oxlatch_sim.proof.mutant_streams import core_recordings, gate_recordings

ARGUMENTS = ("replay", "symbolic", "exhaustive", "reference")  # cheapest first
LOCKSTEP_TICKS = 30_000
LOCKSTEP_SEED = 7
LIGHT_EPISODES = 24
LIGHT_WALKS = 4
LIMIT_S = 120  # for one argument; no sound tick comes near


class Overtime(Exception):
    """A mutant has run for longer than any sound tick could."""


class TheSame(Exception):
    """The solver has proved that no argument can notice."""


@contextmanager
def limited(seconds: float) -> Iterator[None]:
    """Raise Overtime in the body when it takes longer."""

    def stop(_signal: int, _frame: FrameType | None) -> None:
        raise Overtime

    usual = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, usual)


class Arguments:
    """Asked in the order of ARGUMENTS, each with a changed module in place. All are made on unchanged code.

    `light` makes fewer recordings: for a few mutants that is cheaper, and what it misses is left to the solver.
    """

    def __init__(self, light: bool = False) -> None:
        sense = list(sense_recordings(LIGHT_WALKS) if light else sense_recordings())
        self.ticks = {
            "core": shuffled(list(core_recordings(LIGHT_EPISODES) if light else core_recordings())),
            "gate": shuffled(list(gate_recordings())),
            "sense": shuffled(sense),
        }
        self.long = [*whole_recordings(SCENARIOS[:1] if light else SCENARIOS), *[one for one in sense if None in one.starts]]
        self._telling: dict[tuple[str, str], list[Tick]] = {}
        self._usual: dict[str, tuple[Any, ...]] = {}

    def prepare(self) -> None:
        """Explore the unchanged code once, before there are workers."""
        for key in ("1", "2", *(channel.name for channel in CHANNELS)):
            self._explored(key)

    def replay(self, mutant: Mutant) -> bool:
        """Whether a recorded tick comes out differently. Ticks that told another mutant of the function go first."""
        module = mutant.module
        telling = self._telling.setdefault((module, mutant.function), [])
        for at, tick in enumerate(telling):
            if tick.differs():
                telling.insert(0, telling.pop(at))
                return True
        kinds = ("sense",) if module.startswith("sense") else ("gate", "core") if module == "gate" else ("core",)
        for tick in [one for kind in kinds for one in self.ticks[kind]]:
            if tick.differs():
                telling.insert(0, tick)
                return True
        return any(recording.differs() for recording in self.long)

    def exhaustive(self, mutant: Mutant) -> bool:
        """Whether an exploration finds other states, other transitions or a broken claim."""
        module = mutant.module
        if module == "controller":
            return False
        keys = channels_of(module) if module.startswith("sense") else ("1", "2")
        return any(_explore(key) != self._explored(key) for key in keys)

    def symbolic(self, mutant: Mutant) -> bool:
        """Whether the solver names a state within the proved invariants from which the changed tick ends otherwise.

        Both are run from that state to confirm it. Raises NotDecided, and TheSame where there is no such state.
        """
        found = difference(mutant)
        if found is None:
            raise TheSame
        return told_apart(mutant, found)

    def reference(self, mutant: Mutant) -> bool:
        """Whether the lockstep with the reference breaks."""
        return mutant.module != "controller" and bool(run_share(LOCKSTEP_TICKS, LOCKSTEP_SEED).mismatches)

    def _explored(self, key: str) -> tuple[Any, ...]:
        if key not in self._usual:
            self._usual[key] = _explore(key)
        return self._usual[key]

    def fate_of(self, mutant: Mutant, names: tuple[str, ...] = ARGUMENTS) -> str:
        """The first argument that notices a mutant, or "survived". A crash or endless tick has been noticed too."""
        for name in names:
            argument: Callable[[Mutant], bool] = getattr(self, name)
            try:
                with limited(LIMIT_S), nullcontext() if name == "symbolic" else applied(mutant.module, mutant.text):
                    if argument(mutant):
                        return name
            except NotDecided:
                continue
            except TheSame:
                break
            except Exception:
                return name
        return "survived"


@cache
def channels_of(module: str) -> tuple[str, ...]:
    """Channels whose step is a function of this module; those of the whole of sense belong to its own file."""
    return tuple(one.name for one in CHANNELS if one.function.__module__ == f"oxlatch.{module}")


def _explore(key: str) -> tuple[Any, ...]:
    if key.isdigit():
        found = explore(Small(int(key), reduced=True))
        return found.digest, len(found.order), tuple(sorted(found.breaches)), tuple(found.seen.reasons)
    seen = explore_channel({channel.name: channel for channel in CHANNELS}[key])
    return seen.states, seen.transitions, seen.broken, str(seen.levels)
