"""The sense table's own interpreter: what it means for a test to hold, to latch and to leak."""

from typing import Any

import pytest

from oxlatch import vocabulary as w
from oxlatch.settings import Settings
from oxlatch_sim.proof.reference_extras import ExtrasReference
from oxlatch_sim.proof.reference_sense import COMPARED, SenseReference, load_sense_table

CLOSED, OPEN = w.SW_DETENT_NO, w.SW_DETENT_NC


class Samples:
    """Raw samples of a sound aircraft, changed by name."""

    def __init__(self, **changed: int) -> None:
        settings: Any = Settings()
        for name, value in changed.items():
            setattr(settings, name, value)
        self.sense = SenseReference(settings)
        self.raw = [0] * w.RAW_COUNT
        self.raw[w.RAW_ELAPSED] = 1
        self.raw[w.RAW_RPM], self.raw[w.RAW_PULSE_AGE_MS] = 2500, 10
        self.raw[w.RAW_THROTTLE_MV], self.raw[w.RAW_BUS_MV] = 4400, 13000
        self.raw[w.RAW_SUPPLY_MV], self.raw[w.RAW_FUEL_MV] = 2800, 1800
        self.raw[w.RAW_SWITCHES] = OPEN

    def seen(self, name: str, ticks: int, ox: int = 0, **samples: int) -> list[int]:
        """The verdicts of one channel over some ticks of unchanged samples."""
        for sample, value in samples.items():
            self.raw[getattr(w, f"RAW_{sample.upper()}")] = value
        return [getattr(self.sense.step(self.raw, ox, 0, w.OUT_RUN if ox else 0), name) for _ in range(ticks)]


def test_contact_closes_after_six_samples_and_is_left_after_two() -> None:
    samples = Samples()
    samples.seen("contact", 20)
    assert samples.seen("contact", 7, switches=CLOSED)[4:] == [w.CONTACT_UNSURE, w.CONTACT_CLOSED, w.CONTACT_CLOSED]
    assert samples.seen("contact", 2, switches=OPEN) == [w.CONTACT_CLOSED, w.CONTACT_UNSURE]


def test_poles_that_disagree_become_a_fault() -> None:
    samples = Samples(contact_fault_ticks=10)
    assert samples.seen("contact", 11, switches=CLOSED | OPEN)[9:] == [w.CONTACT_UNSURE, w.CONTACT_FAULT]


def test_one_bad_sample_stops_no_flow_and_two_do() -> None:
    samples = Samples()
    samples.seen("throttle", 20)
    assert samples.seen("throttle", 1, throttle_mv=4000) == [w.THROTTLE_HOLD]
    assert samples.seen("throttle", 1) == [w.THROTTLE_DROP]


def test_supply_is_not_cut_while_its_opening_is_blanked() -> None:
    samples = Samples(supply_cut_ticks=3, supply_blank_ticks=10)
    samples.seen("supply", 500)
    low = samples.seen("supply", 20, ox=1, supply_mv=1800)
    assert low.index(w.SUPPLY_CUT) == 12
    assert w.SUPPLY_CUT not in low[:12]


def test_supply_permit_outlasts_a_short_dip_and_not_a_long_one() -> None:
    samples = Samples(supply_leave_ticks=5, supply_permit_ticks=10)
    assert samples.seen("supply", 10)[-1] == w.SUPPLY_PERMIT
    assert samples.seen("supply", 4, supply_mv=2200) == [w.SUPPLY_PERMIT] * 4
    assert samples.seen("supply", 1, supply_mv=2250) == [w.SUPPLY_PERMIT]
    assert samples.seen("supply", 5, supply_mv=2200)[-1] == w.SUPPLY_LEAVE


def test_a_rise_no_engine_makes_keeps_the_window_shut_for_as_long_again() -> None:
    samples = Samples(rpm_window_ticks=3)
    samples.seen("rpm", 40, rpm=2400)
    jump = samples.seen("rpm", 40, rpm=2600)
    assert jump[0] == w.RPM_HOLD
    assert jump.index(w.RPM_WINDOW) == 8 + 7 + 2  # eight ticks of rise, seven more to forget, the third sample


def test_a_proof_that_was_never_opened_does_not_linger() -> None:
    samples = Samples(shut_slow_ticks=3, shut_stuck_ticks=6)
    up = 1 << w.SW_PROOF_SHIFT
    assert set(samples.seen("shut", 20, switches=up)) == {w.SHUT_CLEAN}
    samples.seen("shut", 5, ox=1)
    assert samples.seen("shut", 7) == [w.SHUT_CLEAN] * 3 + [w.SHUT_SLOW] * 3 + [w.SHUT_STUCK]


def test_every_channel_of_the_table_is_compared() -> None:
    table = load_sense_table()
    told = {row["verdict"] for kind in ("switch", "channel") for row in table[kind]}
    assert told <= set(COMPARED)
    assert set(COMPARED) - told == {"current", "missing", "stray", "short", "shut", "chatter"}


