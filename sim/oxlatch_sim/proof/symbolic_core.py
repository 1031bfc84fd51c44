"""Sequencer and gate together, for every verdict at every tick: what the whole core guarantees."""

# mypy: disallow-untyped-defs=False

from __future__ import annotations

from oxlatch import vocabulary as levels
from oxlatch.gate import BARRED
from oxlatch.vocabulary import (
    CONTACT_CLOSED,
    CONTACT_OPEN,
    FIT_MASTER_OX,
    LEAD_IN,
    OUT_MASTER_FUEL,
    OUT_MASTER_OX,
    OUT_PURGE,
    OUT_RUN,
    PURGING,
    PUSH_BLOCKED,
    PUSH_JUDGED,
    PUSH_READY,
    READY,
    REST,
    RUN,
    RUN_DOWN,
    SERVICE,
    STAGES_MAX,
    TRIP,
    WAKE,
)
from oxlatch_sim.proof.symbolic_bench import BENCH_CLAIMS, BENCH_STRENGTHENINGS, BENCH_WITNESSES
from oxlatch_sim.proof.symbolic_core_claims import (
    CLAIMS,
    WITNESSES,
    feeds_line,
    is_armed,
    is_bench,
    is_flowing,
    latch_is_stored,
    one_first_cause,
)
from oxlatch_sim.proof.symbolic_core_extras import EXTRA_RULES
from oxlatch_sim.proof.symbolic_core_rules import RULE_STRENGTHENINGS, RULES
from oxlatch_sim.proof.symbolic_engine import Range, System, claim
from oxlatch_sim.proof.symbolic_gate import (
    dry_count,
    idle_gate_counts_nothing,
    on_count,
    outputs_are_the_words,
    stage_words_are_whole,
)
from oxlatch_sim.proof.symbolic_parts import core_part, gate_part, objects
from oxlatch_sim.proof.symbolic_ranges import STAGE_BITS, word_range
from oxlatch_sim.proof.symbolic_story import (
    COUNT_MAX,
    MASTER_CYCLED,
    MASTER_SEEN_OFF,
    Boot,
    Story,
    give_boot,
    give_row,
    some_stage,
    story_after,
    story_before,
)

# --- strengthenings ---------------------------------------------------------------------------


def asks_fit_state(core, c):
    """What is asked fits the state: nothing outside a flow, a purge or the bench, but the master oxidizer valve
    exactly while armed and on the gas bench, where it is fitted.
    """
    bits = core.ask_bits & ~OUT_MASTER_OX
    if (bits != core.ask_bits) != (c.fitted & FIT_MASTER_OX and feeds_line(core)):
        return False
    if core.state == PURGING:
        return bits == OUT_RUN | OUT_PURGE and not core.ask_ox and not core.ask_fuel
    if is_bench(core):
        return not core.ask_fuel and not bits & OUT_MASTER_FUEL
    if not is_flowing(core):
        return not bits and not core.ask_ox and not core.ask_fuel
    if bits & OUT_PURGE:
        return False
    return core.state == RUN_DOWN or bits & OUT_RUN


def asks_are_nested(core):
    """Fuel is asked only behind oxidizer of a latched stage; at most one latched stage is opening."""
    if core.ask_fuel & ~(core.ask_ox & core.latched) or core.opening & ~(core.ask_ox & core.latched):
        return False
    if core.opening & core.ask_fuel:
        return False
    if core.latched & core.ask_ox & ~(core.ask_fuel | core.opening) and not is_bench(core):
        return False
    return some_stage(core.opening) < 2 and (core.ask_fuel != 0) == (core.ask_bits & OUT_MASTER_FUEL != 0)


def tails_are_oxidizer_only(core):
    """A stage has a tail exactly while its oxidizer is asked and it is no longer latched."""
    for i in range(STAGES_MAX):
        asked = (core.ask_ox >> i) & 1
        kept = (core.latched >> i) & 1
        if asked and not kept and not core.tail[i]:
            return False
        if core.tail[i] and (kept or not asked):
            return False
    return True


def tails_end_before_run(core, c):
    """Tails end before the run switch is dropped."""
    if core.ask_ox and not core.ask_bits & OUT_RUN:
        return False
    for i in range(STAGES_MAX):
        if core.state == RUN_DOWN and core.tail[i] and core.tail[i] + core.timer > c.tail_ticks:
            return False
    return True


