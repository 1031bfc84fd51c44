"""A worker of the exploration on columns: whole pieces of the frontier in, new states and digest out."""

from collections.abc import Iterator
from hashlib import sha256

import numpy as np
from numpy.typing import NDArray

from oxlatch_sim.proof.explore_claims import NAMES
from oxlatch_sim.proof.explore_columns import Group, Layout, LetterTable, StateProgram, look_of
from oxlatch_sim.proof.explore_core import name_of
from oxlatch_sim.proof.explore_inputs import Inputs
from oxlatch_sim.proof.explore_result import WORDS, Answer, Breach, Key, Seen
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.explore_words import STATE

Index = NDArray[np.intp]
Lanes = NDArray[np.int32]
Marks = NDArray[np.uint64]

ROWS_MAX = 1 << 16  # transitions evaluated at a time
MULTIPLIER = np.uint64(0x9E3779B97F4A7C15)  # odd, its bits without a pattern
FOLD = np.uint64(29)


class TwoStatesOneMark(RuntimeError):
    """Two states share a 64-bit mark, so they cannot be told apart by it."""


def marks_of(lanes: Lanes) -> Marks:
    """64 bits that stand for a state among the explored ones; that no two share them is checked."""
    marks = np.zeros(len(lanes), np.uint64)
    for lane in lanes.T:
        marks ^= lane.astype(np.uint64)
        marks *= MULTIPLIER
        marks ^= marks >> FOLD
    return marks


