"""What the extras do to a flow: which keep it from beginning, which end it, and that none is told without its verdict."""

# mypy: disallow-untyped-defs=False

from __future__ import annotations

from oxlatch.reasons import (
    AIR_SIGNAL_BAD,
    AIRSPEED_BAD,
    AIRSPEED_HIGH,
    BOTTLE_OVERHEATED,
    BOTTLE_TEMP_BAD,
    BOTTLE_WARM,
    CONTENT_DOUBTFUL,
    FIRE_SEEN,
    KNOCK_HEARD,
    MIXTURE_NOT_RICH,
    ONE_OUTLET_WARM,
    OUTLET_SIGNAL_BAD,
    RETARD_MISSING,
)
from oxlatch.vocabulary import (
    EXTRA_AIR_BAD,
    EXTRA_AIRSPEED_BAD,
    EXTRA_BOTTLE_BAD,
    EXTRA_BOTTLE_RED,
    EXTRA_BOTTLE_WARM,
    EXTRA_CONTENT,
    EXTRA_FAST,
    EXTRA_FIRE,
    EXTRA_KNOCK,
    EXTRA_NO_RETARD,
    EXTRA_NOT_RICH,
    EXTRA_OUTLET_BAD,
    FUEL_FIRST,
    HARD,
    LEAD_IN,
    OUTLETS_ONE,
    RUN,
    RUN_DOWN,
    SERVICE,
    TRIP,
    WAKE,
)
from oxlatch_sim.proof.symbolic_core_rules import begins_flow
from oxlatch_sim.proof.symbolic_engine import claim

BOTTLE = EXTRA_BOTTLE_BAD | EXTRA_BOTTLE_WARM | EXTRA_BOTTLE_RED | EXTRA_CONTENT
REFUSING = BOTTLE | EXTRA_NOT_RICH | EXTRA_NO_RETARD | EXTRA_FIRE | EXTRA_FAST | EXTRA_AIRSPEED_BAD


def flow_begins_without_extras(core, story, v):
    """A flow begins with no adverse extra but those that are only told: bottle, contacts, fire and airspeed all well."""
    return not begins_flow(core, story) or not v.extras & REFUSING


def fire_trips_now(core, story, v, out):
    """Fire: HARD, nothing driven, and TRIP with latch 4 in that tick; WAKE and SERVICE, which drive nothing, keep the
    latch and trip as they end. WAKE's first tick is not judged, and SERVICE may be signed off.
    """
    if not v.extras & EXTRA_FIRE:
        return True
    if core.reaction != HARD or out.ox or out.fuel or out.bits:
        return False
    if story.state_before == WAKE:
        return not story.timer_before or core.latch == 4
    if story.state_before == SERVICE:
        return core.latch == 4 or v.service > 1
    return core.latch == 4 and (core.state == TRIP or core.state == SERVICE)


def knock_stops_all_now(core, story, v, out):
    """A second knock in a flow: every stage output off in that tick, and latch 3 or 4."""
    in_flow = story.state_before == LEAD_IN or story.state_before == RUN
    in_flow = in_flow or (story.state_before == RUN_DOWN and story.ox_asked)
    if not v.extras & EXTRA_KNOCK or not in_flow:
        return True
    return not out.ox and not out.fuel and core.latch >= 3


def overheated_bottle_stops_fuel_now(core, v, out):
    """An overheated bottle: fuel off in that tick, in every state."""
    return not v.extras & EXTRA_BOTTLE_RED or (core.reaction >= FUEL_FIRST and not out.fuel)


def told_only_with(verdict, reason):
    """A reason stands only with its verdict."""
    return verdict or not reason


def extras_are_told(core, v):
    """Fire, overheated bottle and bad signals that are only told stand exactly with their verdict, in every state."""
    x = v.extras
    if (x & EXTRA_FIRE != 0) != (core.why1 & FIRE_SEEN != 0):
        return False
    if (x & EXTRA_BOTTLE_RED != 0) != (core.why0 & BOTTLE_OVERHEATED != 0):
        return False
    if (x & EXTRA_AIR_BAD != 0) != (core.why3 & AIR_SIGNAL_BAD != 0):
        return False
    return (x & EXTRA_OUTLET_BAD != 0) == (core.why3 & OUTLET_SIGNAL_BAD != 0)


def no_extra_without_its_verdict(core, v):
    """No reason of an extra ever stands without its verdict."""
    x = v.extras
    if not told_only_with(x & EXTRA_BOTTLE_BAD, core.why3 & BOTTLE_TEMP_BAD):
        return False
    if not told_only_with(x & EXTRA_BOTTLE_WARM, core.why3 & BOTTLE_WARM):
        return False
    if not told_only_with(x & EXTRA_CONTENT, core.why0 & CONTENT_DOUBTFUL):
        return False
    if not told_only_with(x & EXTRA_KNOCK, core.why1 & KNOCK_HEARD):
        return False
    if not told_only_with(x & EXTRA_NOT_RICH, core.why3 & MIXTURE_NOT_RICH):
        return False
    if not told_only_with(x & EXTRA_NO_RETARD, core.why3 & RETARD_MISSING):
        return False
    if not told_only_with(x & EXTRA_FAST, core.why3 & AIRSPEED_HIGH):
        return False
    if not told_only_with(x & EXTRA_AIRSPEED_BAD, core.why3 & AIRSPEED_BAD):
        return False
    return told_only_with(v.outlets == OUTLETS_ONE, core.why3 & ONE_OUTLET_WARM)


EXTRA_RULES = (
    claim("core: flow begins without extras", "extras", flow_begins_without_extras),
    claim("core: fire trips now", "extras", fire_trips_now),
    claim("core: knock stops all now", "extras", knock_stops_all_now),
    claim("core: overheated bottle stops fuel now", "extras", overheated_bottle_stops_fuel_now),
    claim("core: extras are told", "extras", extras_are_told),
    claim("core: no extra without its verdict", "unfitted", no_extra_without_its_verdict),
)
