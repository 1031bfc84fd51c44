"""Each sense channel says something exact about its last raw samples."""

import random

import pytest

from oxlatch.sense import sense_step
from oxlatch.vocabulary import (
    BLOCK_CLEAN,
    BLOCK_CLIMBING,
    BLOCK_FALLING,
    BLOCK_FAULT,
    BUS_CUT,
    BUS_HARD,
    BUS_LOW,
    BUS_PERMIT,
    BUS_SURGE,
    COIL_MASTER_FUEL,
    COIL_PURGE,
    CONTACT_CLOSED,
    CONTACT_FAULT,
    CONTACT_OPEN,
    CONTACT_UNSURE,
    FIT_CURRENTS,
    FIT_DETENT_NC,
    FIT_FUEL_PRESSURE,
    FIT_PROOF,
    FIT_RAIL,
    FIT_THROTTLE,
    FUEL_FAIL,
    FUEL_FAULT,
    FUEL_HIGH,
    FUEL_LOW,
    FUEL_OVER,
    FUEL_PERMIT,
    LINE_DEAD,
    LINE_EMPTY,
    LINE_GOOD,
    LINE_LOST,
    LINE_THIN,
    LINE_TRAPPED,
    LINE_WEAK,
    OUT_RUN,
    RAIL_DEAD,
    RAIL_LIVE,
    RAIL_WELDED,
    RAW_BLOCK_MV,
    RAW_BUS_MV,
    RAW_COUNT,
    RAW_CURRENTS,
    RAW_ELAPSED,
    RAW_FUEL_MV,
    RAW_PULSE_AGE_MS,
    RAW_RAIL_MV,
    RAW_RPM,
    RAW_SHORTS,
    RAW_SUPPLY_MV,
    RAW_SWITCHES,
    RAW_THROTTLE_MV,
    RPM_HOLD,
    RPM_LOW,
    RPM_OVER,
    RPM_SILENT,
    RPM_STOPPED,
    RPM_WINDOW,
    SHUT_CLEAN,
    SHUT_SLOW,
    SHUT_STUCK,
    SUPPLY_CUT,
    SUPPLY_EMPTY,
    SUPPLY_FAULT,
    SUPPLY_HIGH,
    SUPPLY_LEAVE,
    SUPPLY_LOW,
    SUPPLY_PERMIT,
    SW_ACK,
    SW_DETENT_NC,
    SW_DETENT_NO,
    SW_MASTER,
    SW_PROOF_SHIFT,
    SW_SEL_SHIFT,
    THROTTLE_DROP,
    THROTTLE_FAULT,
    THROTTLE_FULL,
    THROTTLE_HOLD,
    TIME_GOOD,
    TIME_HARD,
    TIME_LATE,
)


class Samples:
    """Feeds raw samples and returns a verdict by name."""

    def __init__(self, sense):
        self.s, self.v, self.c = sense
        self.raw = [0] * RAW_COUNT
        self.raw[RAW_ELAPSED] = 1
        self.raw[RAW_SWITCHES] = SW_DETENT_NC
        self.raw[RAW_THROTTLE_MV] = 1000
        self.raw[RAW_RPM] = 2600
        self.raw[RAW_SUPPLY_MV] = 2600
        self.raw[RAW_FUEL_MV] = 1800
        self.raw[RAW_BLOCK_MV] = 1700
        self.raw[RAW_BUS_MV] = 14000

    def feed(self, index, value, ticks=1):
        self.raw[index] = value
        for _ in range(ticks):
            sense_step(self.s, self.raw, self.c, self.v)
        return self.v

    def settle(self, ticks=500):
        return self.feed(RAW_ELAPSED, 1, ticks)


@pytest.fixture
def samples(sense):
    return Samples(sense)


