"""The rules around a flow: what lets it begin, what ends it, how latches fall, what a purge needs."""

# mypy: disallow-untyped-defs=False

from __future__ import annotations

from oxlatch.reasons import (
    DETENT_STUCK,
    DETENT_STUCK_AGAIN,
    LATCH_2_0,
    LATCH_2_1,
    LATCH_3_0,
    LATCH_3_1,
    LATCH_4_0,
    LATCH_4_1,
    O_NOT_PROVED,
    O_NOT_PROVED_AGAIN,
    TICK_STALLED,
    TICK_STALLED_AGAIN,
)
from oxlatch.sequencer import CLASSIFY_0
from oxlatch.vocabulary import (
    BLOCK_FAULT,
    BOOT_LOCKED_L3,
    BOOT_LOCKED_L4,
    BOOT_LOST_ARMED,
    BOOT_STORE_UNREADABLE,
    BUS_PERMIT,
    CONTACT_CLOSED,
    FUEL_FIRST,
    FUEL_PERMIT,
    LEAD_IN,
    OUT_PURGE,
    OUTLETS_COLD,
    PURGING,
    PUSH_JUDGED,
    RAIL_DEAD,
    RAIL_LIVE,
    READY,
    RPM_STOPPED,
    RPM_WINDOW,
    RUN_DOWN,
    SERVICE,
    SUPPLY_HIGH,
    SUPPLY_PERMIT,
    THROTTLE_FULL,
    TRIP,
    WAITING,
    WAKE,
)
from oxlatch_sim.proof.symbolic_core_claims import is_bench
from oxlatch_sim.proof.symbolic_engine import claim
from oxlatch_sim.proof.symbolic_story import is_venting

LOCKS_4 = BOOT_LOCKED_L4 | BOOT_STORE_UNREADABLE
LOCKS_3 = BOOT_LOCKED_L3 | BOOT_LOST_ARMED


def begins_flow(core, story):
    """The tick in which a push is taken."""
    return core.state == LEAD_IN and story.state_before == READY


def flow_begins_full(core, story, v):
    """A flow begins only with contact closed, throttle full and the engine in its window, in that tick."""
    if not begins_flow(core, story):
        return True
    return v.contact == CONTACT_CLOSED and v.throttle == THROTTLE_FULL and v.rpm == RPM_WINDOW


def flow_begins_permitted(core, story, v):
    """A flow begins only with pressures and bus permitted, proofs down, no bench key, armed and not held off."""
    if not begins_flow(core, story):
        return True
    if v.supply != SUPPLY_PERMIT or v.fuel != FUEL_PERMIT or v.bus != BUS_PERMIT or v.block == BLOCK_FAULT:
        return False
    if v.proof or v.bench or not v.throttle_low_seen or v.contact_stuck or v.short or v.stray:
        return False
    return core.arm_left and story.hold_off_before <= 1


def flow_begins_in_time(core, story, c):
    """A push is taken within its judging time after the contact closed."""
    return not begins_flow(core, story) or story.edge_n <= c.push_judge_ticks


def opening_needs_rail(core, story, out, v):
    """In flight a stage opens only with the coil rail live and the line pressure not over its limit."""
    return not out.ox & ~story.ox_before or (v.rail == RAIL_LIVE and v.supply != SUPPLY_HIGH) or is_bench(core)


def deselected_fuel_is_off(out, v):
    """A stage whose selector is off has no fuel, in that tick."""
    return not out.fuel & ~v.sel


def run_ends_in_time(story, c):
    """Fuel of a flow is on for at most the run time and one tick."""
    return story.fuel_n <= c.run_ticks + 1


def purge_needs_its_button(out, v):
    """The purge valve is driven only while its button is held."""
    return not out.bits & OUT_PURGE or v.purge


def purge_ends_in_time(story, v, c):
    """The purge valve is driven for at most the longest purge; longer only while venting, and then to its end."""
    if story.purge_n <= c.purge_max_ticks:
        return True
    return is_venting(v, c) and story.purge_n <= c.purge_max_ticks + c.vent_ticks


