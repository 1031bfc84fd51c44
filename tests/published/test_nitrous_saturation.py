"""Nitrous oxide on the saturation line, against three sources.

1. REFPROP fluid header N2O.FLD (read): fixed points of the Lemmon-Span equation.
2. ESDU 91022 correlations (secondary: coefficients identical in four public files): an independent fit.
3. A table computed with CoolProp 8.0.0. Our functions call the same library, so this guards our call, our
   units and the library's version, not the equation itself.
"""

import math

import pytest

from oxlatch_sim.physics import nitrous

KELVIN = 273.15
PSI_PA = 6894.757

# degC, bar, kg/m3, kg/m3, kJ/kg, m/s: computed with CoolProp 8.0.0
SATURATION = [
    (-20.0, 17.971, 998.1, 46.73, 276.5, 696),
    (-10.0, 23.934, 954.9, 63.29, 256.1, 629),
    (0.0, 31.221, 907.1, 85.17, 232.7, 559),
    (10.0, 40.012, 852.2, 114.9, 204.9, 484),
    (15.0, 45.037, 820.7, 134.2, 188.6, 443),
    (20.0, 50.525, 785.1, 158.0, 169.9, 399),
    ((70.0 - 32.0) / 1.8, 51.811, 776.4, 164.1, 165.3, 389),
    (25.0, 56.518, 742.9, 188.8, 147.6, 351),
    (30.0, 63.075, 688.1, 232.7, 118.4, 295),
    (35.0, 70.307, 589.5, 320.7, 67.0, 222),
]


@pytest.mark.parametrize(("celsius", "bar", "liquid", "vapour", "latent_kj", "sound"), SATURATION)
def test_saturation_table(
    celsius: float, bar: float, liquid: float, vapour: float, latent_kj: float, sound: float
) -> None:
    # Tolerance: half of the last printed digit.
    temperature = celsius + KELVIN
    assert nitrous.saturation_pressure_pa(temperature) / 1e5 == pytest.approx(bar, abs=0.0006)
    assert nitrous.liquid_density_kg_m3(temperature) == pytest.approx(liquid, abs=0.06)
    assert nitrous.vapour_density_kg_m3(temperature) == pytest.approx(vapour, abs=0.06)
    assert nitrous.latent_heat_j_kg(temperature) / 1e3 == pytest.approx(latent_kj, abs=0.06)
    assert nitrous.liquid_sound_speed_m_s(temperature) == pytest.approx(sound, abs=0.6)


def test_normal_boiling_point() -> None:
    # Source: REFPROP N2O.FLD header, 184.68 K (read). Tolerance: half of the last digit.
    assert nitrous.saturation_temperature_k(101_325.0) == pytest.approx(184.68, abs=0.006)


def test_molar_mass_and_critical_point() -> None:
    # Source: REFPROP N2O.FLD header: 44.0128 g/mol, 309.52 K, 7.245 MPa, 10.27 mol/L, triple point 182.33 K
    # (read).
    assert pytest.approx(0.0440128) == nitrous.MOLAR_MASS_KG_MOL
    assert nitrous.CRITICAL_TEMPERATURE_K == 309.52
    assert nitrous.CRITICAL_PRESSURE_PA == 7.245e6
    # 10.27 mol/L is given to four digits: tolerance 0.05 %.
    assert pytest.approx(10.27e3 * 0.0440128, rel=5e-4) == nitrous.CRITICAL_DENSITY_KG_M3
    assert nitrous.TRIPLE_TEMPERATURE_K == 182.33


def esdu_pressure_pa(temperature_k: float) -> float:
    """ESDU 91022 vapour pressure; 1/Tr multiplies the whole bracket (not so in one public copy)."""
    reduced = temperature_k / 309.57
    tau = 1.0 - reduced
    bracket = -6.71893 * tau + 1.35966 * tau**1.5 - 1.3779 * tau**2.5 - 4.051 * tau**5
    return 7.251e6 * math.exp(bracket / reduced)


def esdu_liquid_density(temperature_k: float) -> float:
    """ESDU 91022 saturated liquid density, kg/m3."""
    tau = 1.0 - temperature_k / 309.57
    terms = 1.72328 * tau ** (1 / 3) - 0.83950 * tau ** (2 / 3) + 0.51060 * tau - 0.10412 * tau ** (4 / 3)
    return 452.0 * math.exp(terms)


def esdu_vapour_density(temperature_k: float) -> float:
    """ESDU 91022 saturated vapour density, kg/m3."""
    b = 309.57 / temperature_k - 1.0
    terms = (
        -1.00900 * b ** (1 / 3)
        - 6.28792 * b ** (2 / 3)
        + 7.50332 * b
        - 7.90463 * b ** (4 / 3)
        + 0.629427 * b ** (5 / 3)
    )
    return 452.0 * math.exp(terms)


@pytest.mark.parametrize("celsius", [-20.0, -10.0, 0.0, 10.0, 15.0, 20.0, 25.0, 28.0])
def test_an_independent_correlation_agrees(celsius: float) -> None:
    # Source: ESDU 91022 (secondary). Tolerance: what two fits of the same measurements differ by, below 28
    # degC: pressure 0.3 %, liquid density 0.5 %, vapour density 1.3 %.
    temperature = celsius + KELVIN
    assert nitrous.saturation_pressure_pa(temperature) == pytest.approx(
        esdu_pressure_pa(temperature), rel=0.003
    )
    assert nitrous.liquid_density_kg_m3(temperature) == pytest.approx(
        esdu_liquid_density(temperature), rel=0.005
    )
    assert nitrous.vapour_density_kg_m3(temperature) == pytest.approx(
        esdu_vapour_density(temperature), rel=0.013
    )


def test_pressure_gradient_at_20_degc() -> None:
    # Computed with CoolProp 8.0.0: 16.6 psi per kelvin. Tolerance: half of the last digit.
    rise = nitrous.saturation_pressure_pa(20.5 + KELVIN) - nitrous.saturation_pressure_pa(19.5 + KELVIN)
    assert rise / PSI_PA == pytest.approx(16.6, abs=0.06)


def test_a_gauge_taken_for_absolute_costs_one_degree() -> None:
    # Computed with CoolProp 8.0.0: 14.7 psi is 0.9 K of bottle temperature near 20 degC. Tolerance: half a
    # digit.
    high = nitrous.saturation_temperature_k(50.525e5)
    low = nitrous.saturation_temperature_k(50.525e5 - 14.7 * PSI_PA)
    assert high - low == pytest.approx(0.9, abs=0.06)
