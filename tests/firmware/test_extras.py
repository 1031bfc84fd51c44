"""The inputs beyond the core: what each refuses, stops, completes or opens, and that an unfitted one is silent."""

import pytest

from oxlatch import reasons as r
from oxlatch import vocabulary as k
from oxlatch.sense import SenseState, Verdicts, sense_step
from oxlatch.sense_extras import DENSITY_SCALE, FIT_EXTRAS, density_row, saturation_mv
from oxlatch.settings import Settings

MILD = {
    k.RAW_EXTRAS: k.EX_MIXTURE_RICH | k.EX_RETARD,
    k.RAW_BOTTLE_DK: 2952,
    k.RAW_BARO_DAPA: 10133,
    k.RAW_AIR_DK: 2882,
    k.RAW_OUTLET_1_DK: 2900,
    k.RAW_OUTLET_2_DK: 2900,
    k.RAW_AIRSPEED_MV: 1500,
    k.RAW_BOTTLE_G: 4000,
}


def fit(cockpit, *flags):
    """Fit these inputs, all reading what a mild day gives."""
    for flag in flags:
        cockpit.settings.fitted |= flag
    for index, value in MILD.items():
        cockpit.raw[index] = value
    return cockpit


def why3(cockpit, bit):
    return bool(cockpit.controller.core.why3 & bit)


# --- what refuses -------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("flag", "index", "value", "bit"),
    [
        (k.FIT_BOTTLE_TEMPERATURE, k.RAW_BOTTLE_DK, 3160, r.BOTTLE_WARM),
        (k.FIT_BOTTLE_TEMPERATURE, k.RAW_BOTTLE_DK, 0, r.BOTTLE_TEMP_BAD),
        (k.FIT_BOTTLE_TEMPERATURE, k.RAW_BOTTLE_DK, 4095, r.BOTTLE_TEMP_BAD),
        (k.FIT_MIXTURE, k.RAW_EXTRAS, k.EX_RETARD, r.MIXTURE_NOT_RICH),
        (k.FIT_RETARD, k.RAW_EXTRAS, k.EX_MIXTURE_RICH, r.RETARD_MISSING),
        (k.FIT_AIRSPEED, k.RAW_AIRSPEED_MV, 3001, r.AIRSPEED_HIGH),
        (k.FIT_AIRSPEED, k.RAW_AIRSPEED_MV, 100, r.AIRSPEED_BAD),
    ],
)
def test_an_adverse_extra_ends_ready_with_its_reason_and_ready_returns_after_it(cockpit, flag, index, value, bit):
    fit(cockpit, flag).make_ready()
    cockpit.raw[index] = value
    cockpit.until("WAITING", 40)
    cockpit.step(10)
    assert why3(cockpit, bit)
    cockpit.push()
    cockpit.step(60)
    assert cockpit.state == "WAITING" and not any(ox for _state, ox, _fuel, _bits in cockpit.history)
    cockpit.release()
    cockpit.raw[k.RAW_THROTTLE_MV] = 1000
    cockpit.raw[index] = MILD[index]
    cockpit.until("READY", 200)


def test_an_extra_that_is_not_fitted_is_never_adverse(cockpit):
    """Everything adverse on every pin, nothing fitted: a sortie like any other."""
    for index in MILD:
        cockpit.raw[index] = 0
    cockpit.raw[k.RAW_EXTRAS] = k.EX_FIRE | k.EX_KNOCK
    cockpit.fly()
    assert cockpit.controller.verdicts.extras == 0 and cockpit.state == "RUN"
    assert not cockpit.settings.fitted & FIT_EXTRAS


# --- what stops ---------------------------------------------------------------------------------------
def test_two_knocks_within_the_window_stop_everything_and_lock_until_tested(cockpit):
    fit(cockpit, k.FIT_KNOCK).fly()
    for knock in (1, 0, 0, 1):
        cockpit.raw[k.RAW_EXTRAS] = knock
        cockpit.step()
    assert cockpit.state == "TRIP" and cockpit.controller.core.latch == 3
    assert cockpit.history[-1][1:3] == (0, 0)
    assert cockpit.controller.core.cause1 == r.KNOCK_HEARD


