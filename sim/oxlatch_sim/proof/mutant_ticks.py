"""Single ticks from explored states: a snapshot, a verdict vector, and the snapshot and outputs after it.

Chosen from the exploration so that every different sight (change of state, reasons, latch, cause, outputs, lamps)
is kept once per state it starts from. Streams of verdicts reach few of them within a bearable time.
"""

from dataclasses import dataclass
from typing import Any

from oxlatch.controller import Controller
from oxlatch.core import CORE_WORDS, INJECT_ABSENT, INJECT_FITTED
from oxlatch.sense import VERDICT_NAMES
from oxlatch.settings import Settings
from oxlatch.vocabulary import FIT_CURRENTS, RAIL_DEAD, STAGES_MAX, STATE_NAMES, WAKE
from oxlatch_sim.proof.explore import Exploration, FastSpace, Key, explore
from oxlatch_sim.proof.explore_audit import domains
from oxlatch_sim.proof.explore_inputs import GOOD, Letter, joined
from oxlatch_sim.proof.explore_small import FREE_ALWAYS, Small
from oxlatch_sim.proof.explore_words import BOOT, CORE_KEPT, LATCH, STATE, unpack_state
from oxlatch_sim.proof.lockstep import core_tick
from oxlatch_sim.proof.mutant_recordings import shown

WORDS = tuple(name for name, count in CORE_WORDS if count == 1)
VARIED_PER_KIND = 3
ASKED = [CORE_KEPT.index(name) for name in ("ask_ox", "ask_fuel", "opening", "lead_n", "classify0", "purge_valid")]
HANDS = ("sel", "master", "contact", "ack", "service", "proof", "current", "purge")
SHOWN = 19  # length of what `shown` answers
LONGER = {
    "wake_ticks": 3, "contact_open_ticks": 6, "release_ticks": 7, "disarm_ticks": 3, "master_off_ticks": 2, "ready_ticks": 2,
    "push_judge_ticks": 2, "purge_press_ticks": 2, "purge_ticks": 2, "purge_max_ticks": 4, "purge_good_ticks": 2,
    "classify_ticks": 2, "purge_void_ticks": 2, "gap_ticks": 2, "lead_ticks": 2, "lead_limit_ticks": 4, "tail_ticks": 2,
}  # fmt: skip


@dataclass
class Tick:
    """Words before, verdicts, and everything after."""

    words: dict[str, Any]
    gate: tuple[list[int], int, int]
    verdicts: dict[str, int]
    expected: tuple[Any, ...] = ()


@dataclass
class TickRun:
    """Ticks under one settings record."""

    settings: Settings
    ticks: list[Tick]

    def differs(self) -> bool:
        """Whether any tick now ends otherwise."""
        controller = Controller(self.settings)
        return any(run_tick(controller, tick) != tick.expected for tick in self.ticks)


def run_tick(controller: Controller, tick: Tick) -> tuple[Any, ...]:
    """Run one tick from its snapshot; all that it shows and all words after it."""
    core, gate = controller.core, controller.gate
    vars(core).update(tick.words)
    core.tail = list(tick.words["tail"])
    gate.stage, gate.away_n, gate.idle = list(tick.gate[0]), tick.gate[1], tick.gate[2]
    vars(controller.verdicts).update(tick.verdicts)
    controller.out.shown_state = -1
    core_tick(controller)
    after = vars(core)
    return (*shown(controller), *[after[name] for name in WORDS], *core.tail, *gate.stage, gate.away_n, gate.idle)


def tick_runs() -> list[TickRun]:
    """Chosen ticks of one stage, exact, of the first part of three, and of one with timers of two ticks and more."""
    spaces = (
        explore(Small(1)),
        explore(Small(3, reduced=True), limit=400_000),
        explore(Small(1, reduced=True, ticks=LONGER), limit=300_000),
        explore(Small(1, reduced=True, ticks={"fitted": 0xFFFF ^ FIT_CURRENTS})),
    )
    return [*[_ticks(found) for found in spaces], apart_run()]


