"""Flow: stages opened one after the other oxidizer first, held, and run down fuel first."""

from oxlatch.core import enter, stop
from oxlatch.reasons import O_NOT_PROVED, O_NOT_PROVED_AGAIN, RAIL_NOT_LIVE
from oxlatch.trip import to_rest, trip
from oxlatch.vocabulary import (  # fmt: skip
    COIL_MASTER_OX, CONTACT_CLOSED, FIT_CURRENTS, FIT_PROOF, GAP, LEAD_IN, OUT_MASTER_FUEL, OUT_MASTER_OX,
    OUT_RUN, PUSH_SPENT, RAIL_LIVE, RUN, RUN_DOWN, STAGES_MAX, SUPPLY_HIGH, THROTTLE_HOLD, TRIP,
)


def start(s, v, c):
    """Take the selection of this moment and raise the rail; the push is used up."""
    enter(s, LEAD_IN)
    s.push = PUSH_SPENT
    s.latched = v.sel
    s.opening = 0
    s.lead_n = 0
    s.stagger_n = c.stagger_ticks
    s.run_n = 0
    s.ready_n = 0
    s.ask_bits = OUT_RUN
    s.starts_n += c.start_cost_ticks
    if s.starts_n > c.start_limit_ticks:
        s.starts_n = c.start_limit_ticks
        s.hold_off_left = c.hold_off_ticks


def released(v):
    """Whether the pilot has let go: contact, throttle or master."""
    return v.contact != CONTACT_CLOSED or v.throttle < THROTTLE_HOLD or not v.master


def close_fuel(s, stages, c):
    """Fuel of these stages off now; their oxidizer follows when its tail has run out."""
    s.ask_fuel &= ~stages
    if not s.ask_fuel:
        s.ask_bits &= ~OUT_MASTER_FUEL
    if not c.tail_ticks:
        s.ask_ox &= ~stages
        return
    for i in range(STAGES_MAX):
        if (stages >> i) & 1:
            s.tail[i] = c.tail_ticks


def tails_step(s):
    """Count down the tails; oxidizer off where one ends. Without oxidizer alone there is no tail."""
    if s.ask_ox == s.ask_fuel:
        return
    for i in range(STAGES_MAX):
        if s.tail[i]:
            s.tail[i] -= 1
            if not s.tail[i]:
                s.ask_ox &= ~(1 << i)


def drop_unselected(s, v, c):
    """Run down the stages whose selector went off; a selector that goes on waits for the next push."""
    gone = s.latched & ~v.sel
    if not gone:
        return
    s.latched &= ~gone
    if gone & s.opening:
        s.ask_ox &= ~s.opening
        s.opening = 0
        s.stagger_n = 0
        s.lead_n = 0
    if gone & s.ask_fuel:
        close_fuel(s, gone & s.ask_fuel, c)


def begin_run_down(s, c):
    """Fuel first: every fuel off in this tick, oxidizer after its tail, a half-open stage at once."""
    s.ask_ox &= ~s.opening
    s.opening = 0
    s.latched = 0
    if s.ask_fuel:
        close_fuel(s, s.ask_fuel, c)
    after_long_run(s, c)
    enter(s, RUN_DOWN)


def after_long_run(s, c):
    """A run long enough to have cooled the line sets what is left of the purge's validity."""
    if s.run_n >= c.long_run_ticks and s.purge_valid:
        s.purge_left = c.purge_after_run_ticks


def flow_step(s, v, c):
    """One tick of RUN, and the first half of one of LEAD-IN; false when the flow has just begun to run down."""
    tails_step(s)
    if s.ask_fuel and s.run_n < c.run_ticks:
        s.run_n += 1
    drop_unselected(s, v, c)
    if released(v) or not s.latched:
        begin_run_down(s, c)
        return False
    return True


def lead_in(s, v, c):
    """Open the latched stages in order: oxidizer, proof, lead, fuel; the next after the stagger."""
    if not flow_step(s, v, c):
        return
    if s.opening:
        open_fuel(s, v, c)
        if s.state != LEAD_IN:
            return
    elif v.supply == SUPPLY_HIGH:
        s.latched = s.ask_fuel
        if not s.latched:
            begin_run_down(s, c)
            return
    elif s.stagger_n < c.stagger_ticks:
        s.stagger_n += 1
    elif v.rail == RAIL_LIVE:
        wanted = s.latched & ~s.ask_ox
        s.opening = wanted & (~wanted + 1)
        s.ask_ox |= s.opening
        s.lead_n = 0
    else:
        s.lead_n += 1
        if s.lead_n >= c.lead_limit_ticks:
            s.why0 |= RAIL_NOT_LIVE
            trip(s, c)
            return
    if not s.latched & ~s.ask_fuel:
        s.no_show = 0
        enter(s, RUN)


def open_fuel(s, v, c):
    """Open the fuel of the opening stage once its oxidizer is proved and has led long enough."""
    s.lead_n += 1
    proved = True
    if c.fitted & FIT_PROOF and not s.opening & v.proof:
        proved = False
    if c.fitted & FIT_CURRENTS and not s.opening & v.current:
        proved = False
    if proved and s.lead_n >= c.lead_ticks:
        s.ask_fuel |= s.opening
        s.ask_bits |= OUT_MASTER_FUEL
        s.opening = 0
        s.stagger_n = 0
        s.lead_n = 0
    elif s.lead_n >= c.lead_limit_ticks:
        s.why0 |= O_NOT_PROVED_AGAIN if s.no_show else O_NOT_PROVED
        s.no_show = 1
        trip(s, c)


def run_down(s, v, c):
    """Let the tails end, drop the rail, see everything shut; then the next state is known."""
    if s.timer < c.run_off_ticks:
        s.timer += 1
    tails_step(s)
    if s.timer >= c.run_off_ticks:
        s.ask_bits = 0
    if s.classify0:
        if s.classify_n:
            s.classify_n -= 1
        if not s.classify_n:
            s.why0 |= s.classify0
            s.classify0 = 0
            if v.contact == CONTACT_CLOSED and v.master:
                trip(s, c)
                return
    if s.ask_ox or s.ask_bits & ~OUT_MASTER_OX or s.classify0:
        return
    if s.latch:
        stop(s)
        enter(s, TRIP)
    elif v.proof or v.current & ~COIL_MASTER_OX:
        return
    elif s.disarm:
        to_rest(s)
    else:
        enter(s, GAP)
