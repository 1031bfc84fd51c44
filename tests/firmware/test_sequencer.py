"""The whole controller through its raw inputs: the ritual, the flow, the stops, the latches."""

import pytest

from oxlatch import reasons
from oxlatch.controller import STATE_WORDS, Controller
from oxlatch.settings import Settings
from oxlatch.vocabulary import (
    BOOT_CRC_BAD,
    BOOT_LOCKED_L3,
    BOOT_LOCKED_L4,
    BOOT_LOST_ARMED,
    BOOT_WATCHDOG,
    FIT_LOCKOUT_MEMORY,
    OUT_RUN,
    RAW_BLOCK_MV,
    RAW_BOOT,
    RAW_BUS_MV,
    RAW_ELAPSED,
    RAW_FUEL_MV,
    RAW_PULSE_AGE_MS,
    RAW_RPM,
    RAW_SERVICE,
    RAW_SHORTS,
    RAW_SUPPLY_MV,
    RAW_THROTTLE_MV,
    SW_BENCH,
)


def test_a_sortie_delivers_its_stages_oxidizer_first_and_fuel_first_out(cockpit):
    cockpit.fly(selected=3)
    flow = [(ox, fuel) for state, ox, fuel, _bits in cockpit.history if state == "LEAD-IN"]
    assert sorted(set(flow), key=flow.index) == [(0, 0), (1, 0), (1, 1), (3, 1)]
    cockpit.release()
    cockpit.until("GAP")
    out = [(ox, fuel) for state, ox, fuel, _bits in cockpit.history if state == "RUN-DOWN"]
    assert out.count((3, 0)) == cockpit.settings.tail_ticks
    cockpit.until("READY")


def test_from_push_to_first_fuel_and_from_release_to_off_within_the_budget(cockpit):
    cockpit.make_ready()
    start = len(cockpit.history)
    cockpit.push()
    cockpit.until("RUN")
    ticks = [h[1:3] for h in cockpit.history[start:]]
    assert next(i for i, h in enumerate(ticks) if h[0]) * 5 <= 60
    assert next(i for i, h in enumerate(ticks) if h[1]) * 5 <= 120
    start = len(cockpit.history)
    cockpit.release()
    cockpit.step(60)
    ticks = [h[1:] for h in cockpit.history[start:]]
    assert next(i for i, h in enumerate(ticks) if not h[1]) < 2
    assert next(i for i, h in enumerate(ticks) if not h[0]) * 5 <= 60
    assert next(i for i, h in enumerate(ticks) if not h[2]) <= 2 + cockpit.settings.run_off_ticks


def test_nothing_opens_without_a_purge(cockpit):
    cockpit.arm()
    cockpit.step(200)
    cockpit.push()
    cockpit.step(200)
    assert cockpit.controller.core.why2 & reasons.PURGE_NEEDED
    assert not any(h[1] or h[2] for h in cockpit.history)


def test_a_purge_without_its_confirmation_lapses(cockpit):
    cockpit.arm()
    cockpit.purge = True
    cockpit.step(cockpit.settings.purge_ticks + 60)
    cockpit.purge = False
    cockpit.step(10)
    assert cockpit.controller.core.why2 & reasons.PURGE_CONFIRM
    cockpit.step(cockpit.settings.purge_confirm_ticks)
    assert cockpit.controller.core.why2 & reasons.PURGE_NEEDED


def test_a_purge_cut_short_does_not_count(cockpit):
    cockpit.arm()
    cockpit.purge = True
    cockpit.step(cockpit.settings.purge_ticks - 20)
    cockpit.purge = False
    cockpit.step(20)
    assert cockpit.controller.core.why2 & reasons.PURGE_NEEDED


def test_pressing_purge_again_voids_the_purge(cockpit):
    cockpit.make_ready()
    cockpit.purge = True
    cockpit.step(8)
    assert cockpit.state == "WAITING"
    assert not cockpit.controller.core.purge_valid


def test_losing_line_pressure_voids_the_purge(cockpit):
    cockpit.make_ready()
    cockpit.raw[RAW_SUPPLY_MV] = 1600
    cockpit.step(110)
    cockpit.raw[RAW_SUPPLY_MV] = 2600
    cockpit.step(500)
    assert cockpit.controller.core.why2 & reasons.PURGE_NEEDED


