"""Bores, drills, calibration, sensitivity, spread."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oxlatch_sim.physics import orifice
from oxlatch_tools.installation import example, parse_installation
from oxlatch_tools.planning.calibration import discharge, fitted
from oxlatch_tools.planning.drills import flow_error, metric_drills, nearest, numbered_drills
from oxlatch_tools.planning.flow import feed_of
from oxlatch_tools.planning.flux import behind, in_series, liquid_flux, saturation_pa
from oxlatch_tools.planning.jets import changes, flow_band, jets_page
from oxlatch_tools.planning.spread import cylinder_shares, largest_plenum_w, shares_from_exhaust
from oxlatch_tools.planning.stage_flow import fuel_kg_s, oxidizer_kg_s

VALLEY = parse_installation(example("valley_two_seater").read_text(encoding="utf-8"))
FEED = feed_of(VALLEY)


def test_computed_jets_pass_the_nominal_flows_at_the_tune_temperature():
    for number in (1, 2):
        area = FEED.oxidizer_m2((number,))
        block = FEED.block_pa(saturation_pa(VALLEY.jets.tune_temperature), area)
        assert area * liquid_flux(block) == pytest.approx(oxidizer_kg_s(VALLEY, (number,)), rel=2e-3)
        assert FEED.fuel_kg_s((number,)) == pytest.approx(fuel_kg_s(VALLEY, (number,)), rel=1e-9)


def test_a_bore_put_back_into_the_orifice_gives_the_flow_of_one_nozzle():
    bore = FEED.stages[1].fuel_bore
    # the valve takes its share of the pressure, so the jet alone passes a little more
    alone = orifice.fuel_flow_kg_s(bore, VALLEY.fuel.set_pressure, VALLEY.fuel.density, 0.75)
    nominal = fuel_kg_s(VALLEY, (2,)) / 4
    assert nominal < alone < 1.05 * nominal


@given(st.floats(1e-7, 9e-6))
def test_behind_undoes_in_series(wanted):
    jets = behind(wanted, 1e-5)
    assert in_series(jets, 1e-5) == pytest.approx(wanted, rel=1e-9)


def test_a_valve_smaller_than_its_jets_is_found(tug_with):
    small = tug_with(
        ('oxidizer_jet = "0.68 mm"           # as drilled\nfuel_jet = "0.42 mm"\n', ""),
        (
            'bore = "2.4 mm"\ndischarge = 0.70\nopening = "22 ms"',
            'bore = "1.2 mm"\ndischarge = 0.70\nopening = "22 ms"',
        ),
    )
    page = jets_page(small, feed_of(small), (3,))
    assert any(finding.field == "oxidizer_valve.bore" and finding.severity == "exceeded" for finding in page.findings)


def test_a_jet_below_0_2_mm_is_found(tug_with):
    fine = tug_with(
        ('oxidizer_jet = "0.38 mm"           # as drilled\nfuel_jet = "0.25 mm"\n', ""),
        ('set_pressure = "0.5 bar"', 'set_pressure = "1.1 bar"'),
        ('full_scale = "1.6 bar"', 'full_scale = "3 bar"'),
    )
    page = jets_page(fine, feed_of(fine), (3,))
    found = [finding for finding in page.findings if finding.field == "stages[1].fuel_jet"]
    assert found and found[0].allowed == "0.2 mm or more"


def test_weighed_shots_give_back_the_coefficient_they_were_made_with(tug_with):
    area = orifice.area_m2(0.68e-3)
    mass = in_series(6 * 0.71 * area, orifice.area_m2(2.4e-3) * 0.70) * liquid_flux(50e5) * 12
    shots = "".join(
        f'[[tested.shots]]\nstage = 3\nfluid = "oxidizer"\nduration = "12 s"\nmass = "{mass * factor * 1e3:.4f} g"\n'
        'temperature = "20 degC"\npressure = "50 bar"\n'
        for factor in (0.995, 1.0, 1.005)
    )
    text = example("alpine_tug").read_text(encoding="utf-8")
    other = parse_installation(text[: text.index("[[tested.shots]]")] + shots)
    found = discharge(other, 3, "oxidizer")
    assert found.value == pytest.approx(0.71, rel=2e-3)
    assert found.low < 0.71 < found.high
    assert discharge(other, 2, "oxidizer").shots == 0


def test_the_band_of_the_mean_is_students():
    found = fitted([0.64, 0.65, 0.66])
    assert found.value == pytest.approx(0.65)
    # 4.303 * 0.01 / sqrt(3)
    assert found.high - found.value == pytest.approx(0.02484, rel=1e-3)
    assert fitted([0.65]).high == pytest.approx(0.715)
    # two shots that happen to agree are no proof of a perfect scale
    assert fitted([0.65, 0.65]).high == pytest.approx(0.663)


def test_shots_without_the_drilled_bore_are_pointed_out():
    text = example("valley_two_seater").read_text(encoding="utf-8")
    text += '\n[[tested.shots]]\nstage = 1\nfluid = "fuel"\nduration = "30 s"\nmass = "30 g"\n'
    text += 'temperature = "20 degC"\npressure = "8 psi"\n'
    other = parse_installation(text)
    page = jets_page(other, feed_of(other), (2,))
    assert any(finding.found == "cannot be used" for finding in page.findings)


@given(st.floats(0.21e-3, 2.9e-3))
def test_the_nearest_drill_is_the_nearest(bore):
    for drills in (metric_drills(), numbered_drills()):
        best = nearest(bore, drills)
        assert all(abs(best.bore - bore) <= abs(other.bore - bore) for other in drills)


def test_a_drill_one_per_cent_large_passes_two_per_cent_more():
    drill = nearest(1.0e-3, metric_drills())
    assert flow_error(drill.bore / 1.01, drill) == pytest.approx(0.0201)


def test_one_jet_a_row_and_no_power_beside_a_pair(tug_plan, valley_plan):
    for plan in (tug_plan, valley_plan):
        table = plan.page("jets").table("jets")
        assert len(table.rows) == 2 * len(plan.installation.stages)
        assert all(column.kind != "power" for column in table.columns)
        assert [str(row[0])[-1] for row in table.rows] == ["O", "F"] * len(plan.installation.stages)


def test_cold_is_rich_and_hot_is_lean(valley_plan):
    found = {change.name: change for change in changes(VALLEY, valley_plan.feed, (2,))}
    assert found["Bottle -10 K"].mixture < -0.05
    assert found["Bottle +10 K"].mixture > 0.05
    assert found["Fuel pressure +8%"].mixture == pytest.approx(1 / 1.08**0.5 - 1)
    assert found["From sea level to 3000 m"].fuel == 0.0


def test_fuel_pressure_referenced_to_the_cabin_drifts_with_altitude():
    text = example("valley_two_seater").read_text(encoding="utf-8")
    other = parse_installation(text.replace("manifold_referenced = true", "manifold_referenced = false"))
    found = {change.name: change for change in changes(other, feed_of(other), (2,))}
    assert found["From sea level to 3000 m"].fuel < -0.001


def test_uncertainty_shrinks_once_jets_are_weighed(tug):
    feed = feed_of(tug)
    low, high = flow_band(tug, 3, "oxidizer", feed.stages[2].oxidizer_bore)
    assert -0.05 < low < 0 < high < 0.05
    low, high = flow_band(VALLEY, 2, "oxidizer", FEED.stages[1].oxidizer_bore)
    assert low < -0.1 and high > 0.2


def test_exhaust_temperatures_tell_each_cylinders_share():
    assert shares_from_exhaust([900.0] * 4, [940.0, 960.0, 980.0, 960.0]) == pytest.approx((2 / 3, 1.0, 4 / 3, 1.0))
    assert shares_from_exhaust([900.0] * 4, [901.0, 900.0, 899.0, 902.0]) == (1.0, 1.0, 1.0, 1.0)


def test_uneven_plenum_makes_the_largest_sensible_stage_smaller():
    even, uneven = largest_plenum_w(VALLEY, 1.0), largest_plenum_w(VALLEY, 1.5)
    assert uneven == pytest.approx(even / 1.5)
    assert sum(cylinder_shares(VALLEY, FEED, 1).shares) == pytest.approx(4.0)
    text = example("valley_two_seater").read_text(encoding="utf-8")
    text += "\n[[tested.spreads]]\nstage = 1\nwithout_boost = [" + ", ".join(['"700 degC"'] * 4) + "]\n"
    text += 'with_boost = ["720 degC", "730 degC", "760 degC", "730 degC"]\n'
    measured = cylinder_shares(parse_installation(text), FEED, 1)
    assert measured.is_measured
    assert max(measured.shares) == pytest.approx(60 / 35)
