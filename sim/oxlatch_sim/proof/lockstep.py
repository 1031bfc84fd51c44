"""Run the firmware's core and the reference side by side and stop at the first difference.

Both get the same verdicts every tick. What is compared: state, requests, driven outputs, standing reasons,
latch, first cause, push, purge validity, lamps, text, and what the lockout memory must hold. A difference
comes with the ten ticks before it.
"""

import random
from collections import deque
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from typing import Any

from oxlatch.controller import Controller, core_step, gate_step, lamps_step
from oxlatch.reasons import INPUT_NOT_FITTED, WAITS_3
from oxlatch.settings import Settings
from oxlatch.vocabulary import STATE_NAMES, TRIP
from oxlatch_sim.proof.lockstep_outcome import HISTORY_TICKS, Mismatch, Outcome
from oxlatch_sim.proof.lockstep_parts import run_gate_episode, run_sense_episode
from oxlatch_sim.proof.reference import Reference
from oxlatch_sim.proof.reference_table import VERDICTS
from oxlatch_sim.proof.verdict_streams import VerdictStream, small_settings

EPISODE_TICKS = 2000
LOCKED_TICKS = 12  # an episode that has been locked this long has nothing more to say
USELESS_TICKS = 80  # and so has one for which an input is missing
CORRUPT_STATE = 77  # any number that is no state
CORRUPT_ONE_IN = 6_000
PART_SHARE = 10
SAME_SETTINGS = 8  # episodes in a row with the same settings
SEED_STRIDE = 1_000_003  # keeps the episodes of different seeds apart

Getter = Callable[[Any], Any]

# name: (of the controller, of the reference)
COMPARED: dict[str, tuple[Getter, Getter]] = {
    "state": (lambda k: k.core.state, lambda r: r.memory.state),
    "ask_ox": (lambda k: k.core.ask_ox, lambda r: r.ask_ox),
    "ask_fuel": (lambda k: k.core.ask_fuel, lambda r: r.ask_fuel),
    "ask_bits": (lambda k: k.core.ask_bits, lambda r: r.ask_bits),
    "ox": (lambda k: k.out.ox, lambda r: r.ox),
    "fuel": (lambda k: k.out.fuel, lambda r: r.fuel),
    "bits": (lambda k: k.out.bits, lambda r: r.bits),
    "why0": (lambda k: k.core.why0, lambda r: r.why0),
    "why1": (lambda k: k.core.why1, lambda r: r.why1),
    "why2": (lambda k: k.core.why2, lambda r: r.why2),
    "why3": (lambda k: k.core.why3, lambda r: r.why3),
    "latch": (lambda k: k.core.latch, lambda r: r.memory.latch),
    "cause": (lambda k: (k.core.cause0, k.core.cause1), lambda r: r.cause),
    "store": (lambda k: k.core.store, lambda r: r.store),
    "purge": (
        lambda k: k.core.purge_valid and k.core.purge_left,
        lambda r: r.memory.purge_ok and r.memory.purge_left,
    ),
    "budget": (lambda k: k.core.budget, lambda r: r.memory.budget),
    "coil_heat": (lambda k: k.core.coil_heat, lambda r: r.memory.coil_heat),
    "vented": (lambda k: k.core.vent_n, lambda r: r.memory.vented),
    "push": (lambda k: k.core.push, lambda r: r.memory.push),
    "latched": (lambda k: k.core.latched, lambda r: r.memory.latched),
    "lamps": (lambda k: k.out.lamps, lambda r: r.lamps),
    "text": (lambda k: k.out.text, lambda r: r.text),
}


# In the tick in which the state word is found corrupt there is no state to which reasons could belong.
CAUSE_OF_CORRUPTION = frozenset({"cause", "text"})  # nor does it matter afterwards which of them was the first
ON_CORRUPTION = frozenset({"state", "ask_ox", "ask_fuel", "ask_bits", "ox", "fuel", "bits", "latch", "store"})


def core_tick(controller: Controller) -> None:
    """One tick of the controller on the verdicts that are already in it: everything but sense."""
    core_step(controller.core, controller.verdicts, controller.settings)
    gate_step(controller.gate, controller.core, controller.verdicts, controller.settings, controller.out)
    lamps_step(controller.core, controller.out)


def reached(reference: Reference) -> tuple[int, int, int, int, int, int]:
    """What a stream is told: state, waits, what was driven, and the waits of the last word."""
    why3 = reference.why3 & WAITS_3
    return reference.memory.state, reference.why2, reference.ox, reference.fuel, reference.bits, why3


