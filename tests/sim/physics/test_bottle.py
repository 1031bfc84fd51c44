"""Balances a bottle must keep, and its limits."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxlatch_sim.physics import bottle, nitrous
from oxlatch_sim.physics.validity import PhysicsRangeError

VOLUME_M3 = 6.67e-3
MASS_KG = 4.536
START_K = 294.0


@settings(deadline=None, max_examples=60)
@given(st.floats(0.05, 0.85), st.floats(240.0, 318.0), st.sampled_from([0.0, 4000.0]))
def test_energy_gives_back_the_temperature(fill: float, temperature: float, wall: float) -> None:
    mass = fill * 1e3 * VOLUME_M3
    try:
        energy = bottle.energy_j(VOLUME_M3, mass, temperature, wall)
    except PhysicsRangeError:
        return
    state = bottle.bottle_at_energy(VOLUME_M3, mass, energy, wall)
    assert state.temperature_k == pytest.approx(temperature, abs=1e-4)
    assert state.liquid_kg + state.vapour_kg == pytest.approx(mass, rel=1e-9)


@settings(deadline=None, max_examples=20)
@given(st.floats(0.05, 0.8), st.sampled_from(["liquid", "vapour"]))
def test_drawing_more_is_colder_and_lower(share: float, draw: bottle.Draw) -> None:
    limited = min(share, 0.3) if draw == "vapour" else share
    less = bottle.drawn_state(VOLUME_M3, MASS_KG, START_K, limited, draw)
    more = bottle.drawn_state(VOLUME_M3, MASS_KG, START_K, limited + 0.02, draw)
    assert more.pressure_pa < less.pressure_pa
    assert more.temperature_k < less.temperature_k


def test_a_wall_keeps_the_pressure_up() -> None:
    bare = bottle.drawn_state(VOLUME_M3, MASS_KG, START_K, 0.5)
    walled = bottle.drawn_state(VOLUME_M3, MASS_KG, START_K, 0.5, wall_j_k=4500.0)
    assert walled.pressure_pa > bare.pressure_pa


def test_two_phase_masses_fill_the_volume() -> None:
    state = bottle.bottle_at_temperature(VOLUME_M3, MASS_KG, START_K)
    liquid = state.liquid_kg / nitrous.liquid_density_kg_m3(START_K)
    vapour = state.vapour_kg / nitrous.vapour_density_kg_m3(START_K)
    assert liquid + vapour == pytest.approx(VOLUME_M3, rel=1e-6)


def test_run_out_end_does_not_depend_on_flow_but_time_does() -> None:
    slow = bottle.run_out(VOLUME_M3, MASS_KG, START_K, lambda _state: 0.02)
    fast = bottle.run_out(VOLUME_M3, MASS_KG, START_K, lambda _state: 0.06)
    assert slow.state.pressure_pa == pytest.approx(fast.state.pressure_pa, rel=1e-5)
    assert slow.time_s == pytest.approx(3.0 * fast.time_s, rel=1e-6)
    assert slow.time_s * 0.02 == pytest.approx(slow.drawn_fraction * MASS_KG, rel=1e-6)
    assert slow.state.liquid_kg == pytest.approx(0.0, abs=1e-5)


def test_liquid_draw_goes_over_to_vapour_after_run_out() -> None:
    end = bottle.run_out(VOLUME_M3, MASS_KG, START_K, lambda _state: 0.05)
    beyond = bottle.drawn_state(VOLUME_M3, MASS_KG, START_K, end.drawn_fraction + 0.03)
    # A few per cent of the cooling vapour condense; with liquid leaving, that much drawn would cost 2 % of
    # pressure.
    assert beyond.liquid_kg < 0.02 * MASS_KG
    assert beyond.pressure_pa < 0.85 * end.state.pressure_pa


def test_a_hot_full_bottle_is_liquid_full_not_clamped() -> None:
    state = bottle.bottle_at_temperature(VOLUME_M3, 680.0 * VOLUME_M3, 323.15)
    assert state.vapour_kg == 0.0
    assert state.pressure_pa > 1.7 * nitrous.CRITICAL_PRESSURE_PA


@pytest.mark.parametrize("value", [math.nan, math.inf, -1.0, 0.0])
def test_bottle_figures_out_of_range_are_refused(value: float) -> None:
    for call in (
        lambda: bottle.bottle_at_temperature(value, MASS_KG, START_K),
        lambda: bottle.bottle_at_temperature(VOLUME_M3, value, START_K),
        lambda: bottle.bottle_at_temperature(VOLUME_M3, MASS_KG, value),
        lambda: bottle.run_out(VOLUME_M3, MASS_KG, START_K, lambda _state: value),
    ):
        with pytest.raises(PhysicsRangeError):
            call()


def test_energy_beyond_every_temperature_is_refused() -> None:
    for energy in (math.nan, 1.0e9, -1.0e9):
        with pytest.raises(PhysicsRangeError, match="no temperature"):
            bottle.bottle_at_energy(VOLUME_M3, MASS_KG, energy)


def test_a_bottle_without_vapour_has_no_run_out() -> None:
    with pytest.raises(PhysicsRangeError, match="one phase"):
        bottle.run_out(VOLUME_M3, 680.0 * VOLUME_M3, 310.0, lambda _state: 0.05)
