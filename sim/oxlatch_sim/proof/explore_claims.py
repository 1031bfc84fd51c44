"""What must hold at every explored transition, written from the words of the invariants.

Nothing here knows how the sequencer decides: it sees the state before and after, the verdicts, what was asked
and what was driven, and keeps a history of its own, the `Past`. Written in the subset of the tick, so that it can
be translated with it; runs under CPython and MicroPython alike.
"""

from oxlatch.vocabulary import (  # fmt: skip
    ALL_STOP,
    BUS_CUT,
    BUS_SURGE,
    CONTACT_CLOSED,
    CONTACT_OPEN,
    FIT_MASTER_FUEL,
    FIT_PROOF,
    FUEL_FIRST,
    HARD,
    LEAD_IN,
    OUT_MASTER_FUEL,
    OUT_PURGE,
    OUT_RUN,
    PURGING,
    READY,
    RPM_HOLD,
    RPM_OVER,
    RUN,
    RUN_DOWN,
    SERVICE,
    STAGES_MAX,
    SUPPLY_CUT,
    THROTTLE_HOLD,
    WAKE,
)

CLAIMS = (
    ("I1", "a stage's fuel is driven only behind its oxidizer, on for at least the lead"),
    ("I2", "fuel needs master fuel valve, run switch, proof, and good push, rpm, supply and bus in the same tick"),
    ("I3", "oxidizer without fuel lasts at most 16 ticks"),
    ("I4", "the purge valve is never driven with a stage valve"),
    ("I5", "without a good engine speed no stage valve and no master fuel valve is driven"),
    ("I6", "nothing opens but in a flow that began with the contact closing, after it was open, in READY"),
    ("I7", "no stage opens that was not selected at the push and ever since, and none opens twice in a flow"),
    ("I8", "nothing opens before master off, then on, contact open, and then a whole purge"),
    ("I9", "the stages taken at the push are an allowed set and not empty"),
    ("I10", "nothing is driven in WAKE, REST, HELD, SERVICE and TRIP"),
    ("I11", "no stage valve opens in a tick in which contact, throttle or master does not say push"),
    ("I12", "after release: fuel off in that tick, oxidizer within the tail, run switch within its delay"),
    ("I15", "fuel is never asked for without the same stage's oxidizer"),
    ("I16", "with the bench key no fuel valve and no master fuel valve is driven"),
    ("fault", "the tick that finds a fault drives no fuel; from ALL-STOP up no oxidizer; from HARD up nothing"),
    ("ready", "READY stands only while no reason to wait or stop does"),
    ("latch", "a latch is lowered only to nothing, the fourth only by sign-off in SERVICE; 3 and 4 stand in the store"),
    ("words", "every word of the state stays below 2^30 and not below zero"),
)
# The number of a claim is its place in the table, from 1; 0 means that none is broken.
NAMES = ("",) + tuple([name for name, _words in CLAIMS])
I1, I2, I3, I4, I5, I6, I7, I8, I9, I10, I11, I12, I15, I16, FAULT, IN_READY, IN_LATCH, WORDS = range(1, len(NAMES))
ALONE_MAX = 16

PAST_WORDS = (
    "contact",  # last definite contact: 0 none, 1 open, 2 closed
    "pushed",  # the push that this flow began with
    "off",  # master seen off since the reset
    "on",  # master on since it was off
    "opened",  # contact seen open since the reset
    "purged",  # a whole purge driven since the master came on
    "purge_n",  # ticks the purge valve has been driven, up to 3
    "allowed",  # stages that may still open in this flow
    "released",  # ticks since the contact left closed, while the run switch is driven, up to 7
    "ox",  # oxidizer driven in the tick before
)
PURGE_N_MAX = 3
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
    flowing = state == LEAD_IN or state == RUN or state == RUN_DOWN
    rising = ox & ~p.ox
    broken = 0
    # the push
    if closed:
        if before == READY and p.contact == 1:
            p.pushed = 1
        p.contact = 2
    elif v.contact == CONTACT_OPEN:
        p.contact = 1
    if rising and not p.pushed:
        broken = I6
    if rising and not (closed and v.throttle >= THROTTLE_HOLD and v.master):
        broken = I11
    if not flowing and state != READY:
        p.pushed = 0
    follow_ritual(p, v, out, c)
    if rising and not (p.on and p.opened and p.purged):
        broken = I8
    # the stage set
    if flowing and before != LEAD_IN and before != RUN and before != RUN_DOWN:
        p.allowed = v.sel
        if not v.sel or not (c.patterns >> v.sel) & 1:
            broken = I9
    p.allowed = p.allowed & v.sel & ~(p.ox & ~ox) if flowing and state != RUN_DOWN else 0
    if rising & ~p.allowed:
        broken = I7
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
    p.ox = ox
    return broken


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
        return
    if p.purge_n == 0:
        p.purged = 0
    if p.purge_n < PURGE_N_MAX:
        p.purge_n += 1
    if p.purge_n >= c.purge_ticks:
        p.purged = 1


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
            if (fuel >> i) & 1:
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
    if ox | fuel | bits:
        if not (state == PURGING or state == RUN or state == LEAD_IN or state == RUN_DOWN):
            return I10
        broken = check_driven(s, v, out, c)
        if broken:
            return broken
    if s.ask_fuel & ~s.ask_ox:
        return I15
    if before != WAKE and before != SERVICE and s.reaction >= FUEL_FIRST:
        if fuel or (ox and s.reaction >= ALL_STOP) or (bits and s.reaction >= HARD):
            return FAULT
    if state == READY and (s.why0 or s.why1 or s.why2):
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
    if v.rpm < RPM_HOLD and (ox or fuel or bits & OUT_MASTER_FUEL):
        return I5
    if v.bench and (fuel or bits & OUT_MASTER_FUEL):
        return I16
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
