"""The guard against an empty argument: every state, change of state, reason and lamp pattern has a witness.

The exploration itself witnesses states and changes of state. Reasons and lamps that differ only in what is
shown share a letter, so they are witnessed by single deviations: from a few explored states of every kind, every
level of every verdict in turn. What must be seen is a list of its own, written from the behaviour and not from
the code.
"""

from dataclasses import dataclass
from typing import Any

from oxlatch import reasons
from oxlatch.controller import Controller
from oxlatch.core import INJECT_ABSENT, INJECT_FITTED
from oxlatch.lamps import lamps_step
from oxlatch.sequencer import core_step
from oxlatch.settings import Settings
from oxlatch.vocabulary import (
    FIT_RPM,
    GAP,
    HELD,
    LAMP_TONE,
    LEAD_IN,
    PURGING,
    READY,
    REST,
    RUN,
    RUN_DOWN,
    SERVICE,
    STATE_NAMES,
    TRIP,
    WAITING,
    WAKE,
)
from oxlatch_sim.observation import LAMP_WORDS, lamps
from oxlatch_sim.proof.explore import Exploration, FastSpace
from oxlatch_sim.proof.explore_audit import domains
from oxlatch_sim.proof.explore_inputs import joined
from oxlatch_sim.proof.explore_small import BOOTS
from oxlatch_sim.proof.explore_words import BOOT, LATCH, STATE, unpack_state
from oxlatch_sim.reason_names import reasons_by_name, standing

LEGAL = (
    (WAKE, (WAKE, REST, HELD, TRIP)),
    (REST, (REST, WAITING, SERVICE, TRIP)),
    (HELD, (HELD, REST, SERVICE, TRIP)),
    (WAITING, (WAITING, PURGING, READY, REST, TRIP)),
    (PURGING, (PURGING, WAITING, REST, TRIP)),
    (READY, (READY, WAITING, LEAD_IN, REST, TRIP)),
    (LEAD_IN, (LEAD_IN, RUN, RUN_DOWN, TRIP)),
    (RUN, (RUN, RUN_DOWN, TRIP)),
    (RUN_DOWN, (RUN_DOWN, GAP, REST, TRIP)),
    (GAP, (GAP, WAITING, REST, TRIP)),
    (TRIP, (TRIP, GAP, HELD, REST, SERVICE)),
    (SERVICE, (SERVICE, WAKE)),
)
"""Every change of state the behaviour knows, staying put included."""

APART = {
    "STATE_CORRUPT": "needs a state word outside its range, which no run reaches; shown from such a word",
    "INPUT_NOT_FITTED": "needs settings without a required input; shown with such settings",
}
"""Reasons outside the explored settings, and how each is witnessed instead."""

STATES_PER_KIND = 6
LETTERS_PER_STATE = 4


@dataclass
class Witnesses:
    """What was seen and what of the lists was not."""

    reasons: list[str]
    lamps: list[str]
    unvisited: list[str]
    unexpected: list[str]
    shown: int

    @property
    def complete(self) -> bool:
        """Whether nothing is missing and nothing unexpected was seen."""
        return not self.unvisited and not self.unexpected


def witnesses(found: Exploration) -> Witnesses:
    """Judge the exploration's own sightings and those of single deviations against the lists."""
    seen = [0, 0, 0, 0]
    patterns: set[int] = set()
    shown = _show_deviations(found, seen, patterns) + _show_apart(seen, patterns)
    for word, bits in enumerate(found.seen.reasons):
        seen[word] |= bits
    names = standing((seen[0], seen[1], seen[2], seen[3]))
    counts = found.count_by_state()
    legal = {(before, after) for before, targets in LEGAL for after in targets}
    unvisited = [f"state {name}" for name, count in counts.items() if not count]
    unvisited += [f"transition {_edge(edge)}" for edge in sorted(legal - found.seen.edges)]
    unvisited += [f"reason {name}" for name in reasons_by_name() if name not in names]
    lit = sorted({pattern_words(word) for word in patterns})
    unvisited += [f"lamps {pattern}" for pattern in expected_patterns() if pattern not in lit]
    unexpected = [f"transition {_edge(edge)}" for edge in sorted(found.seen.edges - legal)]
    return Witnesses(names, lit, unvisited, unexpected, shown)


