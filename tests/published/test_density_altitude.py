"""Pressure altitude and density altitude, with and without humidity."""

import pytest

from oxlatch_sim.physics import atmosphere

FOOT_M = 0.3048
KELVIN = 273.15

# inHg, degC, dew point degC: National Weather Service formula ft, exact ft, dry ft. Formula read in two
# copies (one converts degrees Rankine with 459.69); values computed from it and from the virtual temperature
# in the standard atmosphere.
EXAMPLES = [
    (24.896, 30.0, 10.0, 7993.0, 7979.0, 7801.0),
    (24.00, 35.0, 15.0, 9771.0, 9758.0, None),
    (28.85, 29.44, 26.7, 3359.0, 3343.0, 2888.0),
]


@pytest.mark.parametrize(("inches", "celsius", "dew", "nws", "exact", "dry"), EXAMPLES)
def test_density_altitude_examples(
    inches: float, celsius: float, dew: float, nws: float, exact: float, dry: float | None
) -> None:
    # Tolerance: 1 ft of rounding; 2 ft for the weather service formula, where 459.69 against 459.67 matters.
    pressure = inches * atmosphere.INCH_OF_MERCURY_PA
    temperature, dew_point = celsius + KELVIN, dew + KELVIN
    assert atmosphere.density_altitude_m(pressure, temperature, dew_point) / FOOT_M == pytest.approx(
        exact, abs=1.0
    )
    assert atmosphere.density_altitude_nws_m(pressure, temperature, dew_point) / FOOT_M == pytest.approx(
        nws, abs=2.0
    )
    if dry is not None:
        assert atmosphere.density_altitude_m(pressure, temperature) / FOOT_M == pytest.approx(dry, abs=1.0)


@pytest.mark.parametrize("inches", [22.0, 24.0, 26.0, 28.0, 29.92])
@pytest.mark.parametrize("celsius", [-10.0, 15.0, 35.0])
def test_the_weather_service_formula_cross_checks_the_exact_one(inches: float, celsius: float) -> None:
    # Tolerance 25 ft: the formula's own bias, +20 ft in the standard atmosphere at sea level (computed).
    pressure = inches * atmosphere.INCH_OF_MERCURY_PA
    temperature, dew_point = celsius + KELVIN, celsius - 8.0 + KELVIN
    exact = atmosphere.density_altitude_m(pressure, temperature, dew_point)
    formula = atmosphere.density_altitude_nws_m(pressure, temperature, dew_point)
    assert formula / FOOT_M == pytest.approx(exact / FOOT_M, abs=25.0)


def test_humidity_is_worth_up_to_450_ft() -> None:
    # Computed: 28.85 inHg, 29.44 degC, dew point 26.7 degC. Tolerance 10 ft, the rounding of "450".
    pressure = 28.85 * atmosphere.INCH_OF_MERCURY_PA
    moist = atmosphere.density_altitude_m(pressure, 29.44 + KELVIN, 26.7 + KELVIN)
    assert (moist - atmosphere.density_altitude_m(pressure, 29.44 + KELVIN)) / FOOT_M == pytest.approx(
        450.0, abs=10.0
    )


def test_the_pilots_rule() -> None:
    # Common practice, no source: 120 ft per kelvin. At 24.896 inHg (5000 ft) and 30 degC it gives 7986 ft
    # from the table temperature rounded to 5.09 degC, 7989 unrounded (computed): within 190 ft of the dry
    # exact value.
    pressure_altitude = atmosphere.pressure_altitude_m(24.896 * atmosphere.INCH_OF_MERCURY_PA)
    rule = atmosphere.density_altitude_by_rule_m(pressure_altitude, 30.0 + KELVIN)
    assert rule / FOOT_M == pytest.approx(7988.0, abs=3.0)


@pytest.mark.parametrize(("inches", "feet"), [(29.0, 862.0), (28.0, 1824.0), (25.0, 4886.0), (22.0, 8262.0)])
def test_pressure_altitude(inches: float, feet: float) -> None:
    # From memory: 145366.45 ft (1 - (p/1013.25 hPa)^0.190284), evaluated. Tolerance 0.05 %,
    # what its scale height differs from 288.15 K / 6.5 K per km by, and 0.5 ft of rounding.
    pressure = inches * atmosphere.INCH_OF_MERCURY_PA
    assert atmosphere.pressure_altitude_m(pressure) / FOOT_M == pytest.approx(feet, abs=5e-4 * feet + 0.5)


def test_altimeter_setting_shifts_pressure_altitude_by_about_1000_ft_an_inch() -> None:
    # Source: worked example of a flight training page (millionaire-lane.com, read): 5000 ft, 29.45 inHg ->
    # 5470 ft by the 1000 ft rule. Tolerance 40 ft: the exact slope near sea level is 925 ft an inch.
    pressure = atmosphere.station_pressure_pa(5000.0 * FOOT_M, 29.45 * atmosphere.INCH_OF_MERCURY_PA)
    assert atmosphere.pressure_altitude_m(pressure) / FOOT_M == pytest.approx(5470.0, abs=40.0)
