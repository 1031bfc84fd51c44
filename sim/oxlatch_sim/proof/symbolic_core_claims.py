"""What sequencer and gate together guarantee, for every verdict at every tick."""

# mypy: disallow-untyped-defs=False

from __future__ import annotations

from oxlatch.permits_extras import row_patterns
from oxlatch.reasons import WAITS_3
from oxlatch.vocabulary import (
    ALL_STOP,
    BENCH_GAS,
    CONTACT_OPEN,
    FUEL_FIRST,
    GAP,
    HARD,
    LEAD_IN,
    OUT_MASTER_OX,
    OUT_RUN,
    OUTLETS_COLD,
    PURGING,
    READY,
    RUN,
    RUN_DOWN,
    SERVICE,
    SUPPLY_FAULT,
    TRIP,
    WAITING,
    WAKE,
)
from oxlatch_sim.proof.symbolic_engine import claim
from oxlatch_sim.proof.symbolic_story import MASTER_CYCLED, some_stage


def is_flowing(core):
    return core.state == LEAD_IN or core.state == RUN or core.state == RUN_DOWN


def is_armed(core):
    return WAITING <= core.state <= GAP


def is_bench(core):
    return core.state >= BENCH_GAS


def feeds_line(core):
    """Whether the master oxidizer valve belongs open: armed, or on the bench with gas."""
    return is_armed(core) or core.state == BENCH_GAS


def nothing_at_rest(core, out):
    """Valves and run switch are off in every state but PURGING, LEAD-IN, RUN, RUN-DOWN and the bench modes; the
    master oxidizer valve is off in every state that is neither armed nor the gas bench.
    """
    if out.bits & OUT_MASTER_OX and not feeds_line(core):
        return False
    if core.state == PURGING or is_flowing(core) or is_bench(core):
        return True
    return not out.ox and not out.fuel and not out.bits & ~OUT_MASTER_OX


def opening_needs_an_edge(core, story, out):
    """A valve opens only in a flow that began when the contact closed while READY, or on the bench."""
    return not out.ox & ~story.ox_before or (core.state == LEAD_IN and story.flow) or is_bench(core)


def one_stage_opens_at_a_time(story, out):
    """No two stages open in the same tick."""
    return some_stage(out.ox & ~story.ox_before) < 2


def flow_begins_in_ready(core, story):
    """LEAD-IN is entered from READY only, RUN from LEAD-IN only."""
    if core.state == LEAD_IN:
        return story.state_before == LEAD_IN or (story.state_before == READY and story.edge)
    return core.state != RUN or story.state_before == RUN or story.state_before == LEAD_IN


def stages_never_grow(core, story, out):
    """In a flow only stages selected when the push was taken are driven."""
    return is_bench(core) or not (out.ox | out.fuel) & ~story.allowed


def stopped_stages_stay_off(core, story, out):
    """A stage that stopped does not open again in the same flow."""
    return is_bench(core) or not out.ox & story.gone


def ritual_before_opening(core, story, out):
    """Since the reset: master seen off then on, contact seen open, a whole purge driven; on the bench no purge."""
    if not out.ox:
        return True
    return story.master == MASTER_CYCLED and story.opened and (story.purged or is_bench(core))


def fresh_purge_before_opening(core, story, out):
    """A valve opens in flight only with a whole purge driven since the master was last off."""
    return not out.ox & ~story.ox_before or story.fresh or is_bench(core)


def armed_means_never_off(core, story):
    """Every armed state but RUN-DOWN means that the master has been on since it was switched on in REST."""
    if core.state == LEAD_IN or core.state == RUN:
        return story.unbroken
    return (not WAITING <= core.state <= READY and core.state != GAP) or story.unbroken


def purge_is_voided_now(core, story, v):
    """Master off, line lost, its signal bad, or a new press outside a flow: no purge is valid in that tick.

    The line is lost only with every valve shut, so never at the end of a purge.
    """
    if not v.master or (v.line_lost and story.state_before != PURGING) or v.supply == SUPPLY_FAULT:
        return not core.purge_valid
    in_flow = LEAD_IN <= story.state_before <= RUN_DOWN
    return in_flow or not story.press_edge or not core.purge_valid


def ready_begins_open(core, story, v):
    """READY is entered only with the contact open."""
    return core.state != READY or story.state_before == READY or v.contact == CONTACT_OPEN


def pattern_is_allowed(core, story, v, c):
    """In the tick in which the selection latches it is not empty, and a pattern that this air's row allows."""
    if core.state != LEAD_IN or story.state_before != READY:
        return True
    return core.latched == v.sel and v.sel and (row_patterns(v.row, c) >> v.sel) & 1


def driven_stages_exist(out, c):
    """No stage beyond those of the settings is driven."""
    return not (out.ox | out.fuel) >> c.stages


def open_contact_opens_nothing(story, out):
    """As long as the contact verdict has never been closed, nothing is driven."""
    return story.ever_closed or not (out.ox or out.fuel)