def _edge(edge: tuple[int, int]) -> str:
    return f"{STATE_NAMES[edge[0]]} -> {STATE_NAMES[edge[1]]}"


def pattern_words(word: int) -> str:
    """A packed lamp word as text, lamps that are off left out."""
    lit = [f"{name} {level}" for name, level in lamps(word).items() if level != LAMP_WORDS[0]]
    return ", ".join(lit) or "dark"


def expected_patterns() -> list[str]:
    """Every lamp pattern the behaviour names."""
    return [
        "dark",
        "check on",
        "check blink",
        "check blink, purge on",
        "ready on",
        "ready on, check on, tone on",
        "flow on",
        "flow on, check on, tone on",
        "flow blink, check on, tone on",
        "stop on",
        "stop blink",
        "ready on, flow on, check on, stop on, purge on",
    ]


def _show_deviations(found: Exploration, seen: list[int], patterns: set[int]) -> int:
    """Step single deviations from explored states of every kind; returns how many ticks were run."""
    small = found.small
    space = FastSpace(small)
    controller = Controller(small.c)
    levels = [(name, level) for name, values in domains(small.stages).items() for level in values]
    boots = [("boot", 1 << bit) for bit in range(8)]
    shown = 0
    for key in chosen_states(found, STATES_PER_KIND):
        letters = space.inputs.letters(key)
        for letter in letters if key[STATE] == READY else letters[:: max(1, len(letters) // LETTERS_PER_STATE)]:
            near = vars(letter.v)
            for memory in (0, 1, 2):
                for name, level in levels + boots if key in found.order[: len(BOOTS)] else levels:
                    v = space.inputs.vector(joined(near, {name: level}))
                    unpack_state(key, controller.core, controller.gate, small.stages)
                    _preset(controller.core, letter.preset, memory)
                    _tick(controller, v, seen, patterns)
                    if controller.core.push_why:  # a refused push is told from the next tick on
                        _tick(controller, v, seen, patterns)
                    shown += 1
    return shown


def chosen_states(found: Exploration, per_kind: int) -> list[Any]:
    """A few states of every kind, spread over the order of discovery."""
    groups: dict[tuple[int, int, int], list[Any]] = {}
    for key in found.order:
        groups.setdefault((key[STATE], key[BOOT], key[LATCH]), []).append(key)
    chosen = []
    for _, group in sorted(groups.items()):
        chosen += group[:: max(1, len(group) // per_kind)][:per_kind]
    return chosen


def _preset(core: Any, preset: dict[str, int], memory: int) -> None:
    """The letter's words; `memory` 1: whatever is remembered and shown, the strap; 2: arm time runs out."""
    for name, value in preset.items():
        setattr(core, name, value)
    core.stalled = core.stuck_before = core.no_show = memory & 1
    if memory == 2 and core.arm_left:
        core.arm_left = 1
    if memory == 1:
        core.purge_flaw = 1
        if core.arm_left:
            core.arm_left = 2
        if core.inject == INJECT_ABSENT:
            core.inject = INJECT_FITTED


def _tick(controller: Controller, v: Any, seen: list[int], patterns: set[int]) -> None:
    core_step(controller.core, v, controller.settings)
    controller.out.shown_state = -1
    lamps_step(controller.core, controller.out)
    core = controller.core
    for word, bits in enumerate((core.why0, core.why1, core.why2, core.why3)):
        seen[word] |= bits
    if core.inject != INJECT_FITTED:
        patterns.add(controller.out.lamps)


def _show_apart(seen: list[int], patterns: set[int]) -> int:
    """The reasons that need a broken state word, a refused push's word or other settings."""
    corrupt = Controller(Settings())
    corrupt.core.state = len(STATE_NAMES)
    _tick(corrupt, corrupt.verdicts, seen, patterns)
    bare = Settings()
    bare.fitted &= ~FIT_RPM
    resting = Controller(bare)
    resting.core.state = REST
    _tick(resting, resting.verdicts, seen, patterns)
    return 2


__all__ = ["APART", "LAMP_TONE", "LEGAL", "Witnesses", "reasons", "witnesses"]
