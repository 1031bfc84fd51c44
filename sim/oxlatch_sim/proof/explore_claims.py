"""What must hold at every explored transition, written from the words of the invariants.

Nothing here knows how the sequencer decides: it sees the state before and after, the verdicts, what was asked
and what was driven, and keeps a history of its own, the `Past`. Written in the subset of the tick, so that it can
be translated with it; runs under CPython and MicroPython alike.
"""

from oxlatch.permits_extras import row_patterns
from oxlatch.reasons import WAITS_3
from oxlatch.vocabulary import (  # fmt: skip
    ALL_STOP,
    BENCH_DRY,
    BENCH_GAS,
    BUS_CUT,
    BUS_SURGE,
    CONTACT_CLOSED,
    CONTACT_OPEN,
    FIT_MASTER_FUEL,
    FIT_PROOF,
    FIT_VENT_DOWN,
    FUEL_FIRST,
    GAP,
    HARD,
    LEAD_IN,
    LINE_EMPTY,
    LINE_LOST,
    OUT_MASTER_FUEL,
    OUT_MASTER_OX,
    OUT_PURGE,
    OUT_RUN,
    PURGING,
    READY,
    RPM_HOLD,
    RPM_OVER,
    RPM_STOPPED,
    RUN_DOWN,
    SERVICE,
    STAGES_MAX,
    SUPPLY_CUT,
    THROTTLE_HOLD,
    WAITING,
    WAKE,
)

CLAIMS = (
    ("I1", "a stage's fuel is driven only behind its oxidizer, on for at least the lead"),
    ("I2", "fuel needs master fuel valve, run switch, proof, and good push, rpm, supply and bus in the same tick"),
    ("I3", "oxidizer without fuel lasts at most 16 ticks, but for the bench"),
    ("I4", "the purge valve is never driven with a stage valve"),
    ("I5", "without a good engine speed no stage valve and no master fuel valve is driven, but for the bench"),
    ("I6", "nothing opens but in a flow that began with the contact closing, after it was open, in READY"),
    ("I7", "no stage opens that was not selected at the push and ever since, and none opens twice in a flow"),
    ("I8", "nothing opens before master off, then on, contact open, and then a whole purge"),
    ("I9", "the stages taken at the push are a set that the air of that tick allows, and not empty"),
    ("I10", "nothing is driven in WAKE, REST, HELD, SERVICE and TRIP; the master oxidizer valve only while armed or with "
            "gas on the bench"),
    ("I11", "no stage valve opens in a tick in which contact, throttle or master does not say push"),
    ("I12", "after release: fuel off in that tick, oxidizer within the tail, run switch within its delay"),
    ("I15", "fuel is never asked for without the same stage's oxidizer"),
    ("I16", "with the bench key, and in a bench mode, no fuel valve and no master fuel valve is driven"),
    ("bench", "on the bench a stage opens only with key in, engine stopped and a push after the contact was open there, "
              "one of those selected at it, for no longer than a bench push; gas passes the purge valve in BENCH-GAS only"),
    ("vent", "the purge valve is driven on end for no longer than a purge and a venting may last together"),
    ("fault", "the tick that finds a fault drives no fuel; from ALL-STOP up no oxidizer; from HARD up nothing"),
    ("ready", "READY stands only while no reason to wait or stop does"),
    ("latch", "a latch is lowered only to nothing, the fourth only by sign-off in SERVICE; 3 and 4 stand in the store"),
    ("words", "every word of the state stays below 2^30 and not below zero"),
)  # fmt: skip
# The number of a claim is its place in the table, from 1; 0 means that none is broken.
NAMES = ("",) + tuple([name for name, _words in CLAIMS])
(
    I1, I2, I3, I4, I5, I6, I7, I8, I9, I10, I11, I12, I15, I16, ON_BENCH, IN_VENT, FAULT, IN_READY, IN_LATCH, WORDS,
) = range(1, len(NAMES))  # fmt: skip
ALONE_MAX = 16