def test_switches_on_at_power_up_hold_the_controller(cockpit):
    cockpit.master = True
    cockpit.until("HELD")
    cockpit.step(1000)
    assert cockpit.state == "HELD"
    cockpit.master = False
    cockpit.until("REST")


def test_a_push_held_from_before_ready_never_counts(cockpit):
    cockpit.arm()
    cockpit.push()
    cockpit.step(50)
    cockpit.purge_line()
    cockpit.step(400)
    assert not any(h[1] or h[2] for h in cockpit.history)
    assert cockpit.controller.core.why2 & reasons.RELEASE_THROTTLE


def test_a_refused_push_says_why_and_is_spent(cockpit):
    cockpit.make_ready()
    cockpit.raw[RAW_RPM] = 2250
    cockpit.step(20)
    cockpit.push()
    cockpit.step(60)
    assert cockpit.controller.core.why2 & reasons.PUSH_RPM_LOW
    cockpit.raw[RAW_RPM] = 2600
    cockpit.step(400)
    assert not any(h[1] for h in cockpit.history)
    cockpit.release()
    cockpit.until("READY")


def test_a_quick_second_push_waits_for_the_gap(cockpit):
    cockpit.fly()
    cockpit.release()
    cockpit.step(14)
    cockpit.push()
    cockpit.step(30)
    mark = len(cockpit.history)
    cockpit.step(600)
    assert not any(h[1] for h in cockpit.history[mark:])


def test_the_oxidizer_that_does_not_come_is_given_up_and_locks_the_second_time(cockpit):
    cockpit.proof_dead = 1
    cockpit.make_ready(selected=1)
    cockpit.push()
    cockpit.until("TRIP")
    assert not any(h[2] for h in cockpit.history)
    assert sum(h[1] for h in cockpit.history) == cockpit.settings.lead_limit_ticks
    assert cockpit.controller.core.cause0 == reasons.O_NOT_PROVED
    assert cockpit.controller.core.latch == 2
    cockpit.release()
    cockpit.master = False
    cockpit.until("REST")
    cockpit.master = True
    cockpit.step(30)
    cockpit.purge_line()
    cockpit.until("READY")
    cockpit.push()
    cockpit.until("TRIP")
    assert cockpit.controller.core.cause0 == reasons.O_NOT_PROVED_AGAIN
    assert cockpit.controller.core.latch == 3
    assert cockpit.controller.core.store == 3


STOPS = [
    (RAW_SUPPLY_MV, 1990, 12, "SUPPLY_RAN_LOW", 2),
    (RAW_SUPPLY_MV, 1400, 2, "SUPPLY_RAN_OUT", 2),
    (RAW_SUPPLY_MV, 100, 2, "SUPPLY_SIGNAL_LOST", 2),
    (RAW_FUEL_MV, 1300, 2, "F_PRESSURE_LOST", 2),
    (RAW_FUEL_MV, 4900, 2, "F_SIGNAL_LOST", 2),
    (RAW_BUS_MV, 10500, 4, "BUS_SAGS", 1),
    (RAW_BUS_MV, 9000, 2, "BUS_FAILED", 1),
    (RAW_BUS_MV, 17000, 4, "BUS_SURGES", 2),
    (RAW_PULSE_AGE_MS, 120, 1, "RPM_LOST", 2),
    (RAW_RPM, 2100, 8, "RPM_LOST", 2),
    (RAW_ELAPSED, 5, 1, "TICK_STALLED", 2),
    (RAW_ELAPSED, 2, 2, "TICKS_LATE", 2),
    (RAW_SHORTS, 1, 2, "COIL_SHORTED", 3),
]


@pytest.mark.parametrize(("index", "value", "within", "cause", "latch"), STOPS, ids=[f"{s[3]}-{s[1]}" for s in STOPS])
def test_a_stop_cause_shuts_everything_within_its_ticks(cockpit, index, value, within, cause, latch):
    cockpit.fly()
    cockpit.step(100)
    cockpit.raw[index] = value
    for n in range(within):
        assert cockpit.controller.out.fuel, f"stopped early, after {n}"
        cockpit.step()
    out = cockpit.controller.out
    assert (out.ox, out.fuel, out.bits) == (0, 0, 0)
    core = cockpit.controller.core
    assert (core.cause0, core.cause1) in ((getattr(reasons, cause), 0), (0, getattr(reasons, cause)))
    assert core.latch == latch and cockpit.state == "TRIP"


