"""The reasons that come from the extras, the altitude table, the bottle budget, the purge and the bench."""

from oxlatch.reasons import (  # fmt: skip
    AIRSPEED_BAD, AIRSPEED_HIGH, AIR_SIGNAL_BAD, BENCH_NO_FUEL, BOTTLE_OVERHEATED, BOTTLE_TEMP_BAD,
    BOTTLE_WARM, BUS_FAILED, BUS_SAGS, BUS_SURGES, CONTENT_DOUBTFUL, FIRE_SEEN, KEEP_PURGING,
    MIXTURE_NOT_RICH, ONE_OUTLET_WARM, OUTLET_SIGNAL_BAD, O_CURRENT_LOST, PURGE_LONG_ENOUGH, RAIL_NOT_LIVE,
    RETARD_MISSING, VENTING,
)
from oxlatch.vocabulary import (  # fmt: skip
    BUS_CUT, BUS_HARD, BUS_SURGE, COIL_OX, EXTRA_AIRSPEED_BAD, EXTRA_AIR_BAD, EXTRA_BOTTLE_BAD,
    EXTRA_BOTTLE_RED, EXTRA_BOTTLE_WARM, EXTRA_CONTENT, EXTRA_FAST, EXTRA_FIRE, EXTRA_NOT_RICH,
    EXTRA_NO_RETARD, EXTRA_OUTLET_BAD, OUTLETS_ONE, RAIL_LIVE,
)


def purge_notes(s, v, c):
    """What the crew is told while the purge valve is open."""
    if s.vent_n:
        s.why3 |= VENTING
    elif s.timer >= c.purge_ticks and s.purge_good_n >= c.purge_good_ticks:
        s.why3 |= PURGE_LONG_ENOUGH
    else:
        s.why3 |= KEEP_PURGING
    if v.outlets == OUTLETS_ONE:
        s.why3 |= ONE_OUTLET_WARM



def extra_reasons(s, v):
    """What the extras say in every state: fire, an overheated bottle, and signals that are only told."""
    extras = v.extras
    if extras & EXTRA_FIRE:
        s.why1 |= FIRE_SEEN
    if extras & EXTRA_BOTTLE_RED:
        s.why0 |= BOTTLE_OVERHEATED
    if extras & EXTRA_AIR_BAD:
        s.why3 |= AIR_SIGNAL_BAD
    if extras & EXTRA_OUTLET_BAD:
        s.why3 |= OUTLET_SIGNAL_BAD



def extra_waits(s, v):
    """What the extras keep READY away for."""
    extras = v.extras
    if extras & EXTRA_CONTENT:
        s.why0 |= CONTENT_DOUBTFUL
    if extras & EXTRA_BOTTLE_BAD:
        s.why3 |= BOTTLE_TEMP_BAD
    if extras & EXTRA_BOTTLE_WARM:
        s.why3 |= BOTTLE_WARM
    if extras & EXTRA_NOT_RICH:
        s.why3 |= MIXTURE_NOT_RICH
    if extras & EXTRA_NO_RETARD:
        s.why3 |= RETARD_MISSING
    if extras & EXTRA_FAST:
        s.why3 |= AIRSPEED_HIGH
    if extras & EXTRA_AIRSPEED_BAD:
        s.why3 |= AIRSPEED_BAD



def bench_faults(s, v):
    """What ends a bench mode: coils and volts; there is no engine, no fuel and perhaps no gas."""
    s.why3 |= BENCH_NO_FUEL
    if s.ask_ox:
        if v.missing & COIL_OX:
            s.why0 |= O_CURRENT_LOST
        if v.rail < RAIL_LIVE:
            s.why0 |= RAIL_NOT_LIVE
    if v.bus <= BUS_CUT:
        s.why0 |= BUS_FAILED if v.bus == BUS_HARD else BUS_SAGS
    elif v.bus == BUS_SURGE:
        s.why1 |= BUS_SURGES



def row_patterns(row, c):
    """The patterns of stages that a row of the altitude table allows."""
    if not row:
        return c.patterns
    if row == 1:
        return c.patterns_1
    if row == 2:
        return c.patterns_2
    if row == 3:
        return c.patterns_3
    return c.patterns_4 if row == 4 else c.patterns_5



def needed(stages, c):
    """What a start with these stages must find in the bottle, 1/1024 g."""
    need = 0
    if stages & 1:
        need = c.need_1
    if stages & 2:
        need += c.need_2
    if stages & 4:
        need += c.need_3
    if stages & 8:
        need += c.need_4
    return need