def purge_is_confirmed(core, story, v):
    """A purge becomes valid only in WAITING, in the tick in which ACK comes on, or as it ends with every fitted
    outlet cold.
    """
    if not core.purge_valid or story.valid_before:
        return True
    if story.state_before == PURGING:
        return v.outlets == OUTLETS_COLD
    return v.ack and core.ack_n == 1 and story.state_before == WAITING


def counts_now(core, story):
    """A purge that ends in this tick counts, confirmed or waiting for it."""
    return (core.confirm_left or core.purge_valid) and story.state_before == PURGING


def purge_without_current_is_void(core, story):
    """A purge during which the valve's current was missing never counts."""
    return not counts_now(core, story) or not story.flaw


def venting_is_no_purge(core, story):
    """A press that vented the line never counts as a purge."""
    return not counts_now(core, story) or not story.vented


def lost_line_voids_purge(core, story, c):
    """Line pressure below its level for the void time: no purge is valid."""
    return story.line_n < c.purge_void_ticks or not core.purge_valid


def service_is_still(core, v):
    """SERVICE stands only with master off, engine stopped, rail dead, and asked for by the host."""
    if core.state != SERVICE:
        return True
    return v.service and not v.master and v.rpm == RPM_STOPPED and v.rail == RAIL_DEAD


def latch_covers_faults(core, story, v):
    """A standing fault has its latch in that tick; lost power is classified first, in a run-down with the rest."""
    unjudged = story.state_before == WAKE and not story.timer_before
    unjudged = unjudged or (story.state_before == RUN_DOWN and core.state == RUN_DOWN and core.why0 & CLASSIFY_0)
    unjudged = unjudged or core.latch < story.latch_before  # falls by its rule
    why0 = core.why0 & ~CLASSIFY_0
    if core.reaction < FUEL_FIRST or unjudged or v.service > 1 or not (why0 or core.why1):
        return True
    if why0 & LATCH_4_0 or core.why1 & LATCH_4_1:
        return core.latch == 4
    if why0 & LATCH_3_0 or core.why1 & LATCH_3_1:
        return core.latch >= 3
    if why0 & LATCH_2_0 or core.why1 & LATCH_2_1:
        return core.latch >= 2
    return core.latch >= 1


def latch_rises_to_its_fault(core, story):
    """A latch rises only to the level of a fault that stands in that tick, and the first cause stands with it."""
    if core.latch <= story.latch_before:
        return True
    if not story.latch_before and not (core.cause0 & core.why0 or core.cause1 & core.why1):
        return False
    if core.latch == 4:
        return core.why0 & LATCH_4_0 or core.why1 & LATCH_4_1
    if core.latch == 3:
        return core.why0 & LATCH_3_0 or core.why1 & LATCH_3_1
    if core.latch == 2:
        return core.why0 & LATCH_2_0 or core.why1 & LATCH_2_1
    return core.why0 or core.why1


def second_time_is_worse(core, story):
    """What was noted as having happened before is told as the second time, and latches one level higher."""
    if story.state_before == SERVICE:
        return True
    if (core.why1 & TICK_STALLED_AGAIN and not core.stalled) or (
        core.why0 & DETENT_STUCK_AGAIN and not core.stuck_before
    ):
        return False
    noted = core.state == TRIP and story.state_before != WAKE
    if noted and (
        (core.why1 & TICK_STALLED and not core.stalled) or (core.why0 & DETENT_STUCK and not core.stuck_before)
    ):
        return False
    return not core.why0 & (O_NOT_PROVED | O_NOT_PROVED_AGAIN) or core.no_show


def latch_falls_by_its_rule(core, story, v, c):
    """A latch ends by its rule: 1 released or master off; 2 master off; 3 engine stopped, master off, ACK held."""
    if core.latch >= story.latch_before or story.state_before == SERVICE:
        return True
    if core.latch:
        return False
    if story.latch_before == 1:
        return story.open_n >= c.release_ticks or story.off_n >= c.master_off_ticks
    if story.latch_before == 2:
        return story.off_n >= c.disarm_ticks and not core.why0 and not core.why1
    if v.master or v.rpm != RPM_STOPPED or v.rail != RAIL_DEAD or v.proof:
        return False
    return story.latch_before == 3 and story.ack_n >= c.ack_hold_ticks and not core.why0