def test_proof_lost_in_flow_stops_both_after_two_samples(cockpit):
    cockpit.fly()
    cockpit.proof_dead = 2
    cockpit.step()
    assert cockpit.controller.out.fuel == 3
    cockpit.step()
    assert (cockpit.controller.out.ox, cockpit.controller.out.fuel) == (0, 0)
    assert cockpit.controller.core.cause0 == reasons.O_PROOF_LOST


def test_a_lost_coil_current_is_acted_on_first_and_named_later(cockpit):
    cockpit.fly()
    cockpit.step(30)
    cockpit.current_dead = 1
    cockpit.step(2)
    assert (cockpit.controller.out.ox, cockpit.controller.out.fuel) == (0, 0)
    assert cockpit.state == "RUN-DOWN" and cockpit.controller.core.latch == 0
    cockpit.step(cockpit.settings.classify_ticks)
    assert cockpit.state == "TRIP" and cockpit.controller.core.cause0 == reasons.O_CURRENT_LOST


def test_a_released_contact_takes_its_lost_current_with_it(cockpit):
    cockpit.fly()
    cockpit.step(30)
    cockpit.current_dead = 1 << 4
    cockpit.step(2)
    cockpit.release()
    cockpit.until("GAP")
    assert cockpit.controller.core.latch == 0


def test_a_selector_turned_off_in_flow_runs_its_stage_down_and_on_is_ignored(cockpit):
    cockpit.fly(selected=3)
    cockpit.selected = 1
    cockpit.step(3)
    out = cockpit.controller.out
    assert (out.ox, out.fuel) == (3, 1)
    cockpit.step(cockpit.settings.tail_ticks)
    assert (out.ox, out.fuel) == (1, 1)
    cockpit.selected = 7
    cockpit.step(100)
    assert (out.ox, out.fuel) == (1, 1) and cockpit.state == "RUN"
    assert cockpit.controller.core.why3 & reasons.SELECTOR_IGNORED
    cockpit.selected = 0
    cockpit.until("GAP")


def test_a_pattern_that_is_not_allowed_is_refused(cockpit):
    cockpit.settings.patterns = 0b10
    cockpit.arm(selected=3)
    cockpit.purge_line()
    cockpit.step(300)
    assert cockpit.controller.core.why2 & reasons.PATTERN_NOT_ALLOWED
    cockpit.selected = 1
    cockpit.until("READY")


def test_the_run_ends_at_its_time_with_the_throttle_still_pushed(cockpit):
    cockpit.settings.run_ticks = 300
    cockpit.settings.run_warn_ticks = 200
    cockpit.fly()
    cockpit.step(400)
    assert cockpit.state == "TRIP" and cockpit.controller.core.cause1 == reasons.TIME_IS_UP
    cockpit.release()
    cockpit.until("READY")


def test_master_off_in_flow_runs_down_and_disarms(cockpit):
    cockpit.fly()
    cockpit.master = False
    cockpit.step(2)
    assert (cockpit.controller.out.ox, cockpit.controller.out.fuel) == (3, 0)
    cockpit.until("REST")
    assert not cockpit.controller.core.purge_valid


def test_an_oxidizer_proof_that_stays_up_locks_at_the_highest_level(cockpit):
    cockpit.fly(selected=1)
    cockpit.proof_ticks = 0
    cockpit.release()
    cockpit.step(36)
    assert cockpit.controller.core.why3 & reasons.O_SLOW_TO_SHUT
    cockpit.step(60)
    assert cockpit.state == "TRIP"
    assert cockpit.controller.core.cause0 == reasons.O_STUCK_OPEN and cockpit.controller.core.latch == 4


def test_a_falling_fuel_block_after_shut_down_locks(cockpit):
    cockpit.fly()
    cockpit.release()
    cockpit.until("GAP")
    cockpit.step(30)
    cockpit.raw[RAW_BLOCK_MV] = 1500
    cockpit.step(40)
    assert cockpit.state == "TRIP" and cockpit.controller.core.cause0 == reasons.F_STAGE_LEAKS