def test_a_switch_needs_six_samples_to_go_on_and_two_to_go_off(samples):
    on = SW_DETENT_NC | SW_MASTER | 5 << SW_SEL_SHIFT
    v = samples.feed(RAW_SWITCHES, on, 5)
    assert (v.master, v.sel) == (0, 0)
    assert (samples.feed(RAW_SWITCHES, on).master, v.sel) == (1, 5)
    assert samples.feed(RAW_SWITCHES, SW_DETENT_NC).master == 1
    assert samples.feed(RAW_SWITCHES, on).master == 1
    assert samples.feed(RAW_SWITCHES, SW_DETENT_NC, 2).master == 0


def test_bounce_shorter_than_six_samples_never_turns_a_switch_on(samples):
    rng = random.Random(3)
    for _ in range(400):
        samples.feed(RAW_SWITCHES, SW_DETENT_NC | SW_MASTER, rng.randrange(1, 6))
        assert samples.v.master == 0
        samples.feed(RAW_SWITCHES, SW_DETENT_NC, rng.randrange(1, 3))


def test_proof_needs_two_samples_both_ways(samples):
    up = SW_DETENT_NC | 2 << SW_PROOF_SHIFT
    assert samples.feed(RAW_SWITCHES, up).proof == 0
    assert samples.feed(RAW_SWITCHES, up).proof == 2
    assert samples.feed(RAW_SWITCHES, SW_DETENT_NC).proof == 2
    assert samples.feed(RAW_SWITCHES, SW_DETENT_NC).proof == 0


def test_proof_reads_zero_when_not_fitted(samples):
    samples.c.fitted &= ~FIT_PROOF
    assert samples.feed(RAW_SWITCHES, SW_DETENT_NC | 15 << SW_PROOF_SHIFT, 9).proof == 0


def test_the_contact_is_closed_after_six_agreeing_samples_and_released_after_two(samples):
    assert samples.settle(10).contact == CONTACT_OPEN
    seen = [samples.feed(RAW_SWITCHES, SW_DETENT_NO).contact for _ in range(6)]
    assert seen == [CONTACT_OPEN, *[CONTACT_UNSURE] * 4, CONTACT_CLOSED]
    assert samples.feed(RAW_SWITCHES, 0).contact == CONTACT_CLOSED
    assert samples.feed(RAW_SWITCHES, 0).contact == CONTACT_UNSURE


def test_poles_that_disagree_for_long_are_a_fault(samples):
    samples.settle(10)
    for word in (0, SW_DETENT_NO | SW_DETENT_NC):
        assert samples.feed(RAW_SWITCHES, word, 13).contact == CONTACT_FAULT
        assert samples.feed(RAW_SWITCHES, SW_DETENT_NC, 6).contact == CONTACT_OPEN


def test_without_the_nc_pole_the_no_pole_decides(samples):
    samples.c.fitted &= ~FIT_DETENT_NC
    assert samples.feed(RAW_SWITCHES, 0, 8).contact == CONTACT_OPEN
    assert samples.feed(RAW_SWITCHES, SW_DETENT_NO, 6).contact == CONTACT_CLOSED
    assert samples.feed(RAW_SWITCHES, SW_DETENT_NC, 8).contact == CONTACT_OPEN


def test_a_contact_closed_with_the_throttle_back_is_called_stuck(samples):
    v = samples.feed(RAW_SWITCHES, SW_DETENT_NO, samples.c.detent_stuck_ticks)
    assert not v.contact_stuck
    assert samples.feed(RAW_SWITCHES, SW_DETENT_NO).contact_stuck
    assert not samples.feed(RAW_THROTTLE_MV, 4500).contact_stuck


def test_a_push_with_some_bounce_is_no_chatter_but_steady_edges_are(samples):
    for word in (SW_DETENT_NO, SW_DETENT_NC, SW_DETENT_NO):
        samples.feed(RAW_SWITCHES, word)
    assert not samples.v.chatter
    for _ in range(6):
        samples.feed(RAW_SWITCHES, SW_DETENT_NC, 8)
        samples.feed(RAW_SWITCHES, SW_DETENT_NO, 8)
    assert samples.v.chatter
    assert not samples.feed(RAW_SWITCHES, SW_DETENT_NC, 400).chatter


