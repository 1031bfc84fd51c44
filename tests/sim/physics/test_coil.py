"""Relations of the coil circuit, and its limits."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oxlatch_sim.physics import coil
from oxlatch_sim.physics.validity import PhysicsRangeError

RESISTANCE = st.floats(0.5, 50.0)
INDUCTANCE = st.floats(1.0e-3, 0.2)


@given(RESISTANCE, INDUCTANCE, st.floats(0.05, 0.95))
def test_rise_time_inverts_the_current(resistance: float, inductance: float, share: float) -> None:
    wanted = share * 14.0 / resistance
    time = coil.rise_time_s(wanted, 14.0, resistance, inductance)
    assert coil.current_a(time, 14.0, resistance, inductance) == pytest.approx(wanted, rel=1e-9)


@given(RESISTANCE, INDUCTANCE, st.floats(0.1, 0.9), st.floats(0.5, 80.0))
def test_release_follows_the_falling_current(
    resistance: float, inductance: float, share: float, clamp: float
) -> None:
    start = 14.0 / resistance
    time = coil.release_time_s(start, share * start, resistance, inductance, clamp)
    falling = (start + clamp / resistance) * math.exp(-time * resistance / inductance) - clamp / resistance
    assert falling == pytest.approx(share * start, rel=1e-9)


@given(st.floats(0.5, 60.0), st.floats(0.1, 10.0))
def test_a_higher_clamp_never_releases_later(clamp: float, more: float) -> None:
    low = coil.release_time_s(3.0, 0.6, 4.0, 20e-3, clamp)
    assert coil.release_time_s(3.0, 0.6, 4.0, 20e-3, clamp + more) < low


@given(st.floats(0.0, 80.0e5), st.floats(1.0e3, 5.0e5))
def test_more_pressure_needs_more_current(drop: float, more: float) -> None:
    low = coil.lift_current_a(2.0, 70.0e5, drop, 0.3)
    assert coil.lift_current_a(2.0, 70.0e5, drop + more, 0.3) > low


def test_the_rated_current_lifts_the_rated_drop() -> None:
    assert coil.lift_current_a(2.0, 70.0e5, 70.0e5, 0.3) == pytest.approx(2.0)


def test_a_hot_coil_needs_a_higher_voltage() -> None:
    assert coil.threshold_voltage_v(2.0, 4.0, 293.15) == pytest.approx(8.0)
    assert coil.threshold_voltage_v(2.0, 4.0, 373.15) == pytest.approx(8.0 * 1.3143, rel=1e-4)


def test_a_current_beyond_the_supply_is_refused() -> None:
    with pytest.raises(PhysicsRangeError, match=r"coil current is 4 A, allowed is below 3\.5 A"):
        coil.rise_time_s(4.0, 14.0, 4.0, 20e-3)


@pytest.mark.parametrize("value", [math.nan, math.inf, -1.0])
def test_coil_figures_out_of_range_are_refused(value: float) -> None:
    for call in (
        lambda: coil.current_a(value, 14.0, 4.0, 20e-3),
        lambda: coil.current_a(1.0e-3, value, 4.0, 20e-3),
        lambda: coil.current_a(1.0e-3, 14.0, value, 20e-3),
        lambda: coil.release_time_s(3.0, value, 4.0, 20e-3, 24.0),
        lambda: coil.release_time_s(3.0, 0.6, 4.0, 20e-3, value),
        lambda: coil.copper_resistance_ohm(4.0, 293.15, value),
        lambda: coil.lift_current_a(2.0, 70.0e5, value, 0.3),
    ):
        with pytest.raises(PhysicsRangeError):
            call()
