"""The same exploration on columns: one array per word, one row per transition.

The explored tick - the running code, its claims, its normal form - is translated from its source once per state
of the controller, and evaluated on all letters of many states at once. States, letters, their order, and so the
digest are those of the interpreted exploration; a test holds the two side by side.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from oxlatch.core import CoreState
from oxlatch.gate import GateState
from oxlatch.reasons import WORDS
from oxlatch.sense import VERDICT_NAMES, Verdicts
from oxlatch_sim.proof.explore_claims import AGE_MAX, ALONE_MAX, RELEASED_MAX, Past
from oxlatch_sim.proof.explore_core import Driven, Found, explored_tick
from oxlatch_sim.proof.explore_inputs import Letter
from oxlatch_sim.proof.explore_result import LOOK_MASKS, Look
from oxlatch_sim.proof.explore_small import FREE_ALWAYS, SLOW, USUAL, Small
from oxlatch_sim.proof.explore_words import key_names
from oxlatch_sim.proof.symbolic_ranges import word_range
from oxlatch_sim.proof.translate import Translator
from oxlatch_sim.proof.translate_cells import cells_of
from oxlatch_sim.proof.translate_columns import Column, ColumnProgram, Picked
from oxlatch_sim.proof.translate_terms import Space, Value, bounds

Index = NDArray[np.intp]
Key = tuple[int, ...]
Range = tuple[int, int]

LANE_BITS = 31
BLOCK_ROWS = 8192
STATE_BITS = 4
KEPT_OR_PRESET = (*SLOW, "timer", "inject", "push_why", "vent_n")
PRESETS = (*FREE_ALWAYS, *KEPT_OR_PRESET)
KEEP = -1  # in the table of letters: the state's own value
# Words whose normal form, or whose owner, knows a narrower range than the table of ranges.
NARROW = {
    "core.cause0": 1, "found.boot": 255, "past.purge_n": 15, "past.bench_n": 15, "past.shown": 3, "past.allowed": 15, "past.ox": 15,
    "past.contact": 2, "past.released": RELEASED_MAX, "past.age": AGE_MAX, "past.alone": ALONE_MAX,
}  # fmt: skip


class OutOfRange(ValueError):
    """A word left the bits laid out for it; the exploration on columns cannot go on."""


class Layout:
    """Where each word of a state stands in a few lanes of 31 bits."""

    def __init__(self, small: Small) -> None:
        self.names = key_names(small.stages)
        self.places: list[tuple[int, int, int]] = []  # lane, shift, largest value
        lane = used = 0
        for name in self.names:
            high = self._largest(name, small)
            bits = high.bit_length()
            if used + bits > LANE_BITS:
                lane, used = lane + 1, 0
            self.places.append((lane, used, (1 << bits) - 1))
            used += bits
        self.lanes = lane + 1
        self.largest = {name: place[2] for name, place in zip(self.names, self.places)}

    def _largest(self, name: str, small: Small) -> int:
        plain = name.partition("[")[0]
        if plain in NARROW:
            return NARROW[plain]
        if plain.startswith("past."):
            return 1
        return word_range(name, small.c)[1]

    def terms(self, space: Space, store: dict[str, Value]) -> tuple[list[Value], Value]:
        """The lanes as terms, and whether some word leaves its bits."""
        lanes: list[Value] = [0] * self.lanes
        outside: Value = False
        for name, (lane, shift, mask) in zip(self.names, self.places):
            value = store[name]
            low, high = bounds(value)
            if low < 0 or high > mask:
                inside = space.both(space.less(-1, value), space.less(value, mask + 1))
                outside = space.either(outside, space.negation(inside))
                value = space.bit_and(value, mask)
            lanes[lane] = space.bit_or(lanes[lane], space.shift_left(value, shift))
        return lanes, outside

    def keys(self, lanes: NDArray[np.int32]) -> list[Key]:
        """States from their lanes, one row each."""
        words = [(lanes[:, lane] >> shift & mask).tolist() for lane, shift, mask in self.places]
        return list(zip(*words))


class Table:
    """Rows of small integers under fixed names, read by the column."""

    def __init__(self, names: tuple[str, ...]) -> None:
        self.names = names
        self._rows: list[tuple[int, ...]] = []
        self._columns: dict[str, NDArray[np.int32]] = {}

    def add(self, row: tuple[int, ...]) -> int:
        """Take in a row; returns its number."""
        self._rows.append(row)
        self._columns = {}
        return len(self._rows) - 1

    def column(self, name: str) -> NDArray[np.int32]:
        """One word of every row."""
        if not self._columns:
            table = np.array(self._rows, dtype=np.int32).T
            self._columns = dict(zip(self.names, np.ascontiguousarray(table)))
        return self._columns[name]


class LetterTable:
    """Letters as pairs of row numbers: one row per verdict vector, one per set of preset words."""

    def __init__(self) -> None:
        self.verdicts = Table(tuple(f"v.{name}" for name in VERDICT_NAMES))
        self.presets = Table(tuple(f"core.{name}" for name in PRESETS))
        self._vectors: dict[int, int] = {}
        self._preset_rows: dict[int, int] = {}
        self._lists: dict[int, tuple[Index, Index]] = {}

    def rows(self, letters: list[Letter]) -> tuple[Index, Index]:
        """Row numbers of the vectors and of the presets of a list of letters, which must stay as it is."""
        known = self._lists.get(id(letters))
        if known is None:
            vectors = [self._vector(letter.v) for letter in letters]
            presets = [self._preset(letter.preset) for letter in letters]
            known = self._lists[id(letters)] = np.array(vectors, np.intp), np.array(presets, np.intp)
        return known

    def _vector(self, v: Verdicts) -> int:
        number = self._vectors.get(id(v))
        if number is None:
            words = vars(v)
            number = self._vectors[id(v)] = self.verdicts.add(tuple(words[name] for name in VERDICT_NAMES))
        return number

    def _preset(self, preset: dict[str, int]) -> int:
        number = self._preset_rows.get(id(preset))
        if number is None:
            row = tuple(preset.get(name, KEEP if name in KEPT_OR_PRESET else USUAL.get(name, 0)) for name in PRESETS)
            number = self._preset_rows[id(preset)] = self.presets.add(row)
        return number


@dataclass
class Group:
    """States of one state of the controller with their letters, flat: row by row."""

    words: dict[str, NDArray[np.int32]]  # one value per state
    counts: Index  # letters of each state
    of_vector: Index  # row -> verdicts
    of_preset: Index  # row -> preset words

    def __post_init__(self) -> None:
        self.ends: Index = np.cumsum(self.counts)
        self.starts: Index = self.ends - self.counts
        self.of_state: Index = np.repeat(np.arange(len(self.counts), dtype=np.intp), self.counts)

    def origin(self, row: int) -> tuple[int, int]:
        """Which state and which of its letters a row is."""
        at = int(self.of_state[row])
        return at, row - int(self.starts[at])

    def columns(self, table: LetterTable) -> dict[str, Picked]:
        """Every word that goes into the tick."""
        columns = {name: Picked(values, self.of_state) for name, values in self.words.items()}
        columns |= {name: Picked(table.verdicts.column(name), self.of_vector) for name in table.verdicts.names}
        for name in table.presets.names:
            values = table.presets.column(name)
            if name in columns:  # a slow clock: what the letter presets, or else what the state holds
                preset = values[self.of_preset]
                columns[name] = Picked(np.where(preset == KEEP, self.words[name][self.of_state], preset))
            else:
                columns[name] = Picked(values, self.of_preset)
        return columns


@dataclass
class StateProgram:
    """The explored tick for one state of the controller, translated for the ranges its words have shown so far."""

    small: Small
    layout: Layout
    state: int
    ranges: dict[str, Range] = field(default_factory=dict)
    program: ColumnProgram | None = None

    def run(self, group: Group, table: LetterTable) -> dict[str, Column]:
        """Every row of the group through the tick: lanes, claim, reasons, look."""
        columns = group.columns(table)
        if self._widened(columns, group) or self.program is None:
            self.program = self._translate()
        found = self.program.run(columns)
        if found["outside"].any():
            raise OutOfRange(f"a word of a state after {self.state} leaves the bits laid out for it")
        return found

    def _widened(self, columns: dict[str, Picked], group: Group) -> bool:
        """Whether a word shows a value beyond its range; such a word gets all the values it can have."""
        used = np.unique(group.of_vector), np.unique(group.of_preset)
        widened = False
        for name, column in columns.items():
            values = column.values
            if column.index is group.of_vector:
                values = values[used[0]]
            elif column.index is group.of_preset:
                values = values[used[1]]
            low, high = int(values.min()), int(values.max())
            known = self.ranges.get(name)
            if known is None:
                self.ranges[name] = (low, high) if low == high else (0, self._most(name, high))
            elif low < known[0] or high > known[1]:
                self.ranges[name] = 0, self._most(name, max(high, known[1]))
                widened = True
        return widened

    def _most(self, name: str, high: int) -> int:
        return self.layout.largest.get(name, (1 << high.bit_length()) - 1)

    def _translate(self) -> ColumnProgram:
        space = Space()
        walker = Translator(space)
        parts = {
            "core": CoreState(), "gate": GateState(), "past": Past(), "v": Verdicts(), "small": self.small,
            "out": Driven(), "found": Found(),
        }  # fmt: skip
        fixed = {cell: (value, value) for name, part in parts.items() for cell, value in cells_of(name, part)}

        def value_of(cell: str) -> Value:
            return space.variable(cell, *self.ranges.get(cell, fixed[cell]))

        operands = [walker.place(name, part, value_of) for name, part in parts.items()]
        walker.call(explored_tick, operands)
        after = walker.store
        lanes, outside = self.layout.terms(space, after)
        outputs: dict[str, Value] = {f"lane{i}": value for i, value in enumerate(lanes)}
        outputs |= {f"why{i}": after[f"core.why{i}"] for i in range(WORDS)}
        outputs |= {"claim": after["found.claim"], "outside": outside, "look": _look(space, after)}
        return ColumnProgram(outputs, BLOCK_ROWS)


def _look(space: Space, after: dict[str, Value]) -> Value:
    """What the lamps can show of the tick in one small integer, see `look_of`."""
    word = after["core.state"]
    parts = [space.less(2, after["core.latch"])]
    parts += [space.truth(space.bit_and(after[f"core.why{at}"], mask)) for at, mask in LOOK_MASKS]
    for at, part in enumerate(parts):
        word = space.bit_or(word, space.shift_left(space.number(part), STATE_BITS + at))
    return word


def look_of(word: int) -> Look:
    """State, latch above 2, and whether anything stands in each of LOOK_MASKS."""
    flags = word >> STATE_BITS
    return word & (1 << STATE_BITS) - 1, *(bool(flags >> at & 1) for at in range(1 + len(LOOK_MASKS)))
