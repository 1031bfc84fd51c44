"""A reduced model of the controller after sense, small enough for a general model checker.

It is the firmware's own tick with one stage, short timers and a short alphabet; nothing is written twice. Our
explorer runs it like any other `Small`. `relation` gives the same tick as data, translated from the same source: the
words of a state, their values at a reset, and every word after a tick as a term over the words and the inputs.
What the alphabet does not name stands where all is well. The tests compare the two on every reachable state
and letter.
"""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from inspect import getsource
from itertools import product

from oxlatch.core import CoreState
from oxlatch.gate import GateState
from oxlatch.sense import Verdicts
from oxlatch.vocabulary import FIT_BOTTLE_TEMPERATURE, RAIL_DEAD, RAIL_LIVE, RPM_LOW, SUPPLY_CUT
from oxlatch_sim.proof.explore_claims import Past
from oxlatch_sim.proof.explore_columns import NARROW
from oxlatch_sim.proof.explore_core import Driven, Found, Space, explored_tick
from oxlatch_sim.proof.explore_hands import BETWEEN, LET_GO, OFF, PUSHED, joined
from oxlatch_sim.proof.explore_inputs import Inputs, Letter
from oxlatch_sim.proof.explore_small import FREE_ALWAYS, USUAL, Small
from oxlatch_sim.proof.explore_words import key_names
from oxlatch_sim.proof.mutant_source import applied, module_of
from oxlatch_sim.proof.symbolic_ranges import Range, word_range
from oxlatch_sim.proof.translate import Translator
from oxlatch_sim.proof.translate_cells import cells_of
from oxlatch_sim.proof.translate_terms import Space as Terms
from oxlatch_sim.proof.translate_terms import Value

Words = dict[str, int]

# Timers that differ from those of the whole exploration: a lead that can be a tick too short, a tail to close in.
TICKS = {"lead_ticks": 2, "lead_limit_ticks": 4, "tail_ticks": 2, "run_off_ticks": 3, "run_ticks": 4, "run_warn_ticks": 3}
# Longer ones, for measurements.
LONGER = TICKS | {
    "lead_ticks": 3, "lead_limit_ticks": 8, "tail_ticks": 5, "run_off_ticks": 6, "run_ticks": 12, "run_warn_ticks": 9,
}  # fmt: skip

# Each input with its levels: words of the core set before the tick, and verdicts that differ from all well.
INPUTS: tuple[tuple[str, tuple[tuple[str, Words, Words], ...]], ...] = (
    ("contact", (("open", {}, LET_GO), ("closed", {}, PUSHED), ("between", {}, BETWEEN))),
    ("master", (("on", {}, {}), ("off", {}, OFF))),
    (
        "oxidizer",
        (
            ("rail dead", {}, {"rail": RAIL_DEAD}),
            ("rail live", {}, {"rail": RAIL_LIVE}),
            ("rail live, proved", {}, {"rail": RAIL_LIVE, "proof": 1, "current": 1}),
        ),
    ),
    (
        "event",
        (
            ("nothing", {}, {}),
            ("purge pressed", {}, {"purge": 1}),
            ("purge held", {"purge_press_n": 2}, {"purge": 1}),
            ("acknowledged", {}, {"ack": 1}),
            ("line lost", {}, {"line_lost": 1}),
            ("supply low", {}, {"supply": SUPPLY_CUT}),
            ("engine slow", {}, {"rpm": RPM_LOW}),
        ),
    ),
)
STILL = {name: USUAL.get(name, 0) for name in FREE_ALWAYS} | {"sel_last": 1}
"""Words of the core that are inputs to the exploration; here they stand still unless a level names them."""

FITTED = FIT_BOTTLE_TEMPERATURE - 1  # every input that flows need, none of those that may be added


@dataclass(frozen=True)
class Bug:
    """A bug to seed: the claim of our explorer and the property of the checker that it breaks, and how it is made.

    The firmware guards most things twice, so one change alone breaks little: a bug takes every guard away at once.
    """

    name: str
    words: str
    claim: str
    asserted: str
    changes: tuple[tuple[str, str, str], ...]  # module, text, text instead


BUGS = (
    Bug(
        "short lead",
        "sequencer and gate count the lead one tick short",
        "I1",
        "lead_short",
        (
            ("flow", "s.lead_n >= c.lead_ticks", "s.lead_n + 1 >= c.lead_ticks"),
            ("gate", "on_n >= lead_ticks", "on_n + 1 >= lead_ticks"),
        ),
    ),
    Bug(
        "proof not asked for",
        "neither sequencer nor gate waits for the oxidizer to be proved",
        "I2",
        "fuel_alone",
        (
            ("flow", "proved and s.lead_n >= c.lead_ticks", "s.lead_n >= c.lead_ticks"),
            ("gate", "ask_fuel and fuel_ok and on_n", "ask_fuel and on_n"),
        ),
    ),
    Bug(
        "purge in flow",
        "the purge button is heard during a flow, and the gate no longer minds",
        "I4",
        "purge_in_flow",
        (
            (
                "purge",
                "    if not v.purge:",
                "    if v.purge and s.state >= LEAD_IN:\n        s.ask_bits |= OUT_PURGE\n    if not v.purge:",
            ),
            ("gate", "and not bits & OUT_PURGE", ""),
        ),
    ),
)