def flow_fits_state(core):
    """Stages are latched exactly in LEAD-IN and RUN, and on the bench; opening only in LEAD-IN, all flowing in RUN."""
    if core.state == LEAD_IN:
        return core.latched != 0
    if core.opening:
        return False
    if core.state == RUN:
        return core.latched != 0 and not core.latched & ~core.ask_fuel
    return not core.latched or is_bench(core)


def lead_within_limit(core, c):
    """In LEAD-IN the lead count stays under its limit."""
    return core.state != LEAD_IN or core.lead_n < c.lead_limit_ticks


# --- what the gate counts, seen from the sequencer: why it never has to intervene ----------------


def gate_counts_follow_asks(core, gate, story, c):
    """The gate's counts follow what is asked of stages that exist: a stage opens, flows or tails exactly as the
    sequencer thinks.
    """
    if is_bench(core) and core.ask_ox and not story.doubted:
        return False
    for i in range(STAGES_MAX):
        if ((core.ask_ox >> i) & 1 and i < c.stages) != (gate.stage[i] != 0):
            return False
        if not (core.ask_ox >> i) & 1 or story.doubted:
            pass
        elif on_count(gate, i) == BARRED:
            return False
        elif (core.opening >> i) & 1:
            if on_count(gate, i) != core.lead_n + 1 or dry_count(gate, i) != core.lead_n + 1:
                return False
        elif (core.ask_fuel >> i) & 1:
            if on_count(gate, i) <= c.lead_ticks or dry_count(gate, i):
                return False
        elif dry_count(gate, i) + core.tail[i] > c.tail_ticks + 1:
            return False
    return True


def gate_away_follows_state(core, gate, story, c):
    """The gate's release count never runs ahead of the sequencer's tails and run-off."""
    if gate.away_n != (story.released_n if story.released_n <= c.run_off_ticks else c.run_off_ticks + 1):
        return False
    if (core.state == LEAD_IN or core.state == RUN) and gate.away_n:
        return False
    if core.state == RUN_DOWN and core.ask_bits & ~OUT_MASTER_OX and gate.away_n > core.timer + 1:
        return False
    for i in range(STAGES_MAX):
        if core.tail[i] > c.tail_ticks or (core.tail[i] and gate.away_n + core.tail[i] > c.tail_ticks + 1):
            return False
    return True


def driven_is_asked(core, out, story):
    """Unless the gate has seen the bench key or missed a current, exactly what is asked is driven: the gate
    never has to intervene.
    """
    if (out.bits ^ core.ask_bits) & (OUT_RUN | OUT_PURGE) and (core.state != RUN_DOWN or core.ask_ox):
        return False
    if out.ox & ~core.ask_ox or out.fuel & ~core.ask_fuel or out.bits & ~core.ask_bits:
        return False
    return story.doubted or (out.ox == core.ask_ox and out.fuel == core.ask_fuel)


# --- the sequencer's memory against the story ----------------------------------------------------


def armed_after_ritual(core, story):
    """An armed state means that the master was seen off and then on since the reset."""
    if is_armed(core) or is_bench(core) or core.latch == 1:
        return story.master == MASTER_CYCLED
    if core.state == REST or core.off_n:
        return story.master >= MASTER_SEEN_OFF
    return True


def arming_is_unbroken(core, story):
    """What is armed was armed in REST, and the master has not been off since, or the core remembers it; so it does
    for a bench mode, which is never armed.
    """
    if core.state == REST and core.timer:
        return core.disarm
    if is_bench(core):
        return core.disarm
    if core.state == RUN_DOWN or core.latch == 1:
        return core.disarm or story.unbroken
    return not is_armed(core) or (story.unbroken and not core.disarm)


def purge_is_remembered(core, story, c):
    """A valid or unconfirmed purge means that one was driven for its whole time at good pressure since the
    reset.
    """
    if (core.purge_press_n != 0) != (story.press_before != 0):
        return False
    if (core.purge_valid or core.confirm_left) and not (story.purged and story.fresh):
        return False
    if core.state != PURGING:
        return not story.purge_n
    if story.contact_before != CONTACT_OPEN or (story.vented and not core.vent_n):
        return False
    if core.purge_valid or core.confirm_left:
        return False
    if core.timer < c.purge_max_ticks:
        if story.purge_n != core.timer + 1:
            return False
    elif not core.timer < story.purge_n <= c.purge_max_ticks + 1 + core.vent_n:
        return False
    return core.purge_good_n == (story.good_n if story.good_n < c.purge_good_ticks else c.purge_good_ticks)


