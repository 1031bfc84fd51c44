"""Thermocouple, transducer and thermistor curves."""

import pytest
from thermocouple_its90 import TypeK

from oxlatch_sim.physics import sensors

KELVIN = 273.15
PSI_PA = 6894.757
FULL_SCALE_PA = 1600.0 * PSI_PA

TYPE_K = [
    (-40.0, -1.527),
    (20.0, 0.798),
    (25.0, 1.000),
    (100.0, 4.096),
    (200.0, 8.138),
    (260.0, 10.561),
    (300.0, 12.209),
    (400.0, 16.397),
    (500.0, 20.644),
    (600.0, 24.906),
    (700.0, 29.129),
    (800.0, 33.275),
    ((1600.0 - 32.0) / 1.8, 36.166),
    (900.0, 37.326),
    (1000.0, 41.276),
    (1100.0, 45.119),
]


@pytest.mark.parametrize(("celsius", "millivolt"), TYPE_K)
def test_type_k_reference_table(celsius: float, millivolt: float) -> None:
    # Source: NIST ITS-90 tables as carried by thermocouple-its90 1.0.2 (300 degC read, others computed with
    # it). Tolerance 0.001 mV, the tables' last digit.
    assert sensors.type_k_voltage_v(celsius + KELVIN) * 1e3 == pytest.approx(millivolt, abs=0.001)
    assert sensors.type_k_k(millivolt * 1e-3) - KELVIN == pytest.approx(celsius, abs=0.03)


def test_type_k_over_its_whole_range() -> None:
    # Computed with thermocouple-its90 1.0.2. Tolerance: rounding of the published coefficients, 1e-6 mV.
    for celsius in range(-200, 1372, 4):
        ours = sensors.type_k_voltage_v(celsius + KELVIN) * 1e3
        assert ours == pytest.approx(TypeK.emf(float(celsius)), abs=1e-6)


def test_type_k_with_a_warm_cold_junction() -> None:
    # Source: example of the same library (read): 4.096 mV with the cold junction at 25 degC is 124.3 degC.
    # Half a digit.
    assert sensors.type_k_k(4.096e-3, 25.0 + KELVIN) - KELVIN == pytest.approx(124.3, abs=0.06)


@pytest.mark.parametrize(
    ("volt", "psi"), [(0.5, 0.0), (1.0, 200.0), (1.5, 400.0), (2.5, 800.0), (4.5, 1600.0)]
)
def test_ratiometric_transducer(volt: float, psi: float) -> None:
    # Common practice, no source: 10 to 90 % of supply over the range. Values by hand; tolerance: rounding.
    pressure = sensors.transducer_pressure_pa(volt, FULL_SCALE_PA, 5.0)
    assert pressure / PSI_PA == pytest.approx(psi, abs=1e-6)


def test_a_low_supply_misreads_unless_ratiometric() -> None:
    # Computed: at 4.9 V, 800 psi gives 2.45 V; read against 5.0 V that is 20 psi too low. Tolerance:
    # rounding.
    volt = sensors.transducer_voltage_v(800.0 * PSI_PA, FULL_SCALE_PA, 4.9)
    assert volt == pytest.approx(2.45)
    assert sensors.transducer_pressure_pa(volt, FULL_SCALE_PA, 5.0) / PSI_PA == pytest.approx(780.0, abs=1e-6)
    assert sensors.transducer_pressure_pa(volt, FULL_SCALE_PA, 4.9) / PSI_PA == pytest.approx(800.0, abs=1e-6)


@pytest.mark.parametrize(("bits", "psi"), [(12, 0.488), (10, 1.955)])
def test_converter_step(bits: int, psi: float) -> None:
    # Computed: 1600 psi over 80 % of the converter's span. Tolerance 0.1 %: 10 bits is 1.953 with 1024
    # counts, 1.955 with 1023.
    assert sensors.transducer_step_pa(FULL_SCALE_PA, bits) / PSI_PA == pytest.approx(psi, rel=1.1e-3)


@pytest.mark.parametrize(
    ("volt", "faulty"), [(0.0, True), (0.24, True), (0.26, False), (4.74, False), (4.76, True)]
)
def test_wiring_fault_bands(volt: float, faulty: bool) -> None:
    # From memory: below 0.25 V and above 4.75 V at a 5 V supply.
    assert sensors.transducer_is_faulty(volt, 5.0) is faulty


@pytest.mark.parametrize(
    ("celsius", "ohm"),
    [(-20, 105385), (0, 33621), (20, 12535), (25, 10000), (40, 5301), (50, 3588), (60, 2486)],
)
def test_thermistor_b3950(celsius: float, ohm: float) -> None:
    # Computed from the beta equation, 10 kohm at 25 degC, B 3950. Tolerance: half of the last digit.
    assert sensors.thermistor_ohm(celsius + KELVIN) == pytest.approx(ohm, abs=0.6)


@pytest.mark.parametrize(("celsius", "ohm"), [(0, 28704), (40, 5759), (50, 4101)])
def test_thermistor_b3435(celsius: float, ohm: float) -> None:
    # Computed from the beta equation, B 3435. Tolerance: half of the last digit.
    assert sensors.thermistor_ohm(celsius + KELVIN, beta_k=3435.0) == pytest.approx(ohm, abs=0.6)
