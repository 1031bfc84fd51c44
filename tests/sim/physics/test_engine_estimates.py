"""Relations between engine quantities, and their limits."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oxlatch_sim.physics import engine
from oxlatch_sim.physics.validity import PhysicsRangeError

DISPLACEMENT_M3 = 8.379e-3
POWER_W = st.floats(1.0e3, 5.0e5)
SPEED_RPM = st.floats(600.0, 6000.0)


@given(POWER_W, SPEED_RPM)
def test_power_inverts_mean_effective_pressure(power: float, speed: float) -> None:
    pressure = engine.mean_effective_pressure_pa(power, DISPLACEMENT_M3, speed)
    assert engine.power_w(pressure, DISPLACEMENT_M3, speed) == pytest.approx(power, rel=1e-12)


@given(POWER_W, POWER_W, SPEED_RPM)
def test_added_mean_effective_pressure_is_additive(base: float, added: float, speed: float) -> None:
    def pressure(power: float) -> float:
        return engine.mean_effective_pressure_pa(power, DISPLACEMENT_M3, speed)

    assert pressure(base + added) == pytest.approx(pressure(base) + pressure(added), rel=1e-9)


@given(POWER_W, SPEED_RPM)
def test_torque_times_angular_speed_is_power(power: float, speed: float) -> None:
    assert engine.torque_n_m(power, speed) * speed * math.tau / 60.0 == pytest.approx(power, rel=1e-12)


@given(st.floats(0.3, 1.2), st.floats(0.001, 0.02))
def test_thinner_air_makes_less_power(ratio: float, step: float) -> None:
    assert engine.gagg_farrar_lapse(ratio) < engine.gagg_farrar_lapse(ratio + step)


@given(st.floats(1.0e5, 3.0e6), st.floats(7.0, 11.0))
def test_peak_pressure_rises_with_load_and_compression(load: float, ratio: float) -> None:
    base = engine.peak_pressure_estimate(load, 2600.0, 0.95e5, ratio)
    assert engine.peak_pressure_estimate(load + 1.0e4, 2600.0, 0.95e5, ratio).low_pa > base.low_pa
    assert engine.peak_pressure_estimate(load, 2600.0, 0.95e5, ratio + 0.1).high_pa > base.high_pa
    assert base.low_pa < base.high_pa < base.ideal_pa


@given(st.floats(20.0, 80.0), st.floats(700.0, 1000.0))
def test_hotter_denser_end_gas_ignites_sooner_and_octane_delays_it(atm: float, kelvin: float) -> None:
    base = engine.ignition_delay_s(100.0, atm * 101_325.0, kelvin)
    assert engine.ignition_delay_s(100.0, (atm + 1.0) * 101_325.0, kelvin) < base
    assert engine.ignition_delay_s(100.0, atm * 101_325.0, kelvin + 10.0) < base
    assert engine.ignition_delay_s(105.0, atm * 101_325.0, kelvin) > base


@pytest.mark.parametrize("value", [math.nan, math.inf, -1.0, 1.0e12])
def test_engine_figures_out_of_range_are_refused(value: float) -> None:
    for call in (
        lambda: engine.gagg_farrar_lapse(value),
        lambda: engine.pressure_temperature_lapse(101_325.0, value),
        lambda: engine.mean_effective_pressure_pa(1.0e5, DISPLACEMENT_M3, value),
        lambda: engine.mean_piston_speed_m_s(value, 2600.0),
        lambda: engine.friction_mean_effective_pressure_pa(value),
        lambda: engine.air_flow_kg_s(DISPLACEMENT_M3, 2600.0, value, 1.0e5, 288.0),
        lambda: engine.peak_pressure_estimate(value, 2600.0, 0.95e5, 8.5),
        lambda: engine.j1349_factor(value, 288.0),
        lambda: engine.j607_factor(value, 288.0),
        lambda: engine.ignition_delay_s(100.0, value, 900.0),
    ):
        with pytest.raises(PhysicsRangeError):
            call()


def test_an_end_gas_history_must_match_and_advance() -> None:
    with pytest.raises(PhysicsRangeError, match="history"):
        engine.knock_integral([0.0, 1e-3], [4.0e6], [900.0, 900.0], 100.0)
    with pytest.raises(PhysicsRangeError, match="time step"):
        engine.knock_integral([0.0, 0.0], [4.0e6, 4.0e6], [900.0, 900.0], 100.0)