def _ticks(found: Exploration) -> TickRun:
    small = found.small
    space = FastSpace(small)
    controller = Controller(small.c)
    run = TickRun(small.c, [])
    known: set[tuple[Any, ...]] = set()
    levels = [(name, level) for name, values in domains(small.stages).items() for level in values]
    levels += [("boot", 1 << bit) for bit in range(8)]
    kinds: dict[tuple[int, ...], int] = {}
    for key in _one_per_kind(found):
        letters = sorted(space.inputs.letters(key), key=_faults)
        kind = key[STATE], key[BOOT], key[LATCH]
        kinds[kind] = kinds.get(kind, 0) + 1
        hands: set[tuple[int, ...]] = set()
        for letter in letters:
            near = vars(letter.v)
            hand = tuple(near[name] for name in HANDS)
            varied: list[tuple[str, int]] = [("", 0)]
            if kinds[kind] <= VARIED_PER_KIND and hand not in hands:
                hands.add(hand)
                varied += levels
            for name, level in varied:
                memory = len(run.ticks) & 1
                verdicts = joined(near, {name: level}) if name else near
                tick = _tick(controller, key, letter.preset, verdicts, memory, small.stages)
                sight = (*key[:3], *tick.expected[: SHOWN if name else None], memory)
                asked = (key[STATE], key[LATCH], name, level, *hand)
                if sight not in known or asked not in known:
                    known.update((sight, asked))
                    run.ticks.append(tick)
    return run


def _one_per_kind(found: Exploration) -> list[Key]:
    """The first explored state of every kind; what is asked of the stages makes kinds too."""
    kinds: dict[tuple[int, ...], Key] = {}
    for key in found.order:
        kinds.setdefault((key[STATE], key[BOOT], key[LATCH], *[key[at] for at in ASKED]), key)
    return list(kinds.values())


def _faults(letter: Letter) -> int:
    """How far a letter is from a good tick."""
    return sum(value != GOOD.get(name, 0) for name, value in vars(letter.v).items() if name not in HANDS)


def apart_run() -> TickRun:
    """Ticks that no exploration holds: a state word outside its range, the strap at start-up."""
    run = TickRun(Settings(), [])
    run.settings.wake_ticks = 1
    controller = Controller(run.settings)
    straps = [{"inject": 1, "rail": RAIL_DEAD, "rpm": rpm, "master": on} for rpm in range(6) for on in (0, 1)]
    verdicts = [joined(GOOD, one, {"inject": inject}) for one in straps for inject in (0, 1)]
    for state, timer in ((len(STATE_NAMES), 0), (-1, 0), (WAKE, 1)):
        for seen in verdicts:
            words: dict[str, Any] = dict.fromkeys(WORDS, 0) | {"state": state, "timer": timer, "tail": [0] * STAGES_MAX}
            whole = {name: seen.get(name, 0) for name in VERDICT_NAMES}
            tick = Tick(words, ([0] * STAGES_MAX, 0, 0), whole)
            tick.expected = run_tick(controller, tick)
            run.ticks.append(tick)
    return run


def _tick(
    controller: Controller, key: Any, preset: dict[str, int], verdicts: dict[str, int], memory: int, stages: int
) -> Tick:
    core, gate = controller.core, controller.gate
    unpack_state(key, core, gate, stages)
    words = {name: getattr(core, name) for name in WORDS} | dict.fromkeys(FREE_ALWAYS, 0) | preset
    for name in ("stalled", "stuck_before", "no_show"):
        words[name] = words[name] or memory
    if memory and words["inject"] == INJECT_ABSENT:
        words["inject"] = INJECT_FITTED
    whole = {name: verdicts.get(name, 0) for name in VERDICT_NAMES}
    tick = Tick(words | {"tail": list(core.tail)}, (list(gate.stage), gate.away_n, gate.idle), whole)
    tick.expected = run_tick(controller, tick)
    return tick