def compare(
    controller: Any,
    reference: Reference,
    step: Callable[[int, int, int, int, int, int], None],
    ticks: int,
    ignored: frozenset[str] = frozenset(),
) -> tuple[int, Mismatch | None]:
    """Drive both for up to `ticks` ticks; return ticks done and the first difference, if any.

    `step(state, waits, ox, fuel, bits, waits_3)` writes the next verdicts into `controller.verdicts`; `ignored` names entries of
    COMPARED to leave out.
    """
    pairs = [(name, *getters) for name, getters in COMPARED.items() if name not in ignored]
    before: deque[tuple[Any, ...]] = deque(maxlen=HISTORY_TICKS + 1)
    verdicts, memory = controller.verdicts, reference.memory
    locked = useless = 0
    for tick in range(ticks):
        step(*reached(reference))
        core_tick(controller)
        reference.tick(verdicts)
        checked = pairs
        if memory.corrupt_seen == memory.now:
            checked = [pair for pair in pairs if pair[0] in ON_CORRUPTION]
        elif memory.corrupt_seen >= 0:
            checked = [pair for pair in pairs if pair[0] not in CAUSE_OF_CORRUPTION]
        before.append((tick, memory.state, reference.ox, reference.fuel, reference.bits, *vars(verdicts).values()))
        for _name, of_controller, of_reference in checked:
            if of_controller(controller) != of_reference(reference):
                differs = {
                    name: (first(controller), second(reference))
                    for name, first, second in checked
                    if first(controller) != second(reference)
                }
                return tick + 1, Mismatch(tick, differs, _readable(before, verdicts))
        locked = locked + 1 if memory.latch == 4 and memory.state == TRIP else 0
        useless += reference.why2 & INPUT_NOT_FITTED != 0
        if locked > LOCKED_TICKS or useless > USELESS_TICKS:
            return tick + 1, None
    return ticks, None


def _readable(before: deque[tuple[Any, ...]], verdicts: Any) -> list[dict[str, Any]]:
    known = set(VERDICTS.values())
    names = ["tick", "state", "driven_ox", "driven_fuel", "driven_bits", *vars(verdicts)]
    rows = []
    for values in before:
        row = dict(zip(names, values, strict=True))
        row["state"] = STATE_NAMES[row["state"]]
        rows.append({name: value for name, value in row.items() if name in known or name in names[:5]})
    return rows


def run_episode(number: int, ignored: frozenset[str] = frozenset()) -> Outcome:
    """One episode: settings, stream and rare corruptions of the state word all follow from its number."""
    chance = random.Random(number)
    turn = number // SAME_SETTINGS
    settings: Settings = small_settings(random.Random(turn), turn)
    controller, reference = Controller(settings), Reference(settings)
    stream = VerdictStream(settings, number, controller.verdicts)

    def step(*reached: int) -> None:
        stream.step(*reached)
        if chance.randrange(CORRUPT_ONE_IN) == 0:
            controller.core.state = CORRUPT_STATE
            reference.memory.corrupt = 1
            reference.memory.corrupt_seen = reference.memory.now + 1

    done, found = compare(controller, reference, step, EPISODE_TICKS, ignored)
    outcome = Outcome(steps=done, episodes=1, hits=dict(zip(reference.rows, reference.hits, strict=True)))
    if found is not None:
        found.episode = number
        outcome.mismatches.append(found)
    return outcome


def run_lockstep(
    steps: int,
    seed: int = 1,
    ignored: frozenset[str] = frozenset(),
    stop_at: int = 1,
    progress: Callable[[int], None] | None = None,
) -> Outcome:
    """Episodes until `steps` ticks are done or `stop_at` differences are found."""
    outcome = Outcome()
    while outcome.steps < steps and len(outcome.mismatches) < stop_at:
        outcome.add(run_episode(seed * SEED_STRIDE + outcome.episodes, ignored))
        if progress is not None:
            progress(outcome.steps)
    return outcome


def run_share(steps: int, seed: int, ignored: frozenset[str] = frozenset()) -> Outcome:
    """One worker's part: the core for `steps` ticks, and a tenth of that each for gate and sense alone."""
    outcome = run_lockstep(steps, seed, ignored)
    for episode in (run_gate_episode, run_sense_episode):
        part, number = Outcome(), seed * SEED_STRIDE
        while part.steps < steps // PART_SHARE and not part.mismatches:
            part.add(episode(number))
            number += 1
        outcome.add(part)
    return outcome


def run_many(steps: int, workers: int, seed: int = 1, ignored: frozenset[str] = frozenset()) -> Outcome:
    """Core, gate and sense against the reference, spread over processes; every worker has a seed of its own."""
    outcome = Outcome()
    share = -(-steps // workers)
    if workers == 1:
        return run_share(share, seed, ignored)
    with ProcessPoolExecutor(max_workers=workers) as pool:
        for part in pool.map(run_share, [share] * workers, range(seed, seed + workers), [ignored] * workers):
            outcome.add(part)
    return outcome
