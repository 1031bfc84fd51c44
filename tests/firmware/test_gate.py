"""The gate alone: whatever is asked, fuel goes only behind proved oxidizer that has led."""

import itertools
import random

import pytest

from oxlatch.controller import Outputs
from oxlatch.core import CoreState
from oxlatch.gate import BARRED, DRY_MAX, ON_SHIFT, STAGE_FUEL, STAGE_OX, GateState, gate_stage, gate_step
from oxlatch.settings import Settings
from oxlatch.vocabulary import (
    BUS_CUT,
    BUS_HARD,
    BUS_SURGE,
    CONTACT_OPEN,
    CONTACT_UNSURE,
    FIT_CURRENTS,
    FIT_MASTER_FUEL,
    FIT_PROOF,
    FUEL_FAIL,
    OUT_MASTER_FUEL,
    OUT_PURGE,
    OUT_RUN,
    RPM_LOW,
    RPM_OVER,
    SUPPLY_CUT,
    THROTTLE_DROP,
    TIME_HARD,
    TIME_LATE,
)


def drive(flowing, ticks=1):
    core, gate, v, c = flowing
    out = Outputs()
    for _ in range(ticks):
        gate_step(gate, core, v, c, out)
    return out


def test_fuel_waits_for_the_whole_lead(flowing):
    lead = flowing[3].lead_ticks
    out = drive(flowing, lead)
    assert (out.ox, out.fuel) == (1, 0)
    out = drive(flowing)
    assert (out.ox, out.fuel) == (1, 1)
    assert out.bits & OUT_MASTER_FUEL


def test_fuel_waits_for_oxidizer_proof_and_leaves_with_it(flowing):
    _core, _gate, v, _c = flowing
    v.proof = 14
    assert drive(flowing, 12).fuel == 0
    v.proof = 1
    assert drive(flowing).fuel == 1
    v.proof = 0
    out = drive(flowing)
    assert out.fuel == 0 and not out.bits & OUT_MASTER_FUEL


def test_fuel_waits_for_oxidizer_coil_current(flowing):
    flowing[2].current = 0
    assert drive(flowing, 12).fuel == 0
    flowing[2].current = 1
    assert drive(flowing).fuel == 1


@pytest.mark.parametrize(("fitted_off", "verdict"), [(FIT_PROOF, "proof"), (FIT_CURRENTS, "current")])
def test_what_is_not_fitted_is_not_waited_for(flowing, fitted_off, verdict):
    flowing[3].fitted &= ~fitted_off
    setattr(flowing[2], verdict, 0)
    assert drive(flowing, 12).fuel == 1


def test_fuel_needs_the_master_fuel_valve_asked_where_fitted(flowing):
    flowing[0].ask_bits = OUT_RUN
    assert drive(flowing, 12).fuel == 0
    flowing[3].fitted &= ~FIT_MASTER_FUEL
    assert drive(flowing, 1).fuel == 1


STOPS_BOTH = [
    ("rpm", RPM_LOW),
    ("supply", SUPPLY_CUT),
    ("fuel", FUEL_FAIL),
    ("bus", BUS_CUT),
    ("bus", BUS_SURGE),
    ("bus", BUS_HARD),
    ("time", TIME_LATE),
    ("time", TIME_HARD),
]


@pytest.mark.parametrize(("verdict", "level"), STOPS_BOTH)
def test_oxidizer_and_fuel_stop_in_the_tick_a_permit_is_lost(flowing, verdict, level):
    assert drive(flowing, 10).fuel == 1
    setattr(flowing[2], verdict, level)
    out = drive(flowing)
    assert (out.ox, out.fuel) == (0, 0)


@pytest.mark.parametrize(
    ("verdict", "level"),
    [("contact", CONTACT_OPEN), ("contact", CONTACT_UNSURE), ("throttle", THROTTLE_DROP), ("master", 0)],
)
def test_release_stops_fuel_at_once_and_oxidizer_within_the_tail(flowing, verdict, level):
    assert drive(flowing, 10).fuel == 1
    setattr(flowing[2], verdict, level)
    tail = flowing[3].tail_ticks
    for _ in range(tail):
        out = drive(flowing)
        assert (out.ox, out.fuel) == (1, 0)
    assert drive(flowing).ox == 0


def test_overspeed_stops_fuel_and_leaves_oxidizer_its_tail(flowing):
    assert drive(flowing, 10).fuel == 1
    flowing[2].rpm = RPM_OVER
    out = drive(flowing)
    assert (out.ox, out.fuel) == (1, 0)


