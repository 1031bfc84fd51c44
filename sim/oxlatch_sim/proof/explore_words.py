"""The state of the tick after sense as one tuple, in a normal form.

Two states that no run can tell apart get the same tuple: a word that is not read before it is next
written, or whose value beyond some limit makes no difference, is set to one fixed value. `normalise`
says which and why. Runs under CPython and MicroPython alike.
"""

from oxlatch.core import CORE_WORDS, INJECT_ABSENT, INJECT_FITTED
from oxlatch.gate import BARRED, DRY_SHIFT, GATE_WORDS, ON_SHIFT, STAGE_FUEL, STAGE_OX
from oxlatch.reasons import PUSH_RPM_LOW, RAIL_NOT_LIVE
from oxlatch.vocabulary import (  # fmt: skip
    BENCH_GAS,
    BOOT_BOUNDS_BAD,
    BOOT_CRC_BAD,
    BOOT_VERSION_BAD,
    GAP,
    LEAD_IN,
    PURGING,
    PUSH_BLOCKED,
    PUSH_JUDGED,
    PUSH_SPENT,
    READY,
    REST,
    RUN,
    RUN_DOWN,
    TRIP,
    WAITING,
)
from oxlatch_sim.proof.explore_claims import PAST_WORDS
from oxlatch_sim.proof.explore_small import FREE_ALWAYS, USUAL

CORE_KEPT = (
    "state", "timer", "latch", "cause0", "store", "ask_ox", "ask_fuel", "ask_bits", "push", "push_n", "push_why",
    "ready_n", "arm_left", "hold_off_left", "purge_valid", "purge_left", "confirm_left", "purge_good_n", "purge_flaw",
    "line_lost_n", "latched", "opening", "lead_n", "stagger_n", "run_n", "classify_n", "classify0", "open_n", "off_n",
    "sel_n", "inject", "boot_cleared", "disarm", "vent_n", "bench_n",
)  # fmt: skip
# Written before they are read in every tick, or treated as inputs, or packed apart.
CORE_NOT_KEPT = ("why0", "why1", "why2", "why3", "reaction", "cause1", "tail") + FREE_ALWAYS
GATE_KEPT = ("stage", "away_n", "idle")
# Places in the tuple: the core's words, the start-up finding, the claims' past, the gate, then stage after stage.
STATE, LATCH, BOOT, PAST = 0, 2, len(CORE_KEPT), len(CORE_KEPT) + 1
GATE = PAST + len(PAST_WORDS)
STAGES = GATE + 2
PER_STAGE = 4
BOOT_FOR_GOOD = BOOT_CRC_BAD | BOOT_VERSION_BAD | BOOT_BOUNDS_BAD
SOME = 3  # a slow clock that has not run out

NOTES = (
    "why0..why3 and reaction are written before they are read in every tick",
    "the first cause is kept as 'there is one'; which one is only shown",
    "why a push was refused is kept as 'refused'; every such reason is one more wait",
    "a push that is spent and one that was never ready behave alike",
    "the bench strap, once read, only lights lamps",
    "locks found at start-up and cleared behave as if never found",
    "coil or rail lost while classifying: the three reasons share class, latch and every test",
    "counters of one state are dropped in states that do not read them before a fresh start",
    "the gate's on-count is cut at the lead, beyond which it is only compared with the bar",
    "the gate's away-count is dropped while no stage is driven outside a flow: it begins with the push seen, at zero",
    "venting is counted up to its limit, and only while the purge valve may be open",
    "the count of a bench push is dropped outside the bench modes, whose clock may end at any tick",
    "a counter whose limit is one tick depends on the present sample alone",
)


