"""The exhaustive argument: every state of the running code after sense, for every verdict it can tell apart.

`explore` runs breadth first to a fixpoint, on one process or several, with the same result to the last digit:
states in the order of discovery, the first way to each of them, the first breach of every claim, and what
was seen on the way. The step and the alphabet are those of `explore_core`, which MicroPython runs too.
"""

import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from multiprocessing import get_context
from operator import attrgetter
from typing import Any

from oxlatch.core import CORE_WORDS
from oxlatch.gate import gate_step
from oxlatch.reasons import TIME_SOON_UP
from oxlatch.sequencer import core_step
from oxlatch.vocabulary import STATE_NAMES
from oxlatch_sim.proof.explore_core import DIGEST_MASK, Space, check_words, name_of, row_of
from oxlatch_sim.proof.explore_inputs import Letter
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.explore_words import BOOT, CORE_KEPT, GHOST, LATCH, STATE

Key = tuple[int, ...]
Progress = Callable[[int, int, int], None]  # states known, states expanded, transitions

CHUNK = 64  # states a worker takes at a time
WORDS = 4


@dataclass
class Seen:
    """What the transitions showed: reasons, changes of state, lamp patterns."""

    reasons: list[int] = field(default_factory=lambda: [0] * WORDS)
    edges: set[tuple[int, int]] = field(default_factory=set)
    looks: set[tuple[int, int, int, int]] = field(default_factory=set)

    def add(self, other: "Seen") -> None:
        """Take over what another part of the exploration saw."""
        for word in range(WORDS):
            self.reasons[word] |= other.reasons[word]
        self.edges |= other.edges
        self.looks |= other.looks


class FastSpace(Space):
    """The space of `explore_core` with loading and packing in the interpreter's own C."""

    def __init__(self, small: Small) -> None:
        super().__init__(small)
        self._fixed = {name: 0 for name, count in CORE_WORDS if count == 1}
        self._kept = attrgetter(*CORE_KEPT)
        self.seen = Seen()

    def pack(self, boot: int, ghost: int) -> Key:
        """The tuple of the state in normal form."""
        g = self.gate
        kept: Key = self._kept(self.core)
        if self.small.stages == 1:
            return (*kept, boot, ghost, g.away_n, g.idle, self.core.tail[0], g.stage[0])
        pairs: list[int] = []
        for i in range(self.small.stages):
            pairs += (self.core.tail[i], g.stage[i])
        return (*kept, boot, ghost, g.away_n, g.idle, *pairs)

    def expand(self, key: Key) -> Iterator[tuple[Key, str]]:
        """Every transition of one state, letter by letter: (state after, broken claim or "")."""
        s, g, out, c, seen = self.core, self.gate, self.out, self.c, self.seen
        words = s.__dict__
        loaded = dict(self._fixed)
        loaded.update(zip(CORE_KEPT, key))
        stages = self.small.stages
        tail = [*key[GHOST + 3 :: 2], 0, 0, 0, 0]
        word = [*key[GHOST + 4 :: 2], 0, 0, 0, 0]
        away_n, idle = key[GHOST + 1], key[GHOST + 2]
        before = key[STATE]
        reasons, edges, looks = seen.reasons, seen.edges, seen.looks
        del tail[stages + 4 :], word[stages + 4 :]
        for letter in self.inputs.letters(key):
            words.update(loaded)
            s.tail = tail[:4]
            g.stage = word[:4]
            g.away_n = away_n
            g.idle = idle
            if letter.preset:
                words.update(letter.preset)
            core_step(s, letter.v, c)
            gate_step(g, s, letter.v, c, out)
            reasons[0] |= s.why0
            reasons[1] |= s.why1
            reasons[2] |= s.why2
            reasons[3] |= s.why3
            edges.add((before, s.state))
            looks.add((s.state, s.latch > 2, s.why3 & TIME_SOON_UP, s.why3 > 0))
            yield self.judge(key, letter.v)


@dataclass
class Breach:
    """A broken claim: the state before, the letter, the claim's name."""

    claim: str
    state: int
    letter: int


