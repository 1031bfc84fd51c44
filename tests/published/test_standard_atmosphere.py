"""Standard atmosphere, against the standard's own values and two independent libraries."""

import pytest
from ambiance import Atmosphere  # type: ignore[import-untyped]
from fluids.atmosphere import ATMOSPHERE_1976

from oxlatch_sim.physics import atmosphere

FOOT_M = 0.3048
EARTH_RADIUS_M = 6_356_766.0

# ft (geopotential), degC, hPa, inHg, density ratio: ICAO Doc 7488 / ISO 2533, computed from their closed form
TABLE = [
    (0, 15.00, 1013.25, 29.921, 1.0000),
    (1000, 13.02, 977.17, 28.856, 0.97106),
    (2000, 11.04, 942.13, 27.821, 0.94277),
    (3000, 9.06, 908.12, 26.817, 0.91512),
    (5000, 5.09, 843.07, 24.896, 0.86167),
    (8000, -0.85, 752.62, 22.225, 0.78602),
    (10000, -4.81, 696.82, 20.577, 0.73848),
    (12500, -9.76, 631.82, 18.658, 0.68219),
    (15000, -14.72, 571.82, 16.886, 0.62924),
    (18000, -20.66, 506.00, 14.942, 0.56991),
    (20000, -24.62, 465.63, 13.750, 0.53281),
    (25000, -34.53, 376.01, 11.104, 0.44812),
]


@pytest.mark.parametrize(("feet", "celsius", "hpa", "inches", "ratio"), TABLE)
def test_standard_table(feet: float, celsius: float, hpa: float, inches: float, ratio: float) -> None:
    # Tolerance: half of the last printed digit, rounded up.
    altitude = feet * FOOT_M
    assert atmosphere.standard_temperature_k(altitude) - 273.15 == pytest.approx(celsius, abs=0.006)
    assert atmosphere.standard_pressure_pa(altitude) / 100.0 == pytest.approx(hpa, abs=0.006)
    mercury = atmosphere.standard_pressure_pa(altitude) / atmosphere.INCH_OF_MERCURY_PA
    assert mercury == pytest.approx(inches, abs=0.0006)
    assert atmosphere.standard_density_ratio(altitude) == pytest.approx(ratio, abs=0.000006)


def test_tropopause() -> None:
    # Source: the 1976 standard as quoted at av8n.com/physics/altimetry.htm (read): 216.65 K, 22632.1 Pa,
    # 0.363918 kg/m3. Tolerance: half of the last digit; pressure 0.5 Pa, its sixth digit.
    assert atmosphere.standard_temperature_k(11_000.0) == pytest.approx(216.65, abs=1e-9)
    assert atmosphere.standard_pressure_pa(11_000.0) == pytest.approx(22_632.1, abs=0.5)
    assert atmosphere.standard_density_kg_m3(11_000.0) == pytest.approx(0.363918, abs=5e-6)


def test_exponent_and_scale() -> None:
    # Source: the 1976 standard as quoted at a university page (scipp.ucsc.edu, read): exponent 5.255876,
    # scale height 145442 ft. Tolerance: one part in a million for the rounding of the gas constant; half of
    # the last digit in feet.
    assert pytest.approx(5.255876, rel=1e-6) == atmosphere.EXPONENT
    scale_m = atmosphere.SEA_LEVEL_TEMPERATURE_K / atmosphere.LAPSE_K_M
    assert scale_m / FOOT_M == pytest.approx(145_442.0, abs=0.5)


@pytest.mark.parametrize("altitude_m", [-500.0, 0.0, 1950.0, 4000.0, 7620.0, 10_900.0])
def test_two_libraries_agree(altitude_m: float) -> None:
    # Computed with ambiance 1.3.1 and fluids 1.3.1, which take geometric altitude. Tolerance 0.001 %:
    # rounding of their constants.
    geometric_m = EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M - altitude_m)
    icao = Atmosphere(geometric_m)
    us76 = ATMOSPHERE_1976(geometric_m)
    for temperature, pressure, density in (
        (icao.temperature[0], icao.pressure[0], icao.density[0]),
        (us76.T, us76.P, us76.rho),
    ):
        assert atmosphere.standard_temperature_k(altitude_m) == pytest.approx(temperature, rel=1e-5)
        assert atmosphere.standard_pressure_pa(altitude_m) == pytest.approx(pressure, rel=1e-5)
        assert atmosphere.standard_density_kg_m3(altitude_m) == pytest.approx(density, rel=1e-5)