def test_a_coil_without_current_is_missing_after_its_rise_time_and_two_samples(samples):
    samples.s.driven = 1
    seen = [samples.feed(RAW_CURRENTS, 0).missing for _ in range(5)]
    assert seen == [0, 0, 0, 1, 1]
    assert samples.feed(RAW_CURRENTS, 1, 2).missing == 0


def test_a_current_nobody_asked_for_is_stray_after_its_decay_time(samples):
    samples.s.driven = 16
    samples.feed(RAW_CURRENTS, 16, 20)
    samples.s.driven = 0
    seen = [samples.feed(RAW_CURRENTS, 16).stray for _ in range(8)]
    assert seen == [0, 0, 0, 0, 0, 0, 16, 16]


def test_a_short_needs_two_samples(samples):
    assert samples.feed(RAW_SHORTS, 2).short == 0
    assert samples.feed(RAW_SHORTS, 2).short == 2


def test_coils_are_not_judged_where_currents_are_not_fitted(samples):
    samples.c.fitted &= ~FIT_CURRENTS
    samples.s.driven = 3
    v = samples.feed(RAW_CURRENTS, 0, 20)
    assert (v.current, v.missing, v.stray, v.short) == (0, 0, 0, 0)


def test_a_proof_that_outlives_its_valve_is_slow_then_stuck(samples):
    up = SW_DETENT_NC | 1 << SW_PROOF_SHIFT
    samples.s.driven = 1
    samples.feed(RAW_SWITCHES, up, 20)
    samples.s.driven = 0
    assert samples.feed(RAW_SWITCHES, up, samples.c.shut_slow_ticks).shut == SHUT_CLEAN
    assert samples.feed(RAW_SWITCHES, up).shut == SHUT_SLOW
    assert samples.feed(RAW_SWITCHES, up, samples.c.shut_stuck_ticks).shut == SHUT_STUCK
    assert samples.feed(RAW_SWITCHES, SW_DETENT_NC, 2).shut == SHUT_CLEAN


def test_a_proof_that_was_never_driven_is_not_called_stuck(samples):
    assert samples.feed(RAW_SWITCHES, SW_DETENT_NC | 1 << SW_PROOF_SHIFT, 300).shut == SHUT_CLEAN


def test_the_throttle_is_full_after_its_time_and_drops_after_two_samples(samples):
    c = samples.c
    samples.settle(20)
    v = samples.feed(RAW_THROTTLE_MV, c.throttle_full_mv, c.throttle_full_ticks - 1)
    assert v.throttle == THROTTLE_HOLD
    assert samples.feed(RAW_THROTTLE_MV, c.throttle_full_mv).throttle == THROTTLE_FULL
    assert samples.feed(RAW_THROTTLE_MV, c.throttle_drop_mv).throttle == THROTTLE_HOLD
    assert samples.feed(RAW_THROTTLE_MV, c.throttle_drop_mv - 1).throttle == THROTTLE_HOLD
    assert samples.feed(RAW_THROTTLE_MV, c.throttle_drop_mv - 1).throttle == THROTTLE_DROP


