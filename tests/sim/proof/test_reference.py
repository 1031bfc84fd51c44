"""What the second specification says, told as short flights through it."""

import pytest
from reference_flight import SHORT, Flight, flowing, ready

from oxlatch import reasons
from oxlatch import vocabulary as w


def test_a_master_that_was_on_at_power_up_does_not_arm() -> None:
    assert Flight().run(100, master=1).state == "HELD"


def test_nothing_is_ready_without_a_purge() -> None:
    flight = Flight().arm().run(100)
    assert (flight.state, flight.reference.why2) == ("WAITING", reasons.PURGE_NEEDED)


def test_a_purge_counts_only_once_its_plume_is_confirmed() -> None:
    flight = Flight().arm().run(30, purge=1).run(100, purge=0)
    assert flight.reference.why2 == reasons.PURGE_CONFIRM
    assert flight.run(1, ack=1).run(20, ack=0).state == "READY"


def test_an_ack_held_through_the_purge_confirms_nothing() -> None:
    flight = Flight().arm().run(30, purge=1, ack=1).run(30, purge=0)
    assert flight.reference.why2 == reasons.PURGE_CONFIRM


def test_fuel_follows_its_oxidizer_by_the_lead_and_the_stagger_separates_stages() -> None:
    flight = ready().push()
    assert (flight.state, flight.reference.ox) == ("LEAD-IN", 0)
    flight.run()
    assert (flight.reference.ox, flight.reference.fuel) == (0b001, 0)
    assert flight.until(fuel=1) == SHORT["lead_ticks"]
    assert flight.reference.bits & w.OUT_MASTER_FUEL
    assert flight.until(fuel=2) == SHORT["stagger_ticks"] + 1 + SHORT["lead_ticks"]
    assert flight.state == "RUN"


def test_without_proof_fuel_never_comes_and_the_second_time_locks() -> None:
    flight = ready()
    flight.proofs_follow = False
    flight.push(2 + SHORT["lead_limit_ticks"])
    r = flight.reference
    assert (flight.state, r.cause, r.latch, r.ox) == ("TRIP", (reasons.O_NOT_PROVED, 0), 2, 0)
    flight.run(1, contact=w.CONTACT_OPEN).run(20, master=0).run(2, master=1).purge()
    flight.push(2 + SHORT["lead_limit_ticks"])
    assert (r.cause, r.latch, r.store) == ((reasons.O_NOT_PROVED_AGAIN, 0), 3, 3)


def test_release_stops_fuel_at_once_oxidizer_after_the_tail_and_the_run_switch_last() -> None:
    flight = flowing().run(1, contact=w.CONTACT_UNSURE)
    r = flight.reference
    assert (flight.state, r.fuel, r.ox, r.bits) == ("RUN-DOWN", 0, 0b101, w.OUT_RUN)
    assert flight.run(SHORT["tail_ticks"] - 1).reference.ox == 0b101
    assert flight.run().reference.ox == 0
    assert flight.run(SHORT["run_off_ticks"] - SHORT["tail_ticks"] - 1).reference.bits == w.OUT_RUN
    flight.run()
    assert (flight.state, r.bits) == ("GAP", 0)


@pytest.mark.parametrize(
    ("verdict", "level", "reason"),
    [
        ("rpm", w.RPM_LOW, reasons.RPM_LOST),
        ("supply", w.SUPPLY_CUT, reasons.SUPPLY_RAN_LOW),
        ("fuel", w.FUEL_FAIL, reasons.F_PRESSURE_LOST),
        ("bus", w.BUS_CUT, reasons.BUS_SAGS),
        ("falling", 1, reasons.SUPPLY_COLLAPSES),
    ],
)
def test_what_fails_fuel_or_engine_stops_everything_without_a_tail(verdict: str, level: int, reason: int) -> None:
    flight = flowing().run(1, **{verdict: level})
    r = flight.reference
    assert (flight.state, r.ox, r.fuel, r.bits, r.cause) == ("TRIP", 0, 0, 0, (reason, 0))


@pytest.mark.parametrize("held", [True, False])
def test_a_lost_coil_current_stops_at_once_and_is_a_release_if_the_contact_opens_in_time(held: bool) -> None:
    flight = flowing(classify_ticks=4).run(1, missing=1)
    r = flight.reference
    assert (flight.state, r.ox, r.fuel, r.latch) == ("RUN-DOWN", 0, 0, 0)
    flight.run(2, missing=0).run(2, contact=w.CONTACT_CLOSED if held else w.CONTACT_OPEN)
    assert flight.state == ("TRIP" if held else "GAP")
    assert r.cause == ((reasons.O_CURRENT_LOST, 0) if held else (0, 0))


