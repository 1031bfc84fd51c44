"""No boost, boost, and boost lost at the worst second."""

import dataclasses
import math

import pytest

from oxlatch_tools.planning.roll import (
    Airframe,
    Runway,
    cleared_at_m,
    lifted_at_m,
    propeller_thrust_n,
    stopping_m,
    take_off,
)
from oxlatch_tools.planning.takeoff import airframe, departure, departures, thrust_factor, thrust_of


@pytest.fixture(scope="module")
def home(tug_plan):
    return tug_plan.departures[0]


def test_boost_lost_lies_between_boost_and_no_boost(tug_plan, valley_plan):
    for item in tug_plan.departures + valley_plan.departures:
        assert item.boosted[1] < item.plain[1]
        assert item.boosted[1] <= item.worst.needed_m <= item.plain[1] + 1e-6


def test_losing_boost_at_once_and_going_on_is_no_boost_at_all(home):
    assert home.losses[0].second == 0.0
    assert home.losses[0].go_m == pytest.approx(home.plain[1], rel=1e-6)


def test_the_worst_second_is_the_largest_of_the_shorter_ways(home):
    assert home.worst.needed_m == max(min(loss.go_m, loss.stop_m) for loss in home.losses)


def test_once_airborne_there_is_no_stopping(home):
    airborne = [loss for loss in home.losses if math.isinf(loss.stop_m)]
    assert airborne
    assert all(loss.second > 10 for loss in airborne)


def test_the_fitted_thrust_reproduces_the_handbook_roll(tug):
    density = 1.225
    thrust = thrust_of(tug, tug.engine.rated_power, density, thrust_factor(tug))
    roll = lifted_at_m(take_off(airframe(tug, tow=False), Runway("hard", 0, 0, density, 0), thrust))
    assert roll == pytest.approx(tug.takeoff.handbook_roll, abs=0.5)


def test_wind_slope_surface_and_mass_act_the_way_pilots_know():
    plane = Airframe(1000, 16, 0.4, 0.05, 1.1, 0.08)

    def over(runway=None, aircraft=plane, power=150e3):
        field = runway or Runway("hard", 0.0, 0.0, 1.1, 15.0)
        return cleared_at_m(take_off(aircraft, field, lambda v: propeller_thrust_n(power, v, 1.1, 2.0, 0.8)), field)

    base = over()
    assert over(Runway("hard", 0.0, 5.0, 1.1, 15.0)) < base
    assert over(Runway("hard", 0.0, -3.0, 1.1, 15.0)) > base
    assert over(Runway("hard", 0.02, 0.0, 1.1, 15.0)) > base
    assert over(Runway("soft ground", 0.0, 0.0, 1.1, 15.0)) > base
    assert over(aircraft=dataclasses.replace(plane, mass_kg=1200)) > base
    assert over(aircraft=dataclasses.replace(plane, tow_kg=400)) > base
    assert over(power=170e3) < base


def test_an_aircraft_that_cannot_fly_never_clears():
    plane = Airframe(1000, 16, 0.4, 0.05, 1.1, 0.08)
    runway = Runway("soft ground", 0.1, 0.0, 0.9, 15.0)
    points = take_off(plane, runway, lambda v: 2000.0)
    assert math.isinf(cleared_at_m(points, runway))
    assert math.isinf(lifted_at_m(points))


def test_stopping_takes_reaction_and_brakes():
    runway = Runway("hard", 0.0, 0.0, 1.2, 15.0)
    points = take_off(Airframe(1000, 16, 0.4, 0.05, 1.1, 0.08), runway, lambda v: 3000.0)
    point = points[50]
    assert stopping_m(runway, point) == pytest.approx(
        point.distance_m + 2 * point.speed + point.speed**2 / (2 * 9.80665 * 0.35)
    )


def test_static_thrust_is_that_of_momentum_theory():
    # T = (2 rho A P^2)^(1/3) standing still
    area = math.pi / 4 * 2.1**2
    assert propeller_thrust_n(150e3, 0.0, 1.1, 2.1, 0.8) == pytest.approx(
        (2 * 1.1 * area * (0.8 * 150e3) ** 2) ** (1 / 3)
    )
    # far above its induced speed a propeller makes thrust times speed out of power
    assert propeller_thrust_n(150e3, 200.0, 1.1, 2.1, 0.8) == pytest.approx(0.8 * 150e3 / 200.0, rel=0.01)


def test_a_home_strip_that_boost_cannot_save_is_a_finding(tug_with):
    short = tug_with(('length = "740 m"', 'length = "450 m"'))
    found = departures(short)[0]
    assert found.verdict() == "needs boost; if lost, does not fit"


def test_leaving_again_is_worked_out_for_every_field(tug_plan):
    table = tug_plan.page("takeoff").table("leave")
    assert [row[0] for row in table.rows] == [field.name for field in tug_plan.installation.airfields]
    verdicts = table.column("verdict")
    assert verdicts[0] == "fits without boost"
    assert verdicts[2] == "needs boost; if lost, stop or go fits"


def test_every_boosted_row_has_its_no_boost_and_boost_lost_rows(tug_plan, valley_plan):
    for plan in (tug_plan, valley_plan):
        rows = plan.page("takeoff").table("cases").rows
        for field in plan.installation.airfields:
            cases = [str(row[1]) for row in rows if row[0] == field.name]
            assert cases[0] == "no boost"
            assert cases[1].startswith("boost, stage")
            assert cases[2].startswith("boost lost at")


def test_the_tow_can_be_left_out(tug):
    factor = thrust_factor(tug)
    field = tug.airfields[0]
    assert departure(tug, field, factor, tow=False).plain[1] < departure(tug, field, factor).plain[1]
