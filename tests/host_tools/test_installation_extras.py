"""Inputs beyond the core: what the file says of them, what is packed, and what is refused in words."""

import pytest

from oxlatch import vocabulary as v
from oxlatch_sim.altitude_row import ROW_FIELDS, patterns_in
from oxlatch_sim.physics.tables import property_tables
from oxlatch_tools.installation import InstallationError, example, parse_installation
from oxlatch_tools.installation_settings import settings_of

TUG = example("alpine_tug").read_text(encoding="utf-8")
VALLEY = example("valley_two_seater").read_text(encoding="utf-8")


def refused(text):
    with pytest.raises(InstallationError) as caught:
        settings_of(parse_installation(text))
    return {problem.field: problem for problem in caught.value.problems}


@pytest.fixture(scope="module")
def tug():
    return settings_of(parse_installation(TUG))


@pytest.fixture(scope="module")
def valley():
    return settings_of(parse_installation(VALLEY))


def test_the_two_aircraft_fit_different_inputs_and_the_record_says_so(tug, valley):
    for bit in (v.FIT_BOTTLE_TEMPERATURE, v.FIT_AIR, v.FIT_OUTLET_1, v.FIT_OUTLET_2, v.FIT_MASTER_OX, v.FIT_BUDGET):
        assert tug.fitted & bit and not valley.fitted & bit
    for bit in (v.FIT_AIRSPEED, v.FIT_FIRE, v.FIT_KNOCK, v.FIT_RETARD, v.FIT_VENT_DOWN):
        assert valley.fitted & bit and not tug.fitted & bit


def test_saturation_is_packed_in_millivolts_of_the_fitted_sensor(tug):
    saturation = property_tables().saturation
    for step in range(10):
        pressure_bar = saturation.pressure_pa(263.15 + 5.0 * step) / 1e5
        assert getattr(tug, f"sat_{step}_mv") == pytest.approx(500 + 40 * pressure_bar, abs=0.51)
    assert tug.match_mv == 320
    assert (tug.bottle_top_dk, tug.bottle_red_dk) == (3151, 3231)


def test_the_airspeed_limit_is_the_impact_pressure_at_it(valley):
    # 90 kt indicated is 46.3 m/s, 1313 Pa of a 4000 Pa sensor
    assert valley.airspeed_top_mv == pytest.approx(500 + 4000 * 0.5 * 1.225 * 46.3**2 / 4000, abs=1.0)


def test_the_coil_estimate_reaches_its_top_after_the_duty_and_is_cold_after_the_rest(tug):
    up, down = tug.coil_heat_up, tug.coil_heat_down
    assert tug.coil_heat_top / up * 0.005 == pytest.approx(120.0)
    assert tug.coil_heat_top / down * 0.005 == pytest.approx(300.0)
    assert (tug.coil_heat_top - tug.coil_heat_start) / up * 0.005 == pytest.approx(30.0)


def test_the_budget_counts_flows_and_a_start_needs_five_seconds_of_them(tug):
    for stage, rated_g_s in ((1, 12.1), (2, 20.2), (3, 37.0)):
        counted_g_s = getattr(tug, f"flow_{stage}") * 200 / 1024
        assert rated_g_s <= counted_g_s < 1.1 * rated_g_s
        assert getattr(tug, f"need_{stage}") == 1000 * getattr(tug, f"flow_{stage}")
    assert tug.flow_4 == tug.need_4 == 0
    assert 2900 < tug.bottle_full_g < 3200


def test_thin_air_lets_more_through_than_dense_air_and_a_failed_sensor_least(tug):
    at_home = patterns_in(tug, 79_990.0, 295.15)
    at_sea = patterns_in(tug, 101_325.0, 288.15)
    assert at_sea == tug.patterns == 0
    assert at_home >> 0b100 & 1 and at_home >> 0b011 & 1
    assert not at_home >> 0b110 & 1
    thresholds = [getattr(tug, f"density_{row}") for row in range(1, v.ROWS)]
    assert thresholds == sorted(thresholds, reverse=True)
    assert all(not getattr(tug, name) & 1 << 0b111 for name in ROW_FIELDS), "never run, so never let through"


def test_a_line_is_empty_a_bar_above_the_outside_air_whatever_the_sensor_refers_to(tug, valley):
    assert tug.line_empty_mv == 581
    assert valley.line_empty_mv == pytest.approx(500 + 4000 * 1.0 / 110.3, abs=1.0)


@pytest.mark.parametrize(
    ("text", "changes", "field", "found"),
    [
        (TUG, ('"master oxidizer valve",', ""), "sensors.fitted", "master_oxidizer_valve disagree"),
        (TUG, ('"purge outlet 1", ', ""), "sensors.fitted", '"purge outlet 2" without'),
        (TUG, ('"mixture rich",', '"mixture rich", "airspeed",'), "sensors.fitted", "sensors.airspeed disagree"),
        (TUG, ('"mixture rich",', '"mixture rich", "ignition retard",'), "sensors.fitted", "engine.ignition"),
        (VALLEY, ("40 mbar", "10 mbar"), "sensors.airspeed.full_scale", "too little"),
        (TUG, ('duty_off = "300 s"\n', ""), "oxidizer_valve.duty_on", "stands alone"),
        (TUG, ('duty_on = "120 s"', 'duty_on = "30 s"'), "oxidizer_valve.duty_on", "30 s"),
        (
            TUG,
            ('supply_empty = "25 bar"', 'supply_empty = "25 bar"\nbottle_warm = "49 degC"\nbottle_red = "45 degC"'),
            "limits.bottle_red",
            "is not above limits.bottle_warm",
        ),
        (TUG, ('gap = "500 ms"', 'gap = "500 ms"\nvent = "2 s"'), "timing.vent", "out of bounds"),
    ],
)
def test_contradictions_are_told_in_words(text, changes, field, found):
    assert changes[0] in text
    problems = refused(text.replace(*changes, 1))
    assert found in problems[field].found


def test_an_input_of_no_known_name_is_refused_with_the_names_that_are():
    problems = refused(TUG.replace('"mixture rich",', '"mixture lean",'))
    assert "mixture rich" in next(iter(problems.values())).allowed
