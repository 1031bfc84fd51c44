"""Relations that any right set of nitrous oxide states must satisfy."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxlatch_sim.physics import nitrous

SATURATED_K = st.floats(185.0, 309.4)


@given(SATURATED_K)
def test_saturation_pressure_and_temperature_are_inverse(temperature: float) -> None:
    assert nitrous.saturation_temperature_k(nitrous.saturation_pressure_pa(temperature)) == pytest.approx(
        temperature, abs=1e-4
    )


@given(SATURATED_K, st.floats(0.01, 0.1))
def test_pressure_rises_liquid_thins_and_vapour_thickens_with_temperature(
    temperature: float, step: float
) -> None:
    warmer = temperature + step
    assert nitrous.saturation_pressure_pa(warmer) > nitrous.saturation_pressure_pa(temperature)
    assert nitrous.liquid_density_kg_m3(warmer) < nitrous.liquid_density_kg_m3(temperature)
    assert nitrous.vapour_density_kg_m3(warmer) > nitrous.vapour_density_kg_m3(temperature)


@given(SATURATED_K)
def test_clausius_clapeyron_holds(temperature: float) -> None:
    step = min(0.02, 309.5 - temperature)
    rise = nitrous.saturation_pressure_pa(temperature + step) - nitrous.saturation_pressure_pa(
        temperature - step
    )
    expansion = 1.0 / nitrous.vapour_density_kg_m3(temperature) - 1.0 / nitrous.liquid_density_kg_m3(
        temperature
    )
    latent = temperature * expansion * rise / (2.0 * step)
    assert latent == pytest.approx(nitrous.latent_heat_j_kg(temperature), rel=0.002)


@settings(deadline=None)
@given(st.floats(5.0, 1000.0), st.floats(240.0, 345.0))
def test_density_and_energy_give_back_the_temperature(density: float, temperature: float) -> None:
    state = (
        nitrous.state_at_density_temperature(density, temperature)
        if _is_allowed(density, temperature)
        else None
    )
    if state is None:
        return
    back = nitrous.state_at_density_energy(density, state.internal_energy_j_kg)
    assert back.temperature_k == pytest.approx(temperature, abs=0.01)
    assert back.pressure_pa == pytest.approx(state.pressure_pa, rel=1e-3)


def _is_allowed(density: float, temperature: float) -> bool:
    try:
        nitrous.state_at_density_temperature(density, temperature)
    except nitrous.PhysicsRangeError:
        return False
    return True


@given(st.floats(500.0, 1150.0))
def test_a_closed_volume_fills_with_liquid_where_the_densities_meet(density: float) -> None:
    temperature = nitrous.liquid_full_temperature_k(density)
    assert nitrous.liquid_density_kg_m3(temperature) == pytest.approx(density, rel=1e-6)
    assert nitrous.state_at_density_temperature(density, temperature - 0.2).quality is not None
    assert nitrous.state_at_density_temperature(density, temperature + 0.2).quality is None


def test_pressure_is_continuous_where_the_bottle_becomes_liquid_full() -> None:
    full = nitrous.liquid_full_temperature_k(680.0)
    below = nitrous.pressure_at_density_pa(680.0, full - 1e-4)
    above = nitrous.pressure_at_density_pa(680.0, full + 1e-4)
    assert above == pytest.approx(below, rel=1e-4)


def test_a_fixed_density_bottle_gains_pressure_all_the_way_through_the_critical_temperature() -> None:
    pressures = [nitrous.pressure_at_density_pa(680.0, 290.0 + k) for k in range(50)]
    assert all(later > earlier for earlier, later in pairwise(pressures))