PAST_WORDS = (
    "contact",  # last definite contact: 0 none, 1 open, 2 closed
    "pushed",  # the push that this flow began with
    "off",  # master seen off since the reset
    "on",  # master on since it was off
    "opened",  # contact seen open since the reset
    "purged",  # a whole purge driven since the master came on
    "purge_n",  # ticks on end that the purge valve has been driven, up to one more than it may
    "vented",  # this time below the pressure of a purge, with the engine stopped
    "allowed",  # stages that may still open in this flow
    "released",  # ticks since the contact left closed, while the run switch is driven, up to 7
    "ox",  # oxidizer driven in the tick before
    "shown",  # the bench push: 1 contact seen open, 2 pushed since
    "bench_n",  # ticks on end that a stage valve has been driven on the bench
)
RELEASED_MAX = 7
AGE_MAX = 3


class Past:
    """What the claims remember: the words above, and per stage how long its oxidizer has been on, and alone."""

    def __init__(self):
        for name in PAST_WORDS:
            setattr(self, name, 0)
        self.age = [0] * STAGES_MAX
        self.alone = [0] * STAGES_MAX


def follow(p, before, s, v, out, small):
    """Take this tick into the past `p`; returns the number of a claim that it breaks, or 0."""
    c = small.c
    ox = out.ox
    state = s.state
    closed = v.contact == CONTACT_CLOSED
    rising = ox & ~p.ox
    broken = 0
    # the push
    if closed:
        if before == READY and p.contact == 1:
            p.pushed = 1
        p.contact = 2
    elif v.contact == CONTACT_OPEN:
        p.contact = 1
    if rising and not (closed and v.throttle >= THROTTLE_HOLD and v.master):
        broken = I11
    if state != READY and not LEAD_IN <= state <= RUN_DOWN:
        p.pushed = 0
    follow_ritual(p, v, out, c)
    if state >= BENCH_GAS:
        late = follow_bench(p, ox, v, c)
    else:
        p.shown = p.bench_n = 0
        late = follow_opening(p, before, ox, s, v, c)
    broken = late if late else broken
    # release
    if closed or out.bits & OUT_PURGE or not out.bits & OUT_RUN:
        p.released = 0
    elif p.released < RELEASED_MAX:
        p.released += 1
    if not closed and (out.fuel or out.bits & OUT_MASTER_FUEL):
        broken = I12
    if (ox and p.released > c.tail_ticks) or p.released > c.run_off_ticks:
        broken = I12
    if ox | p.ox:
        late = follow_stages(p, ox, out.fuel, c)
        broken = late if late else broken
    elif out.fuel and not broken:
        broken = I1
    if p.purge_n > c.purge_max_ticks + c.vent_ticks:
        broken = IN_VENT
    p.ox = ox
    return broken


def follow_opening(p, before, ox, s, v, c):
    """What opens in a flow: after the ritual, of the push's own stages; the number of a broken claim, or 0."""
    broken = 0
    rising = ox & ~p.ox
    if rising and not p.pushed:
        broken = I6
    if rising and not (p.on and p.opened and p.purged):
        broken = I8
    if not LEAD_IN <= s.state <= RUN_DOWN:
        p.allowed = 0
    elif not LEAD_IN <= before <= RUN_DOWN:
        p.allowed = v.sel
        if not v.sel or not (row_patterns(v.row, c) >> v.sel) & 1:
            broken = I9
    if s.state == RUN_DOWN:
        p.allowed = 0
    p.allowed = p.allowed & v.sel & ~(p.ox & ~ox)
    if rising & ~p.allowed:
        broken = I7
    return broken


def follow_bench(p, ox, v, c):
    """What opens on the bench: of the selection at the push, after the contact was open, for so long."""
    rising = ox & ~p.ox
    pushed = v.contact == CONTACT_CLOSED and v.throttle >= THROTTLE_HOLD
    if v.contact == CONTACT_OPEN:
        p.shown = 1
        p.allowed = 0
    elif pushed and p.shown == 1:
        p.shown = 2
        p.allowed = v.sel
    elif not pushed and p.shown == 2:  # let go: the contact must be seen open again
        p.shown = 0
        p.allowed = 0
    if not ox:
        p.bench_n = 0
    elif p.bench_n <= c.bench_push_ticks:
        p.bench_n += 1
    return ON_BENCH if rising & ~p.allowed or p.bench_n > c.bench_push_ticks else 0


