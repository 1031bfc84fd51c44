"""The state machine: what the controller asks of the valves.

`core_step` advances the slow quantities, collects the standing reasons, acts on faults, and only then
runs the handler of the present state. What is asked here is a wish; the gate decides.
"""

from oxlatch.bench_modes import begin_bench, bench
from oxlatch.core import INJECT_ABSENT, INJECT_FITTED, INJECT_UNREAD, STORE_ARMED, STORE_NOTHING, enter, stop
from oxlatch.flow import after_long_run, begin_run_down, flow_step, lead_in, run_down, start, tails_step
from oxlatch.permits import permits_step
from oxlatch.pilot import contact_step, pilot_step
from oxlatch.purge import begin_purge, purge_step, purge_wanted, purging
from oxlatch.reasons import (  # fmt: skip
    ALL_STOP_0, ALL_STOP_1, F_CURRENT_LOST, O_CURRENT_LOST, PUSH_NOT_FULL, PUSH_RPM_HIGH, PUSH_RPM_LOW,
    PUSH_RPM_SIGNAL, RAIL_NOT_LIVE, RAIL_STAYS_LIVE, REFILL_ENTERED, SETTLING, STATE_CORRUPT, TICK_STALLED,
    WAITS_3,
)
from oxlatch.stock import refill, stock_found, stock_step
from oxlatch.trip import forgive, note_cause, service_wanted, to_rest, trip, tripped
from oxlatch.vocabulary import (  # fmt: skip
    ALL_STOP, BENCH_DRY, BENCH_GAS, BOOT_WATCHDOG, CONTACT_OPEN, FIT_ALWAYS, FIT_BUDGET, FIT_LOCKOUT_MEMORY,
    FIT_MASTER_OX, FUEL_FIRST, GAP, HELD, LEAD_IN, OUT_MASTER_OX, PUSH_JUDGED, PUSH_SPENT, RAIL_DEAD, READY,
    REST, RPM_OVER, RPM_SILENT, RPM_STOPPED, RPM_WINDOW, RUN, RUN_DOWN, SERVICE, THROTTLE_FULL, TRIP, WAITING,
    WAKE,
)

# Acted on at once, named a moment later: a released contact or master takes these with it.
CLASSIFY_0 = O_CURRENT_LOST | F_CURRENT_LOST | RAIL_NOT_LIVE


def core_step(s, v, c):
    """One tick after sense: verdicts `v` and settings `c` in, standing reasons and wishes in `s`."""
    contact_step(s, v, c)
    pilot_step(s, v, c)
    purge_step(s, v, c)
    if s.ask_ox or s.ask_bits or s.coil_heat:
        stock_step(s, c)
    permits_step(s, v, c)
    ready_step(s, c)
    state = s.state
    if s.reaction >= FUEL_FIRST and (WAKE < state < TRIP or BENCH_GAS <= state <= BENCH_DRY):
        react(s, v, c, state)
    elif state < LEAD_IN:
        before_flow(s, v, c, state)
    elif state == RUN:
        flow_step(s, v, c)
    elif state == LEAD_IN:
        lead_in(s, v, c)
    elif state == RUN_DOWN:
        run_down(s, v, c)
    else:
        after_flow(s, v, c, state)
    if c.fitted & FIT_MASTER_OX:
        master_ox_step(s)


def master_ox_step(s):
    """The master oxidizer valve is open while armed and on the gas bench; it shuts when disarmed, at once in TRIP."""
    if WAITING <= s.state <= GAP or s.state == BENCH_GAS:
        s.ask_bits |= OUT_MASTER_OX
    else:
        s.ask_bits &= ~OUT_MASTER_OX


def before_flow(s, v, c, state):
    """The handlers of the states that come before a flow."""
    if state > HELD:
        if not v.master:
            to_rest(s)
        elif state == READY:
            ready(s, v, c)
        elif state == WAITING:
            waiting(s, v, c)
        else:
            purging(s, v, c)
    elif state == REST:
        rest(s, v, c)
    elif state == HELD:
        held(s, v, c)
    elif state == WAKE:
        wake(s, v, c)
    else:
        after_flow(s, v, c, state)


def after_flow(s, v, c, state):
    """The handlers of the states that come after a flow or a fault; and of a state that cannot be."""
    if state == GAP:
        gap(s, v, c)
    elif state == TRIP:
        tripped(s, v, c)
    elif state == SERVICE:
        service(s, v, c)
    elif state == BENCH_GAS or state == BENCH_DRY:
        bench(s, v, c)
    else:
        s.why1 |= STATE_CORRUPT
        trip(s, c)


def react(s, v, c, state):
    """Act on the strongest standing fault, whatever the state would have done."""
    if state == LEAD_IN or state == RUN:
        after_long_run(s, c)
    if state < LEAD_IN or state > RUN_DOWN:
        trip(s, c)
    elif s.reaction == FUEL_FIRST:
        note_cause(s, c)
        if state == RUN_DOWN:
            run_down(s, v, c)
        else:
            tails_step(s)
            begin_run_down(s, c)
    elif s.reaction == ALL_STOP and only_lost_power(s, state):
        lost = s.why0 & CLASSIFY_0
        stop(s)
        s.classify0 = lost
        s.classify_n = c.classify_ticks
        enter(s, RUN_DOWN)
    else:
        trip(s, c)


