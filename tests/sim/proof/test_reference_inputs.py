"""What the second specification says of the inputs beyond the core, told as short flights through it."""

import pytest
from reference_flight import SHORT, Flight, flowing, ready

from oxlatch import reasons
from oxlatch import vocabulary as w

FITTED = 0xFFFF
WAITS = {
    w.EXTRA_BOTTLE_BAD: reasons.BOTTLE_TEMP_BAD,
    w.EXTRA_BOTTLE_WARM: reasons.BOTTLE_WARM,
    w.EXTRA_NOT_RICH: reasons.MIXTURE_NOT_RICH,
    w.EXTRA_NO_RETARD: reasons.RETARD_MISSING,
    w.EXTRA_FAST: reasons.AIRSPEED_HIGH,
    w.EXTRA_AIRSPEED_BAD: reasons.AIRSPEED_BAD,
}
GRAM = 1024
STAGES_1_AND_3_G = 214  # what a start with both asks of the bottle, rounded up


def on_ground(**changed: int) -> Flight:
    """Armed, engine stopped, bottle shut, line not yet empty."""
    flight = Flight(fitted=FITTED | w.FIT_VENT_DOWN, vent_ticks=80, **changed).arm()
    return flight.run(20, rpm=w.RPM_STOPPED, supply=w.SUPPLY_EMPTY, line=w.LINE_WEAK)


def on_bench(**verdicts: int) -> Flight:
    """Armed with the bench key fitted and the engine stopped."""
    flight = Flight(fitted=FITTED | w.FIT_MASTER_OX, bench_ticks=400, bench_push_ticks=40).run(12)
    return flight.run(2, master=1, sel=0b101, bench=1, rpm=w.RPM_STOPPED, line=w.LINE_DEAD, **verdicts)


@pytest.mark.parametrize("extra", WAITS, ids=lambda extra: f"bit-{extra.bit_length() - 1}")
def test_an_adverse_extra_takes_ready_away_and_settles_before_it_comes_back(extra: int) -> None:
    flight = ready().run(1, extras=extra)
    assert (flight.state, flight.reference.why3, flight.reference.why2) == ("WAITING", WAITS[extra], 0)
    assert flight.run(1, extras=0).reference.why2 == reasons.SETTLING
    assert flight.run(SHORT["ready_ticks"] + 1).state == "READY"


def test_fire_drops_everything_and_locks_out() -> None:
    r = flowing().run(1, extras=w.EXTRA_FIRE).reference
    assert (r.state_name, r.ox, r.fuel, r.bits, r.latch, r.store) == ("TRIP", 0, 0, 0, 4, 4)


def test_an_overheated_bottle_stops_fuel_first_and_trips_at_rest_too() -> None:
    r = flowing().run(1, extras=w.EXTRA_BOTTLE_RED).reference
    assert (r.state_name, r.fuel, r.ox) == ("RUN-DOWN", 0, 0b101)
    assert Flight().run(12).run(1, extras=w.EXTRA_BOTTLE_RED).state == "TRIP"


def test_knock_stops_a_flow_and_says_nothing_at_rest() -> None:
    r = flowing().run(1, extras=w.EXTRA_KNOCK).reference
    assert (r.state_name, r.ox, r.latch) == ("TRIP", 0, 3)
    assert ready().run(1, extras=w.EXTRA_KNOCK).state == "READY"


def test_doubt_about_the_content_trips_before_a_flow_and_not_in_it() -> None:
    assert ready().run(1, extras=w.EXTRA_CONTENT).state == "TRIP"
    assert flowing().run(5, extras=w.EXTRA_CONTENT).state == "RUN"


def test_thinner_air_allows_what_dense_air_does_not_and_a_descent_in_flow_is_told() -> None:
    flight = Flight(fitted=FITTED | w.FIT_AIR, patterns=0b10, patterns_2=1 << 0b101).arm().purge()
    assert (flight.state, flight.reference.why2) == ("WAITING", reasons.PATTERN_NOT_ALLOWED)
    assert flight.run(10, row=2).state == "READY"
    assert flight.push(40).state == "RUN"
    assert flight.run(1, row=0).reference.why3 == reasons.ABOVE_ROW
    assert flight.state == "RUN"


def test_the_budget_warns_then_ends_the_flow_and_a_refill_is_entered_at_rest() -> None:
    flight = Flight(fitted=FITTED | w.FIT_BUDGET, flow_1=8 * GRAM, flow_3=8 * GRAM, run_warn_ticks=9000, run_ticks=9001)
    flight.v.bottle_g = STAGES_1_AND_3_G + 5  # the purge of 27 ticks takes two grams
    flight.arm().purge().push(2)
    assert flight.until(fuel=2) > 0
    assert flight.run().reference.why3 == reasons.TIME_SOON_UP
    while flight.reference.memory.budget:
        assert flight.state == "RUN"
        flight.run()
    assert (flight.state, flight.reference.cause) == ("RUN-DOWN", (0, reasons.BUDGET_USED))
    flight.run(60, contact=w.CONTACT_OPEN)
    assert flight.reference.why3 & reasons.BUDGET_SHORT
    flight.run(2, master=0, rpm=w.RPM_STOPPED).run(SHORT["ack_hold_ticks"], ack=1)
    assert flight.reference.why3 == reasons.REFILL_ENTERED
    assert flight.reference.memory.budget == flight.reference.settings.bottle_full_g * GRAM  # type: ignore[attr-defined]


