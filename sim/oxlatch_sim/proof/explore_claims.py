"""What must hold at every explored transition, written from the words of the invariants.

Nothing here knows how the sequencer decides: it sees the state before and after, the verdicts, what was asked
and what was driven, and keeps a history of its own (the ghost) packed into one integer. Runs under CPython and
MicroPython alike.
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
ALONE_MAX = 16

# Ghost: shifts and widths of its fields.
CONTACT_AT = 0  # 2 bits: last definite contact, 0 none, 1 open, 2 closed
PUSHED_AT = 2  # 1: the push that this flow began with
OFF_AT = 3  # 1: master seen off since the reset
ON_AT = 4  # 1: master on since it was off
OPEN_AT = 5  # 1: contact seen open since the reset
PURGED_AT = 6  # 1: a whole purge driven since the master came on
PURGE_N_AT = 7  # 2: ticks the purge valve has been driven
ALLOWED_AT = 9  # 4: stages that may still open in this flow
RELEASED_AT = 13  # 3: ticks since the contact left closed, while the run switch is driven
OX_AT = 16  # 4: oxidizer driven in the tick before
STAGE_AT = 20  # per stage 7: age of the oxidizer up to the lead, ticks without fuel
STAGE_BITS = 7


def follow(ghost, before, s, v, out, small):
    """The ghost after this tick and the name of the first claim it breaks, or an empty string."""
    c = small.c
    ox = out.ox
    fuel = out.fuel
    bits = out.bits
    state = s.state
    closed = v.contact == CONTACT_CLOSED
    flowing = state == LEAD_IN or state == RUN or state == RUN_DOWN
    was_flowing = before == LEAD_IN or before == RUN or before == RUN_DOWN
    ox_before = (ghost >> OX_AT) & 15
    rising = ox & ~ox_before
    broken = ""
    # the push
    last = ghost & 3
    pushed = (ghost >> PUSHED_AT) & 1
    if closed:
        if before == READY and last == 1:
            pushed = 1
        last = 2
    elif v.contact == CONTACT_OPEN:
        last = 1
    if rising and not pushed:
        broken = "I6"
    if rising and not (closed and v.throttle >= THROTTLE_HOLD and v.master):
        broken = "I11"
    if not flowing and state != READY:
        pushed = 0
    # the ritual
    off = (ghost >> OFF_AT) & 1
    on = (ghost >> ON_AT) & 1
    purged = (ghost >> PURGED_AT) & 1
    purge_n = (ghost >> PURGE_N_AT) & 3
    if not v.master:
        off = 1
        on = 0
        purged = 0
    elif off:
        on = 1
    opened = 1 if (ghost >> OPEN_AT) & 1 or v.contact == CONTACT_OPEN else 0
    if bits & OUT_PURGE:
        if purge_n == 0:
            purged = 0
        if purge_n < 3:
            purge_n += 1
        if purge_n >= c.purge_ticks:
            purged = 1
    else:
        purge_n = 0
    if rising and not (on and opened and purged):
        broken = "I8"
    # the stage set
    allowed = (ghost >> ALLOWED_AT) & 15
    if flowing and not was_flowing:
        allowed = v.sel
        if not v.sel or not (c.patterns >> v.sel) & 1:
            broken = "I9"
    allowed = allowed & v.sel & ~(ox_before & ~ox) if flowing and state != RUN_DOWN else 0
    if rising & ~allowed:
        broken = "I7"
    # release
    released = (ghost >> RELEASED_AT) & 7
    if closed or bits & OUT_PURGE or not bits & OUT_RUN:
        released = 0
    elif released < 7:
        released += 1
    if not closed and (fuel or bits & OUT_MASTER_FUEL):
        broken = "I12"
    if (ox and released > c.tail_ticks) or released > c.run_off_ticks:
        broken = "I12"
    ghost = (
        last | pushed << PUSHED_AT | off << OFF_AT | on << ON_AT | opened << OPEN_AT | purged << PURGED_AT
        | purge_n << PURGE_N_AT | allowed << ALLOWED_AT | released << RELEASED_AT | ox << OX_AT
        | (ghost >> STAGE_AT) << STAGE_AT
    )
    if ox or ox_before:
        return follow_stages(ghost, ox, fuel, c, broken)
    return (ghost & (1 << STAGE_AT) - 1, broken or ("I1" if fuel else ""))


def follow_stages(ghost, ox, fuel, c, broken):
    """Age of every stage's oxidizer and how long it has been alone."""
    stages = 0
    for i in range(c.stages):
        field = (ghost >> (STAGE_AT + i * STAGE_BITS)) & 127
        age = field & 3
        alone = field >> 2
        if (fuel >> i) & 1 and (not (ox >> i) & 1 or age < c.lead_ticks):
            broken = "I1"
        if not (ox >> i) & 1:
            continue
        if age < 3 and age < c.lead_ticks:
            age += 1
        alone = 0 if (fuel >> i) & 1 else alone + 1
        if alone > ALONE_MAX:
            broken = "I3"
            alone = ALONE_MAX
        stages |= (age | alone << 2) << (STAGE_AT + i * STAGE_BITS)
    return (ghost & (1 << STAGE_AT) - 1) | stages, broken


def check_tick(before, latch_before, s, v, out, c):
    """Claims about one tick that need no history; the name of the first broken one, or an empty string."""
    ox = out.ox
    fuel = out.fuel
    bits = out.bits
    state = s.state
    if ox | fuel | bits:
        if not (state == PURGING or state == RUN or state == LEAD_IN or state == RUN_DOWN):
            return "I10"
        broken = check_driven(s, v, out, c)
        if broken:
            return broken
    if s.ask_fuel & ~s.ask_ox:
        return "I15"
    if before != WAKE and before != SERVICE and s.reaction >= FUEL_FIRST:
        if fuel or (ox and s.reaction >= ALL_STOP) or (bits and s.reaction >= HARD):
            return "fault"
    if state == READY and (s.why0 or s.why1 or s.why2):
        return "ready"
    latch = s.latch
    if latch < latch_before and (latch or (latch_before == 4 and not (before == SERVICE and v.service > 1))):
        return "latch"
    if latch > 2 and s.store != latch:
        return "latch"
    return ""


def check_driven(s, v, out, c):
    """Claims about a tick in which something is driven."""
    ox = out.ox
    fuel = out.fuel
    bits = out.bits
    if bits & OUT_PURGE and (ox | fuel):
        return "I4"
    if v.rpm < RPM_HOLD and (ox or fuel or bits & OUT_MASTER_FUEL):
        return "I5"
    if v.bench and (fuel or bits & OUT_MASTER_FUEL):
        return "I16"
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
        return "I2"
    return ""