def found_lock_is_kept(core, boot):
    """A lock found at start-up stands, and stands in the memory, from the end of WAKE until it is cleared."""
    if core.state == WAKE or core.boot_cleared:
        return True
    if boot.word & LOCKS_4:
        return core.latch == 4 and core.store == 4
    return not boot.word & LOCKS_3 or (core.latch >= 3 and core.store >= 3)


# --- strengthenings that only these rules need ---------------------------------------------------


def hands_are_remembered(core, story, c):
    """The counts of master off and lost line are the story's own, cut off at their limits; that of ACK is never more."""
    if core.off_n != (story.off_n if story.off_n < c.disarm_ticks else c.disarm_ticks):
        return False
    if core.ack_n > (story.ack_n if story.ack_n < c.ack_hold_ticks else c.ack_hold_ticks):
        return False
    return core.line_lost_n == (story.line_n if story.line_n < c.purge_void_ticks else c.purge_void_ticks)


def push_is_timed(core, story, c):
    """A push that is judged has been counted since its edge, and in READY its time is not over."""
    if core.push != PUSH_JUDGED:
        return True
    if core.push_n != story.edge_n or story.contact_before != CONTACT_CLOSED:
        return False
    return core.state != READY or core.push_n < c.push_judge_ticks


def run_is_timed(core, story, c):
    """The run count is at most one tick behind the fuel, none between two stages, and within the run time."""
    behind = 0 if core.state == LEAD_IN and not core.ask_fuel else 1
    return story.fuel_n <= core.run_n + behind and core.run_n <= c.run_ticks


def flaw_is_remembered(core, story):
    """While purging, missing current has been noted exactly when there was some."""
    return core.state != PURGING or (core.purge_flaw != 0) == (story.flaw != 0)


def classified_is_lost_power(core):
    """Only what a released contact or master would also look like waits to be classified."""
    return not core.classify0 & ~CLASSIFY_0


def lock_is_noted_in_wake(core, boot):
    """From its second tick on WAKE has latched a lock found at start-up; afterwards it stands until cleared."""
    if core.boot_cleared or (core.state == WAKE and core.timer < 2):
        return True
    if boot.word & LOCKS_4 and not (core.latch == 4 and core.store == 4):
        return False
    return not boot.word & LOCKS_3 or (core.latch >= 3 and core.store >= 3)


RULE_STRENGTHENINGS = (
    claim("core.hands", "", hands_are_remembered),
    claim("core.push time", "", push_is_timed),
    claim("core.run time", "", run_is_timed),
    claim("core.purge flaw", "", flaw_is_remembered),
    claim("core.classified", "", classified_is_lost_power),
    claim("core.lock", "", lock_is_noted_in_wake),
)

RULES = (
    claim("core: flow begins full", "I6", flow_begins_full),
    claim("core: flow begins permitted", "I8", flow_begins_permitted),
    claim("core: flow begins in time", "I6", flow_begins_in_time),
    claim("core: opening needs rail", "I2", opening_needs_rail),
    claim("core: deselected fuel is off", "I7", deselected_fuel_is_off),
    claim("core: run ends in time", "off-in-time", run_ends_in_time),
    claim("core: purge needs its button", "I4", purge_needs_its_button),
    claim("core: purge ends in time", "I4", purge_ends_in_time),
    claim("core: purge is confirmed", "I8", purge_is_confirmed),
    claim("core: purge without current is void", "I8", purge_without_current_is_void),
    claim("core: venting is no purge", "I8", venting_is_no_purge),
    claim("core: lost line voids purge", "I8", lost_line_voids_purge),
    claim("core: service is still", "I10", service_is_still),
    claim("core: latch covers faults", "I13", latch_covers_faults),
    claim("core: latch rises to its fault", "I13", latch_rises_to_its_fault),
    claim("core: second time is worse", "I13", second_time_is_worse),
    claim("core: latch falls by its rule", "I13", latch_falls_by_its_rule),
    claim("core: found lock is kept", "I13", found_lock_is_kept),
)