def push_is_remembered(core, story, c):
    """A push that counts began with the contact seen open and closed while READY."""
    if core.open_n != (story.open_n if story.open_n < c.release_ticks else c.release_ticks):
        return False
    if core.push == PUSH_BLOCKED:
        return True
    if not story.opened or (core.push == PUSH_READY and story.contact_before == CONTACT_CLOSED):
        return False
    return core.push != PUSH_JUDGED or (story.edge and story.ever_closed)


def flow_is_remembered(core, story):
    """A flow began at a counted push, and asks only for the stages selected then."""
    if (core.state == READY or core.state == LEAD_IN or core.state == RUN) and not (story.purged and story.fresh):
        return False
    if core.state == READY and not story.ready_open:
        return False
    if not is_flowing(core):
        return True
    if (
        not (story.flow and story.opened and story.purged and story.ever_closed)
        or (core.latched | core.ask_ox) & ~story.allowed
    ):
        return False
    return not story.gone & core.latched & ~core.ask_ox


def gone_stays_gone(core, gate, story):
    """A stage that stopped is not asked for again in this flow, or the gate bars it."""
    for i in range(STAGES_MAX):
        if is_flowing(core) and (story.gone & core.ask_ox) >> i & 1 and on_count(gate, i) != BARRED:
            return False
    return True


def latch_fits_state(core):
    """A latch stands only in TRIP, or on the way there or back, and a first cause only with a latch."""
    if not core.latch and (core.cause0 or core.cause1):
        return False
    if core.state == TRIP:
        return core.latch != 0
    return not core.latch or core.state == RUN_DOWN or core.state == SERVICE or core.state == WAKE


def stages_exist(core, c):
    """In flight only stages that exist are latched or asked for."""
    return is_bench(core) or not (core.latched | core.ask_ox) >> c.stages


STRENGTHENINGS = (
    claim("core.asks", "", asks_fit_state),
    claim("core.nested", "", asks_are_nested),
    claim("core.tails", "", tails_are_oxidizer_only),
    claim("core.tails end", "", tails_end_before_run),
    claim("core.flow", "", flow_fits_state),
    claim("core.lead", "", lead_within_limit),
    claim("core.gate counts", "", gate_counts_follow_asks),
    claim("core.gate away", "", gate_away_follows_state),
    claim("core.gate idle", "", idle_gate_counts_nothing),
    claim("core.gate word", "", stage_words_are_whole),
    claim("core.outputs", "", outputs_are_the_words),
    claim("core.driven", "", driven_is_asked),
    claim("core.ritual", "", armed_after_ritual),
    claim("core.armed", "", arming_is_unbroken),
    claim("core.purge", "", purge_is_remembered),
    claim("core.push", "", push_is_remembered),
    claim("core.flow story", "", flow_is_remembered),
    claim("core.gone", "", gone_stays_gone),
    claim("core.latch", "", latch_fits_state),
    claim("core.stored", "", latch_is_stored),
    claim("core.cause", "", one_first_cause),
    claim("core.stages", "", stages_exist),
)


SAME_AS = {  # words of the story with the interval of a word of the core
    "timer_before": "core.timer",
    "hold_off_before": "core.hold_off_left",
    "latch_before": "core.latch",
    "budget_before": "core.budget",
    "heat_before": "core.coil_heat",
    "purge_asked": "core.ask_bits",
}


def ranges(cell: str) -> Range:
    """The story's words; everything else as everywhere."""
    owner, _, name = cell.partition("[")[0].partition(".")
    if owner == "boot":
        return word_range("v.boot")
    if owner != "story":
        return word_range(cell)
    if name.endswith("_n"):
        return 0, COUNT_MAX
    if name == "state_before":
        return 0, levels.BENCH_DRY
    if name == "contact_before":
        return 0, CONTACT_CLOSED
    if name in ("allowed", "gone", "ox_before", "ox_asked"):
        return 0, STAGE_BITS
    if name in SAME_AS:
        return word_range(SAME_AS[name])
    return 0, MASTER_CYCLED if name == "master" else 1


CORE = System(
    name="core",
    objects={**objects("c", "v", "core", "gate", "out"), "story": Story, "boot": Boot},
    steps=(give_boot, give_row, story_before, core_part, gate_part, story_after),
    ranges=ranges,
    invariants=(*STRENGTHENINGS, *RULE_STRENGTHENINGS, *BENCH_STRENGTHENINGS),
    claims=(*CLAIMS, *RULES, *EXTRA_RULES, *BENCH_CLAIMS),
    witnesses=(*WITNESSES, *BENCH_WITNESSES),
    fresh=frozenset({"v"}),
    constant=frozenset({"c", "boot"}),
    split="core.state",
)
