"""The exhaustive argument: every state of the running code after sense, for every verdict it can tell apart.

`explore` runs breadth first to a fixpoint, on one process or several, with the same result to the last digit:
states in the order of discovery, the first way to each of them, the first breach of every claim, and what
was seen on the way. The step and the alphabet are those of `explore_core`, which MicroPython runs too.
"""

import time
from collections.abc import Callable, Iterable, Iterator
from multiprocessing import get_context
from operator import attrgetter
from typing import Any

from oxlatch.core import CORE_WORDS
from oxlatch.vocabulary import STAGES_MAX
from oxlatch_sim.proof.explore_claims import NAMES, PAST_WORDS
from oxlatch_sim.proof.explore_core import DIGEST_MASK, Space, check_words, explored_tick, name_of, row_of
from oxlatch_sim.proof.explore_frontier import ColumnWorker
from oxlatch_sim.proof.explore_inputs import Letter
from oxlatch_sim.proof.explore_result import LOOK_MASKS, Answer, Breach, Exploration, Key, Seen
from oxlatch_sim.proof.explore_small import USUAL, Small
from oxlatch_sim.proof.explore_words import BOOT, CORE_KEPT, GATE, LATCH, PAST, PER_STAGE, STAGES, STATE

Progress = Callable[[int, int, int], None]  # states known, states expanded, transitions


class FastSpace(Space):
    """The space of `explore_core` with loading and packing in the interpreter's own C."""

    def __init__(self, small: Small) -> None:
        super().__init__(small)
        self._fixed = {name: USUAL.get(name, 0) for name, count in CORE_WORDS if count == 1}
        self._kept = attrgetter(*CORE_KEPT)
        self._past = attrgetter(*PAST_WORDS)
        self.seen = Seen()

    def pack(self) -> Key:
        """The tuple of the state in normal form."""
        g, p, tail = self.gate, self.past, self.core.tail
        head = (*self._kept(self.core), self.found.boot, *self._past(p), g.away_n, g.idle)
        if self.small.stages == 1:
            return (*head, tail[0], g.stage[0], p.age[0], p.alone[0])
        rows: list[int] = []
        for i in range(self.small.stages):
            rows += (tail[i], g.stage[i], p.age[i], p.alone[i])
        return (*head, *rows)

    def expand(self, key: Key) -> Iterator[tuple[Key, int]]:
        """Every transition of one state, letter by letter: (state after, number of a broken claim or 0)."""
        s, g, p, out, found, small, seen = self.core, self.gate, self.past, self.out, self.found, self.small, self.seen
        core, past = s.__dict__, p.__dict__
        loaded = dict(self._fixed)
        loaded.update(zip(CORE_KEPT, key))
        loaded_past = dict(zip(PAST_WORDS, key[PAST:]))
        spare = [0] * (STAGES_MAX - small.stages)
        tail, word, age, alone = ([*key[STAGES + i :: PER_STAGE], *spare] for i in range(PER_STAGE))
        before = key[STATE]
        reasons, edges, looks = seen.reasons, seen.edges, seen.looks
        for letter in self.inputs.letters(key):
            core.update(loaded)
            s.tail = tail[:]
            g.stage, g.away_n, g.idle = word[:], key[GATE], key[GATE + 1]
            past.update(loaded_past)
            p.age, p.alone = age[:], alone[:]
            found.boot = key[BOOT]
            if letter.preset:
                core.update(letter.preset)
            explored_tick(s, g, p, letter.v, small, out, found)
            whys = s.why0, s.why1, s.why2, s.why3
            for at, why in enumerate(whys):
                reasons[at] |= why
            edges.add((before, s.state))
            looks.add((s.state, s.latch > 2, *[whys[at] & mask > 0 for at, mask in LOOK_MASKS]))
            yield self.pack(), found.claim


class RunningWorker:
    """Expands states by running the code; remembers what it has handed out, so that each new state travels once."""

    def __init__(self, small: Small) -> None:
        self.space = FastSpace(small)
        self.seen = self.space.seen
        self.names: dict[Key, bytes] = {}

    def expand(self, first: int, keys: list[Key]) -> Answer:
        """The transitions of these states, numbered from `first`."""
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
                if claim and not any(b.claim == NAMES[claim] for b in breaches):
                    breaches.append(Breach(NAMES[claim], number, letter))
            transitions += len(row)
            total += row_of(names[key], row)
        return fresh, transitions, total, breaches


WAYS: dict[str, tuple[Callable[[Small], RunningWorker | ColumnWorker], int]] = {
    "running": (RunningWorker, 64),
    "columns": (ColumnWorker, 1024),
}
"""The running code itself, or its translation on columns: worker, and how many states it takes at a time."""

_worker: RunningWorker | ColumnWorker | None = None


def _start_worker(small: Small, way: str) -> None:
    global _worker
    _worker = WAYS[way][0](small)


def _work(task: tuple[int, list[Key]]) -> tuple[Any, ...]:
    assert _worker is not None
    return (*_worker.expand(*task), _worker.seen.taken())


def explore(
    small: Small,
    workers: int = 1,
    limit: int | None = None,
    progress: Progress | None = None,
    way: str = "running",
    to_first_breach: bool = False,
) -> Exploration:
    """Breadth first to a fixpoint, or until `limit` transitions are done or a claim is broken, after a whole level.

    The result depends neither on `workers` nor on the `way`, one of WAYS.
    """
    started = time.perf_counter()
    found = Exploration(small)
    for key in Space(small).initial():
        found.order.append(key)
        found.parents.append((-1, -1))
    chunk = WAYS[way][1]
    if workers == 1:
        _start_worker(small, way)
        _levels(found, chunk, lambda tasks: map(_work, tasks), limit, progress, to_first_breach)
    else:
        with get_context("fork").Pool(workers, _start_worker, (small, way)) as pool:
            _levels(found, chunk, lambda tasks: pool.imap(_work, tasks), limit, progress, to_first_breach)
    found.seconds = time.perf_counter() - started
    return found


def _levels(
    found: Exploration,
    chunk: int,
    run: Callable[[list[tuple[int, list[Key]]]], Iterable[tuple[Any, ...]]],
    limit: int | None,
    progress: Progress | None,
    to_first_breach: bool,
) -> None:
    """Expand level after level; within one, states keep the order in which one process would find them."""
    done = total = 0
    place = {key: number for number, key in enumerate(found.order)}
    while done < len(found.order) and (limit is None or found.transitions < limit):
        if to_first_breach and found.breaches:
            break
        end = len(found.order)
        tasks = [(at, found.order[at : min(at + chunk, end)]) for at in range(done, end, chunk)]
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