def test_latch_three_clears_with_the_engine_stopped_master_off_and_ack_held(cockpit):
    cockpit.raw[RAW_BOOT] = BOOT_LOCKED_L3
    cockpit.until("TRIP")
    assert cockpit.controller.core.latch == 3
    cockpit.ack = True
    cockpit.step(1000)
    assert cockpit.state == "TRIP"
    cockpit.ack = False
    cockpit.raw[RAW_PULSE_AGE_MS] = 10000
    cockpit.raw[RAW_RPM] = 0
    cockpit.step(1100)
    cockpit.ack = True
    cockpit.until("REST")
    assert cockpit.controller.core.store == 0


@pytest.mark.parametrize("boot", [BOOT_LOCKED_L4, BOOT_CRC_BAD, BOOT_LOST_ARMED])
def test_what_start_up_found_keeps_the_controller_in_trip(cockpit, boot):
    cockpit.raw[RAW_BOOT] = boot
    cockpit.until("TRIP")
    cockpit.step(3000)
    assert cockpit.state == "TRIP"


def test_the_highest_latch_clears_only_by_sign_off_in_service(cockpit):
    cockpit.raw[RAW_BOOT] = BOOT_LOCKED_L4
    cockpit.raw[RAW_PULSE_AGE_MS] = 10000
    cockpit.raw[RAW_RPM] = 0
    cockpit.until("TRIP")
    cockpit.ack = True
    cockpit.step(2000)
    assert cockpit.state == "TRIP"
    cockpit.ack = False
    cockpit.raw[RAW_SERVICE] = 2
    cockpit.until("SERVICE")
    cockpit.step(10)
    cockpit.raw[RAW_SERVICE] = 0
    cockpit.until("REST")


def test_arming_leaves_a_mark_only_where_no_lockout_memory_is_fitted(cockpit):
    cockpit.arm()
    assert cockpit.controller.core.store == 0
    other = type(cockpit)()
    other.settings.fitted &= ~FIT_LOCKOUT_MEMORY
    other.arm()
    assert other.controller.core.store == 1
    other.master = False
    other.until("REST")
    assert other.controller.core.store == 0


def test_a_state_that_cannot_be_is_a_hard_stop(cockpit):
    cockpit.fly()
    for state in (-1, 14, 99):
        cockpit.controller.core.state = state
        cockpit.step()
        assert cockpit.state == "TRIP" and cockpit.controller.core.latch == 4
        assert cockpit.controller.core.cause1 == reasons.STATE_CORRUPT or cockpit.controller.core.cause0


def test_the_rail_is_on_only_in_flow_and_purge(cockpit):
    cockpit.fly()
    cockpit.release()
    cockpit.until("READY")
    for state, _ox, _fuel, bits in cockpit.history:
        if bits & OUT_RUN:
            assert state in ("PURGING", "LEAD-IN", "RUN", "RUN-DOWN")


def test_state_words_carry_the_whole_state(cockpit):
    cockpit.make_ready()
    words = [0] * STATE_WORDS
    cockpit.controller.state_words(words)
    twin = Controller(Settings())
    twin.load_words(words)
    cockpit.push()
    for _ in range(300):
        cockpit.step()
        twin.tick(cockpit.raw)
        ours, theirs = cockpit.controller.out, twin.out
        assert (ours.ox, ours.fuel, ours.bits, ours.lamps, ours.text) == (
            theirs.ox,
            theirs.fuel,
            theirs.bits,
            theirs.lamps,
            theirs.text,
        )
    again = [0] * STATE_WORDS
    twin.state_words(again)
    cockpit.controller.state_words(words)
    assert again == words


def test_a_throttle_chop_ends_the_flow_before_the_contact_opens(cockpit):
    cockpit.fly()
    for mv in range(4500, 3600, -60):
        cockpit.raw[RAW_THROTTLE_MV] = mv
        cockpit.step()
    assert cockpit.controller.out.fuel == 0


def test_a_short_seen_during_wake_is_not_forgotten(cockpit):
    cockpit.raw[RAW_SHORTS] = 1
    cockpit.step(10)
    cockpit.raw[RAW_SHORTS] = 0
    cockpit.until("TRIP")
    assert cockpit.controller.core.cause1 == reasons.COIL_SHORTED


def test_a_watchdog_reset_is_a_stall_that_latches(cockpit):
    cockpit.raw[RAW_BOOT] = BOOT_WATCHDOG
    cockpit.until("TRIP")
    assert cockpit.controller.core.cause1 == reasons.TICK_STALLED and cockpit.controller.core.latch == 2
    cockpit.until("REST")