def test_a_chopped_throttle_drops_while_still_high(samples):
    c = samples.c
    samples.feed(RAW_THROTTLE_MV, 4740, 20)
    for step in range(1, 9):
        samples.feed(RAW_THROTTLE_MV, 4740 - step * (c.throttle_chop_mv // 7 + 1))
    assert samples.raw[RAW_THROTTLE_MV] >= c.throttle_drop_mv
    assert samples.feed(RAW_THROTTLE_MV, samples.raw[RAW_THROTTLE_MV]).throttle == THROTTLE_DROP


@pytest.mark.parametrize("mv", [0, 249, 4751, 5000])
def test_a_throttle_signal_in_its_rails_is_a_fault_after_two_samples(samples, mv):
    assert samples.feed(RAW_THROTTLE_MV, mv).throttle != THROTTLE_FAULT
    assert samples.feed(RAW_THROTTLE_MV, mv).throttle == THROTTLE_FAULT


def test_the_throttle_must_have_been_low_once(samples):
    samples.feed(RAW_THROTTLE_MV, 4500, 50)
    assert not samples.v.throttle_low_seen
    samples.feed(RAW_THROTTLE_MV, 2400, 2)
    assert samples.feed(RAW_THROTTLE_MV, 4500, 2).throttle_low_seen


def test_an_unfitted_throttle_sensor_is_taken_as_full(samples):
    samples.c.fitted &= ~FIT_THROTTLE
    v = samples.feed(RAW_THROTTLE_MV, 0, 5)
    assert v.throttle == THROTTLE_FULL and v.throttle_low_seen


def test_engine_speed_levels_and_their_times(samples):
    c = samples.c
    assert samples.settle(100).rpm == RPM_WINDOW
    assert samples.feed(RAW_PULSE_AGE_MS, c.pulse_age_ms).rpm == RPM_SILENT
    assert samples.feed(RAW_PULSE_AGE_MS, c.pulse_age_ms, c.rpm_stopped_ticks).rpm == RPM_STOPPED
    samples.feed(RAW_PULSE_AGE_MS, 8)
    assert samples.feed(RAW_RPM, c.rpm_min, 80).rpm == RPM_WINDOW
    assert samples.feed(RAW_RPM, c.rpm_min - 1).rpm == RPM_HOLD
    assert samples.feed(RAW_RPM, c.rpm_cut, 30).rpm == RPM_HOLD
    assert samples.feed(RAW_RPM, c.rpm_cut - 1, c.rpm_low_ticks - 1).rpm == RPM_HOLD
    assert samples.feed(RAW_RPM, c.rpm_cut - 1).rpm == RPM_LOW
    samples.feed(RAW_RPM, c.rpm_max, 100)
    assert samples.feed(RAW_RPM, c.rpm_max + 1, c.rpm_over_ticks - 1).rpm == RPM_HOLD
    assert samples.feed(RAW_RPM, c.rpm_max + 1).rpm == RPM_OVER


def test_a_quitting_engine_is_seen_before_it_is_slow(samples):
    samples.feed(RAW_RPM, 2740, 100)
    rpm = 2740
    ticks = 0
    while samples.v.rpm > RPM_LOW:
        rpm -= 15  # 3,000 rpm/s
        ticks += 1
        samples.feed(RAW_RPM, rpm)
    assert rpm > samples.c.rpm_cut and ticks <= 17


def test_a_signal_that_leaps_up_is_noise_not_speed(samples):
    samples.feed(RAW_RPM, 900, 100)
    for _ in range(40):
        samples.feed(RAW_RPM, 900, 2)
        samples.feed(RAW_RPM, 2600, 6)
        assert samples.v.rpm != RPM_WINDOW
    assert samples.v.rpm in (RPM_SILENT, RPM_LOW, RPM_HOLD)


def test_supply_levels_and_their_times(samples):
    c = samples.c
    assert samples.feed(RAW_SUPPLY_MV, c.supply_permit_mv, c.supply_permit_ticks - 1).supply == SUPPLY_LOW
    assert samples.feed(RAW_SUPPLY_MV, c.supply_permit_mv).supply == SUPPLY_PERMIT
    assert samples.feed(RAW_SUPPLY_MV, c.supply_leave_mv, 500).supply == SUPPLY_PERMIT
    assert samples.feed(RAW_SUPPLY_MV, c.supply_leave_mv - 1, c.supply_leave_ticks - 1).supply == SUPPLY_PERMIT
    assert samples.feed(RAW_SUPPLY_MV, c.supply_leave_mv - 1).supply == SUPPLY_LEAVE
    assert samples.feed(RAW_SUPPLY_MV, c.supply_cut_mv - 1, c.supply_cut_ticks - 1).supply == SUPPLY_LEAVE
    assert samples.feed(RAW_SUPPLY_MV, c.supply_cut_mv - 1).supply == SUPPLY_CUT
    assert samples.feed(RAW_SUPPLY_MV, c.supply_empty_mv - 1).supply == SUPPLY_CUT
    assert samples.feed(RAW_SUPPLY_MV, c.supply_empty_mv - 1).supply == SUPPLY_EMPTY
    assert samples.feed(RAW_SUPPLY_MV, c.sensor_low_mv - 1, 2).supply == SUPPLY_FAULT
    assert samples.feed(RAW_SUPPLY_MV, c.supply_permit_mv, 10).supply == SUPPLY_LOW
    assert samples.feed(RAW_SUPPLY_MV, c.supply_over_mv + 1, c.supply_leave_ticks).supply == SUPPLY_HIGH
    assert samples.feed(RAW_SUPPLY_MV, c.sensor_high_mv + 1, 2).supply == SUPPLY_FAULT


def test_the_cut_looks_away_just_after_an_opening_but_empty_never_does(samples):
    c = samples.c
    samples.settle()
    samples.s.driven = 1
    v = samples.feed(RAW_SUPPLY_MV, c.supply_cut_mv - 1, c.supply_blank_ticks)
    assert v.supply > SUPPLY_CUT
    samples.feed(RAW_SUPPLY_MV, c.supply_cut_mv - 1, c.supply_cut_ticks)
    assert v.supply == SUPPLY_CUT
    samples.settle(2)
    samples.feed(RAW_SUPPLY_MV, 2600, 500)
    samples.s.driven = 3
    assert samples.feed(RAW_SUPPLY_MV, c.supply_empty_mv - 1, 2).supply == SUPPLY_EMPTY


@pytest.mark.parametrize(
    ("mv", "band"),
    [
        (200, LINE_EMPTY),
        (539, LINE_EMPTY),
        (540, LINE_DEAD),
        (1099, LINE_DEAD),
        (1100, LINE_WEAK),
        (1300, LINE_LOST),
        (1700, LINE_THIN),
        (2100, LINE_GOOD),
    ]
    + [(3699, LINE_GOOD), (3700, LINE_TRAPPED), (4751, LINE_EMPTY)],
)
def test_line_bands(samples, mv, band):
    assert samples.feed(RAW_SUPPLY_MV, mv).line == band


def test_a_line_that_loses_pressure_while_shut_is_lost(samples):
    samples.feed(RAW_SUPPLY_MV, 3000, 2600)
    assert not samples.v.line_lost
    lost = 0
    for step in range(12):
        samples.feed(RAW_SUPPLY_MV, 3000 - 40 * step, 200)
        lost |= samples.v.line_lost
    assert lost


def test_a_slow_cooling_line_is_not_lost(samples):
    samples.feed(RAW_SUPPLY_MV, 3000, 2600)
    for step in range(40):
        samples.feed(RAW_SUPPLY_MV, 3000 - 10 * step, 200)
        assert not samples.v.line_lost


def test_a_collapsing_bottle_is_seen_in_flow_after_the_first_two_seconds(samples):
    samples.settle(600)
    samples.s.driven = 1
    for step in range(6):
        samples.feed(RAW_SUPPLY_MV, 2900 - 120 * step, 200)
        if samples.v.falling:
            break
    assert samples.v.falling and step >= 2


def test_fuel_levels_and_their_times(samples):
    c = samples.c
    assert samples.feed(RAW_FUEL_MV, c.fuel_low_mv, c.fuel_permit_ticks - 1).fuel == FUEL_LOW
    assert samples.feed(RAW_FUEL_MV, c.fuel_low_mv).fuel == FUEL_PERMIT
    assert samples.feed(RAW_FUEL_MV, c.fuel_low_mv - 1, c.fuel_leave_ticks - 1).fuel == FUEL_PERMIT
    assert samples.feed(RAW_FUEL_MV, c.fuel_low_mv - 1).fuel == FUEL_LOW
    samples.feed(RAW_FUEL_MV, 1800, 500)
    assert samples.feed(RAW_FUEL_MV, c.fuel_cut_mv - 1, c.fuel_cut_ticks - 1).fuel == FUEL_PERMIT
    assert samples.feed(RAW_FUEL_MV, c.fuel_cut_mv - 1).fuel == FUEL_FAIL
    samples.feed(RAW_FUEL_MV, 1800, 500)
    assert samples.feed(RAW_FUEL_MV, c.fuel_fail_mv - 1, 2).fuel == FUEL_FAIL
    samples.feed(RAW_FUEL_MV, 1800, 500)
    assert samples.feed(RAW_FUEL_MV, c.fuel_high_mv + 1, c.fuel_high_ticks).fuel == FUEL_HIGH
    assert samples.feed(RAW_FUEL_MV, c.fuel_over_mv + 1, 2).fuel == FUEL_OVER
    assert samples.feed(RAW_FUEL_MV, 4800, 2).fuel == FUEL_FAULT
    samples.c.fitted &= ~FIT_FUEL_PRESSURE
    assert samples.feed(RAW_FUEL_MV, 0, 5).fuel == FUEL_PERMIT


def test_a_block_that_falls_within_the_watch_names_a_stage_valve(samples):
    samples.settle(40)
    v = samples.feed(RAW_BLOCK_MV, 1700 - samples.c.block_drop_mv - 1, 20)
    assert v.block == BLOCK_FALLING
    assert samples.feed(RAW_BLOCK_MV, 1700, 100).block == BLOCK_FALLING
    assert samples.feed(RAW_SWITCHES, SW_DETENT_NC | SW_ACK, 12).block == BLOCK_CLEAN


def test_a_block_that_falls_after_the_watch_is_left_alone(samples):
    samples.settle(samples.c.leak_watch_ticks + 60)
    assert samples.feed(RAW_BLOCK_MV, 1500, 100).block == BLOCK_CLEAN


def test_a_bled_block_that_fills_names_the_master_valve(samples):
    samples.feed(RAW_BLOCK_MV, 600, 2200)
    assert samples.v.block == BLOCK_CLEAN
    assert samples.feed(RAW_BLOCK_MV, 1790, 40).block == BLOCK_CLIMBING


def test_a_commanded_fuel_valve_ends_the_leak_watch(samples):
    samples.settle(40)
    samples.s.driven = COIL_MASTER_FUEL
    assert samples.feed(RAW_BLOCK_MV, 1300, 60).block == BLOCK_CLEAN
    assert not samples.v.leak_watch


def test_a_block_sensor_in_its_rails_is_a_fault(samples):
    assert samples.feed(RAW_BLOCK_MV, 100, 12).block == BLOCK_FAULT


def test_bus_levels_and_their_times(samples):
    c = samples.c
    assert samples.settle(80).bus == BUS_PERMIT
    assert samples.feed(RAW_BUS_MV, c.bus_permit_mv - 1, c.bus_leave_ticks).bus == BUS_PERMIT
    assert samples.feed(RAW_BUS_MV, c.bus_permit_mv - 1).bus == BUS_LOW
    assert samples.feed(RAW_BUS_MV, c.bus_cut_mv - 1, c.bus_cut_ticks - 1).bus == BUS_LOW
    assert samples.feed(RAW_BUS_MV, c.bus_cut_mv - 1).bus == BUS_CUT
    assert samples.feed(RAW_BUS_MV, c.bus_hard_mv - 1).bus == BUS_CUT
    assert samples.feed(RAW_BUS_MV, c.bus_hard_mv - 1).bus == BUS_HARD
    assert samples.feed(RAW_BUS_MV, c.bus_surge_mv + 1, c.bus_cut_ticks).bus == BUS_SURGE


def test_the_rail_is_live_dead_or_welded(samples):
    c = samples.c
    samples.s.driven_bits = OUT_RUN
    assert samples.feed(RAW_RAIL_MV, 14000, 2).rail == RAIL_LIVE
    assert samples.feed(RAW_RAIL_MV, 0).rail == RAIL_LIVE
    assert samples.feed(RAW_RAIL_MV, 0).rail == RAIL_DEAD
    samples.s.driven_bits = 0
    assert samples.feed(RAW_RAIL_MV, c.rail_dead_mv + 1, c.rail_weld_ticks - 1).rail != RAIL_WELDED
    assert samples.feed(RAW_RAIL_MV, c.rail_dead_mv + 1).rail == RAIL_WELDED
    samples.c.fitted &= ~FIT_RAIL
    assert samples.feed(RAW_RAIL_MV, 14000, 30).rail == RAIL_DEAD


def test_late_ticks_are_told_once_stopped_twice_and_hard_at_twenty_milliseconds(samples):
    assert samples.settle(3).time == TIME_GOOD
    v = samples.feed(RAW_ELAPSED, 2)
    assert (v.late, v.time) == (1, TIME_GOOD)
    assert samples.feed(RAW_ELAPSED, 2).time == TIME_LATE
    assert samples.feed(RAW_ELAPSED, 1).time == TIME_GOOD
    assert samples.feed(RAW_ELAPSED, 4).time == TIME_HARD


# Values around the thresholds; the permitted band comes often, or no permit would ever be earned.
AROUND = {
    RAW_SUPPLY_MV: (200, 1490, 2010, 2210, 3250, 3310, 3800, *[2310] * 9),
    RAW_RPM: (0, 2190, 2290, 2400, 2600, 2760, *[2310] * 4),
    RAW_FUEL_MV: (200, 1300, 1580, 1650, 1960, 2000, 2200, *[1800] * 9),
    RAW_BUS_MV: (9000, 10700, 11900, 12100, 14000, 14000, 17000),
    RAW_PULSE_AGE_MS: (8, 8, 8, 8, 120),
    RAW_RAIL_MV: (0, 0, 900, 4000, 14000, 14000),
    RAW_THROTTLE_MV: (100, 1000, 1000, 2600, 4000, 4200, 4310, 4500, 4700, 4800),
}
CALM = ("supply_calm", "rpm_calm", "fuel_calm", "bus_calm", "rail_calm", "throttle_calm")


def test_the_calm_paths_change_nothing_but_the_time_they_take(sense):
    """Random walks around every threshold: with and without the short cuts, the same verdicts."""
    rng = random.Random(11)
    fast, slow = Samples(sense), Samples((type(sense[0])(), type(sense[1])(), sense[2]))
    taken = dict.fromkeys(CALM, 0)
    word = SW_DETENT_NC
    for _ in range(40_000):
        if rng.random() < 0.01:
            index = rng.choice(sorted(AROUND))
            fast.raw[index] = rng.choice(AROUND[index])
            fast.s.driven = slow.s.driven = rng.choice((0, 0, 1, 3, COIL_PURGE))
            fast.s.driven_bits = slow.s.driven_bits = rng.choice((0, OUT_RUN))
        if rng.random() < 0.05:
            word ^= rng.choice((SW_MASTER, SW_ACK, 1 << SW_SEL_SHIFT, 1 << SW_PROOF_SHIFT, SW_DETENT_NO | SW_DETENT_NC))
            fast.raw[RAW_SWITCHES] = word
            fast.raw[RAW_CURRENTS] = rng.choice((0, 1, 3, COIL_PURGE))
        for name in CALM:
            taken[name] += getattr(fast.s, name)
            setattr(slow.s, name, 0)
        slow.s.same_n = slow.s.coils_same_n = 0
        slow.raw[:] = fast.raw
        sense_step(fast.s, fast.raw, fast.c, fast.v)
        sense_step(slow.s, slow.raw, slow.c, slow.v)
        assert vars(fast.v) == vars(slow.v)
    assert min(taken.values()) > 1000, taken
