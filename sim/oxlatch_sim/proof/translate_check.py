"""The formula against the running code, on random states, settings and inputs.

Each row is a whole tick: `Controller.tick` is run, and the bit-vector formula of the same tick is evaluated
on the same words. Every word of sense, core, gate and every driven output must agree. Rows are drawn so
that decisions go both ways: thresholds are met within one, counters stand at their limits, words are dense
and sparse.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oxlatch.controller import Controller
from oxlatch.sense_extras import (
    AIR_LEAST_DK,
    AIR_MOST_DK,
    BARO_LEAST_DAPA,
    BARO_MOST_DAPA,
    SAT_FIRST_DK,
    SAT_LAST_DK,
)
from oxlatch.settings import FIELDS, Settings
from oxlatch.vocabulary import FIT_ALL, RAW_COUNT
from oxlatch_sim.proof.symbolic_ranges import CORE, SENSE, word_range
from oxlatch_sim.proof.translate_solver import FormulaProgram, Formulas
from oxlatch_sim.proof.translate_terms import Space
from oxlatch_sim.proof.translate_tick import WHOLE_TICK, translate_steps
from oxlatch_sim.state_names import STATE_WORD_NAMES

Column = NDArray[np.int64]

ROWS = 2048
OUTPUTS = ("out.ox", "out.fuel", "out.bits")
FIELD_NAMES = tuple(field[0] for field in FIELDS)
DEFAULTS = {field[0]: field[4] for field in FIELDS}
ONE_BIT = ("core.cause0", "core.cause1")  # only such words have a text to show
NEAR = {  # raw sample: settings it is compared with
    "raw[4]": ("throttle_half_mv", "throttle_low_mv", "throttle_drop_mv", "throttle_full_mv", "sensor_low_mv"),
    "raw[5]": ("rpm_cut", "rpm_min", "rpm_max"),
    "raw[6]": ("pulse_age_ms",),
    "raw[7]": (
        "supply_empty_mv",
        "supply_cut_mv",
        "supply_leave_mv",
        "supply_permit_mv",
        "supply_top_mv",
        "line_thin_mv",
    ),
    "raw[8]": ("fuel_fail_mv", "fuel_cut_mv", "fuel_low_mv", "fuel_top_mv", "fuel_high_mv", "fuel_over_mv"),
    "raw[9]": ("fuel_fail_mv", "fuel_low_mv", "sensor_low_mv", "sensor_high_mv"),
    "raw[10]": ("bus_hard_mv", "bus_cut_mv", "bus_permit_mv", "bus_surge_mv"),
    "raw[11]": ("rail_dead_mv", "rail_live_mv"),
    "raw[15]": ("bottle_top_dk", "bottle_red_dk"),
    "raw[18]": ("outlet_cold_dk",),
    "raw[19]": ("outlet_cold_dk",),
    "raw[20]": ("sensor_low_mv", "airspeed_top_mv"),
}
INSIDE = {  # raw samples that mean something only within these limits: skin, barometer, outside air
    "raw[15]": (SAT_FIRST_DK, SAT_LAST_DK),
    "raw[16]": (BARO_LEAST_DAPA, BARO_MOST_DAPA),
    "raw[17]": (AIR_LEAST_DK, AIR_MOST_DK),
}


@dataclass(frozen=True)
class Agreement:
    """How many ticks were compared, which words differed, and how many decisions went both ways."""

    checked: int
    differing: dict[str, int]
    decisions: int
    decided_both_ways: int


class Draw:
    """Random rows of every word, reproducible from the seed."""

    def __init__(self, seed: int) -> None:
        self._random = np.random.default_rng(seed)
        self._limits = {f"sense.{n}": x for n, x in SENSE.items()} | {f"core.{n}": x for n, x in CORE.items()}

    def columns(self, names: list[str], rows: int) -> dict[str, Column]:
        """One column per name, and one per settings field ("c.tail_ticks")."""
        drawn: dict[str, Column] = {}
        wild = self._random.random(rows) < 0.25
        for name in FIELD_NAMES:
            low, high = word_range(f"c.{name}")
            drawn[f"c.{name}"] = np.where(wild, self._between(low, high, rows), DEFAULTS[name])
        fitted = self._between(0, FIT_ALL, rows)
        drawn["c.fitted"] = np.where(self._random.random(rows) < 0.5, fitted, FIT_ALL)
        for name in names:
            drawn[name] = self._word(name, drawn, rows)
        return drawn

    def _between(self, low: int, high: int, rows: int) -> Column:
        return self._random.integers(low, high, size=rows, endpoint=True, dtype=np.int64)

    def _word(self, name: str, drawn: dict[str, Column], rows: int) -> Column:
        low, high = word_range(name)
        if name in ONE_BIT:
            bits = high.bit_length()
            return np.where(self._random.random(rows) < 0.5, 0, 1 << self._between(0, bits - 1, rows))
        plain = self._between(low, high, rows)
        if name in NEAR:
            fields = np.array([drawn[f"c.{field}"] for field in NEAR[name]])
            chosen = fields[self._between(0, len(fields) - 1, rows), np.arange(rows)] + self._between(-1, 1, rows)
            plain = np.where(self._random.random(rows) < 0.8, np.maximum(chosen, 0), plain)
        if name in INSIDE:
            first, last = INSIDE[name]
            plain = np.where(self._random.random(rows) < 0.7, self._between(first - 1, last + 1, rows), plain)
        if name == "raw[0]":
            plain = np.where(self._random.random(rows) < 0.9, self._between(0, 5, rows), plain)
        limit = self._limits.get(name.partition("[")[0])
        if isinstance(limit, str):
            top = drawn[f"c.{limit}"]
            kind = self._between(0, 5, rows)
            plain = np.select(
                [kind == 0, kind == 1, kind == 2], [top, np.maximum(top - 1, 0), 0], np.minimum(plain, top)
            )
        elif high >= 15:
            kind = self._between(0, 3, rows)
            sparse = plain & self._between(0, high, rows) & self._between(0, high, rows)
            plain = np.select([kind == 0, kind == 1], [0, np.minimum(sparse, high)], plain)
        return plain


def check_translation(
    count: int, seed: int = 1, space: Callable[[], Space] = Space, told: Callable[[int], None] | None = None
) -> Agreement:
    """Compare at least `count` ticks. `space` is another maker of terms when a wrong one is to be caught."""
    names = [*STATE_WORD_NAMES, *(f"raw[{i}]" for i in range(RAW_COUNT))]
    after = translate_steps(WHOLE_TICK, word_range, space())
    compared = [*STATE_WORD_NAMES, *OUTPUTS]
    formulas = Formulas()
    program = FormulaProgram([formulas.of(after[name]) for name in compared])
    draw, differing, checked = Draw(seed), dict[str, int](), 0
    ways: list[tuple[bool, bool]] = []
    while checked < count:
        columns = draw.columns(names, ROWS)
        found = program.run(columns)
        ran = np.array(list(_run_rows(columns, names)), dtype=np.int64).T
        for name, formula_says, code_says in zip(compared, found, ran, strict=True):
            wrong = int(np.count_nonzero(formula_says != code_says))
            if wrong:
                differing[name] = differing.get(name, 0) + wrong
        seen = program.truths(columns)
        ways = [(a or c, b or d) for (a, b), (c, d) in zip(seen, ways or seen, strict=True)]
        checked += ROWS
        if told is not None:
            told(checked)
    return Agreement(checked, differing, len(ways), sum(a and b for a, b in ways))


def _run_rows(columns: dict[str, Column], names: list[str]) -> Iterator[list[int]]:
    """Run the controller on every row; yield its state words and driven outputs."""
    controller = Controller(Settings())
    state = list(zip(*(columns[name].tolist() for name in STATE_WORD_NAMES), strict=True))
    raws = list(zip(*(columns[name].tolist() for name in names if name.startswith("raw")), strict=True))
    settings = list(zip(*(columns[f"c.{name}"].tolist() for name in FIELD_NAMES), strict=True))
    words = [0] * len(STATE_WORD_NAMES)
    out = controller.out
    for before, raw, fields in zip(state, raws, settings, strict=True):
        vars(controller.settings).update(zip(FIELD_NAMES, fields, strict=True))
        controller.load_words(before)
        controller.verdicts.extras = controller.verdicts.row = controller.verdicts.outlets = 0  # unless fitted
        controller.tick(raw)
        controller.state_words(words)
        yield [*words, out.ox, out.fuel, out.bits]
