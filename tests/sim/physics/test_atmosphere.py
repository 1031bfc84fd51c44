"""Relations that any right atmosphere must satisfy, and its limits."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oxlatch_sim.physics import atmosphere
from oxlatch_sim.physics.validity import PhysicsRangeError

ALTITUDE_M = st.floats(-990.0, 10_990.0)


@given(ALTITUDE_M)
def test_pressure_altitude_inverts_standard_pressure(altitude: float) -> None:
    pressure = atmosphere.standard_pressure_pa(altitude)
    assert atmosphere.pressure_altitude_m(pressure) == pytest.approx(altitude, abs=1e-6)


@given(st.floats(-990.0, 6000.0))
def test_density_altitude_of_standard_air_is_its_altitude(altitude: float) -> None:
    pressure = atmosphere.standard_pressure_pa(altitude)
    temperature = atmosphere.standard_temperature_k(altitude)
    assert atmosphere.density_altitude_m(pressure, temperature) == pytest.approx(altitude, abs=1e-6)


@given(st.floats(-100.0, 4000.0), st.floats(97_000.0, 104_000.0))
def test_an_altimeter_set_to_the_station_reads_its_elevation(elevation: float, setting: float) -> None:
    pressure = atmosphere.station_pressure_pa(elevation, setting)
    shown = atmosphere.pressure_altitude_m(pressure) - atmosphere.pressure_altitude_m(setting)
    assert shown == pytest.approx(elevation, abs=1e-6)


@given(st.floats(250.0, 320.0), st.floats(0.05, 1.0))
def test_dew_point_inverts_humidity(temperature: float, humidity: float) -> None:
    try:
        dew = atmosphere.dew_point_k(temperature, humidity)
    except PhysicsRangeError:
        return
    ratio = atmosphere.saturation_vapour_pressure_pa(dew) / atmosphere.saturation_vapour_pressure_pa(
        temperature
    )
    assert ratio == pytest.approx(humidity, rel=1e-9)


@given(st.floats(70_000.0, 104_000.0), st.floats(265.0, 315.0), st.floats(1.0, 15.0))
def test_warm_moist_or_thin_air_is_higher(pressure: float, temperature: float, spread: float) -> None:
    base = atmosphere.density_altitude_m(pressure, temperature)
    assert atmosphere.density_altitude_m(pressure, temperature + 1.0) > base
    assert atmosphere.density_altitude_m(0.99 * pressure, temperature) > base
    assert atmosphere.density_altitude_m(pressure, temperature, temperature - spread) > base


@pytest.mark.parametrize("value", [math.nan, math.inf, -1.0e5, 1.0e7])
def test_air_out_of_range_is_refused(value: float) -> None:
    for call in (
        lambda: atmosphere.standard_pressure_pa(value),
        lambda: atmosphere.pressure_altitude_m(value),
        lambda: atmosphere.density_altitude_m(value, 288.15),
        lambda: atmosphere.density_altitude_m(101_325.0, value),
        lambda: atmosphere.station_pressure_pa(500.0, value),
        lambda: atmosphere.dew_point_k(288.15, value),
    ):
        with pytest.raises(PhysicsRangeError):
            call()


def test_a_dew_point_above_the_air_is_refused() -> None:
    with pytest.raises(PhysicsRangeError, match="dew point"):
        atmosphere.density_altitude_m(101_325.0, 288.15, 290.0)