def test_the_strongest_class_acts_and_the_lowest_hazard_row_is_the_first_cause() -> None:
    flight = flowing().run(1, rpm=w.RPM_LOW, bus=w.BUS_HARD, short=1)
    r = flight.reference
    assert (flight.state, r.latch, r.cause) == ("TRIP", 3, (reasons.RPM_LOST, 0))


def test_master_off_in_flow_ends_in_rest_even_if_it_is_on_again() -> None:
    flight = flowing().run(1, master=0).run(60, master=1, contact=w.CONTACT_OPEN)
    assert flight.state == "REST"


def test_master_off_in_a_first_level_trip_voids_the_purge() -> None:
    flight = (
        flowing().run(1, bus=w.BUS_CUT).run(2, bus=w.BUS_PERMIT, master=0).run(40, master=1, contact=w.CONTACT_OPEN)
    )
    assert (flight.state, flight.reference.memory.purge_ok) == ("REST", 0)


def test_a_selector_off_in_flow_runs_that_stage_down_alone() -> None:
    flight = flowing().run(1, sel=0b100)
    r = flight.reference
    assert (flight.state, r.fuel, r.ox) == ("RUN", 0b100, 0b101)
    assert flight.run(SHORT["tail_ticks"]).reference.ox == 0b100
    assert flight.run(2, sel=0b101).reference.why3 & reasons.SELECTOR_IGNORED
    assert r.fuel == 0b100


def test_supply_over_its_limit_between_stages_opens_no_further_stage() -> None:
    flight = ready().push(2)
    flight.until(fuel=1)
    flight.run(1, supply=w.SUPPLY_HIGH).run(30, supply=w.SUPPLY_PERMIT)
    assert (flight.state, flight.reference.ox) == ("RUN", 0b001)


def test_a_push_without_full_throttle_is_refused_until_the_contact_has_been_open() -> None:
    flight = ready().run(SHORT["push_judge_ticks"] + 2, contact=w.CONTACT_CLOSED)
    told = reasons.PUSH_NOT_FULL | reasons.RELEASE_THROTTLE
    assert (flight.state, flight.reference.why2) == ("WAITING", told)
    assert flight.run(50, throttle=w.THROTTLE_FULL).reference.ox == 0
    assert flight.run(20, contact=w.CONTACT_OPEN).state == "READY"


def test_a_third_level_latch_asks_for_engine_master_ack_rail_proof_and_contact() -> None:
    flight = flowing().run(1, short=1).run(10, short=0, contact=w.CONTACT_OPEN)
    kept = {"rpm": w.RPM_STOPPED, "master": 0, "ack": 1}
    for missing in kept:
        others = {name: value for name, value in kept.items() if name != missing}
        flight.run(1, rpm=w.RPM_WINDOW, master=1, ack=0).run(20, **others)
        assert flight.state == "TRIP", missing
    assert flight.run(20, **kept).state == "REST"


def test_a_fourth_level_latch_opens_by_the_sign_off_alone() -> None:
    flight = flowing().run(1, stray=1).run(200, stray=0, contact=w.CONTACT_OPEN, rpm=w.RPM_STOPPED, master=0, ack=1)
    assert (flight.state, flight.reference.latch) == ("TRIP", 4)
    assert flight.run(3, service=1).run(20, service=0).state == "TRIP"
    assert flight.run(3, service=2).run(20, service=0).state == "REST"


def test_a_corrupt_state_word_locks_out_with_everything_off() -> None:
    flight = flowing()
    flight.reference.memory.corrupt = 1
    flight.run()
    r = flight.reference
    assert (flight.state, r.latch, r.ox, r.fuel, r.bits) == ("TRIP", 4, 0, 0, 0)


def test_lamps_are_green_ready_white_flow_amber_wait_and_red_trip() -> None:
    def level(lamps: int, shift: int) -> int:
        return lamps >> shift & 3

    flight = ready()
    assert flight.reference.lamps == w.LAMP_ON << w.LAMP_READY_SHIFT
    assert level(flight.push(30).reference.lamps, w.LAMP_FLOW_SHIFT) == w.LAMP_ON
    assert level(flight.run(1, bus=w.BUS_CUT).reference.lamps, w.LAMP_STOP_SHIFT) == w.LAMP_ON
    assert level(flight.run(1, short=1).reference.lamps, w.LAMP_STOP_SHIFT) == w.LAMP_BLINK


def test_the_last_seconds_blink_white_and_sound_the_tone() -> None:
    flight = flowing().run(SHORT["run_warn_ticks"] - 20)
    assert flight.reference.why3 == reasons.TIME_SOON_UP
    assert flight.reference.lamps & w.LAMP_TONE
    assert flight.reference.lamps >> w.LAMP_FLOW_SHIFT & 3 == w.LAMP_BLINK
