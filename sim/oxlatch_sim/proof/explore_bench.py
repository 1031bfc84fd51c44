"""The letters of the bench modes, and of the way into them. Runs under CPython and MicroPython alike."""

from oxlatch.vocabulary import (
    BENCH_GAS,
    LINE_EMPTY,
    LINE_GOOD,
    OUT_PURGE,
    RAIL_DEAD,
    RAIL_LIVE,
    RPM_WINDOW,
    THROTTLE_DROP,
    THROTTLE_FULL,
)
from oxlatch_sim.proof.explore_hands import BENCH, CONTACTS, NOTHING, OFF, PUSHED, joined


def to_bench(inputs, contact):
    """Letters of REST that choose a bench mode: ACK for gas, PURGE alone for none."""
    hand = joined(contact, BENCH)
    plans = [(NOTHING, joined(hand, {"purge": 1}))]
    plans += [({"vent_n": n}, joined(hand, {"ack": 1})) for n in range(inputs.small.c.vent_ticks + 1)]
    return plans


def bench_letters(inputs, s):
    """The push, the purge button, the clock of the mode, and what ends it; `s`: the kept words of the state."""
    c = inputs.small.c
    base = joined(BENCH, {"line": LINE_EMPTY})
    presses = _presses(c, s)
    plans = []
    for clock in ({"timer": 0}, {"timer": c.bench_ticks - 1}):
        for contact in CONTACTS:
            hand = joined(base, contact)
            for end in (OFF, {"bench": 0}, {"rpm": RPM_WINDOW}, {"line": LINE_GOOD}):
                plans.append((clock, joined(hand, end)))
            for _kind, fault in inputs.bench_faults:
                plans += [(clock, joined(hand, fault)), (clock, joined(hand, fault, OFF))]
            plans += [(joined(clock, press), joined(hand, button)) for press, button in presses]
        for throttle in (THROTTLE_FULL, THROTTLE_DROP):
            for sel in range(inputs.all + 1):
                for rail in (RAIL_LIVE, RAIL_DEAD):
                    hand = joined(base, PUSHED, {"throttle": throttle, "sel": sel, "rail": rail})
                    plans += [(joined(clock, press), joined(hand, button)) for press, button in presses]
    return plans


def _presses(c, s):
    """The purge button: off, held on, and newly pressed unless it opens the purge valve already; dry, it does nothing."""
    if s["state"] != BENCH_GAS:
        return [(NOTHING, NOTHING)]
    found = [(NOTHING, NOTHING), ({"purge_press_n": c.purge_press_ticks}, {"purge": 1})]
    if not s["ask_bits"] & OUT_PURGE:
        found.append(({"purge_press_n": 0}, {"purge": 1}))
    return found