def test_no_stage_opens_in_the_tail_of_another(flowing):
    core = flowing[0]
    drive(flowing, 10)
    flowing[2].contact = CONTACT_OPEN
    core.ask_ox = 3
    assert drive(flowing).ox == 1


def test_dry_oxidizer_is_shut_and_barred_until_it_is_no_longer_asked_for(flowing):
    core, _gate, v, _c = flowing
    v.proof = 0
    assert drive(flowing, DRY_MAX).ox == 1
    for _ in range(40):
        assert drive(flowing).ox == 0
    core.ask_ox = 0
    drive(flowing)
    core.ask_ox = 1
    assert drive(flowing).ox == 1


def test_purge_shuts_every_stage_and_waits_for_an_open_contact(flowing):
    core, _gate, v, _c = flowing
    drive(flowing, 10)
    core.ask_bits |= OUT_PURGE
    out = drive(flowing)
    assert (out.ox, out.fuel, out.bits) == (0, 0, OUT_RUN)
    v.contact = CONTACT_OPEN
    core.ask_ox = core.ask_fuel = 0
    assert drive(flowing).bits == OUT_RUN | OUT_PURGE


def test_the_bench_key_keeps_every_fuel_valve_shut(flowing):
    flowing[2].bench = 1
    out = drive(flowing, 14)
    assert (out.ox, out.fuel) == (1, 0) and not out.bits & OUT_MASTER_FUEL


def test_run_is_dropped_by_a_hard_cause_and_soon_after_the_master(flowing):
    core, _gate, v, c = flowing
    core.ask_ox = core.ask_fuel = 0
    assert drive(flowing).bits & OUT_RUN
    v.master = 0
    assert drive(flowing, c.run_off_ticks).bits & OUT_RUN
    assert not drive(flowing).bits & OUT_RUN
    v.master = 1
    v.bus = BUS_HARD
    assert not drive(flowing).bits & OUT_RUN


def test_one_stage_over_every_argument():
    """Every combination of the small arguments, every word a stage can hold, every lead that settings allow."""
    words = [on << ON_SHIFT | dry << 7 for on in range(31) for dry in range(DRY_MAX + 1)] + [BARRED << ON_SHIFT]
    seen_fuel = 0
    for word, lead in itertools.product(words, (1, 4, 6, 15)):
        on_n = (word >> ON_SHIFT) & 31
        for ask_ox, ask_fuel, pushed, fuel_ok, dry in itertools.product((0, 1), repeat=5):
            new = gate_stage(ask_ox, ask_fuel, pushed, fuel_ok, word, lead, dry)
            if new & STAGE_FUEL:
                seen_fuel += 1
                assert new & STAGE_OX and ask_ox and ask_fuel and fuel_ok
                assert lead <= on_n < BARRED
            if new & STAGE_OX:
                assert ask_ox and (pushed or on_n) and on_n != BARRED
    assert seen_fuel > 1000


def test_an_arbitrary_sequencer_cannot_make_fuel_lead_or_oxidizer_stay_dry(flowing):
    """Random asking: fuel only behind led and proved oxidizer, dry oxidizer never over 16 ticks."""
    rng = random.Random(20)
    gate, core, c, out = GateState(), CoreState(), Settings(), Outputs()
    c.stages = 4
    led = [0] * 4
    dry = [0] * 4
    fuel_ticks = 0
    v = flowing[2]
    for _ in range(200_000):
        if rng.random() < 0.2:
            core.ask_ox, core.ask_fuel = rng.randrange(16), rng.randrange(16)
            core.ask_bits = rng.choice((0, 4, 5, 5, 5, 7))
        if rng.random() < 0.05:
            v.proof, v.current = rng.choice((15, 15, 7, 0)), rng.choice((15, 15, 14))
            v.contact = rng.choice((3, 3, 3, 3, 2, 1))
        gate_step(gate, core, v, c, out)
        for i in range(4):
            if (out.fuel >> i) & 1:
                fuel_ticks += 1
                assert (out.ox >> i) & 1 and led[i] >= c.lead_ticks and (v.proof >> i) & 1
            led[i] = led[i] + 1 if (out.ox >> i) & 1 else 0
            dry[i] = dry[i] + 1 if (out.ox & ~out.fuel) >> i & 1 else 0
            assert dry[i] <= DRY_MAX
        assert not (out.bits & OUT_PURGE and (out.ox or out.fuel))
    assert fuel_ticks > 5000
