"""Firmware and reference together, with every letter tried from every state met.

A purposeful stream leads through all kinds of states. In each state not met before (what the firmware remembers is what
a state is) every letter of an alphabet is tried for one tick: each thing the crew can do, on a sound aircraft,
and each single fault. Both must answer alike on every edge.
"""

from dataclasses import dataclass, field
from itertools import product
from random import Random
from typing import Any

from oxlatch import vocabulary as w
from oxlatch.controller import STATE_WORDS, Controller
from oxlatch_sim.proof.lockstep import COMPARED, EPISODE_TICKS, SEED_STRIDE, core_tick, reached
from oxlatch_sim.proof.lockstep_outcome import Mismatch
from oxlatch_sim.proof.reference import Reference
from oxlatch_sim.proof.verdict_streams import FLOW_FAULTS, VerdictStream, quiet, small_settings

OTHER_FAULTS: tuple[tuple[str, int], ...] = (
    ("block", w.BLOCK_FALLING),
    ("shut", w.SHUT_STUCK),
    ("short", 1),
    ("stray", 1),
    ("time", w.TIME_LATE),
    ("time", w.TIME_HARD),
    ("contact", w.CONTACT_FAULT),
    ("contact_stuck", 1),
    ("purge_held", 1),
    ("line", w.LINE_DEAD),
    ("line_lost", 1),
    ("throttle_low_seen", 0),
    ("missing", w.COIL_PURGE),
    ("missing", w.COIL_MASTER_OX),
    ("bench", 1),
    ("outlets", w.OUTLETS_COLD),
    ("row", w.ROWS - 1),
    *(("extras", 1 << bit) for bit in range(w.EXTRA_BITS)),
)
KINDS = len(w.STATE_NAMES)
RELEASED, PUSHED = (w.CONTACT_OPEN, w.THROTTLE_HOLD), (w.CONTACT_CLOSED, w.THROTTLE_FULL)

Letter = dict[str, int]


@dataclass
class Walk:
    """Edges compared, states met per kind, pairs of kinds met, and the first difference if any."""

    edges: int = 0
    by_state: dict[str, int] = field(default_factory=dict)
    moves: set[tuple[str, str]] = field(default_factory=set)
    mismatch: Mismatch | None = None


def letters(stages: int) -> list[Letter]:
    """What may happen in a tick: every act of the crew, and every single fault in the states it may meet."""
    every = (1 << stages) - 1
    hands = [
        {"master": m, "contact": c, "throttle": t, "purge": p, "ack": a, "sel": s}
        for m, (c, t), (p, a), s in product((0, 1), (RELEASED, PUSHED), ((0, 0), (1, 0), (0, 1)), (every, 1))
    ]
    held = {"master": 1, "contact": w.CONTACT_CLOSED, "throttle": w.THROTTLE_FULL, "sel": every}
    let_go = {"master": 1, "contact": w.CONTACT_OPEN, "throttle": w.THROTTLE_HOLD, "sel": every}
    faults = [{**way, name: level} for name, level in (*FLOW_FAULTS, *OTHER_FAULTS) for way in (held, let_go)]
    parked = {"master": 0, "rpm": w.RPM_STOPPED, "sel": every, "ack": 1}
    service = [{**parked, "service": asked} for asked in (0, 1, 2)]
    ground = {"master": 1, "bench": 1, "rpm": w.RPM_STOPPED, "sel": every}
    bench = [
        {**ground, "line": line, "contact": c, "throttle": t, "purge": p, "ack": a}
        for line, (c, t), (p, a) in product((w.LINE_DEAD, w.LINE_GOOD), (RELEASED, PUSHED), ((0, 0), (1, 0), (0, 1)))
    ]
    vent = [{**ground, "bench": 0, "line": level, "purge": 1} for level in (w.LINE_EMPTY, w.LINE_DEAD, w.LINE_WEAK)]
    return [*hands, *faults, *service, *bench, *vent, {**held, "proofs": 0}]


def _apply(letter: Letter, v: Any, reference: Reference) -> None:
    """Verdicts of a tick: the aircraft follows what was driven, the letter says what does not."""
    quiet(v)
    ox, fuel, bits = reference.ox, reference.fuel, reference.bits
    v.rail = w.RAIL_LIVE if bits & w.OUT_RUN else w.RAIL_DEAD
    v.proof = ox if letter.get("proofs", 1) else 0
    v.current = ox | fuel << w.COIL_FUEL_SHIFT | (w.COIL_PURGE if bits & w.OUT_PURGE else 0)
    v.current |= w.COIL_MASTER_FUEL if bits & w.OUT_MASTER_FUEL else 0
    v.current |= w.COIL_MASTER_OX if bits & w.OUT_MASTER_OX else 0
    commanded = v.current
    for name, level in letter.items():
        if name != "proofs":
            setattr(v, name, level)
    v.missing &= commanded


def _edges(controller: Any, reference: Reference, alphabet: list[Letter], walked: Walk) -> None:
    """Try every letter from the state both are in, and come back to it."""
    words: list[int] = [0] * STATE_WORDS
    controller.state_words(words)
    kept, kind = reference.snapshot(), reference.state_name
    driven = (reference.ox, reference.fuel, reference.bits)
    for letter in alphabet:
        _apply(letter, controller.verdicts, reference)
        core_tick(controller)
        name = reference.tick(controller.verdicts)
        walked.edges += 1
        differs = {n: (a(controller), b(reference)) for n, (a, b) in COMPARED.items() if a(controller) != b(reference)}
        if differs:
            walked.mismatch = Mismatch(walked.edges, differs, [{"letter": letter, "from": kind, "to": name}])
            return
        walked.moves.add((kind, name))
        controller.load_words(words)
        reference.restore(kept)
        reference.ox, reference.fuel, reference.bits = driven


def walk(limit: int, seed: int = 1) -> Walk:
    """Meet states along streams, `limit` of each kind at most, and try all letters from each."""
    walked = Walk()
    seen: set[tuple[int, ...]] = set()
    number = seed * SEED_STRIDE
    while walked.mismatch is None and (len(walked.by_state) < KINDS or min(walked.by_state.values()) < limit):
        number += 1
        _walk_episode(number, limit, seen, walked)
    return walked


def _walk_episode(number: int, limit: int, seen: set[tuple[int, ...]], walked: Walk) -> None:
    settings: Any = small_settings(Random(number))
    controller: Any = Controller(settings)
    reference = Reference(settings)
    stream = VerdictStream(settings, number, controller.verdicts)
    alphabet = [
        letter
        for letter in letters(settings.stages)
        if not stream.sound & letter.keys() and not letter.get("extras", 0) & ~stream.extras
    ]
    words: list[int] = [0] * STATE_WORDS
    for _ in range(EPISODE_TICKS):
        stream.step(*reached(reference))
        core_tick(controller)
        kind = reference.tick(controller.verdicts)
        controller.state_words(words)
        key = (number, *words)
        if walked.by_state.get(kind, 0) >= limit or key in seen:
            continue
        seen.add(key)
        walked.by_state[kind] = walked.by_state.get(kind, 0) + 1
        verdicts = dict(vars(controller.verdicts))
        _edges(controller, reference, alphabet, walked)
        if walked.mismatch is not None:
            return
        vars(controller.verdicts).update(verdicts)