def test_one_knock_or_two_far_apart_change_nothing(cockpit):
    fit(cockpit, k.FIT_KNOCK).fly()
    for _ in range(3):
        cockpit.raw[k.RAW_EXTRAS] = k.EX_KNOCK
        cockpit.step(3)
        cockpit.raw[k.RAW_EXTRAS] = 0
        cockpit.step(cockpit.settings.knock_window_ticks + 1)
    assert cockpit.state == "RUN"


def test_fire_stops_hard_and_needs_maintenance_from_any_state(cockpit):
    fit(cockpit, k.FIT_FIRE)
    for reach in (lambda: cockpit.until("REST"), cockpit.fly):
        reach()
        cockpit.raw[k.RAW_EXTRAS] |= k.EX_FIRE
        cockpit.step()
        assert cockpit.state != "TRIP", "one sample is not enough"
        cockpit.step()
        assert cockpit.state == "TRIP" and cockpit.controller.core.latch == 4
        assert cockpit.history[-1][1:] == (0, 0, 0)
        cockpit.__init__()
        fit(cockpit, k.FIT_FIRE)


def test_an_overheated_bottle_trips_at_rest_and_clears_when_it_has_cooled(cockpit):
    fit(cockpit, k.FIT_BOTTLE_TEMPERATURE).until("REST")
    cockpit.raw[k.RAW_BOTTLE_DK] = 3240
    cockpit.until("TRIP", 20)
    assert cockpit.controller.core.cause0 == r.BOTTLE_OVERHEATED and cockpit.controller.core.latch == 2
    cockpit.raw[k.RAW_BOTTLE_DK] = 3000
    cockpit.until("REST", 20)


def test_a_soaked_bottle_whose_pressure_is_not_nitrous_trips(cockpit):
    """65 bar at 15 degC is 20 bar above saturation: over-filled, or something else."""
    fit(cockpit, k.FIT_BOTTLE_TEMPERATURE)
    cockpit.settings.match_turns = 20
    cockpit.raw[k.RAW_SUPPLY_MV] = 500 + 65 * 40
    cockpit.raw[k.RAW_BOTTLE_DK] = 2882
    cockpit.arm()
    cockpit.step(20 * 8 + 16)
    assert cockpit.state == "TRIP" and cockpit.controller.core.cause0 == r.CONTENT_DOUBTFUL


# --- altitude table -----------------------------------------------------------------------------------
def test_the_altitude_table_refuses_in_dense_air_and_allows_in_thin(cockpit):
    fit(cockpit, k.FIT_AIR)
    c = cockpit.settings
    c.patterns = 1 << 1
    c.row_turns = 2
    cockpit.arm(selected=3)
    cockpit.purge_line()
    cockpit.step(100)
    assert cockpit.state == "WAITING" and cockpit.controller.core.why2 & r.PATTERN_NOT_ALLOWED
    cockpit.raw[k.RAW_BARO_DAPA] = 7500
    cockpit.until("READY", 600)


def test_a_bad_air_signal_gives_the_least_row_at_once_and_says_so(cockpit):
    fit(cockpit, k.FIT_AIR)
    cockpit.settings.patterns = 1 << 1
    cockpit.settings.row_turns = 2
    cockpit.raw[k.RAW_BARO_DAPA] = 7500
    cockpit.make_ready(selected=3)
    cockpit.raw[k.RAW_AIR_DK] = 0
    cockpit.until("WAITING", 9)
    assert cockpit.controller.verdicts.row == 0 and why3(cockpit, r.AIR_SIGNAL_BAD)


def test_descending_in_flow_is_told_and_does_not_stop(cockpit):
    fit(cockpit, k.FIT_AIR)
    cockpit.settings.patterns = 1 << 1
    cockpit.settings.row_turns = 2
    cockpit.raw[k.RAW_BARO_DAPA] = 7500
    cockpit.fly(selected=3)
    cockpit.raw[k.RAW_BARO_DAPA] = 10133
    cockpit.step(20)
    assert cockpit.state == "RUN" and why3(cockpit, r.ABOVE_ROW)


