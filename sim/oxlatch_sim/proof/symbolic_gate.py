"""The gate alone, against an arbitrary sequencer.

Whatever is asked (any three words), whatever the verdicts are (any words, not only the enumerated
levels), and however long it goes on: these hold for what is driven.
"""

# mypy: disallow-untyped-defs=False
# ruff: noqa: SIM110 - the claims are in the tick's subset, which has no all()

from __future__ import annotations

from oxlatch import vocabulary as levels
from oxlatch.gate import BARRED, DRY_MAX, DRY_SHIFT, ON_MAX, ON_SHIFT, STAGE_FUEL, STAGE_OX
from oxlatch.vocabulary import (
    BUS_CUT,
    BUS_HARD,
    BUS_SURGE,
    CONTACT_CLOSED,
    CONTACT_OPEN,
    FIT_CURRENTS,
    FIT_MASTER_FUEL,
    FIT_PROOF,
    FUEL_FAIL,
    OUT_MASTER_FUEL,
    OUT_MASTER_OX,
    OUT_PURGE,
    OUT_RUN,
    RPM_HOLD,
    RPM_OVER,
    RPM_STOPPED,
    STAGES_MAX,
    SUPPLY_CUT,
    THROTTLE_HOLD,
    TIME_GOOD,
    TIME_HARD,
)
from oxlatch_sim.proof.symbolic_engine import Range, System, claim
from oxlatch_sim.proof.symbolic_parts import gate_part, objects
from oxlatch_sim.proof.symbolic_ranges import VERDICTS, word_range

AGE_MAX = 4095
ANY_WORD: Range = (-(1 << 30), (1 << 30) - 1)
ANY_VERDICT: Range = (-(1 << 15), (1 << 15) - 1)


class Asks:
    """The three words of the sequencer that the gate reads."""

    def __init__(self) -> None:
        self.ask_ox = 0
        self.ask_fuel = 0
        self.ask_bits = 0


class Driven:
    """The proof's own record of what has been driven, from the outputs alone."""

    def __init__(self) -> None:
        self.on = [0] * STAGES_MAX  # ticks in a row with oxidizer, this one included
        self.alone = [0] * STAGES_MAX  # ticks of oxidizer without fuel since it flowed or was off, bench ticks left out
        self.away = 0  # ticks in a row without push
        self.ox_before = 0


def record_before(driven, out):
    """Keep the outputs of the tick before."""
    driven.ox_before = out.ox


def record_after(driven, v, out):
    """Count from what is driven now."""
    for i in range(STAGES_MAX):
        if not (out.ox >> i) & 1:
            driven.on[i] = 0
            driven.alone[i] = 0
        else:
            if driven.on[i] < AGE_MAX:
                driven.on[i] += 1
            if (out.fuel >> i) & 1:
                driven.alone[i] = 0
            elif driven.alone[i] < AGE_MAX and not on_bench(v):
                driven.alone[i] += 1
    if is_pushed(v):
        driven.away = 0
    elif driven.away < AGE_MAX:
        driven.away += 1


def is_pushed(v):
    """The pilot holds the throttle in its detent with the master on."""
    return v.contact == CONTACT_CLOSED and v.throttle >= THROTTLE_HOLD and v.master


def on_bench(v):
    """Bench key in, engine stopped: oxidizer valves may be driven alone."""
    return v.bench and v.rpm == RPM_STOPPED


# --- strengthenings: what the gate's counters mean --------------------------------------------


def on_count(gate, i):
    """Ticks in a row that oxidizer of a stage has been driven, or 31 when it is barred."""
    return (gate.stage[i] >> ON_SHIFT) & 31


def dry_count(gate, i):
    """Ticks of oxidizer without fuel of a stage, those on the bench left out."""
    return gate.stage[i] >> DRY_SHIFT


def on_count_is_true(gate, driven):
    """The on-count is the number of ticks oxidizer has been driven, up to 30; 31 bars the stage."""
    for i in range(STAGES_MAX):
        if on_count(gate, i) == BARRED:
            if driven.on[i] or gate.stage[i] != BARRED << ON_SHIFT:
                return False
        elif on_count(gate, i) != (driven.on[i] if driven.on[i] < ON_MAX else ON_MAX):
            return False
    return True


def dry_count_is_true(gate, driven):
    """The dry-count is the number of ticks of oxidizer without fuel, those on the bench left out; never above 16."""
    for i in range(STAGES_MAX):
        if dry_count(gate, i) != driven.alone[i] or driven.alone[i] > DRY_MAX:
            return False
    return True


