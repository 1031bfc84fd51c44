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
from oxlatch.vocabulary import BOOT_BOUNDS_BAD, BOOT_LOCKED_L3, BOOT_LOCKED_L4
from oxlatch_sim.proof.explore_claims import check_tick, follow
from oxlatch_sim.proof.explore_inputs import Inputs
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.explore_words import (
    BOOT,
    GHOST,
    LATCH,
    STATE,
    normalise,
    pack_state,
    unknown_words,
    unpack_state,
)

BOOTS = (0, BOOT_LOCKED_L3, BOOT_LOCKED_L4, BOOT_BOUNDS_BAD)
WORD_MAX = 1 << 30
DIGEST_MASK = (1 << 64) - 1


class Driven:
    """What the gate writes."""

    def __init__(self):
        self.ox = 0
        self.fuel = 0
        self.bits = 0


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
        self.out = Driven()

    def initial(self):
        """The states after a reset, one for each kind of start-up finding."""
        found = []
        for boot in BOOTS:
            kept = normalise(CoreState(), GateState(), boot, self.small)
            found.append(pack_state(CoreState(), GateState(), kept, 0, self.small.stages))
        return found

    def step(self, key, letter):
        """Run one tick; returns (key after, name of a broken claim or an empty string)."""
        s = self.core
        g = self.gate
        out = self.out
        unpack_state(key, s, g, self.small.stages)
        for name in letter.preset:
            setattr(s, name, letter.preset[name])
        v = letter.v
        core_step(s, v, self.c)
        gate_step(g, s, v, self.c, out)
        return self.judge(key, v)

    def pack(self, boot, ghost):
        """The tuple of the state in normal form."""
        return pack_state(self.core, self.gate, boot, ghost, self.small.stages)

    def judge(self, key, v):
        """Check the tick just run and bring the state to normal form."""
        s = self.core
        before = key[STATE]
        broken = check_tick(before, key[LATCH], s, v, self.out, self.c)
        ghost, late = follow(key[GHOST], before, s, v, self.out, self.small)
        boot = normalise(s, self.gate, key[BOOT], self.small)
        return self.pack(boot, ghost), broken or late


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
                broken.append((at, claim))
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
    """Whether every word of a new state can stay a small integer on the board."""
    return "words" if min(key) < 0 or max(key[:GHOST]) >= WORD_MAX else ""


if __name__ == "__main__":
    print(explore(Space(Small(int(sys.argv[1]))), int(sys.argv[2])))