def test_density_is_the_standard_ratio():
    """ISO 2533: 101325 Pa at 288.15 K is 1; 70108.5 Pa at 268.65 K (3,000 m) is 0.74214.

    Tolerance 4 of 10000: samples are whole tens of pascals and tenths of a kelvin, and the division truncates.
    """
    assert abs(10133 * DENSITY_SCALE // 2882 - 10000) <= 4
    assert abs(7011 * DENSITY_SCALE // 2687 - 7421) <= 4
    c = Settings()
    assert [density_row(d, c) for d in (9000, 8999, 8600, 8200, 7800, 7400, 7399)] == [0, 1, 1, 2, 3, 4, 5]


def test_rows_are_climbed_one_by_one_and_left_at_once():
    s, v, c = SenseState(), Verdicts(), Settings()
    c.fitted |= k.FIT_AIR
    raw = [0] * k.RAW_COUNT
    raw[k.RAW_AIR_DK], raw[k.RAW_BARO_DAPA], raw[k.RAW_ELAPSED] = 2882, 5000, 1
    rows = []
    for _ in range(6 * 8 * (c.row_turns + 1)):
        sense_step(s, raw, c, v)
        rows.append(v.row)
    assert sorted(set(rows)) == [0, 1, 2, 3, 4, 5] and rows == sorted(rows)
    assert [rows.count(row) for row in (1, 2, 3, 4)] == [8 * (c.row_turns + 1)] * 4
    raw[k.RAW_BARO_DAPA] = 10133
    for _ in range(8):
        sense_step(s, raw, c, v)
    assert v.row == 0


def test_the_saturation_table_steps_at_its_temperatures():
    c = Settings()
    steps = [saturation_mv(x, c) for x in range(2632, 3133, 50)]
    fields = [getattr(c, f"sat_{i}_mv") for i in range(10)]
    assert steps == [*fields, fields[-1]]
    assert saturation_mv(2681, c) == fields[0] and saturation_mv(2682, c) == fields[1]


# --- purge outlets ------------------------------------------------------------------------------------
def purge_with(cockpit, outlet_1_dk, outlet_2_dk):
    fit(cockpit, k.FIT_OUTLET_1, k.FIT_OUTLET_2).arm()
    cockpit.raw[k.RAW_OUTLET_1_DK], cockpit.raw[k.RAW_OUTLET_2_DK] = outlet_1_dk, outlet_2_dk
    cockpit.purge = True
    cockpit.step(cockpit.settings.purge_ticks + 20)
    told = why3(cockpit, r.ONE_OUTLET_WARM)
    cockpit.purge = False
    cockpit.step(20)
    return told


def test_cold_outlets_complete_a_purge_without_a_confirmation(cockpit):
    assert not purge_with(cockpit, 2000, 2100)
    assert cockpit.controller.core.purge_valid and not cockpit.controller.core.confirm_left


def test_one_warm_outlet_is_told_and_asks_for_the_confirmation(cockpit):
    assert purge_with(cockpit, 2000, 2800)
    assert not cockpit.controller.core.purge_valid and cockpit.controller.core.confirm_left


def test_a_broken_outlet_sensor_is_told_and_never_cold(cockpit):
    purge_with(cockpit, 2000, 0)
    assert not cockpit.controller.core.purge_valid and why3(cockpit, r.OUTLET_SIGNAL_BAD)


# --- master oxidizer valve ----------------------------------------------------------------------------
def test_the_master_oxidizer_valve_is_open_exactly_while_armed(cockpit):
    fit(cockpit, k.FIT_MASTER_OX)
    cockpit.fly()
    cockpit.release()
    cockpit.until("WAITING")
    cockpit.master = False
    cockpit.until("REST")
    cockpit.step(5)
    armed = {"WAITING", "PURGING", "READY", "LEAD-IN", "RUN", "RUN-DOWN", "GAP"}
    assert all(bool(bits & k.OUT_MASTER_OX) == (state in armed) for state, _ox, _fuel, bits in cockpit.history)


def test_a_lost_master_oxidizer_current_is_an_oxidizer_fault(cockpit):
    fit(cockpit, k.FIT_MASTER_OX).fly()
    currents = k.COIL_MASTER_OX
    assert cockpit.state == "RUN", "the cockpit feeds its current"
    cockpit.current_dead = currents
    cockpit.until("RUN-DOWN", 10)
    cockpit.until("TRIP", 30)
    assert cockpit.controller.core.cause0 == r.O_CURRENT_LOST


# --- bottle budget and coil heat ----------------------------------------------------------------------
def test_the_budget_refuses_a_start_that_it_cannot_feed(cockpit):
    fit(cockpit, k.FIT_BUDGET)
    cockpit.raw[k.RAW_BOTTLE_G] = 60  # stages 1 and 2 ask for 144000 / 1024 = 141 g
    cockpit.arm()
    cockpit.purge_line()
    cockpit.step(100)
    assert cockpit.state == "WAITING" and why3(cockpit, r.BUDGET_SHORT)


def test_a_run_takes_its_rated_flow_from_the_budget_and_ends_with_it(cockpit):
    fit(cockpit, k.FIT_BUDGET)
    cockpit.raw[k.RAW_BOTTLE_G] = 250
    cockpit.fly()
    before = cockpit.controller.core.budget
    cockpit.step(100)
    c = cockpit.settings
    assert before - cockpit.controller.core.budget == 100 * (c.flow_1 + c.flow_2)
    cockpit.until("RUN-DOWN", 2000)
    assert cockpit.controller.core.cause1 == r.BUDGET_USED
    assert not cockpit.controller.core.budget
    cockpit.until("TRIP", 100)
    assert cockpit.controller.core.latch == 1


def test_acknowledge_held_at_rest_enters_a_refill(cockpit):
    fit(cockpit, k.FIT_BUDGET)
    cockpit.raw[k.RAW_BOTTLE_G] = 0
    cockpit.raw[k.RAW_RPM], cockpit.raw[k.RAW_PULSE_AGE_MS] = 0, 10000
    cockpit.until("REST")
    cockpit.step(1200)
    cockpit.ack = True
    cockpit.step(cockpit.settings.ack_hold_ticks + 10)
    assert cockpit.controller.core.budget == cockpit.settings.bottle_full_g << 10 and why3(cockpit, r.REFILL_ENTERED)


def test_a_turning_engine_takes_no_refill(cockpit):
    fit(cockpit, k.FIT_BUDGET)
    cockpit.raw[k.RAW_BOTTLE_G] = 0
    cockpit.until("REST")
    cockpit.ack = True
    cockpit.step(cockpit.settings.ack_hold_ticks + 10)
    assert not cockpit.controller.core.budget


def test_coil_heat_ends_a_run_and_refuses_until_cool(cockpit):
    c = cockpit.settings
    c.coil_heat_up, c.coil_heat_down, c.coil_heat_start, c.coil_heat_top = 10, 1, 2000, 4000
    cockpit.fly()
    cockpit.until("RUN-DOWN", 600)
    assert cockpit.controller.core.cause1 == r.COIL_AT_LIMIT
    cockpit.release()
    cockpit.raw[k.RAW_THROTTLE_MV] = 1000
    cockpit.until("WAITING", 400)
    cockpit.step(5)
    assert why3(cockpit, r.COIL_WARM)
    cockpit.until("READY", 2500)
    assert cockpit.controller.core.coil_heat <= c.coil_heat_start


# --- vent-down ----------------------------------------------------------------------------------------
def stand_still(cockpit, supply_mv):
    cockpit.raw[k.RAW_RPM], cockpit.raw[k.RAW_PULSE_AGE_MS] = 0, 10000
    cockpit.raw[k.RAW_SUPPLY_MV] = supply_mv
    cockpit.arm()
    cockpit.step(1100)


def test_the_line_is_vented_below_a_purge_and_never_counts(cockpit):
    fit(cockpit, k.FIT_VENT_DOWN)
    stand_still(cockpit, 1000)  # 12.5 bar
    cockpit.purge = True
    cockpit.step(20)
    assert cockpit.state == "PURGING" and why3(cockpit, r.VENTING)
    cockpit.step(3000)
    assert cockpit.state == "PURGING", "longer than a purge may be, and than the button may be held"
    cockpit.raw[k.RAW_SUPPLY_MV] = 530  # below 1 bar
    cockpit.step(2)
    assert cockpit.state == "WAITING" and not cockpit.controller.core.purge_valid
    assert not cockpit.controller.core.confirm_left


@pytest.mark.parametrize("turning", [True, False])
def test_nothing_is_vented_with_the_engine_turning_or_where_it_is_not_fitted(cockpit, turning):
    fit(cockpit, k.FIT_VENT_DOWN if turning else 0)
    stand_still(cockpit, 1000)
    if turning:
        cockpit.raw[k.RAW_RPM], cockpit.raw[k.RAW_PULSE_AGE_MS] = 2600, 8
        cockpit.step(100)
    cockpit.purge = True
    cockpit.step(100)
    assert cockpit.state == "WAITING"


def test_venting_ends_after_its_longest_time(cockpit):
    fit(cockpit, k.FIT_VENT_DOWN)
    cockpit.settings.vent_ticks = 1800
    stand_still(cockpit, 1000)
    cockpit.purge = True
    cockpit.until("PURGING", 20)
    assert cockpit.until("WAITING", 2000) == 1800


# --- bench modes --------------------------------------------------------------------------------------
@pytest.fixture
def bench(cockpit):
    """Bench key in, engine stopped, at rest."""
    cockpit.raw[k.RAW_RPM], cockpit.raw[k.RAW_PULSE_AGE_MS] = 0, 10000
    cockpit.key = k.SW_BENCH
    cockpit.until("REST")
    cockpit.step(1100)
    cockpit.selected = 3
    return cockpit


def enter_gas(bench):
    bench.ack = True
    bench.step(10)
    bench.master = True
    bench.until("BENCH-GAS", 10)
    bench.ack = False
    bench.step(20)
    return bench


def test_bench_gas_opens_oxidizer_in_order_and_never_fuel(bench):
    enter_gas(bench).push()
    bench.step(100)
    opened = [ox for _state, ox, _fuel, _bits in bench.history if ox]
    assert opened[0] == 1 and opened[-1] == 3 and len(opened) > 60
    assert not any(fuel or bits & k.OUT_MASTER_FUEL for _state, _ox, fuel, bits in bench.history)
    bench.release()
    bench.step(3)
    assert bench.history[-1][1:] == (0, 0, 0)


def test_a_bench_push_ends_after_its_longest_time_and_needs_a_fresh_one(bench):
    enter_gas(bench).push()
    bench.step(bench.settings.bench_push_ticks + 100)
    assert bench.state == "BENCH-GAS" and bench.history[-1][1] == 0
    bench.release()
    bench.step(40)
    bench.push()
    bench.step(40)
    assert bench.history[-1][1]


def test_bench_dry_ends_where_there_is_gas(bench):
    bench.raw[k.RAW_SUPPLY_MV] = 510
    bench.purge = True
    bench.step(10)
    bench.master = True
    bench.until("BENCH-DRY", 10)
    bench.purge = False
    bench.step(20)
    bench.push()
    bench.step(60)
    assert bench.history[-1][1] == 3
    bench.raw[k.RAW_SUPPLY_MV] = 2600
    bench.step(2)
    assert bench.state == "REST" and bench.history[-1][1:] == (0, 0, 0)


@pytest.mark.parametrize("end", ["engine", "key", "master"])
def test_a_bench_mode_ends_with_its_engine_key_or_master(bench, end):
    enter_gas(bench).push()
    bench.step(60)
    if end == "engine":
        bench.raw[k.RAW_PULSE_AGE_MS], bench.raw[k.RAW_RPM] = 50, 300
    elif end == "key":
        bench.key = 0
    else:
        bench.master = False
    bench.step(4)
    assert bench.state == "REST" and bench.history[-1][1:] == (0, 0, 0)


def test_a_bench_mode_expires(bench):
    bench.settings.bench_ticks = 200
    enter_gas(bench)
    bench.until("REST", 200)


def test_the_bench_key_alone_opens_nothing_in_flight(cockpit):
    cockpit.make_ready()
    cockpit.key = k.SW_BENCH
    cockpit.step(10)
    assert cockpit.state == "WAITING" and cockpit.controller.core.why2 & r.BENCH_KEY_FITTED


def test_the_gas_purge_of_the_bench_is_bounded(bench):
    enter_gas(bench)
    bench.purge = True
    bench.step(bench.settings.purge_max_ticks + 200)
    open_ticks = sum(1 for _state, _ox, _fuel, bits in bench.history if bits & k.OUT_PURGE)
    assert open_ticks == bench.settings.purge_max_ticks


def test_a_trip_on_the_bench_ends_disarmed(bench):
    """The arming edge that chose the bench mode arms nothing: what trips there ends at rest."""
    fit(bench, k.FIT_MASTER_OX)
    enter_gas(bench).push()
    bench.step(60)
    bench.raw[k.RAW_BUS_MV] = 10500
    bench.until("TRIP", 20)
    bench.raw[k.RAW_BUS_MV] = 14000
    bench.release()
    bench.until("REST", 400)
    assert "GAP" not in {state for state, *_rest in bench.history}


def test_a_press_that_vented_is_no_purge_however_it_ends(cockpit):
    fit(cockpit, k.FIT_VENT_DOWN)
    stand_still(cockpit, 1000)
    cockpit.purge = True
    cockpit.step(400)
    assert cockpit.state == "PURGING"
    cockpit.raw[k.RAW_SUPPLY_MV] = 2600
    cockpit.step(cockpit.settings.purge_ticks)
    cockpit.purge = False
    cockpit.step(20)
    assert not cockpit.controller.core.confirm_left and not cockpit.controller.core.purge_valid


def test_an_empty_budget_stops_a_run_whatever_a_start_asks_for(cockpit):
    fit(cockpit, k.FIT_BUDGET)
    cockpit.settings.need_1 = cockpit.settings.need_2 = 0
    cockpit.raw[k.RAW_BOTTLE_G] = 50
    cockpit.fly()
    cockpit.until("RUN-DOWN", 1000)
    assert cockpit.controller.core.cause1 == r.BUDGET_USED


def test_a_bench_push_that_is_let_go_is_over_until_the_contact_was_open(bench):
    enter_gas(bench).push()
    bench.step(60)
    bench.raw[k.RAW_THROTTLE_MV] = 1000
    bench.step(4)
    bench.push()
    bench.step(60)
    assert bench.history[-1][1:] == (0, 0, 0)
    bench.release()
    bench.step(40)
    bench.push()
    bench.step(40)
    assert bench.history[-1][1]


def test_the_hold_that_clears_a_lock_enters_no_refill(cockpit):
    fit(cockpit, k.FIT_BUDGET)
    cockpit.raw[k.RAW_BOTTLE_G] = 0
    cockpit.raw[k.RAW_RPM], cockpit.raw[k.RAW_PULSE_AGE_MS] = 0, 10000
    cockpit.raw[k.RAW_BOOT] = k.BOOT_LOST_ARMED
    cockpit.until("TRIP")
    cockpit.step(1200)
    cockpit.ack = True
    cockpit.until("REST", 1000)
    cockpit.step(20)
    assert not cockpit.controller.core.budget


@pytest.mark.parametrize("armed", [True, False])
def test_a_proof_that_stands_without_its_coil_locks_out_once_armed(cockpit, armed):
    """A valve stuck open, or a welded proof switch: the master oxidizer valve may not stay open behind it."""
    fit(cockpit, k.FIT_MASTER_OX)
    cockpit.until("REST")
    cockpit.key = 1 << k.SW_PROOF_SHIFT
    if armed:
        cockpit.arm()
    cockpit.step(100)
    assert (cockpit.state, cockpit.controller.core.latch) == (("TRIP", 4) if armed else ("REST", 0))
    assert not cockpit.history[-1][3]


def test_doubt_about_the_content_outlasts_a_purge_and_ends_with_a_match(cockpit):
    fit(cockpit, k.FIT_BOTTLE_TEMPERATURE)
    cockpit.settings.match_turns = 200
    cockpit.raw[k.RAW_SUPPLY_MV] = 500 + 65 * 40
    cockpit.raw[k.RAW_BOTTLE_DK] = 2882
    cockpit.arm()
    cockpit.step(20 * 8)
    cockpit.purge = True
    cockpit.step(200)
    cockpit.purge = False
    cockpit.step(8)
    doubt = cockpit.controller.sense.match_n
    assert 20 < doubt < 200
    cockpit.raw[k.RAW_BOTTLE_DK] = 3030
    cockpit.step(16)
    assert cockpit.controller.sense.match_n == 0


def test_the_gas_bench_opens_the_master_oxidizer_valve_and_the_dry_bench_does_not(bench):
    fit(bench, k.FIT_MASTER_OX)
    enter_gas(bench)
    assert bench.history[-1][3] == k.OUT_MASTER_OX
    bench.master = False
    bench.until("REST")
    bench.raw[k.RAW_SUPPLY_MV] = 510
    bench.step(20)
    bench.purge = True
    bench.step(10)
    bench.master = True
    bench.until("BENCH-DRY", 10)
    bench.step(5)
    assert not bench.history[-1][3]


def test_a_pressure_signal_at_fault_says_nothing_of_the_content(cockpit):
    fit(cockpit, k.FIT_BOTTLE_TEMPERATURE)
    cockpit.settings.match_turns = 20
    cockpit.arm()
    cockpit.raw[k.RAW_SUPPLY_MV] = 4900
    cockpit.step(400)
    assert cockpit.state == "WAITING" and cockpit.controller.core.why2 & r.SUPPLY_SIGNAL_BAD