def test_a_contact_stuck_with_the_throttle_back_trips_and_locks_the_second_time(cockpit):
    cockpit.make_ready()
    cockpit.pushed = True
    cockpit.until("TRIP")
    assert cockpit.controller.core.cause0 == reasons.DETENT_STUCK
    assert not any(h[1] for h in cockpit.history)
    cockpit.master = False
    cockpit.until("HELD")
    cockpit.pushed = False
    cockpit.until("REST")
    cockpit.master = True
    cockpit.until("WAITING")
    cockpit.pushed = True
    cockpit.until("TRIP")
    assert cockpit.controller.core.cause0 == reasons.DETENT_STUCK_AGAIN and cockpit.controller.core.latch == 3


def test_a_sensor_fault_spoils_the_purge_it_happens_in(cockpit):
    cockpit.arm()
    cockpit.purge = True
    cockpit.step(200)
    cockpit.raw[RAW_SUPPLY_MV] = 4900
    cockpit.step(3)
    cockpit.raw[RAW_SUPPLY_MV] = 2600
    cockpit.step(500)
    cockpit.purge = False
    cockpit.step(20)
    assert cockpit.controller.core.why2 & reasons.PURGE_NEEDED


def test_a_flick_of_the_master_in_flow_disarms_and_voids_the_purge(cockpit):
    cockpit.fly()
    cockpit.master = False
    cockpit.step(3)
    assert cockpit.state == "RUN-DOWN"
    cockpit.master = True
    cockpit.release()
    cockpit.until("REST")
    cockpit.step(500)
    assert cockpit.state == "REST" and not cockpit.controller.core.purge_valid
    cockpit.master = False
    cockpit.step(5)
    cockpit.master = True
    cockpit.until("WAITING")


def test_a_flick_of_the_master_in_a_light_trip_disarms_too(cockpit):
    cockpit.fly()
    cockpit.raw[RAW_BUS_MV] = 10500
    cockpit.until("TRIP")
    cockpit.raw[RAW_BUS_MV] = 14000
    cockpit.master = False
    cockpit.step(3)
    cockpit.master = True
    cockpit.release()
    cockpit.until("REST")


def test_ready_waits_for_a_contact_that_is_open(cockpit):
    cockpit.arm()
    cockpit.purge_line()
    while cockpit.controller.core.ready_n < cockpit.settings.ready_ticks - 3:
        cockpit.step()
    cockpit.push()
    cockpit.step(400)
    assert not any(h[0] in ("READY", "LEAD-IN") for h in cockpit.history)
    assert not any(h[1] for h in cockpit.history)


def test_the_bench_key_keeps_ready_away(cockpit):
    cockpit.make_ready()
    sample = cockpit._sample

    def with_key():
        sample()
        cockpit.raw[1] |= SW_BENCH

    cockpit._sample = with_key
    cockpit.step(10)
    assert cockpit.state == "WAITING" and cockpit.controller.core.why2 & reasons.BENCH_KEY_FITTED


def test_latch_three_asks_its_tests_before_it_clears(cockpit):
    cockpit.raw[RAW_BOOT] = BOOT_LOST_ARMED
    cockpit.raw[RAW_PULSE_AGE_MS] = 10000
    cockpit.raw[RAW_RPM] = 0
    cockpit.until("TRIP")
    cockpit.pushed = True
    cockpit.step(1100)
    cockpit.ack = True
    cockpit.step(1000)
    assert cockpit.state == "TRIP"
    cockpit.release()
    cockpit.until("REST")


def test_an_empty_fuel_block_in_flow_stops_it(cockpit):
    """The master fuel valve has not opened, its coil current notwithstanding."""
    cockpit.fly()
    cockpit.raw[RAW_BLOCK_MV] = 700
    assert cockpit.until("TRIP", 20) <= 14  # three looks, four ticks apart
    assert cockpit.controller.core.cause0 == reasons.F_PRESSURE_LOST
    assert cockpit.history[-1][1:3] == (0, 0)


def test_a_state_that_cannot_be_is_told_beside_what_start_up_found(cockpit):
    cockpit.raw[RAW_BOOT] = BOOT_LOST_ARMED
    cockpit.until("TRIP")
    cockpit.controller.core.state = 77
    cockpit.step()
    assert cockpit.controller.core.why1 & reasons.STATE_CORRUPT and cockpit.controller.core.latch == 4