def test_an_ack_still_held_from_clearing_a_lock_enters_no_refill() -> None:
    flight = Flight(fitted=FITTED | w.FIT_BUDGET)
    flight.v.bottle_g = 1
    flight.run(12).run(1, short=1).run(8, short=0, rpm=w.RPM_STOPPED)
    flight.run(SHORT["ack_hold_ticks"], ack=1)
    assert (flight.state, flight.run().reference.memory.budget) == ("REST", GRAM)


def test_warm_coils_keep_a_start_waiting_until_they_have_cooled() -> None:
    flight = flowing(coil_heat_up=2, coil_heat_down=1, coil_heat_start=30, coil_heat_top=400)
    assert flight.reference.why3 == reasons.TIME_SOON_UP
    flight.run(30, contact=w.CONTACT_OPEN, throttle=w.THROTTLE_HOLD)
    assert flight.reference.why3 == reasons.COIL_WARM
    assert flight.run(80).state == "READY"


def test_coils_at_their_limit_end_the_flow() -> None:
    flight = ready(coil_heat_up=2, coil_heat_down=1, coil_heat_start=10, coil_heat_top=40).push(22)
    assert flight.reference.cause == (0, reasons.COIL_AT_LIMIT)


def test_how_warm_the_coils_were_is_not_known_after_the_watchdog() -> None:
    flight = Flight(coil_heat_start=40, coil_heat_top=50)
    flight.v.boot = w.BOOT_WATCHDOG
    while flight.state == "WAKE":
        flight.run()
    assert flight.reference.memory.coil_heat == 40


@pytest.mark.parametrize(
    ("outlets", "why"),
    [(w.OUTLETS_COLD, 0), (w.OUTLETS_ONE, reasons.PURGE_CONFIRM), (w.OUTLETS_WARM, reasons.PURGE_CONFIRM)],
)
def test_a_purge_that_ends_with_every_outlet_cold_needs_no_confirmation(outlets: int, why: int) -> None:
    flight = Flight().arm().run(30, purge=1).run(1, purge=0, outlets=outlets).run(1)
    assert flight.reference.why2 & ~reasons.SETTLING == why


def test_a_press_on_the_ground_vents_the_line_and_is_no_purge() -> None:
    flight = on_ground().run(15, purge=1)
    assert (flight.state, flight.reference.why3) == ("PURGING", reasons.VENTING)
    flight.run(SHORT["purge_ticks"] + 5, line=w.LINE_GOOD, supply=w.SUPPLY_PERMIT)
    assert flight.state == "PURGING"
    assert flight.run(2, purge=0, rpm=w.RPM_WINDOW).reference.why2 == reasons.PURGE_NEEDED


@pytest.mark.parametrize("ends", [{"line": w.LINE_EMPTY}, {"rpm": w.RPM_LOW, "line": w.LINE_DEAD}])
def test_venting_ends_when_the_line_is_empty_or_the_engine_turns(ends: dict[str, int]) -> None:
    assert on_ground().run(20, purge=1).run(1, **ends).state == "WAITING"


def test_venting_has_a_longest_time() -> None:
    flight = on_ground().run(1, purge=1)
    ticks = 0
    while flight.run().state != "WAITING" or ticks == 0:
        ticks += flight.state == "PURGING"
    assert ticks == flight.reference.settings.vent_ticks  # type: ignore[attr-defined]


def test_the_master_oxidizer_valve_is_open_from_arming_until_rest() -> None:
    flight = Flight(fitted=FITTED | w.FIT_MASTER_OX).run(12)
    assert flight.reference.bits == 0
    assert flight.arm().reference.bits == w.OUT_MASTER_OX
    assert flight.purge().push(40).state == "RUN"
    assert flight.reference.bits & w.OUT_MASTER_OX
    flight.run(1, contact=w.CONTACT_OPEN).run(20, master=0)
    assert (flight.state, flight.reference.bits) == ("REST", 0)


def test_the_gas_bench_opens_oxidizer_stage_by_stage_and_never_fuel() -> None:
    flight = on_bench(ack=1)
    r = flight.reference
    assert (flight.state, r.why3) == ("BENCH-GAS", reasons.BENCH_NO_FUEL)
    flight.run(5, ack=0).push(2)
    assert (r.ox, r.fuel, r.bits) == (0b001, 0, w.OUT_RUN | w.OUT_MASTER_OX)
    flight.run(SHORT["stagger_ticks"])
    assert r.ox == 0b001
    flight.run(1)
    assert (r.ox, r.fuel, r.bits & w.OUT_MASTER_FUEL) == (0b101, 0, 0)
    assert flight.run(1, contact=w.CONTACT_UNSURE).reference.ox == 0
    assert flight.run(20, contact=w.CONTACT_CLOSED).reference.bits == w.OUT_MASTER_OX


def test_a_bench_push_has_a_longest_time_and_the_bench_ends_with_its_key() -> None:
    flight = on_bench(purge=1).run(5, purge=0).push(39)
    assert (flight.state, flight.reference.ox) == ("BENCH-DRY", 0b101)
    assert flight.run().reference.ox == 0
    assert flight.run(1, bench=0).state == "REST"


def test_a_dry_bench_ends_when_the_line_is_not_dry_and_every_bench_when_the_engine_turns() -> None:
    assert on_bench(purge=1).run(1, line=w.LINE_WEAK).state == "REST"
    assert on_bench(ack=1).run(1, line=w.LINE_WEAK).state == "BENCH-GAS"
    assert on_bench(ack=1).run(1, rpm=w.RPM_SILENT).state == "REST"
