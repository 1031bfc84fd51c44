"""The gate: the last interlock between what is asked and what is driven.

It knows nothing of the sequencer. Whatever is asked, fuel is driven only behind oxidizer of the same
stage, driven for the whole lead and proved, with the throttle pushed, the engine turning, pressure and
volts to keep it so, and no bench key. It alone suffices for "no fuel without oxidizer".
"""

from oxlatch.vocabulary import (  # fmt: skip
    BUS_CUT, BUS_HARD, BUS_SURGE, CONTACT_CLOSED, CONTACT_OPEN, FIT_CURRENTS, FIT_MASTER_FUEL, FIT_PROOF,
    FUEL_FAIL, OUT_MASTER_FUEL, OUT_MASTER_OX, OUT_PURGE, OUT_RUN, RPM_HOLD, RPM_OVER, RPM_STOPPED,
    STAGES_MAX, SUPPLY_CUT, THROTTLE_HOLD, TIME_GOOD, TIME_HARD,
)

# A stage's word: oxidizer driven, fuel driven, on-count, dry-count.
STAGE_OX, STAGE_FUEL = 1, 2
ON_SHIFT, DRY_SHIFT = 2, 7
ON_MAX = 30  # the on-count saturates here
BARRED = 31  # this on-count bars the stage until it is no longer asked for
DRY_MAX = 16  # ticks of oxidizer without fuel before the stage is barred

GATE_WORDS = (("stage", STAGES_MAX), ("away_n", 1), ("idle", 1))  # name, number of words


class GateState:
    """Per stage its word of the last tick; ticks since the push was last seen; whether all is off."""

    def __init__(self):
        for name, count in GATE_WORDS:
            setattr(self, name, [0] * count if count > 1 else 0)


def gate_stage(ask_ox, ask_fuel, pushed, fuel_ok, word, lead_ticks, dry):
    """One stage, pure: asked and permitted (zero or not), its word of the last tick; returns its new word.

    The on-count is how many ticks in a row oxidizer was driven before this one, the dry-count how many
    of those passed since fuel last flowed; it grows by `dry`, which is 0 on the bench and else 1.
    """
    if not ask_ox:
        return 0
    on_n = (word >> ON_SHIFT) & 31
    if on_n == BARRED or (on_n == 0 and not pushed):
        return on_n << ON_SHIFT
    on_next = on_n + 1 if on_n < ON_MAX else ON_MAX
    if ask_fuel and fuel_ok and on_n >= lead_ticks:
        return STAGE_OX | STAGE_FUEL | (on_next << ON_SHIFT)
    dry_n = (word >> DRY_SHIFT) + dry
    if dry_n > DRY_MAX:
        return BARRED << ON_SHIFT
    return STAGE_OX | (on_next << ON_SHIFT) | (dry_n << DRY_SHIFT)


def gate_step(g, s, v, c, out):
    """Decide what is driven in this tick: asked in `s`, verdicts `v`, settings `c`; result in `out`."""
    bits = s.ask_bits
    out.ox = out.fuel = out.bits = 0
    pushed = 1 if v.contact == CONTACT_CLOSED and v.throttle >= THROTTLE_HOLD and v.master else 0
    if pushed:
        g.away_n = 0
    elif g.away_n <= c.run_off_ticks:
        g.away_n += 1
    if not bits and g.idle:
        return
    run = bits & (OUT_RUN | OUT_MASTER_OX)
    if v.time == TIME_HARD or v.bus == BUS_HARD or (not v.master and g.away_n > c.run_off_ticks):
        run = 0
    dry = 0 if v.bench and v.rpm == RPM_STOPPED else 1
    ask_ox = 0
    if (
        run & OUT_RUN
        and not bits & OUT_PURGE
        and BUS_CUT < v.bus < BUS_SURGE
        and v.time == TIME_GOOD
        and g.away_n <= c.tail_ticks
        and (not dry or (v.rpm >= RPM_HOLD and v.supply > SUPPLY_CUT and v.fuel > FUEL_FAIL))
    ):
        ask_ox = s.ask_ox
    fuel_ok = 0
    if pushed and v.rpm < RPM_OVER and not v.bench and (bits & OUT_MASTER_FUEL or not c.fitted & FIT_MASTER_FUEL):
        fuel_ok = v.proof if c.fitted & FIT_PROOF else 15
        if c.fitted & FIT_CURRENTS:
            fuel_ok &= v.current
    any_word = 0
    bit = 1
    stage, ask_fuel, lead_ticks = g.stage, s.ask_fuel, c.lead_ticks
    for i in range(c.stages):
        word = gate_stage(ask_ox & bit, ask_fuel & bit, pushed, fuel_ok & bit, stage[i], lead_ticks, dry)
        stage[i] = word
        any_word |= word
        if word & STAGE_OX:
            out.ox |= bit
            if word & STAGE_FUEL:
                out.fuel |= bit
        bit <<= 1
    g.idle = 0 if any_word else 1
    out.bits = run
    if out.fuel:
        out.bits |= bits & OUT_MASTER_FUEL
    elif run & OUT_RUN and bits & OUT_PURGE and v.contact == CONTACT_OPEN:
        out.bits |= OUT_PURGE