def only_lost_power(s, state):
    """Whether all that stands is what a released contact or master would also look like.

    In a run-down the weaker causes that began it are already kept and do not count.
    """
    if state == RUN_DOWN:
        return not s.why0 & ALL_STOP_0 & ~CLASSIFY_0 and not s.why1 & ALL_STOP_1
    return not s.why0 & ~CLASSIFY_0 and not s.why1


def ready_step(s, c):
    """Count how long nothing but the settling time itself has kept READY away."""
    if s.why2 & ~SETTLING or s.why3 & WAITS_3:
        s.ready_n = 0
    elif s.ready_n < c.ready_ticks:
        if s.state == WAITING or s.state == GAP:
            s.ready_n += 1


def wake(s, v, c):
    """Outputs stay off while inputs settle and lamps are shown; what is found meanwhile is kept and decides.

    The first tick is not judged: the time before it is nobody's.
    """
    if s.timer and (s.why0 or s.why1):
        note_cause(s, c)
    if s.timer < c.wake_ticks:
        s.timer += 1
        return
    if s.inject == INJECT_UNREAD:
        fitted = v.inject and not v.master and v.rpm <= RPM_SILENT
        s.inject = INJECT_FITTED if fitted else INJECT_ABSENT
        stock_found(s, v, c)
        if v.boot & BOOT_WATCHDOG:
            s.why1 |= TICK_STALLED
    if v.rail != RAIL_DEAD:
        s.why0 |= RAIL_STAYS_LIVE
    if s.why0 or s.why1:
        trip(s, c)
    elif s.latch:
        enter(s, TRIP)
    elif v.master or v.purge or v.contact != CONTACT_OPEN:
        enter(s, HELD)
    else:
        enter(s, REST)


def held(s, v, c):
    """Something was on at start-up: it must go off, and stay off, before anything counts."""
    if service_wanted(s, v):
        enter(s, SERVICE)
    elif s.off_n >= c.master_off_ticks and s.open_n >= c.release_ticks and not v.purge:
        enter(s, REST)


def rest(s, v, c):
    """Disarmed. Master on, after it was seen off here, arms, if every required input is fitted.

    With the bench key in, engine stopped, ACK or PURGE held at that moment chooses a bench mode instead.
    """
    if service_wanted(s, v):
        enter(s, SERVICE)
    elif not v.master:
        if not s.timer:
            s.ack_n = 0  # a hold from before says nothing here
        s.timer = 1
        if s.ack_n >= c.ack_hold_ticks and v.rpm == RPM_STOPPED and c.fitted & FIT_BUDGET:
            refill(s, c)
            s.why3 |= REFILL_ENTERED
    elif s.timer and c.fitted & FIT_ALWAYS == FIT_ALWAYS:
        if v.bench and v.rpm == RPM_STOPPED and (v.ack or v.purge):
            begin_bench(s, v)
            return
        s.disarm = 0
        s.arm_left = c.arm_ticks
        if c.fitted & (FIT_LOCKOUT_MEMORY | FIT_BUDGET) != FIT_LOCKOUT_MEMORY:
            s.store = STORE_ARMED
        enter(s, WAITING)


def waiting(s, v, c):
    """Armed; waiting for the standing reasons to go, or for a purge."""
    if purge_wanted(s, v, c):
        begin_purge(s)
    elif not s.why2 and not s.why3 & WAITS_3:
        enter(s, READY)


def ready(s, v, c):
    """Nothing stands in the way: a push is judged; a reason that appears ends READY."""
    if s.why2 or s.why3 & WAITS_3:
        enter(s, WAITING)
    elif s.push == PUSH_JUDGED:
        if v.throttle == THROTTLE_FULL and v.rpm == RPM_WINDOW:
            start(s, v, c)
        elif s.push_n >= c.push_judge_ticks:
            s.push = PUSH_SPENT
            s.push_why = push_refusal(v)


def push_refusal(v):
    """Why a push was spent, as bits of word 2."""
    why = 0
    if v.throttle != THROTTLE_FULL:
        why |= PUSH_NOT_FULL
    if v.rpm == RPM_OVER:
        why |= PUSH_RPM_HIGH
    elif v.rpm == RPM_SILENT or v.rpm == RPM_STOPPED:
        why |= PUSH_RPM_SIGNAL
    elif v.rpm != RPM_WINDOW:
        why |= PUSH_RPM_LOW
    return why


def gap(s, v, c):
    """A pause after every flow; the contact must be seen open before the next push can count."""
    if not v.master:
        to_rest(s)
    elif s.timer < c.gap_ticks:
        s.timer += 1
    elif s.open_n >= c.contact_open_ticks:
        enter(s, WAITING)


def service(s, v, c):
    """The host tool has the floor; it drives no valve. Its sign-off clears the highest latch.

    A fault that appears here is kept and trips on the way out, through WAKE.
    """
    if s.why0 or s.why1:
        note_cause(s, c)
    if v.service > 1:
        forgive(s)
        s.store = STORE_NOTHING
        s.boot_cleared = 1
        s.stalled = 0
        s.stuck_before = 0
        s.no_show = 0
    if not v.service or v.master or v.rpm != RPM_STOPPED or v.rail != RAIL_DEAD:
        enter(s, WAKE)
