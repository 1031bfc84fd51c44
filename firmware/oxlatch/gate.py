"""The gate: the last interlock between what is asked and what is driven.

It knows nothing of the sequencer. From the verdicts of this tick, the settings and a few counters of
its own it lets a valve open or not, and it alone suffices for "no fuel without oxidizer": whatever is
asked, fuel is driven only behind oxidizer of the same stage that has been driven for the whole lead
and is proved, with the throttle pushed, the engine turning, and pressure and volts to keep it so.
"""

from oxlatch.vocabulary import (  # fmt: skip
    BUS_CUT, BUS_HARD, BUS_SURGE, CONTACT_CLOSED, CONTACT_OPEN, FIT_CURRENTS, FIT_MASTER_FUEL, FIT_PROOF,
    FUEL_FAIL, OUT_MASTER_FUEL, OUT_PURGE, OUT_RUN, RPM_HOLD, RPM_OVER, STAGES_MAX, SUPPLY_CUT,
    THROTTLE_HOLD, TIME_GOOD, TIME_HARD,
)

ON_MAX = 30  # a stage's on-count saturates here
BARRED = 31  # this on-count bars the stage until it is no longer asked for
DRY_MAX = 16  # ticks of oxidizer without fuel before the stage is barred

# name, number of words
GATE_WORDS = (("on_n", STAGES_MAX), ("dry_n", STAGES_MAX), ("away_n", 1))


class GateState:
    """Per stage: ticks oxidizer has been driven, ticks of those since fuel; and ticks since the push was seen."""

    def __init__(self):
        for name, count in GATE_WORDS:
            setattr(self, name, [0] * count if count > 1 else 0)


def gate_stage(ask_ox, ask_fuel, pushed, fuel_ok, on_n, dry_n, lead_ticks):
    """One stage, pure. All arguments are integers; the first four are 0 or 1.

    Returns ox | fuel << 1 | new on_n << 2 | new dry_n << 7.
    """
    if not ask_ox:
        return 0
    if on_n == BARRED or (on_n == 0 and not pushed):
        return on_n << 2
    if ask_fuel and fuel_ok and on_n >= lead_ticks:
        fuel = 2
        dry_n = 0
    else:
        fuel = 0
        dry_n += 1
        if dry_n > DRY_MAX:
            return BARRED << 2
    return 1 | fuel | ((on_n + 1 if on_n < ON_MAX else ON_MAX) << 2) | (dry_n << 7)


def gate_step(g, s, v, c, out):
    """Decide what is driven in this tick: asked in `s`, verdicts `v`, settings `c`; result in `out`."""
    bits = s.ask_bits
    pushed = 1 if v.contact == CONTACT_CLOSED and v.throttle >= THROTTLE_HOLD and v.master else 0
    if pushed:
        g.away_n = 0
    elif g.away_n <= c.run_off_ticks:
        g.away_n += 1
    run = bits & OUT_RUN
    if v.time == TIME_HARD or v.bus == BUS_HARD or (not v.master and g.away_n > c.run_off_ticks):
        run = 0
    ask_ox = 0
    if (
        run
        and not bits & OUT_PURGE
        and v.rpm >= RPM_HOLD
        and v.supply > SUPPLY_CUT
        and v.fuel > FUEL_FAIL
        and BUS_CUT < v.bus < BUS_SURGE
        and v.time == TIME_GOOD
        and g.away_n <= c.tail_ticks
    ):
        ask_ox = s.ask_ox
    fuel_ok = 0
    if pushed and v.rpm < RPM_OVER and not v.bench and (bits & OUT_MASTER_FUEL or not c.fitted & FIT_MASTER_FUEL):
        fuel_ok = 15
        if c.fitted & FIT_PROOF:
            fuel_ok &= v.proof
        if c.fitted & FIT_CURRENTS:
            fuel_ok &= v.current
    ox = 0
    fuel = 0
    for i in range(STAGES_MAX):
        word = gate_stage(
            (ask_ox >> i) & 1, (s.ask_fuel >> i) & 1, pushed, (fuel_ok >> i) & 1, g.on_n[i], g.dry_n[i], c.lead_ticks
        )
        ox |= (word & 1) << i
        fuel |= ((word >> 1) & 1) << i
        g.on_n[i] = (word >> 2) & 31
        g.dry_n[i] = (word >> 7) & 31
    out.ox = ox
    out.fuel = fuel
    out.bits = run
    if fuel:
        out.bits |= bits & OUT_MASTER_FUEL
    elif not ox and run and bits & OUT_PURGE and v.contact == CONTACT_OPEN:
        out.bits |= OUT_PURGE