def stage_words_are_whole(gate):
    """A stage's word says oxidizer exactly when it counts, and fuel only when no dry tick has passed."""
    for i in range(STAGES_MAX):
        word = gate.stage[i]
        if on_count(gate, i) == 0 or on_count(gate, i) == BARRED:
            if word != on_count(gate, i) << ON_SHIFT:
                return False
        elif not word & STAGE_OX or (word & STAGE_FUEL and dry_count(gate, i)):
            return False
    return True


def outputs_are_the_words(gate, out):
    """The stages driven are those whose words in the gate say so."""
    for i in range(STAGES_MAX):
        if (out.ox >> i) & 1 != gate.stage[i] & STAGE_OX:
            return False
        if ((out.fuel >> i) & 1 != 0) != (gate.stage[i] & STAGE_FUEL != 0):
            return False
    return True


def away_count_is_true(gate, driven, c):
    """The away-count is the number of ticks since the push was last held, up to the run-off time."""
    return gate.away_n == (driven.away if driven.away <= c.run_off_ticks else c.run_off_ticks + 1)


def idle_gate_counts_nothing(gate):
    """An idle gate has every count at zero, so that skipping the stages changes nothing."""
    if not gate.idle:
        return True
    for i in range(STAGES_MAX):
        if gate.stage[i]:
            return False
    return True


def stages_beyond_are_zero(gate, c):
    """Stages that the settings do not have keep the word zero."""
    for i in range(STAGES_MAX):
        if i >= c.stages and gate.stage[i]:
            return False
    return True


def outputs_are_recorded(out, driven):
    """The proof's record counts a stage exactly while its oxidizer is driven."""
    for i in range(STAGES_MAX):
        if (driven.on[i] > 0) != ((out.ox >> i) & 1):
            return False
    return True


# --- claims -----------------------------------------------------------------------------------


def fuel_behind_oxidizer(out, driven, c):
    """Fuel of a stage only while its oxidizer is on and has led by the lead time."""
    for i in range(STAGES_MAX):
        if (out.fuel >> i) & 1 and driven.on[i] <= c.lead_ticks:
            return False
    return out.fuel & ~out.ox == 0


def fuel_needs_every_verdict(out, v, c):
    """Fuel needs its proof and current where fitted, master fuel valve, run switch, and in the same tick push,
    rpm, supply, fuel pressure and bus.
    """
    if not out.fuel:
        return True
    if not (out.bits & OUT_RUN and is_pushed(v)):
        return False
    if c.fitted & FIT_MASTER_FUEL and not out.bits & OUT_MASTER_FUEL:
        return False
    if c.fitted & FIT_PROOF and out.fuel & ~v.proof:
        return False
    if c.fitted & FIT_CURRENTS and out.fuel & ~v.current:
        return False
    return RPM_HOLD <= v.rpm < RPM_OVER and v.supply > SUPPLY_CUT and BUS_CUT < v.bus < BUS_SURGE and v.fuel > FUEL_FAIL


def master_fuel_needs_fuel(out):
    """The master fuel valve is open only while a stage's fuel is."""
    return out.fuel or not out.bits & OUT_MASTER_FUEL


def oxidizer_alone_is_brief(driven):
    """Oxidizer without fuel for at most 16 ticks in a row, opening or closing; more only on the bench, engine stopped."""
    for i in range(STAGES_MAX):
        if driven.alone[i] > DRY_MAX:
            return False
    return True


def no_purge_in_flow(out, v):
    """Never purge with any stage valve, and only with the contact open."""
    if not out.bits & OUT_PURGE:
        return True
    return not out.ox and not out.fuel and out.bits & OUT_RUN and v.contact == CONTACT_OPEN


def engine_loss_stops_all(out, v):
    """Engine speed lost: every stage output is off in that tick; on the bench with a stopped engine, all fuel."""
    if v.rpm >= RPM_HOLD:
        return True
    return not (out.fuel or out.bits & OUT_MASTER_FUEL) and (not out.ox or on_bench(v))


def bench_key_bars_fuel(out, v):
    """With the bench key no fuel and no master fuel."""
    return not v.bench or not (out.fuel or out.bits & OUT_MASTER_FUEL)


def release_stops_fuel_now(out, v):
    """Contact, throttle or master released: fuel and master fuel off in that tick."""
    return is_pushed(v) or not (out.fuel or out.bits & OUT_MASTER_FUEL)


def release_stops_oxidizer_after_tail(out, driven, c):
    """Released for more than the tail: oxidizer off."""
    return driven.away <= c.tail_ticks or not out.ox


def master_off_drops_run(out, v, driven, c):
    """Master off and released for more than the run-off time: everything off."""
    return v.master or driven.away <= c.run_off_ticks or not out.bits


