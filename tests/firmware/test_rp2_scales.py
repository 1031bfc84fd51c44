"""The integer tables of the slow sensors against the laws they stand for."""

from math import exp, log

import pytest
from thermocouple_its90 import TypeK

from oxlatch.boards.rp2_scales import THERMISTOR_DK, THERMOCOUPLE_DK, baro_dapa, from_table

FULL_MV = 5000.0
ONE_COUNT = 4096


def thermistor_counts(kelvin):
    """Converter counts of 10 kohm at 25 degC, B = 3435 K (a common part, by the law) under 10 kohm."""
    ohm = 10e3 * exp(3435.0 * (1.0 / kelvin - 1.0 / 298.15))
    return ohm / (ohm + 10e3) * ONE_COUNT


def thermocouple_counts(celsius):
    """Converter counts of an emf after ITS-90, 122 times amplified over 1.25 V."""
    return (1250.0 + 122.0 * TypeK.emf(celsius)) / FULL_MV * ONE_COUNT


# tolerance: half a count, at the worst a few hundredths of a kelvin, and the straight lines' 0.2 and 0.3 K
@pytest.mark.parametrize("celsius", range(-20, 61, 4))
def test_a_thermistor_reads_within_half_a_kelvin_over_the_temperatures_of_service(celsius):
    read = from_table(THERMISTOR_DK, round(thermistor_counts(celsius + 273.15)))
    assert abs(read / 10 - 273.15 - celsius) < 0.5


def test_a_cut_or_shorted_thermistor_reads_outside_what_the_firmware_takes_for_good():
    for counts in (0, 20, 4080, 4095):
        assert not 2132 <= from_table(THERMISTOR_DK, counts) <= 3732


@pytest.mark.parametrize("celsius", range(-98, 99, 7))
def test_a_thermocouple_reads_within_half_a_kelvin_from_boiling_oxidizer_to_a_hot_day(celsius):
    read = from_table(THERMOCOUPLE_DK, round(thermocouple_counts(celsius)))
    assert abs(read / 10 - 273.15 - celsius) < 0.5


def test_a_dead_amplifier_reads_outside_what_the_firmware_takes_for_good():
    for counts in (0, 4095):
        assert not 1732 <= from_table(THERMOCOUPLE_DK, counts) <= 3732


def test_tables_fall_and_rise_without_a_step_back():
    thermistor = [from_table(THERMISTOR_DK, counts) for counts in range(ONE_COUNT)]
    thermocouple = [from_table(THERMOCOUPLE_DK, counts) for counts in range(ONE_COUNT)]
    assert thermistor == sorted(thermistor, reverse=True)
    assert thermocouple == sorted(thermocouple)


def test_a_barometer_reads_its_line_and_never_below_zero():
    # 0.5 V is 20 kPa, 4.5 V is 120 kPa: a line of 25 Pa per millivolt
    assert [baro_dapa(mv) for mv in (500, 2500, 4500)] == [2000, 7000, 12000]
    assert baro_dapa(0) == 750
    assert baro_dapa(-900) == 0
    assert abs(log(baro_dapa(3753) / 10133)) < 1e-3  # standard sea level
