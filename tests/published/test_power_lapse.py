"""Power lapse with altitude, and correction of measured power to standard air."""

import pytest

from oxlatch_sim.physics import atmosphere, engine

FOOT_M = 0.3048
KELVIN = 273.15


@pytest.mark.parametrize(
    ("feet", "lapse"),
    [
        (0, 1.0000),
        (1000, 0.9672),
        (2000, 0.9352),
        (3000, 0.9039),
        (5000, 0.8433),
        (8000, 0.7577),
        (10000, 0.7038),
        (12500, 0.6401),
        (15000, 0.5801),
        (18000, 0.5129),
        (20000, 0.4709),
        (25000, 0.3750),
    ],
)
def test_gagg_and_farrar(feet: float, lapse: float) -> None:
    # Source: Gagg and Farrar, SAE Trans. 29 (1934) 217-225 (secondary), in the standard atmosphere.
    # Tolerance: half of the last digit.
    ratio = atmosphere.standard_density_ratio(feet * FOOT_M)
    assert engine.gagg_farrar_lapse(ratio) == pytest.approx(lapse, abs=6e-5)


def test_gagg_and_farrar_at_half_density() -> None:
    # The same source in its other form, (sigma - 0.117) / 0.883: 0.434. Tolerance: half of the last digit.
    assert engine.gagg_farrar_lapse(0.5) == pytest.approx(0.434, abs=6e-4)


def test_the_two_lapse_methods_agree_within_8_percent_up_to_10_000_ft() -> None:
    # Common practice, no source, that both are used. Asserted: the friction-free one is the higher one aloft,
    # by at most 8 % of sea-level power (computed), so neither may be used alone where a ceiling depends on
    # it.
    for feet in (2000.0, 5000.0, 8000.0, 10_000.0):
        altitude = feet * FOOT_M
        gagg = engine.gagg_farrar_lapse(atmosphere.standard_density_ratio(altitude))
        plain = engine.pressure_temperature_lapse(
            atmosphere.standard_pressure_pa(altitude), atmosphere.standard_temperature_k(altitude)
        )
        assert gagg < plain < gagg + 0.08


@pytest.mark.parametrize(
    ("hpa", "celsius", "factor"),
    [
        (990.0, 25.0, 1.000),
        (1013.25, 15.0, 0.9534),
        (990.0, 35.0, 1.0196),
        (900.0, 25.0, 1.118),
        (850.0, 20.0, 1.1828),
    ],
)
def test_sae_j1349(hpa: float, celsius: float, factor: float) -> None:
    # Source: SAE J1349 (June 1990) formula (read in a copy); values computed from it. Tolerance: half of the
    # last digit.
    assert engine.j1349_factor(hpa * 100.0, celsius + KELVIN) == pytest.approx(factor, abs=6e-5)


@pytest.mark.parametrize(
    ("fahrenheit", "humidity", "inches", "factor"), [(85.0, 0.85, 28.85, 1.1011), (55.0, 0.35, 30.10, 0.9943)]
)
def test_sae_j607(fahrenheit: float, humidity: float, inches: float, factor: float) -> None:
    # Computed from the SAE J607 form as quoted in dynamometer practice. Tolerance 0.1 %: the vapour pressure
    # formula behind the values is not stated.
    kelvin = (fahrenheit - 32.0) / 1.8 + KELVIN
    vapour = humidity * atmosphere.saturation_vapour_pressure_pa(kelvin)
    dry = inches * atmosphere.INCH_OF_MERCURY_PA - vapour
    assert engine.j607_factor(dry, kelvin) == pytest.approx(factor, rel=1e-3)


def test_j607_is_one_in_its_own_standard_air() -> None:
    # By definition: 29.92 inHg dry, 60 degF.
    kelvin = (60.0 - 32.0) / 1.8 + KELVIN
    assert engine.j607_factor(29.92 * atmosphere.INCH_OF_MERCURY_PA, kelvin) == pytest.approx(1.0, abs=1e-9)