class KnownStates:
    """The states a worker has met: lanes and eight-byte name of each, found by mark."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._place: dict[int, int] = {}
        self._lanes = np.zeros((1024, layout.lanes), np.int32)
        self._names = np.zeros(1024, np.uint64)

    def __len__(self) -> int:
        return len(self._place)

    def places(self, marks: Marks, lanes: Lanes) -> Index:
        """Place of each of these distinct states; those not met before are taken in."""
        known = self._place.get
        places = np.array([known(mark, -1) for mark in marks.tolist()], dtype=np.intp)
        fresh = np.flatnonzero(places < 0)
        first = len(self)
        places[fresh] = np.arange(first, first + len(fresh))
        self._grow(first + len(fresh))
        self._lanes[first : first + len(fresh)] = lanes[fresh]
        names = b"".join(map(name_of, self._layout.keys(lanes[fresh])))
        self._names[first : first + len(fresh)] = np.frombuffer(names, np.uint64)
        self._place.update(zip(marks[fresh].tolist(), places[fresh].tolist()))
        return places

    def keys(self, places: Index) -> list[Key]:
        """States by place."""
        return self._layout.keys(self._lanes[places])

    def names(self, places: Index) -> Marks:
        """Names of states by place."""
        return self._names[places]

    def check(self, places: Index, lanes: Lanes) -> None:
        """That every row is the state its mark found."""
        for known, lane in zip(self._lanes.T, lanes.T):
            if not np.array_equal(known[places], lane):
                raise TwoStatesOneMark("two states share a mark; take another multiplier")

    def _grow(self, wanted: int) -> None:
        have = len(self._names)
        if wanted > have:
            more = max(have, wanted - have)
            self._lanes = np.concatenate((self._lanes, np.zeros((more, self._layout.lanes), np.int32)))
            self._names = np.concatenate((self._names, np.zeros(more, np.uint64)))


class ColumnWorker:
    """Expands pieces of the frontier, and gives out each new state once."""

    def __init__(self, small: Small) -> None:
        self.seen = Seen()
        self._small = small
        self.inputs = Inputs(small)
        self._layout = Layout(small)
        self._table = LetterTable()
        self._programs: dict[int, StateProgram] = {}
        self._known = KnownStates(self._layout)

    def expand(self, first: int, keys: list[Key]) -> Answer:
        """The transitions of these states, numbered from `first`."""
        born = len(self._known)
        fresh: dict[int, tuple[int, int]] = {}  # place -> first parent among these states
        breaches: list[tuple[int, int, str]] = []
        transitions = total = 0
        for numbers, letters in self._groups(keys):
            group = self._group([keys[n] for n in numbers], letters)
            lanes, broken = self._run(keys[numbers[0]][STATE], group)
            of_row, places, firsts = self._take(lanes)
            names = self._known.names(of_row)
            for n in np.flatnonzero(places >= born).tolist():
                at, letter = group.origin(int(firsts[n]))
                way = first + numbers[at], letter
                place = int(places[n])
                fresh[place] = min(fresh.get(place, way), way)
            for row, name in broken:
                at, letter = group.origin(row)
                breaches.append((first + numbers[at], letter, name))
            transitions += len(names)
            for n, start, end in zip(numbers, group.starts.tolist(), group.ends.tolist()):
                row_bytes = name_of(keys[n]) + names[start:end].tobytes()
                total += int.from_bytes(sha256(row_bytes).digest()[:8], "big")
        born_since = np.arange(born, len(self._known))
        new = [(key, *fresh[place]) for place, key in enumerate(self._known.keys(born_since), start=born)]
        return new, transitions, total, [Breach(name, state, letter) for state, letter, name in sorted(breaches)]

    def successors(self, keys: list[Key]) -> list[set[Key]]:
        """Every state that each of these states can reach in one tick."""
        found: list[set[Key]] = [set() for _ in keys]
        for numbers, letters in self._groups(keys):
            group = self._group([keys[n] for n in numbers], letters)
            lanes, _ = self._run(keys[numbers[0]][STATE], group)
            of_row, _, _ = self._take(lanes)
            for n, start, end in zip(numbers, group.starts.tolist(), group.ends.tolist()):
                found[n].update(self._known.keys(np.unique(of_row[start:end])))
        return found

    def _groups(self, keys: list[Key]) -> Iterator[tuple[list[int], list[tuple[Index, Index]]]]:
        """States of one state of the controller together, in order, up to ROWS_MAX transitions."""
        groups: dict[int, tuple[list[int], list[tuple[Index, Index]]]] = {}
        sizes: dict[int, int] = {}
        for n, key in enumerate(keys):
            letters = self._table.rows(self.inputs.letters(key))
            numbers, rows = groups.setdefault(key[STATE], ([], []))
            numbers.append(n)
            rows.append(letters)
            sizes[key[STATE]] = sizes.get(key[STATE], 0) + len(letters[0])
            if sizes[key[STATE]] > ROWS_MAX:
                yield groups.pop(key[STATE])
                sizes[key[STATE]] = 0
        yield from groups.values()

    def _group(self, keys: list[Key], letters: list[tuple[Index, Index]]) -> Group:
        words = np.ascontiguousarray(np.array(keys, dtype=np.int32).T)
        counts = np.array([len(vectors) for vectors, _ in letters], np.intp)
        vectors, presets = (np.concatenate(rows) for rows in zip(*letters))
        return Group(dict(zip(self._layout.names, words)), counts, vectors, presets)

    def _run(self, state: int, group: Group) -> tuple[Lanes, list[tuple[int, str]]]:
        """Lanes of the states after, and the first row that breaks each claim; keeps what was seen."""
        program = self._programs.get(state)
        if program is None:
            program = self._programs[state] = StateProgram(self._small, self._layout, state)
        found = program.run(group, self._table)
        seen = self.seen
        for word in range(WORDS):
            seen.reasons[word] |= int(np.bitwise_or.reduce(found[f"why{word}"]))
        for word in np.flatnonzero(np.bincount(found["look"])).tolist():
            look = look_of(word)
            seen.looks.add(look)
            seen.edges.add((state, look[0]))
        claims = found["claim"]
        broken = []
        if claims.any():
            for claim in range(1, len(NAMES)):
                rows = np.flatnonzero(claims == claim)
                if len(rows):
                    broken.append((int(rows[0]), NAMES[claim]))
        lanes = [found[f"lane{i}"].astype(np.int32) for i in range(self._layout.lanes)]
        return np.stack(lanes, axis=1), broken

    def _take(self, lanes: Lanes) -> tuple[Index, Index, Index]:
        """Place of every row's state; place and first row of each distinct one."""
        marks = marks_of(lanes)
        order = np.argsort(marks)
        ranked = marks[order]
        begins = np.flatnonzero(np.concatenate(([True], ranked[1:] != ranked[:-1])))
        firsts = np.minimum.reduceat(order, begins)
        places = self._known.places(ranked[begins], lanes[firsts])
        of_row = np.empty(len(marks), np.intp)
        of_row[order] = np.repeat(places, np.diff(np.append(begins, len(marks))))
        self._known.check(of_row, lanes)
        return of_row, places, firsts
