"""The bench modes, the master oxidizer valve and what a run uses up: sequencer and gate together."""

# mypy: disallow-untyped-defs=False

from __future__ import annotations

from oxlatch.permits_extras import needed
from oxlatch.reasons import BUDGET_SHORT, BUDGET_USED, REFILL_ENTERED, VENTING
from oxlatch.stock import GRAM_SHIFT, flow
from oxlatch.vocabulary import (
    BENCH_DRY,
    BENCH_GAS,
    CONTACT_CLOSED,
    CONTACT_OPEN,
    FIT_BUDGET,
    FIT_MASTER_OX,
    FIT_VENT_DOWN,
    LEAD_IN,
    LINE_DEAD,
    LINE_LOST,
    OUT_MASTER_FUEL,
    OUT_MASTER_OX,
    OUT_PURGE,
    OUT_RUN,
    PURGING,
    REST,
    RPM_STOPPED,
    RUN,
    TRIP,
    WAITING,
    WAKE,
)
from oxlatch_sim.proof.symbolic_core_claims import feeds_line, is_bench
from oxlatch_sim.proof.symbolic_core_rules import begins_flow
from oxlatch_sim.proof.symbolic_engine import claim
from oxlatch_sim.proof.symbolic_story import is_venting

# --- strengthenings ---------------------------------------------------------------------------


def bench_asks_fit(core, story):
    """On the bench: no run switch, no other valve of a stage or purge; the purge valve only with gas and without oxidizer; oxidizer only of
    the stages taken at a push, and that only after the contact was seen open.
    """
    if not is_bench(core):
        return True
    if not core.ask_bits & OUT_RUN and (core.ask_bits & OUT_PURGE or core.ask_ox):
        return False
    if core.ask_bits & OUT_PURGE and (core.ask_ox or core.state != BENCH_GAS):
        return False
    if core.ask_ox & ~core.latched or core.opening:
        return False
    return (core.bench_n > 1 or not core.ask_ox) and (story.opened or not core.bench_n)


def bench_is_timed(core, c):
    """On the bench the clock has not run out; there, as in every state before arming, the arm time is nothing."""
    if is_bench(core) and core.timer >= c.bench_ticks:
        return False
    return WAITING <= core.state <= TRIP or not core.arm_left


def venting_is_counted(core, c):
    """PURGING means that the button was held for its whole time, and that the time of venting is not over. A press
    not yet that long has not vented, and PURGING never where venting is not fitted.
    """
    if 0 < core.purge_press_n < c.purge_press_ticks and core.vent_n:
        return False
    if core.state != PURGING:
        return True
    if core.purge_press_n < c.purge_press_ticks or core.vent_n >= c.vent_ticks:
        return False
    return c.fitted & FIT_VENT_DOWN or not core.vent_n


# --- the bench --------------------------------------------------------------------------------


def bench_key_bars_fuel(out, v):
    """With the bench key no fuel and no master fuel, whatever the state."""
    return not v.bench or not (out.fuel or out.bits & OUT_MASTER_FUEL)


def bench_asks_no_fuel(core, out):
    """A bench mode neither asks for fuel nor drives it."""
    if not is_bench(core):
        return True
    return not (core.ask_fuel or out.fuel or (core.ask_bits | out.bits) & OUT_MASTER_FUEL)


def bench_needs_its_key(core, v):
    """A bench mode stands only with key in, master on and engine stopped, in that tick; dry only without pressure."""
    if not is_bench(core):
        return True
    return v.bench and v.master and v.rpm == RPM_STOPPED


def dry_means_no_gas(core, story, v):
    """BENCH-DRY goes on only while the line has no pressure."""
    return core.state != BENCH_DRY or story.state_before != BENCH_DRY or v.line <= LINE_DEAD


def bench_begins_in_rest(core, story, v):
    """A bench mode begins only in REST, with the key in, as the master comes on with ACK or PURGE held."""
    if not is_bench(core) or is_bench_state(story.state_before):
        return True
    return story.state_before == REST and v.bench and (v.ack or v.purge)


def is_bench_state(state):
    return state >= BENCH_GAS


def bench_ends_in_rest(core, story):
    """A bench mode ends in REST, or with a fault in TRIP; nothing stays armed."""
    if not is_bench_state(story.state_before) or is_bench(core):
        return True
    return (core.state == REST or core.latch) and not core.arm_left


def bench_drives_by_hand(core, out, v, c):
    """On the bench oxidizer is driven only with the contact closed and for its push time, the purge valve only
    with gas, contact open, and its button held no longer than a purge.
    """
    if not is_bench(core):
        return True
    if out.ox and not (v.contact == CONTACT_CLOSED and core.bench_n <= c.bench_push_ticks):
        return False
    if not out.bits & OUT_PURGE:
        return True
    return core.state == BENCH_GAS and v.contact == CONTACT_OPEN and v.purge and core.vent_n <= c.purge_max_ticks


# --- venting and the master oxidizer valve ----------------------------------------------------


def venting_needs_a_stopped_engine(core, story, v, c):
    """A purge stands below a purge's own pressure, or longer than one, only while venting: engine stopped."""
    if core.state != PURGING or is_venting(v, c):
        return True
    if story.state_before == PURGING:
        return v.line > LINE_DEAD and core.timer < c.purge_max_ticks
    return v.line >= LINE_LOST


def master_oxidizer_while_armed(core, out, c):
    """The master oxidizer valve is driven only where fitted, in an armed state or on the bench with gas, and asked for
    in every tick of these; never in TRIP, REST, HELD, SERVICE or WAKE.
    """
    if out.bits & OUT_MASTER_OX and not core.ask_bits & OUT_MASTER_OX:
        return False
    asked = core.ask_bits & OUT_MASTER_OX != 0
    return asked == (c.fitted & FIT_MASTER_OX != 0 and feeds_line(core))