@contextmanager
def seeded(bug: Bug | None) -> Iterator[None]:
    """Run and translate the firmware with a bug in it. Raises ValueError when its text is not there exactly once."""
    texts: dict[str, str] = {}
    for module, old, new in bug.changes if bug else ():
        text = texts.get(module) or getsource(module_of(module))
        if text.count(old) != 1:
            raise ValueError(f"cannot seed {module}.py: {old!r} stands there {text.count(old)} times, not once")
        texts[module] = text.replace(old, new)
    with ExitStack() as stack:
        for module, text in texts.items():
            stack.enter_context(applied(module, text))
        yield


def picks() -> Iterator[tuple[int, ...]]:
    """Every letter as the number of a level for each input, in the order of the explorer's letters."""
    return product(*(range(len(levels)) for _name, levels in INPUTS))


def reduced(ticks: Words = TICKS) -> Small:
    """The model's settings and alphabet; TICKS or LONGER."""
    small = Small(1, reduced=True, ticks=ticks, fitted=FITTED)
    chosen = [[levels[at] for (_name, levels), at in zip(INPUTS, pick)] for pick in picks()]
    small.alphabet = tuple(
        (joined(STILL, *(preset for _, preset, _ in row)), joined(*(verdicts for _, _, verdicts in row)))
        for row in chosen
    )
    small.boots = (0,)
    return small


@dataclass(frozen=True)
class Relation:
    """One tick of the reduced model as data. Words are named as the translated source calls them."""

    ranges: dict[str, Range]  # of every word of a state
    reset: dict[str, int]
    after: dict[str, Value]  # every word of a state and every driven word, after one tick
    lead_ticks: int


DRIVEN = ("out.ox", "out.fuel", "out.bits")


def pick_name(name: str) -> str:
    """The variable that holds the number of an input's level."""
    return f"pick.{name}"


def relation(small: Small) -> Relation:
    """The explored tick, translated: running code, what the claims remember, normal form.

    Raises NotInSubset when the source leaves the translator's subset, KeyError for a word of unknown range.
    """
    terms = Terms()
    walker = Translator(terms)
    names = key_names(small.stages)
    ranges = {name: _range_of(name, small) for name in names}
    read = _words_read(terms, small)
    samples = {
        "core": CoreState(), "gate": GateState(), "past": Past(), "v": Verdicts(), "small": small, "out": Driven(),
        "found": Found(),
    }  # fmt: skip
    fixed = {cell: value for name, sample in samples.items() for cell, value in cells_of(name, sample)}

    def value_of(cell: str) -> Value:
        if cell in ranges:
            return terms.variable(cell, *ranges[cell])
        return read.get(cell, fixed[cell])

    walker.call(explored_tick, [walker.place(name, sample, value_of) for name, sample in samples.items()])
    if walker.duties:
        raise ValueError(f"{walker.duties[0].where}: the intervals do not show it")
    (reset,) = Space(small).initial()
    after = {cell: walker.store[cell] for cell in (*names, *DRIVEN)}
    return Relation(ranges, dict(zip(names, reset)), after, small.c.lead_ticks)


def _range_of(name: str, small: Small) -> Range:
    plain = name.partition("[")[0]
    if plain in NARROW:
        return 0, NARROW[plain]
    return (0, 1) if plain.startswith("past.") else word_range(name, small.c)


def _words_read(terms: Terms, small: Small) -> dict[str, Value]:
    """Every word a letter sets; as a choice by the number of a level where an input's levels differ in it."""
    letters = Inputs(small).letters(Space(small).initial()[0])
    cells = {pick: _cells_of_letter(letter) for pick, letter in zip(picks(), letters)}
    first = cells[(0,) * len(INPUTS)]
    found: dict[str, Value] = dict(first)
    for at, (name, levels) in enumerate(INPUTS):
        picked = terms.variable(pick_name(name), 0, len(levels) - 1)
        for number in range(1, len(levels)):
            alone = cells[tuple(number if i == at else 0 for i in range(len(INPUTS)))]
            for cell, value in alone.items():
                if value != first[cell]:
                    found[cell] = terms.choose(terms.equal(picked, number), value, found[cell])
    return found


def _cells_of_letter(letter: Letter) -> Words:
    cells = {f"v.{name}": value for name, value in vars(letter.v).items()}
    return cells | {f"core.{name}": value for name, value in letter.preset.items()}

