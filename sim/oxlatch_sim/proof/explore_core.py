"""The exploration itself: breadth first over the running code, to a fixpoint or a limit.

`Space` holds one controller after sense and steps it from any state on any letter. This file and those it
imports run under CPython and MicroPython alike; as a program it prints the digest that must be equal under
both:  python explore_core.py STAGES LIMIT
"""

import sys
from hashlib import sha256

from oxlatch.core import CoreState
from oxlatch.gate import GateState, gate_step
from oxlatch.sequencer import core_step
from oxlatch_sim.proof.explore_claims import NAMES, WORDS, Past, check_tick, follow
from oxlatch_sim.proof.explore_inputs import Inputs
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.explore_words import (
    BOOT,
    normalise,
    pack_state,
    unknown_words,
    unpack_past,
    unpack_state,
)

WORD_MAX = 1 << 30
DIGEST_MASK = (1 << 64) - 1


class Driven:
    """What the gate writes."""

    def __init__(self):
        self.ox = 0
        self.fuel = 0
        self.bits = 0


class Found:
    """What a tick showed beside the state: the broken claim or 0, and the start-up finding that still matters."""

    def __init__(self):
        self.claim = 0
        self.boot = 0


class Space:
    """States, letters and the step between them."""

    def __init__(self, small):
        if unknown_words():
            raise ValueError("the exploration does not know the words " + ", ".join(unknown_words()))
        self.small = small
        self.c = small.c
        self.inputs = Inputs(small)
        self.core = CoreState()
        self.gate = GateState()
        self.past = Past()
        self.out = Driven()
        self.found = Found()

    def initial(self):
        """The states after a reset, one for each kind of start-up finding."""
        found = []
        for boot in self.small.boots:
            kept = normalise(CoreState(), GateState(), boot, self.small)
            found.append(pack_state(CoreState(), GateState(), Past(), kept, self.small.stages))
        return found

    def step(self, key, letter):
        """Run one tick; returns (key after, number of a broken claim or 0)."""
        stages = self.small.stages
        unpack_state(key, self.core, self.gate, stages)
        unpack_past(key, self.past, stages)
        self.found.boot = key[BOOT]
        for name in letter.preset:
            setattr(self.core, name, letter.preset[name])
        explored_tick(self.core, self.gate, self.past, letter.v, self.small, self.out, self.found)
        return self.pack(), self.found.claim

    def pack(self):
        """The tuple of the state in normal form."""
        return pack_state(self.core, self.gate, self.past, self.found.boot, self.small.stages)


def explored_tick(core, gate, past, v, small, out, found):
    """One tick of the running code, judged by the claims, and its state brought to normal form."""
    before = core.state
    latch = core.latch
    core_step(core, v, small.c)
    gate_step(gate, core, v, small.c, out)
    broken = check_tick(before, latch, core, v, out, small.c)
    late = follow(past, before, core, v, out, small)
    found.claim = broken if broken else late
    found.boot = normalise(core, gate, found.boot, small)


def name_of(key):
    """Eight bytes that stand for a state in the digest."""
    return sha256(str(key).encode()).digest()[:8]


def row_of(name, names):
    """One state and its successors, letter by letter, as a number; the digest is the sum over all states."""
    return int.from_bytes(sha256(name + b"".join(names)).digest()[:8], "big")


def explore(space, limit):
    """Breadth first until no state is new or `limit` transitions are done; returns counts and digest."""
    order = list(space.initial())
    names = {}
    for key in order:
        names[key] = name_of(key)
    total = 0
    transitions = 0
    broken = []
    at = 0
    while at < len(order) and transitions < limit:
        key = order[at]
        found = []
        for letter in space.inputs.letters(key):
            after, claim = space.step(key, letter)
            name = names.get(after)
            if name is None:
                name = names[after] = name_of(after)
                order.append(after)
                claim = claim or check_words(after)
            found.append(name)
            if claim:
                broken.append((at, NAMES[claim]))
        transitions += len(found)
        total = (total + row_of(names[key], found)) & DIGEST_MASK
        at += 1
    return {
        "states": len(order),
        "expanded": at,
        "transitions": transitions,
        "digest": "%016x" % total,
        "broken": len(broken),
    }


def check_words(key):
    """Whether every word of a new state can stay a small integer on the board: a broken claim's number, or 0."""
    return WORDS if min(key) < 0 or max(key) >= WORD_MAX else 0


if __name__ == "__main__":
    print(explore(Space(Small(int(sys.argv[1]))), int(sys.argv[2])))