def release_stops_fuel_now(story, out):
    """Contact, throttle or master released: fuel and master fuel off in that tick."""
    return not story.released_n or not out.fuel


def release_stops_oxidizer_after_tail(story, out, c):
    """Released for more than the tail: oxidizer off."""
    return story.released_n <= c.tail_ticks or not out.ox


def release_drops_run(core, story, out, c):
    """Released for more than the run-off time: run switch off, unless purging or on the bench."""
    if story.released_n <= c.run_off_ticks or core.state == PURGING or is_bench(core):
        return True
    return not out.bits & OUT_RUN


def faults_act_now(core, out):
    """The tick that finds a fault drives no fuel; no oxidizer from ALL-STOP up; nothing from HARD up."""
    if core.state == WAKE or core.state == SERVICE or core.reaction < FUEL_FIRST:
        return True
    if out.fuel or (core.reaction >= ALL_STOP and out.ox):
        return False
    return core.reaction < HARD or not out.bits


def ready_means_no_reason(core):
    """READY stands only while no reason does."""
    return core.state != READY or not (core.why0 or core.why1 or core.why2 or core.why3 & WAITS_3)


def flow_needs_valid_purge(core, story):
    """A flow begins only with a valid purge."""
    return core.state != LEAD_IN or story.state_before == LEAD_IN or core.purge_valid


def purge_is_earned(core, story, v):
    """A purge becomes valid only after a whole one that waited for its confirmation, or that ends with cold outlets."""
    if not core.purge_valid or story.valid_before:
        return True
    cold = story.state_before == PURGING and v.outlets == OUTLETS_COLD
    return story.purged and (story.confirm_before or cold)


def maintenance_latch_holds(core, story, v):
    """Latch 4 is dropped only by the host tool in SERVICE."""
    if story.latch_before != 4 or core.latch == 4:
        return True
    return story.state_before == SERVICE and v.service > 1


def latch_is_stored(core):
    """Latches 3 and 4 stand in the lockout memory as long as they stand."""
    return core.latch < 3 or core.store == core.latch


def one_first_cause(core):
    """The first cause is at most one reason."""
    if core.cause0 & (core.cause0 - 1) or core.cause1 & (core.cause1 - 1):
        return False
    return not (core.cause0 and core.cause1)


# --- what must be possible, so that the claims are not about a controller that does nothing -------


def two_stages_flow(core, out):
    """Two stages flow with their fuel in RUN."""
    return core.state == RUN and some_stage(out.fuel) > 1


def stage_opens(story, out):
    """Oxidizer of a stage opens."""
    return out.ox & ~story.ox_before


def tail_flows(core, out):
    """Oxidizer flows without fuel in RUN-DOWN."""
    return core.state == RUN_DOWN and out.ox and not out.fuel


def purge_completes(core, story):
    """A purge waits for its confirmation."""
    return story.state_before == PURGING and core.confirm_left


def lockout_stands(core):
    """A latch of level 3 stands in TRIP."""
    return core.state == TRIP and core.latch == 3


WITNESSES = (
    claim("core: two stages flow", "witness", two_stages_flow),
    claim("core: a stage opens", "witness", stage_opens),
    claim("core: a tail flows", "witness", tail_flows),
    claim("core: a purge completes", "witness", purge_completes),
    claim("core: a lockout stands", "witness", lockout_stands),
)

CLAIMS = (
    claim("core: nothing at rest", "I10", nothing_at_rest),
    claim("core: opening needs an edge", "I6", opening_needs_an_edge),
    claim("core: flow begins in READY", "I6", flow_begins_in_ready),
    claim("core: one stage at a time", "I7", one_stage_opens_at_a_time),
    claim("core: stages never grow", "I7", stages_never_grow),
    claim("core: stopped stages stay off", "I7", stopped_stages_stay_off),
    claim("core: ritual before opening", "I8", ritual_before_opening),
    claim("core: fresh purge before opening", "I8", fresh_purge_before_opening),
    claim("core: armed means never off", "I8", armed_means_never_off),
    claim("core: purge is voided now", "I8", purge_is_voided_now),
    claim("core: READY begins open", "I6", ready_begins_open),
    claim("core: pattern is allowed", "I9", pattern_is_allowed),
    claim("core: driven stages exist", "I9", driven_stages_exist),
    claim("core: open contact opens nothing", "I11", open_contact_opens_nothing),
    claim("core: release stops fuel now", "I12", release_stops_fuel_now),
    claim("core: release stops oxidizer", "I12", release_stops_oxidizer_after_tail),
    claim("core: release drops run", "I12", release_drops_run),
    claim("core: faults act now", "off-in-time", faults_act_now),
    claim("core: READY means no reason", "I8", ready_means_no_reason),
    claim("core: flow needs a valid purge", "I8", flow_needs_valid_purge),
    claim("core: purge is earned", "I8", purge_is_earned),
    claim("core: maintenance latch holds", "I13", maintenance_latch_holds),
)
