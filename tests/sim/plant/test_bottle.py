"""Bottle and feed line: what they hold, what they give, how pressure follows."""

import pytest

from oxlatch_sim.physics import nitrous
from oxlatch_sim.plant.bottle import AIR, LIQUID, VAPOUR, Bottle, Vessel
from oxlatch_sim.plant.feed_flux import feed_flux
from oxlatch_sim.plant.line import FeedLine
from oxlatch_sim.plant.parameters import AMBIENT_PA, BottleParameters, FeedLineParameters
from oxlatch_sim.plant.purge_outlet import outlet_k

ROOM_K = 298.15


def bottle(**changes: float) -> Bottle:
    return Bottle(feed_flux().tables, BottleParameters(**changes), ROOM_K)  # type: ignore[arg-type]


def line(**changes: float) -> FeedLine:
    return FeedLine(feed_flux(), FeedLineParameters(**changes), ROOM_K, AMBIENT_PA)  # type: ignore[arg-type]


def draw(source: Bottle, kg: float, rate_kg_s: float = 0.1) -> None:
    for _ in range(round(kg / rate_kg_s / 0.005)):
        source.tick(rate_kg_s * 0.005, 0.005)


@pytest.mark.parametrize(("share", "bar"), [(0.2, 47.4), (0.5, 41.0), (0.8, 34.2)])
def test_adiabatic_draw_down_follows_the_computed_table(share: float, bar: float) -> None:
    """4.536 kg in 6.671 L from 21.1 C: 688, 595, 496 psia; computed with CoolProp from mass and energy balance."""
    source = bottle(temperature_k=294.25, fill_kg=4.536, volume_m3=0.006671, wall_to_fluid_w_k=0.0)
    draw(source, share * 4.536)
    assert source.pressure_pa / 1e5 == pytest.approx(bar, rel=0.01)


def test_vapour_draw_collapses_the_pressure() -> None:
    """30 % drawn as vapour from 21.1 C leaves 276 psia; computed with CoolProp."""
    source = bottle(temperature_k=294.25, fill_kg=4.536, volume_m3=0.006671, wall_to_fluid_w_k=0.0, tube_share=1.1)
    source.phase = VAPOUR
    draw(source, 0.3 * 4.536)
    assert source.pressure_pa / 6894.757 == pytest.approx(276.0, rel=0.01)


def test_an_overfull_warm_bottle_is_not_clamped_at_the_critical_point() -> None:
    """0.68 kg/L at 50 C: 128 bar, computed with CoolProp."""
    vessel = Vessel(feed_flux().tables, 0.01, 6.8, 323.15)
    assert vessel.pressure_pa / 1e5 == pytest.approx(128.0, rel=0.03)


def test_mass_is_conserved_between_bottle_and_line() -> None:
    source = bottle()
    feed = line()
    feed.fill_with(LIQUID, source)
    start = source.vessel.mass_kg
    left = 0.0
    for _ in range(2000):
        feed.step(0.005, 0.05, source.pressure_pa)
        left += 0.05 * 0.005
        source.tick(feed.tick(0.005, source), 0.005)
    assert start - source.vessel.mass_kg == pytest.approx(left, rel=0.005)


def test_opening_the_bottle_packs_the_air_at_the_block_and_a_purge_drives_it_out() -> None:
    source = bottle()
    feed = line()
    for _ in range(400):
        feed.step(0.005, 0.0, source.pressure_pa)
        feed.tick(0.005, source)
    assert feed.phase == AIR and feed.oxidizer_share == 0.0
    assert feed.pressure_pa == pytest.approx(source.pressure_pa, rel=0.01)
    air = feed.plugs[0][1]
    assert air == pytest.approx(feed.volume_m3 * AMBIENT_PA / source.pressure_pa, rel=0.1)
    for _ in range(400):
        flow = 1.5e-6 * feed.flux_kg_m2_s
        feed.step(0.005, flow, source.pressure_pa)
        source.tick(feed.tick(0.005, source), 0.005)
    assert feed.phase == LIQUID and feed.oxidizer_share == 1.0
    assert sum(plug[1] for plug in feed.plugs) == pytest.approx(feed.volume_m3)


def test_heat_soak_makes_vapour_at_the_block_and_flow_sweeps_it_out() -> None:
    source = bottle(temperature_k=288.15)
    feed = line(heat_w_k=0.5)
    feed.fill_with(LIQUID, source)
    feed.surround_k = 320.0
    for _ in range(2000):
        feed.tick(0.1, source)
    assert feed.phase == VAPOUR
    for _ in range(400):
        feed.step(0.005, 0.1, source.pressure_pa)
        feed.tick(0.005, source)
    assert feed.phase == LIQUID


def test_a_shut_line_flashes_cools_and_runs_dry() -> None:
    source = bottle()
    feed = line()
    feed.fill_with(LIQUID, source)
    feed.shut_hand_valve()
    assert feed.pressure_pa == pytest.approx(source.pressure_pa, rel=0.02)
    start = feed.pressure_pa
    for _ in range(400):
        feed.step(0.005, 1.0e-6 * feed.flux_kg_m2_s, source.pressure_pa)
        feed.tick(0.005, source)
    assert feed.pressure_pa < 0.7 * start
    assert source.vessel.mass_kg == pytest.approx(BottleParameters().fill_kg)


def test_trapped_liquid_gains_bars_with_every_kelvin() -> None:
    """Liquid filled at 20 C gains 4.7 bar per kelvin at constant volume; computed with CoolProp."""
    density = nitrous.liquid_density_kg_m3(293.15)
    cold, warm = (Vessel(feed_flux().tables, 7e-5, density * 7e-5, 293.15 + rise) for rise in (2.0, 4.0))
    assert (warm.pressure_pa - cold.pressure_pa) / 2e5 == pytest.approx(4.7, rel=0.1)


def test_a_cold_purge_outlet_proves_no_air_and_not_liquid() -> None:
    """Throttled vapour from 30 bar up is at -58 to -89 C and liquid at -88.5 C, computed with CoolProp."""
    assert outlet_k(AIR, 50.0e5, ROOM_K) == ROOM_K
    assert outlet_k(LIQUID, 50.0e5, ROOM_K) - 273.15 == pytest.approx(-88.5, abs=0.2)
    vapour = [outlet_k(VAPOUR, bar * 1e5, ROOM_K) - 273.15 for bar in range(30, 70, 5)]
    assert all(-89.0 < celsius < -57.5 for celsius in vapour)


@pytest.mark.parametrize("bar", [9.0, 24.0, 50.0, 68.0])
def test_feed_flux_agrees_with_the_equilibrium_model(bar: float) -> None:
    from oxlatch_sim.physics import orifice

    temperature = nitrous.saturation_temperature_k(bar * 1e5)
    flux, density = feed_flux().liquid(bar * 1e5, temperature)
    assert flux == pytest.approx(orifice.critical_flow_saturated_liquid(temperature).flux_kg_m2_s, rel=0.002)
    assert density == pytest.approx(nitrous.liquid_density_kg_m3(temperature), rel=0.002)
    vapour, _ = feed_flux().vapour(bar * 1e5)
    assert vapour == pytest.approx(orifice.critical_flow_saturated_vapour(temperature).flux_kg_m2_s, rel=0.002)
