"""Inverse functions, monotonicity and limits of lines, wires and sensors."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oxlatch_sim.physics import lines, sensors, wire
from oxlatch_sim.physics.validity import PhysicsRangeError


@given(st.floats(1.0e-4, 0.2), st.floats(0.2, 8.0), st.floats(2.0e-3, 10.0e-3))
def test_pipe_flow_inverts_pipe_loss(flow: float, length: float, bore: float) -> None:
    loss = lines.pipe_loss_pa(flow, 785.0, 6.0e-5, length, bore, fittings_k=1.5)
    if loss > 1.0e8:
        return
    assert lines.pipe_flow_kg_s(loss, 785.0, 6.0e-5, length, bore, fittings_k=1.5) == pytest.approx(
        flow, rel=1e-6
    )


def test_a_still_line_loses_nothing() -> None:
    assert lines.pipe_loss_pa(0.0, 785.0, 6.0e-5, 4.0, 4.8e-3) == 0.0
    assert lines.pipe_flow_kg_s(0.0, 785.0, 6.0e-5, 4.0, 4.8e-3) == pytest.approx(0.0, abs=1e-9)


@given(st.floats(240.0, 300.0))
def test_liquid_thins_and_expands_less_per_kelvin_when_warm(temperature: float) -> None:
    assert lines.liquid_nitrous_viscosity_pa_s(temperature + 1.0) < lines.liquid_nitrous_viscosity_pa_s(
        temperature
    )
    assert lines.trapped_liquid_slope_pa_k(temperature + 1.0) < lines.trapped_liquid_slope_pa_k(temperature)


@given(st.sampled_from(sorted(wire.WIRES)), st.floats(0.1, 10.0), st.floats(0.1, 2.0))
def test_longest_run_spends_the_allowed_drop(size: int, current: float, allowed: float) -> None:
    run = wire.longest_run_m(size, current, allowed, 340.0)
    assert wire.drop_v(size, run, current, 340.0) == pytest.approx(allowed, rel=1e-9)


@given(st.floats(0.1, 15.0), st.floats(0.5, 15.0))
def test_the_smallest_size_fits_and_the_next_thinner_does_not(length: float, current: float) -> None:
    size = wire.smallest_size(length, current, 0.5)
    assert wire.drop_v(size, length, current) <= 0.5
    assert current <= wire.ampacity_a(size)
    thinner = [other for other in wire.WIRES if other > size]
    for other in thinner[-1:]:
        assert wire.drop_v(other, length, current) > 0.5 or current > wire.ampacity_a(other)


def test_an_impossible_wire_is_refused_by_name() -> None:
    with pytest.raises(PhysicsRangeError, match="wire size is 13"):
        wire.resistance_ohm(13, 1.0)
    with pytest.raises(PhysicsRangeError, match="protected wire size is 24"):
        wire.protection(24)
    with pytest.raises(PhysicsRangeError, match="no listed wire"):
        wire.smallest_size(100.0, 50.0, 0.5)


@given(st.floats(0.0, 1.0), st.floats(4.5, 5.5))
def test_transducer_pressure_inverts_voltage(share: float, supply: float) -> None:
    volt = sensors.transducer_voltage_v(share * 1.1e7, 1.1e7, supply)
    assert sensors.transducer_pressure_pa(volt, 1.1e7, supply) == pytest.approx(share * 1.1e7, abs=1e-3)
    assert not sensors.transducer_is_faulty(volt, supply)


@given(st.floats(221.0, 419.0), st.floats(3000.0, 4500.0))
def test_thermistor_temperature_inverts_resistance(temperature: float, beta: float) -> None:
    assert sensors.thermistor_k(
        sensors.thermistor_ohm(temperature, beta_k=beta), beta_k=beta
    ) == pytest.approx(temperature, abs=1e-6)


@given(st.floats(80.0, 1640.0), st.floats(260.0, 330.0))
def test_type_k_temperature_inverts_voltage(junction: float, cold: float) -> None:
    volt = sensors.type_k_voltage_v(junction, cold)
    assert sensors.type_k_k(volt, cold) == pytest.approx(junction, abs=1e-4)


@pytest.mark.parametrize("value", [math.nan, math.inf, -1.0e9])
def test_figures_out_of_range_are_refused(value: float) -> None:
    for call in (
        lambda: lines.pipe_loss_pa(value, 785.0, 6.0e-5, 4.0, 4.8e-3),
        lambda: lines.pipe_loss_pa(0.05, value, 6.0e-5, 4.0, 4.8e-3),
        lambda: lines.pipe_flow_kg_s(value, 785.0, 6.0e-5, 4.0, 4.8e-3),
        lambda: lines.line_volume_m3(1.0, value),
        lambda: lines.fill_time_s(1.0e-5, 785.0, value),
        lambda: lines.hydraulic_shock_pa(785.0, value, 1.0),
        lambda: lines.trapped_liquid_slope_pa_k(value),
        lambda: lines.liquid_nitrous_viscosity_pa_s(value),
        lambda: wire.drop_v(14, value, 5.0),
        lambda: wire.drop_v(14, 5.0, value),
        lambda: wire.longest_run_m(14, 5.0, value),
        lambda: sensors.transducer_voltage_v(value, 1.1e7, 5.0),
        lambda: sensors.transducer_pressure_pa(value, 1.1e7, 5.0),
        lambda: sensors.thermistor_ohm(value),
        lambda: sensors.thermistor_k(value),
        lambda: sensors.type_k_voltage_v(value),
        lambda: sensors.type_k_k(value),
    ):
        with pytest.raises(PhysicsRangeError):
            call()