@dataclass
class Exploration:
    """The result: `order` holds every state, `parents` how each was first reached (state, letter)."""

    small: Small
    order: list[Key] = field(default_factory=list)
    parents: list[tuple[int, int]] = field(default_factory=list)
    transitions: int = 0
    depth: int = 0
    seconds: float = 0.0
    digest: str = ""
    complete: bool = False
    breaches: dict[str, Breach] = field(default_factory=dict)
    seen: Seen = field(default_factory=Seen)

    @property
    def rate(self) -> float:
        """Transitions per second of wall clock."""
        return self.transitions / self.seconds if self.seconds else 0.0

    def path_to(self, number: int) -> list[tuple[int, int]]:
        """The shortest way to a state from a reset: (state before, letter) per tick."""
        way = []
        while self.parents[number][0] >= 0:
            way.append(self.parents[number])
            number = self.parents[number][0]
        return way[::-1]

    def count_by_state(self) -> dict[str, int]:
        """Explored states per state of the controller."""
        counts = dict.fromkeys(STATE_NAMES, 0)
        for key in self.order:
            counts[STATE_NAMES[key[STATE]]] += 1
        return counts


class _Worker:
    """Expands states; remembers what it has handed out, so that each new state travels once."""

    def __init__(self, small: Small) -> None:
        self.space = FastSpace(small)
        self.names: dict[Key, bytes] = {}

    def expand(self, first: int, keys: list[Key]) -> tuple[list[tuple[Key, int, int]], int, int, list[Breach]]:
        """New states with their parents, number of transitions, digest share, breaches."""
        names = self.names
        fresh: list[tuple[Key, int, int]] = []
        breaches: list[Breach] = []
        transitions = total = 0
        for number, key in enumerate(keys, start=first):
            if key not in names:
                names[key] = name_of(key)
            row = []
            for letter, (after, claim) in enumerate(self.space.expand(key)):
                name = names.get(after)
                if name is None:
                    name = names[after] = name_of(after)
                    fresh.append((after, number, letter))
                    claim = claim or check_words(after)
                row.append(name)
                if claim and not any(b.claim == claim for b in breaches):
                    breaches.append(Breach(claim, number, letter))
            transitions += len(row)
            total += row_of(names[key], row)
        return fresh, transitions, total, breaches


_worker: _Worker | None = None


def _start_worker(small: Small) -> None:
    global _worker
    _worker = _Worker(small)


def _work(task: tuple[int, list[Key]]) -> tuple[Any, ...]:
    assert _worker is not None
    answer = (*_worker.expand(*task), _worker.space.seen)
    _worker.space.seen = Seen()
    return answer


def explore(
    small: Small, workers: int = 1, limit: int | None = None, progress: Progress | None = None
) -> Exploration:
    """Breadth first to a fixpoint, or until `limit` transitions are done after a whole level.

    The result does not depend on `workers`.
    """
    started = time.perf_counter()
    found = Exploration(small)
    for key in Space(small).initial():
        found.order.append(key)
        found.parents.append((-1, -1))
    place = {key: number for number, key in enumerate(found.order)}
    if workers == 1:
        _start_worker(small)
        _levels(found, place, lambda tasks: map(_work, tasks), limit, progress)
    else:
        with get_context("fork").Pool(workers, _start_worker, (small,)) as pool:
            _levels(found, place, lambda tasks: pool.imap(_work, tasks), limit, progress)
    found.seconds = time.perf_counter() - started
    return found


def _levels(
    found: Exploration,
    place: dict[Key, int],
    run: Callable[[list[tuple[int, list[Key]]]], Iterable[tuple[Any, ...]]],
    limit: int | None,
    progress: Progress | None,
) -> None:
    """Expand level after level; within one, states keep the order in which one process would find them."""
    done = total = 0
    while done < len(found.order) and (limit is None or found.transitions < limit):
        end = len(found.order)
        tasks = [(at, found.order[at : min(at + CHUNK, end)]) for at in range(done, end, CHUNK)]
        level: dict[Key, tuple[int, int]] = {}
        for fresh, transitions, share, breaches, seen in run(tasks):
            found.transitions += transitions
            total += share
            found.seen.add(seen)
            for key, *parent in fresh:
                if key not in place:
                    level[key] = min(level.get(key, (end, 0)), (parent[0], parent[1]))
            for breach in breaches:
                found.breaches.setdefault(breach.claim, breach)
            if progress:
                progress(end + len(level), end, found.transitions)
        for key, parent in sorted(level.items(), key=lambda item: item[1]):
            place[key] = len(found.order)
            found.order.append(key)
            found.parents.append(parent)
        found.depth += 1
        done = end
    found.digest = f"{total & DIGEST_MASK:016x}"
    found.complete = done == len(found.order)


def letter_of(space: Space, found: Exploration, state: int, letter: int) -> Letter:
    """The letter that a (state, letter) pair of a path means."""
    chosen: Letter = space.inputs.letters(found.order[state])[letter]
    return chosen


__all__ = ["BOOT", "LATCH", "Breach", "Exploration", "FastSpace", "Seen", "explore", "letter_of"]