def lost_verdict_stops_all_now(out, v):
    """Supply, fuel pressure, bus or tick time lost: every stage output is off in that tick; on the bench with a
    stopped engine the two pressures do not count.
    """
    pressed = (v.supply > SUPPLY_CUT and v.fuel > FUEL_FAIL) or on_bench(v)
    good = pressed and BUS_CUT < v.bus < BUS_SURGE and v.time == TIME_GOOD
    return good or not (out.ox or out.fuel or out.bits & OUT_MASTER_FUEL)


def hard_drops_run_now(out, v):
    """A stalled tick or a failed bus: everything off in that tick, run switch included."""
    return not (v.time == TIME_HARD or v.bus == BUS_HARD) or not (out.bits or out.ox or out.fuel)


def opening_needs_push(out, v, driven):
    """No oxidizer opens in a tick without contact closed, throttle held and master on."""
    return is_pushed(v) or not out.ox & ~driven.ox_before


def nothing_without_run(out):
    """No valve but the master oxidizer valve is driven without the run switch."""
    return out.bits & OUT_RUN or not (out.ox or out.fuel or out.bits & ~OUT_MASTER_OX)


def master_oxidizer_is_asked(core, out):
    """The master oxidizer valve is driven only when it is asked for."""
    return core.ask_bits & OUT_MASTER_OX or not out.bits & OUT_MASTER_OX


def some_fuel_flows(out):
    """Some state drives fuel of two stages."""
    return out.fuel == 5


def some_tail_flows(out, driven):
    """Some state drives oxidizer after the release."""
    return out.ox and driven.away > 1


def some_purge_flows(out):
    """Some state drives the purge valve."""
    return out.bits & OUT_PURGE


def some_bench_flows(out, driven, v):
    """On the bench some state drives oxidizer alone for longer than anywhere else."""
    return out.ox and driven.on[0] > DRY_MAX + 1 and v.bench


STRENGTHENINGS = (
    claim("gate.on_n", "", on_count_is_true),
    claim("gate.dry_n", "", dry_count_is_true),
    claim("gate.away_n", "", away_count_is_true),
    claim("gate.word", "", stage_words_are_whole),
    claim("gate.idle", "", idle_gate_counts_nothing),
    claim("gate.beyond", "", stages_beyond_are_zero),
    claim("gate.record", "", outputs_are_recorded),
)

CLAIMS = (
    claim("gate: fuel behind oxidizer", "I1", fuel_behind_oxidizer),
    claim("gate: fuel needs every verdict", "I2", fuel_needs_every_verdict),
    claim("gate: master fuel with fuel only", "I2", master_fuel_needs_fuel),
    claim("gate: oxidizer alone is brief", "I3", oxidizer_alone_is_brief),
    claim("gate: no purge in flow", "I4", no_purge_in_flow),
    claim("gate: engine loss stops all", "I5", engine_loss_stops_all),
    claim("gate: bench key bars fuel", "I16", bench_key_bars_fuel),
    claim("gate: release stops fuel now", "I12", release_stops_fuel_now),
    claim("gate: release stops oxidizer after the tail", "I12", release_stops_oxidizer_after_tail),
    claim("gate: master off drops run", "I12", master_off_drops_run),
    claim("gate: lost verdict stops all now", "off-in-time", lost_verdict_stops_all_now),
    claim("gate: hard drops run now", "off-in-time", hard_drops_run_now),
    claim("gate: opening needs the push", "I6", opening_needs_push),
    claim("gate: nothing without run", "I2", nothing_without_run),
    claim("gate: master oxidizer is asked", "I10", master_oxidizer_is_asked),
)

WITNESSES = (
    claim("gate: fuel flows", "witness", some_fuel_flows),
    claim("gate: a tail flows", "witness", some_tail_flows),
    claim("gate: a purge flows", "witness", some_purge_flows),
    claim("gate: the bench flows", "witness", some_bench_flows),
)


def ranges(cell: str) -> Range:
    """Any asks and any verdicts; everything else as everywhere."""
    owner, _, name = cell.partition("[")[0].partition(".")
    if owner == "core":
        return ANY_WORD
    if owner == "v" and name in VERDICTS:
        return ANY_VERDICT
    if owner == "driven":
        return (0, levels.COIL_OX) if name == "ox_before" else (0, AGE_MAX)
    return word_range(cell)


def likely(cell: str) -> Range:
    """Where a counterexample looks first: asks and verdicts as they are in the controller."""
    return ranges(cell) if cell.startswith("driven") else word_range(cell)


GATE_ALONE = System(
    name="gate",
    objects={**objects("c", "v", "gate", "out"), "core": Asks, "driven": Driven},
    steps=(record_before, gate_part, record_after),
    ranges=ranges,
    invariants=STRENGTHENINGS,
    claims=CLAIMS,
    witnesses=WITNESSES,
    fresh=frozenset({"v", "core"}),
    assumptions=("what is asked and every verdict may be any word, at every tick",),
    likely=likely,
)