def normalise(s, g, boot, small):
    """Bring core state `s` and gate state `g` to normal form; returns the boot word that still matters."""
    c = small.c
    state = s.state
    flowing = state == LEAD_IN or state == RUN or state == RUN_DOWN
    bench = state >= BENCH_GAS
    armed = flowing or state == WAITING or state == READY or state == PURGING or state == GAP
    s.cause0 = 1 if s.cause0 or s.cause1 else 0
    s.cause1 = 0
    if s.inject == INJECT_FITTED:
        s.inject = INJECT_ABSENT
    if s.boot_cleared:
        boot &= BOOT_FOR_GOOD
        s.boot_cleared = 0
    normalise_hands(s, c)
    armed = armed or s.latch == 1
    if not (armed or bench or state == REST):
        s.disarm = 0
    normalise_waits(s, small, armed)
    if state != PURGING:
        s.purge_good_n = 0
    if state != LEAD_IN:
        s.lead_n = 0
        if not bench or not s.bench_n:
            s.stagger_n = 0
    if bench or (state != LEAD_IN and state != RUN and not s.ask_ox):
        s.run_n = 0
    if bench:
        s.timer = 0
    else:
        s.bench_n = 0
    if state != PURGING and state != BENCH_GAS:
        s.vent_n = 0
    elif s.vent_n > c.vent_ticks:
        s.vent_n = c.vent_ticks
    if s.classify0:
        s.classify0 = RAIL_NOT_LIVE
    else:
        s.classify_n = 0
    lead = c.lead_ticks if c.lead_ticks else 1
    driven = 0
    for i in range(small.stages):
        word = g.stage[i]
        driven |= word
        on_n = (word >> ON_SHIFT) & 31
        if lead < on_n < BARRED:
            g.stage[i] = (word & (STAGE_OX | STAGE_FUEL)) | lead << ON_SHIFT | (word >> DRY_SHIFT) << DRY_SHIFT
    if not flowing and not (bench and driven):
        g.away_n = 0
    return boot


def normalise_hands(s, c):
    """Words of the pilot's hands."""
    if s.push == PUSH_SPENT:
        s.push = PUSH_BLOCKED
    if s.push != PUSH_JUDGED:
        s.push_n = 0
    if c.release_ticks == 1:
        s.open_n = 0
    if c.disarm_ticks == 1:
        s.off_n = 0
    if c.selection_ticks == 1:
        s.sel_n = 0
    if c.purge_void_ticks == 1:
        s.line_lost_n = 0


def normalise_waits(s, small, armed):
    """Words that keep READY away; `armed`: they can still matter before they are set afresh."""
    if s.purge_left:
        s.purge_left = SOME
    if s.confirm_left:
        s.confirm_left = SOME
    if not armed:
        s.ready_n = 0
        if s.state == TRIP:
            s.arm_left = 0
    if small.free_waits:
        s.arm_left = SOME
        s.hold_off_left = 0
        s.push_why = 0
        if s.state != PURGING:
            s.purge_flaw = 0
        return
    if s.arm_left:
        s.arm_left = SOME
    if s.hold_off_left:
        s.hold_off_left = SOME
    if s.push_why:
        s.push_why = PUSH_RPM_LOW


def unknown_words():
    """Words of the tick's state that this module does not know; none, or the exploration would be wrong."""
    known = CORE_KEPT + CORE_NOT_KEPT
    unknown = [name for name, _count in CORE_WORDS if name not in known]
    return unknown + [name for name, _count in GATE_WORDS if name not in GATE_KEPT]


def key_names(stages):
    """The names of the words of the tuple, as the translated source calls them."""
    names = ["core." + name for name in CORE_KEPT]
    names.append("found.boot")
    names += ["past." + name for name in PAST_WORDS]
    names += ["gate.away_n", "gate.idle"]
    for i in range(stages):
        names += ["%s[%d]" % (name, i) for name in ("core.tail", "gate.stage", "past.age", "past.alone")]
    return names


def pack_state(s, g, p, boot, stages):
    """The tuple of a state in normal form."""
    words = [getattr(s, name) for name in CORE_KEPT]
    words.append(boot)
    words += [getattr(p, name) for name in PAST_WORDS]
    words += [g.away_n, g.idle]
    for i in range(stages):
        words += [s.tail[i], g.stage[i], p.age[i], p.alone[i]]
    return tuple(words)


def unpack_state(key, s, g, stages):
    """Set core and gate from a tuple; words that are not kept become zero."""
    at = 0
    for name in CORE_KEPT:
        setattr(s, name, key[at])
        at += 1
    s.cause1 = 0
    for name in FREE_ALWAYS:
        setattr(s, name, USUAL.get(name, 0))
    g.away_n = key[GATE]
    g.idle = key[GATE + 1]
    at = STAGES
    for i in range(stages):
        s.tail[i] = key[at]
        g.stage[i] = key[at + 1]
        at += PER_STAGE


def unpack_past(key, p, stages):
    """Set the claims' past from a tuple."""
    at = PAST
    for name in PAST_WORDS:
        setattr(p, name, key[at])
        at += 1
    at = STAGES
    for i in range(stages):
        p.age[i] = key[at + 2]
        p.alone[i] = key[at + 3]
        at += PER_STAGE