def follow_ritual(p, v, out, c):
    """Master off, then on; the contact open; a whole purge."""
    if not v.master:
        p.off = 1
        p.on = 0
        p.purged = 0
    elif p.off:
        p.on = 1
    if v.contact == CONTACT_OPEN:
        p.opened = 1
    if not out.bits & OUT_PURGE:
        p.purge_n = 0
        p.vented = 0
        return
    if p.purge_n == 0:
        p.purged = 0
    if p.purge_n <= c.purge_max_ticks + c.vent_ticks:
        p.purge_n += 1
    # The first tick is the button's; what is below the pressure of a purge after it is venting.
    if p.purge_n > 1 and c.fitted & FIT_VENT_DOWN and v.rpm == RPM_STOPPED and LINE_EMPTY < v.line < LINE_LOST:
        p.vented = 1
    p.purged = 1 if p.purge_n >= c.purge_ticks and not p.vented else 0


def follow_stages(p, ox, fuel, c):
    """Age of every stage's oxidizer and how long it has been alone; the number of a broken claim, or 0."""
    broken = 0
    for i in range(c.stages):
        if (fuel >> i) & 1 and (not (ox >> i) & 1 or p.age[i] < c.lead_ticks):
            broken = I1
        if not (ox >> i) & 1:
            p.age[i] = 0
            p.alone[i] = 0
        else:
            if p.age[i] < AGE_MAX and p.age[i] < c.lead_ticks:
                p.age[i] += 1
            if (fuel >> i) & 1 or p.shown:
                p.alone[i] = 0
            elif p.alone[i] < ALONE_MAX:
                p.alone[i] += 1
            else:
                broken = I3
    return broken


def check_tick(before, latch_before, s, v, out, c):
    """Claims about one tick that need no history; the number of the first broken one, or 0."""
    ox = out.ox
    fuel = out.fuel
    bits = out.bits
    state = s.state
    if bits & OUT_MASTER_OX and not (WAITING <= state <= GAP or state == BENCH_GAS):
        return I10
    if ox | fuel | bits & ~OUT_MASTER_OX:
        if not (LEAD_IN <= state <= RUN_DOWN or state == PURGING or state >= BENCH_GAS):
            return I10
        broken = check_driven(s, v, out, c)
        if broken:
            return broken
    if s.ask_fuel & ~s.ask_ox:
        return I15
    if before != WAKE and before != SERVICE and s.reaction >= FUEL_FIRST:
        if fuel or (ox and s.reaction >= ALL_STOP) or (bits and s.reaction >= HARD):
            return FAULT
    if state == READY and (s.why0 or s.why1 or s.why2 or s.why3 & WAITS_3):
        return IN_READY
    latch = s.latch
    if latch < latch_before and (latch or (latch_before == 4 and not (before == SERVICE and v.service > 1))):
        return IN_LATCH
    if latch > 2 and s.store != latch:
        return IN_LATCH
    return 0


def check_driven(s, v, out, c):
    """Claims about a tick in which something is driven."""
    ox = out.ox
    fuel = out.fuel
    bits = out.bits
    if bits & OUT_PURGE and (ox | fuel):
        return I4
    if (v.bench or s.state >= BENCH_GAS) and (fuel or bits & OUT_MASTER_FUEL):
        return I16
    if s.state >= BENCH_GAS:
        if not (v.bench and v.master and v.rpm == RPM_STOPPED) or (bits & OUT_PURGE and s.state == BENCH_DRY):
            return ON_BENCH
    elif v.rpm < RPM_HOLD and (ox or fuel or bits & OUT_MASTER_FUEL):
        return I5
    pushed = v.contact == CONTACT_CLOSED and v.throttle >= THROTTLE_HOLD and v.master
    if fuel and not (
        pushed
        and not fuel & ~ox
        and (bits & OUT_MASTER_FUEL or not c.fitted & FIT_MASTER_FUEL)
        and bits & OUT_RUN
        and (not fuel & ~v.proof or not c.fitted & FIT_PROOF)
        and RPM_HOLD <= v.rpm < RPM_OVER
        and v.supply > SUPPLY_CUT
        and BUS_CUT < v.bus < BUS_SURGE
    ):
        return I2
    return 0
