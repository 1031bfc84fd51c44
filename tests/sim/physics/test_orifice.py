"""Relations that any right set of jet flows must satisfy."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxlatch_sim.physics import nitrous, orifice
from oxlatch_sim.physics.validity import PhysicsRangeError

ATMOSPHERE_PA = 101_325.0
FEED_K = st.floats(240.0, 308.0)
DIAMETER_M = st.floats(2.0e-4, 5.0e-3)


@settings(deadline=None, max_examples=40)
@given(FEED_K, st.sampled_from([0.0, 1.0]), st.floats(0.08, 0.999))
def test_no_downstream_pressure_passes_more_than_the_choked_flux(
    temperature: float, quality: float, ratio: float
) -> None:
    inlet = nitrous.saturated_state(temperature, quality)
    flux = orifice.homogeneous_flux_kg_m2_s(inlet, ratio * inlet.pressure_pa)
    assert flux <= orifice.critical_flow(inlet).flux_kg_m2_s * (1.0 + 1e-6)


@settings(deadline=None, max_examples=30)
@given(st.floats(240.0, 300.0), st.floats(14.5e5, 60.0e5), st.floats(0.1, 0.9))
def test_flow_never_falls_when_downstream_pressure_falls(
    temperature: float, excess: float, ratio: float
) -> None:
    pressure = nitrous.saturation_pressure_pa(temperature) + excess
    inlet = nitrous.state_at_pressure_temperature(pressure, temperature)
    for model in (orifice.equilibrium_flux_kg_m2_s, orifice.dyer_plateau_flux_kg_m2_s):
        assert model(inlet, 0.9 * ratio * pressure) >= model(inlet, ratio * pressure) * (1.0 - 1e-4)


@settings(deadline=None, max_examples=30)
@given(FEED_K)
def test_liquid_passes_more_than_vapour(temperature: float) -> None:
    liquid = orifice.critical_flow_saturated_liquid(temperature).flux_kg_m2_s
    assert liquid > orifice.critical_flow_saturated_vapour(temperature).flux_kg_m2_s


@settings(deadline=None, max_examples=30)
@given(FEED_K, st.sampled_from([0.0, 1.0]), DIAMETER_M)
def test_nitrous_diameter_inverts_nitrous_flow(temperature: float, quality: float, diameter: float) -> None:
    inlet = nitrous.saturated_state(temperature, quality)
    flow = orifice.nitrous_flow_kg_s(diameter, inlet, ATMOSPHERE_PA)
    assert orifice.nitrous_diameter_m(flow, inlet, ATMOSPHERE_PA) == pytest.approx(diameter, rel=1e-9)


@given(DIAMETER_M, st.floats(1.0e4, 1.0e6), st.floats(650.0, 800.0))
def test_fuel_diameter_inverts_fuel_flow(diameter: float, drop: float, density: float) -> None:
    flow = orifice.fuel_flow_kg_s(diameter, drop, density)
    assert orifice.fuel_diameter_m(flow, drop, density) == pytest.approx(diameter, rel=1e-9)


@given(st.floats(1.0e-4, 0.04))
def test_area_and_diameter_are_inverse(diameter: float) -> None:
    assert orifice.diameter_m(orifice.area_m2(diameter)) == pytest.approx(diameter, rel=1e-12)


def test_dyer_is_used_from_14_bar_of_subcooling_only() -> None:
    base = nitrous.saturation_pressure_pa(285.0)
    below = nitrous.state_at_pressure_temperature(base + 13.9e5, 285.0)
    above = nitrous.state_at_pressure_temperature(base + 14.1e5, 285.0)
    assert orifice.nitrous_flux_kg_m2_s(below, ATMOSPHERE_PA) == pytest.approx(
        0.65 * orifice.equilibrium_flux_kg_m2_s(below, ATMOSPHERE_PA)
    )
    assert orifice.nitrous_flux_kg_m2_s(above, ATMOSPHERE_PA) == pytest.approx(
        0.77 * orifice.dyer_plateau_flux_kg_m2_s(above, ATMOSPHERE_PA)
    )


def test_a_supercritical_feed_chokes_too() -> None:
    inlet = nitrous.state_at_density_temperature(680.0, 323.15)
    critical = orifice.critical_flow(inlet)
    assert critical.throat_pressure_pa < inlet.pressure_pa
    assert critical.flux_kg_m2_s > orifice.critical_flow_saturated_liquid(303.15).flux_kg_m2_s


@pytest.mark.parametrize(("quality", "error"), [(0.0, 0.10), (1.0, 0.03)])
def test_the_unchoked_ellipse_stays_within_its_stated_error(quality: float, error: float) -> None:
    for celsius in (-20.0, 0.0, 20.0, 30.0):
        inlet = nitrous.saturated_state(celsius + 273.15, quality)
        critical = orifice.critical_flow(inlet)
        critical_ratio = critical.throat_pressure_pa / inlet.pressure_pa
        for step in range(1, 20):
            ratio = critical_ratio + (1.0 - critical_ratio) * step / 20.0
            true = orifice.homogeneous_flux_kg_m2_s(inlet, ratio * inlet.pressure_pa) / critical.flux_kg_m2_s
            assert -1e-3 < true - orifice.unchoked_fraction(ratio, critical_ratio) < error


def test_flow_against_a_higher_pressure_is_refused() -> None:
    inlet = nitrous.saturated_state(293.15, 0.0)
    with pytest.raises(PhysicsRangeError, match="downstream pressure"):
        orifice.equilibrium_flux_kg_m2_s(inlet, 1.01 * inlet.pressure_pa)