@pytest.mark.parametrize("bit", [w.FIT_THROTTLE, w.FIT_FUEL_PRESSURE, w.FIT_RAIL])
def test_a_sensor_that_is_not_fitted_reads_sound(bit: int) -> None:
    samples = Samples(fitted=0xFFFF & ~bit)
    channel = {w.FIT_THROTTLE: "throttle", w.FIT_FUEL_PRESSURE: "fuel", w.FIT_RAIL: "rail"}[bit]
    sound = {w.FIT_THROTTLE: w.THROTTLE_FULL, w.FIT_FUEL_PRESSURE: w.FUEL_PERMIT, w.FIT_RAIL: w.RAIL_DEAD}[bit]
    assert samples.seen(channel, 3, throttle_mv=0, fuel_mv=0, rail_mv=12000) == [sound] * 3


class Extras:
    """Raw samples of the inputs beyond the core, and which verdicts over some ticks the table lets pass."""

    def __init__(self, **changed: int) -> None:
        settings: Any = Settings()
        settings.fitted = w.FIT_ALL
        for name, value in changed.items():
            setattr(settings, name, value)
        self.extras = ExtrasReference(settings)
        self.raw = [0] * w.RAW_COUNT
        self.raw[w.RAW_BARO_DAPA], self.raw[w.RAW_AIR_DK], self.raw[w.RAW_BOTTLE_DK] = 10132, 2881, 2900
        self.raw[w.RAW_OUTLET_1_DK] = self.raw[w.RAW_OUTLET_2_DK] = 2900
        self.raw[w.RAW_AIRSPEED_MV] = 1000
        self.raw[w.RAW_EXTRAS] = w.EX_MIXTURE_RICH | w.EX_RETARD
        self.waking = w.EXTRA_NOT_RICH | w.EXTRA_NO_RETARD
        for tick in range(12):
            assert not self.tick(extras=self.waking if tick < 5 else 0)

    def tick(self, extras: int = 0, row: int = 0, outlets: int = w.OUTLETS_WARM) -> dict[str, tuple[Any, Any]]:
        given = type("Given", (), {"extras": extras, "row": row, "outlets": outlets})()
        return self.extras.differing(self.raw, given, False)


def test_a_lost_acknowledgement_counts_at_once_and_its_return_after_six_samples() -> None:
    lost = Extras()
    lost.raw[w.RAW_EXTRAS] = w.EX_RETARD
    assert set(lost.tick()) == {f"extra {w.EXTRA_NOT_RICH}"}
    back = Extras()
    back.raw[w.RAW_EXTRAS] = w.EX_RETARD
    assert not back.tick(extras=w.EXTRA_NOT_RICH)
    back.raw[w.RAW_EXTRAS] |= w.EX_MIXTURE_RICH
    assert not any(back.tick(extras=w.EXTRA_NOT_RICH) for _ in range(5))
    assert not back.tick()


def test_a_second_knock_within_the_window_is_told_in_its_tick() -> None:
    for ticks, heard in ((30, True), (45, False)):
        engine = Extras(knock_window_ticks=40)
        for tick in range(ticks):
            engine.raw[w.RAW_EXTRAS] = engine.raw[w.RAW_EXTRAS] & ~w.EX_KNOCK | (w.EX_KNOCK if tick == 0 else 0)
            assert not engine.tick()
        engine.raw[w.RAW_EXTRAS] |= w.EX_KNOCK
        assert bool(engine.tick(extras=0)) is heard


@pytest.mark.parametrize("late", [0, 8])
def test_a_thinner_row_must_come_in_some_phase_of_its_turn(late: int) -> None:
    air = Extras(row_turns=2)
    air.raw[w.RAW_BARO_DAPA] = 6000
    seen = [air.tick(row=int(tick >= 19 + late)) for tick in range(30)]
    assert any(seen) is (late == 8)


def test_one_cold_outlet_of_two_is_not_cold() -> None:
    purge = Extras(outlet_turns=2)
    purge.raw[w.RAW_OUTLET_1_DK] = 2300
    assert not any(purge.tick(outlets=w.OUTLETS_WARM) for _ in range(8))
    told = [purge.tick(outlets=w.OUTLETS_COLD) for _ in range(8)]
    assert told[-1] == {"outlets": (w.OUTLETS_COLD, [True, False])}


def test_an_input_that_is_not_fitted_is_never_adverse() -> None:
    without = Extras(fitted=w.FIT_ALL & ~w.FIT_FIRE)
    without.raw[w.RAW_EXTRAS] |= w.EX_FIRE
    assert not any(without.tick() for _ in range(10))
    assert without.tick(extras=w.EXTRA_FIRE) == {"extras not fitted": (w.EXTRA_FIRE, 0)}


def test_every_extra_has_its_row_or_its_own_rule() -> None:
    told = {getattr(w, row["bit"]) for row in load_sense_table()["extra"]}
    assert told == {1 << bit for bit in range(w.EXTRA_BITS)} - {w.EXTRA_KNOCK}
