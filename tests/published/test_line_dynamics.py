"""Filling, pressure waves, hydraulic shock and trapped liquid in lines."""

import pytest

from oxlatch_sim.physics import lines, nitrous, orifice

KELVIN = 273.15
LENGTH_M = 4.0
BORE_M = 4.8e-3
FLOW_KG_S = 0.05

# degC: wave ms, contents g, fill s, shock bar. Computed with CoolProp 8.0.0 for 4 m of 4.8 mm bore at 50 g/s.
NITROUS_LINE = {
    0.0: (7.2, 65.7, 1.31, 15.4),
    10.0: (8.3, 61.7, 1.23, 13.4),
    20.0: (10.0, 56.8, 1.14, 11.0),
    30.0: (13.6, 49.8, 1.00, 8.2),
}


@pytest.mark.parametrize("celsius", NITROUS_LINE)
def test_nitrous_line(celsius: float) -> None:
    # Tolerance: half of the last digit.
    wave_ms, grams, fill_s, shock_bar = NITROUS_LINE[celsius]
    density = nitrous.liquid_density_kg_m3(celsius + KELVIN)
    sound = nitrous.liquid_sound_speed_m_s(celsius + KELVIN)
    volume = lines.line_volume_m3(LENGTH_M, BORE_M)
    assert lines.wave_time_s(LENGTH_M, sound) * 1e3 == pytest.approx(wave_ms, abs=0.06)
    assert volume * density * 1e3 == pytest.approx(grams, abs=0.06)
    assert lines.fill_time_s(volume, density, FLOW_KG_S) == pytest.approx(fill_s, abs=0.006)
    shock = lines.hydraulic_shock_pa(density, sound, lines.velocity_m_s(FLOW_KG_S, density, BORE_M))
    assert shock / 1e5 == pytest.approx(shock_bar, abs=0.06)


@pytest.mark.parametrize(("sound", "megapascal"), [(1365.0, 2.73), (282.0, 0.564)])
def test_joukowsky(sound: float, megapascal: float) -> None:
    # Source: Britton and Willey 2023, doi 10.1002/prs.12517 (read): water at 2 m/s. Tolerance: half of the
    # last digit, with 1000 kg/m3.
    assert lines.hydraulic_shock_pa(1000.0, sound, 2.0) / 1e6 == pytest.approx(megapascal, abs=0.001)


@pytest.mark.parametrize(("celsius", "bar_per_k"), [(0.0, 7.2), (10.0, 6.0), (20.0, 4.7)])
def test_trapped_liquid_needs_a_relief(celsius: float, bar_per_k: float) -> None:
    # Computed with CoolProp 8.0.0 at constant volume. Tolerance: half of the last digit, rounded up.
    assert lines.trapped_liquid_slope_pa_k(celsius + KELVIN) / 1e5 == pytest.approx(bar_per_k, abs=0.06)


def test_fuel_line() -> None:
    # Computed with a bulk modulus of 1.0 GPa and 720 kg/m3 (both from memory): sound near 1180 m/s, 3 m in
    # 2.5 ms; 3 m of 4.5 mm bore holds 48 mL and takes 5.5 s to fill at 6.3 g/s. Tolerance: half of the last
    # digit.
    sound = lines.liquid_sound_speed_m_s(lines.GASOLINE_BULK_MODULUS_PA, lines.GASOLINE_DENSITY_KG_M3)
    assert sound == pytest.approx(1180.0, abs=5.0)
    assert lines.wave_time_s(3.0, sound) * 1e3 == pytest.approx(2.5, abs=0.06)
    volume = lines.line_volume_m3(3.0, 4.5e-3)
    assert volume * 1e6 == pytest.approx(48.0, abs=0.5)
    assert lines.fill_time_s(volume, lines.GASOLINE_DENSITY_KG_M3, 6.3e-3) == pytest.approx(5.5, abs=0.06)


@pytest.mark.parametrize(("bar", "millimetre"), [(0.35, 1.23), (1.0, 0.94), (3.0, 0.72)])
def test_fuel_jet(bar: float, millimetre: float) -> None:
    # Computed from Bernoulli with a coefficient of 0.75 and 720 kg/m3: 6.3 g/s. Tolerance: half of the last
    # digit.
    diameter = orifice.fuel_diameter_m(6.3e-3, bar * 1e5, lines.GASOLINE_DENSITY_KG_M3, 0.75)
    assert diameter * 1e3 == pytest.approx(millimetre, abs=0.006)


def test_laminar_loss_is_poiseuille() -> None:
    # Source: Hagen-Poiseuille, 128 mu L Q / (pi d^4). Tolerance: rounding.
    flow, density, viscosity, length, bore = 1.0e-4, 720.0, 0.5e-3, 1.0, 2.0e-3
    expected = 128.0 * viscosity * length * (flow / density) / (3.141592653589793 * bore**4)
    assert lines.pipe_loss_pa(flow, density, viscosity, length, bore) == pytest.approx(expected, rel=1e-9)


def test_turbulent_loss_agrees_with_blasius() -> None:
    # Source: Blasius, f = 0.3164 Re^-0.25, smooth tubes below Reynolds 1e5 (any fluids text). Tolerance 3 %,
    # its own.
    flow, density, viscosity, length, bore = 0.05, 785.0, 5.0e-4, 4.0, 4.8e-3
    speed = lines.velocity_m_s(flow, density, bore)
    reynolds = density * speed * bore / viscosity
    expected = 0.3164 * reynolds**-0.25 * length / bore * density * speed**2 / 2.0
    assert 5.0e3 < reynolds < 1.0e5
    assert lines.pipe_loss_pa(flow, density, viscosity, length, bore, roughness_m=0.0) == pytest.approx(
        expected, rel=0.03
    )