# --- what a run uses up -----------------------------------------------------------------------


def start_finds_enough(core, story, v, c):
    """A flow begins only with the coils cool enough and, where counted, enough in the bottle for its stages."""
    if not begins_flow(core, story):
        return True
    return core.coil_heat <= c.coil_heat_start and (not c.fitted & FIT_BUDGET or core.budget >= needed(v.sel, c))


def empty_bottle_stops_fuel(core, story, out, c):
    """The bottle used up: fuel off in that tick."""
    in_flow = story.state_before == LEAD_IN or story.state_before == RUN
    return not (in_flow and c.fitted & FIT_BUDGET and not core.budget) or (not out.fuel and core.latch)


def hot_coils_stop_fuel(core, story, out, c):
    """Coils at their limit: fuel off in that tick."""
    in_flow = story.state_before == LEAD_IN or story.state_before == RUN
    return not (in_flow and core.coil_heat >= c.coil_heat_top) or (not out.fuel and core.latch)


def used_up(left, used):
    """What is left after taking some of it; no less than nothing."""
    return left - used if left > used else 0


def bottle_is_counted(core, story, v, c):
    """Every tick takes from the bottle what the valves asked for in the tick before let through; it is filled only
    by hand, at rest with master off and engine stopped, and after a reset from the store.
    """
    if story.state_before == WAKE and core.state != WAKE:
        return True
    used = 0
    if c.fitted & FIT_BUDGET:
        used = flow(story.ox_asked, c)
        if not story.ox_asked and story.purge_asked:
            used = c.flow_purge
    if core.budget == used_up(story.budget_before, used):
        return True
    refilled = core.why3 & REFILL_ENTERED and core.budget == c.bottle_full_g << GRAM_SHIFT
    return refilled and core.state == REST and not v.master and v.rpm == RPM_STOPPED and story.ack_n >= c.ack_hold_ticks


def coils_are_counted(core, story, c):
    """Coils heat in every tick after one in which oxidizer was asked for, up to their limit, and cool in every other."""
    if story.state_before == WAKE and core.state != WAKE:
        return True
    if not story.ox_asked:
        return core.coil_heat == used_up(story.heat_before, c.coil_heat_down)
    heat = story.heat_before + c.coil_heat_up
    return core.coil_heat == (heat if heat < c.coil_heat_top else c.coil_heat_top)


# --- what is not fitted -----------------------------------------------------------------------


def no_master_oxidizer(core, out, c):
    """Without a master oxidizer valve none is asked for or driven."""
    return c.fitted & FIT_MASTER_OX or not (core.ask_bits | out.bits) & OUT_MASTER_OX


def no_budget(core, c):
    """Without a counted bottle none of its reasons ever stands."""
    return c.fitted & FIT_BUDGET or not (core.why1 & BUDGET_USED or core.why3 & (BUDGET_SHORT | REFILL_ENTERED))


def no_venting(core, story, c):
    """Without vent-down nothing is vented: no note of it stands and no purge outlasts the longest."""
    return c.fitted & FIT_VENT_DOWN or not (core.why3 & VENTING or story.purge_n > c.purge_max_ticks)


# --- what must be possible --------------------------------------------------------------------


def bench_stage_flows(core, out):
    """Two stages of oxidizer flow on the bench."""
    return core.state == BENCH_GAS and out.ox == 3


def line_is_vented(core, story, v, c):
    """The line is vented for longer than the longest purge."""
    return story.purge_n > c.purge_max_ticks and is_venting(v, c)


def bottle_stops_a_run(core, story):
    """The used-up bottle ends a run."""
    return story.state_before == RUN and core.why1 & BUDGET_USED


BENCH_WITNESSES = (
    claim("core: the bench flows", "witness", bench_stage_flows),
    claim("core: the line is vented", "witness", line_is_vented),
    claim("core: the bottle stops a run", "witness", bottle_stops_a_run),
)

BENCH_STRENGTHENINGS = (
    claim("core.bench asks", "", bench_asks_fit),
    claim("core.bench time", "", bench_is_timed),
    claim("core.venting", "", venting_is_counted),
)

BENCH_CLAIMS = (
    claim("core: bench key bars fuel", "I16", bench_key_bars_fuel),
    claim("core: bench asks no fuel", "I16", bench_asks_no_fuel),
    claim("core: bench needs its key", "I16", bench_needs_its_key),
    claim("core: dry means no gas", "bench", dry_means_no_gas),
    claim("core: bench begins in REST", "bench", bench_begins_in_rest),
    claim("core: bench ends in REST", "bench", bench_ends_in_rest),
    claim("core: bench drives by hand", "bench", bench_drives_by_hand),
    claim("core: venting needs a stopped engine", "I4", venting_needs_a_stopped_engine),
    claim("core: master oxidizer while armed", "I10", master_oxidizer_while_armed),
    claim("core: start finds enough", "stock", start_finds_enough),
    claim("core: empty bottle stops fuel", "stock", empty_bottle_stops_fuel),
    claim("core: hot coils stop fuel", "stock", hot_coils_stop_fuel),
    claim("core: bottle is counted", "stock", bottle_is_counted),
    claim("core: coils are counted", "stock", coils_are_counted),
    claim("core: no master oxidizer", "unfitted", no_master_oxidizer),
    claim("core: no budget", "unfitted", no_budget),
    claim("core: no venting", "unfitted", no_venting),
)
