"""A solenoid valve opens, holds, drops out and fails as its coil, pressure and clamp make it."""

from math import log

import pytest

from oxlatch_sim.plant.parameters import fuel_valve, oxidizer_valve
from oxlatch_sim.plant.valve import JAMMED_OPEN, JAMMED_SHUT, Valve

AREA = 3.0e-6


def opened_after(valve: Valve, dt: float = 1.0e-4, limit_s: float = 0.3) -> float:
    """Seconds until fully open, or infinity."""
    for count in range(int(limit_s / dt)):
        valve.step(dt)
        if valve.position >= 1.0:
            return (count + 1) * dt
    return float("inf")


def shut_after(valve: Valve, dt: float = 1.0e-4) -> float:
    for count in range(int(0.3 / dt)):
        valve.step(dt)
        if valve.position <= 0.0:
            return (count + 1) * dt
    return float("inf")


def driven(valve: Valve, volts: float, differential_pa: float = 0.0) -> Valve:
    valve.rail(volts)
    valve.differential_pa = differential_pa
    valve.command(True)
    return valve


def test_opens_in_the_time_of_its_data_at_its_highest_pressure() -> None:
    valve = driven(Valve(oxidizer_valve(AREA)), 13.8, 80.0e5)
    assert opened_after(valve) == pytest.approx(0.022, abs=5e-4)


def test_shuts_in_the_time_of_its_data() -> None:
    valve = driven(Valve(oxidizer_valve(AREA)), 13.8, 50.0e5)
    opened_after(valve)
    for _ in range(1000):
        valve.step(1e-4)
    valve.command(False)
    assert shut_after(valve) == pytest.approx(0.026, abs=5e-4)


def test_release_follows_the_published_formula_for_the_clamp() -> None:
    """t = (L/R) ln[(I0 + Vc/R) / (Id + Vc/R)], elementary circuit theory; I0 full, Id drop-out current."""
    parameters = fuel_valve(AREA)
    for clamp_v in (0.8, 24.0, 60.0):
        valve = Valve(parameters)
        valve.clamp_v = clamp_v
        driven(valve, 13.8)
        for _ in range(2000):
            valve.step(1e-4)
        full = 13.8 / parameters.coil_ohm
        more = clamp_v / parameters.coil_ohm
        expected = parameters.coil_h / parameters.coil_ohm * log((full + more) / (parameters.drop_out_a + more))
        valve.command(False)
        assert shut_after(valve, 2e-5) - parameters.close_stroke_s == pytest.approx(expected, abs=6e-5)


def test_does_not_lift_against_more_pressure_than_its_current_allows() -> None:
    hot = Valve(oxidizer_valve(AREA), coil_k=393.15)
    assert opened_after(driven(hot, 9.5, 78.0e5)) == float("inf")
    assert opened_after(driven(Valve(oxidizer_valve(AREA)), 10.0, 40.0e5)) < 0.05


def test_a_hot_coil_has_the_resistance_of_hot_copper() -> None:
    """R(100 C) / R(20 C) = 1.314 with the constant 234.5 of AC 43.13-1B, chapter 11."""
    hot, cold = (driven(Valve(oxidizer_valve(AREA), coil_k), 13.8) for coil_k in (373.15, 293.15))
    for valve in (hot, cold):
        for _ in range(200):
            valve.step(1e-3)
    assert cold.current_a / hot.current_a == pytest.approx(1.314, abs=5e-4)


def test_a_coil_held_for_half_a_minute_warms_and_draws_less() -> None:
    valve = driven(Valve(oxidizer_valve(AREA)), 13.8)
    opened_after(valve)
    for _ in range(200):
        valve.step(1e-3)
    cold_a = valve.current_a
    for _ in range(300):
        valve.warm(0.1, 293.15)
    assert 10.0 < valve.coil_k - 293.15 < 25.0
    assert valve.settled and 0.9 * cold_a < valve.current_a < 0.97 * cold_a
    valve.command(False)
    shut_after(valve)
    for _ in range(9000):
        valve.warm(0.1, 293.15)
    assert valve.coil_k == pytest.approx(293.15, abs=0.5)


def test_a_sagging_rail_drops_oxidizer_before_fuel() -> None:
    oxidizer, fuel = Valve(oxidizer_valve(AREA)), Valve(fuel_valve(AREA))
    for valve in (oxidizer, fuel):
        opened_after(driven(valve, 13.8))
        for _ in range(2000):
            valve.step(1e-4)
    volts = 13.8
    while oxidizer.lifted:
        volts -= 0.01
        for valve in (oxidizer, fuel):
            valve.rail(volts)
            for _ in range(50):
                valve.step(1e-3)
    assert fuel.lifted
    assert volts == pytest.approx(1.91 * 1.15, abs=0.05)


def test_when_both_rails_die_fuel_shuts_before_oxidizer() -> None:
    oxidizer, fuel = Valve(oxidizer_valve(AREA)), Valve(fuel_valve(AREA))
    times = []
    for valve in (oxidizer, fuel):
        opened_after(driven(valve, 13.8))
        valve.rail(0.0)
        times.append(shut_after(valve))
    assert times[1] < times[0] - 0.01


@pytest.mark.parametrize("dt", [1e-3, 5e-4, 1e-4])
def test_the_opening_instant_does_not_depend_on_the_step(dt: float) -> None:
    valve = driven(Valve(oxidizer_valve(AREA)), 13.8, 50.0e5)
    for _ in range(round(0.014 / dt)):
        valve.step(dt)
    assert valve.position == pytest.approx(0.5926, abs=2e-3)


def test_jams_leaks_and_broken_leads_do_what_they_say() -> None:
    shut = Valve(oxidizer_valve(AREA))
    shut.jam = JAMMED_SHUT
    assert opened_after(driven(shut, 13.8)) == float("inf")
    stays = Valve(oxidizer_valve(AREA))
    opened_after(driven(stays, 13.8))
    stays.jam = JAMMED_OPEN
    stays.command(False)
    assert shut_after(stays) == float("inf")
    leaking = Valve(oxidizer_valve(AREA))
    leaking.leak = 0.1
    leaking.wake()
    assert leaking.area_m2 == pytest.approx(0.1 * AREA)
    cut = Valve(oxidizer_valve(AREA))
    cut.coil_open = True
    driven(cut, 13.8).step(0.01)
    assert cut.current_a == 0.0


def test_current_comparators_tell_hold_and_short() -> None:
    valve = driven(Valve(oxidizer_valve(AREA)), 13.8)
    assert not valve.holds()
    opened_after(valve)
    assert valve.holds() and not valve.trips()
    valve.shorted_turns = True
    valve.wake()
    for _ in range(50):
        valve.step(1e-3)
    assert valve.trips()
