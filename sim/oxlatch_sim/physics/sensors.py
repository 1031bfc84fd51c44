"""What a sensor puts out for what it measures, and back.

Sources: ratiometric 10 to 90 % of supply, common practice; thermistor beta equation, any electronics text;
type K reference function, NIST Monograph 175 (ITS-90).
"""

import math

from scipy.optimize import brentq

from oxlatch_sim.physics.validity import require_positive, require_range

RATIO_LOW = 0.1
RATIO_SPAN = 0.8
# From memory: the usual bands, at a 5 V supply, outside which a reading is a wiring fault.
FAULT_LOW_V = 0.25
FAULT_HIGH_V = 4.75
THERMISTOR_OHM = 10_000.0
THERMISTOR_BETA_K = 3950.0
THERMISTOR_REFERENCE_K = 298.15
CELSIUS_K = 273.15
TYPE_K_LOW_K = CELSIUS_K - 200.0
TYPE_K_HIGH_K = CELSIUS_K + 1372.0
# NIST Monograph 175, type K, mV from degC: below and above 0 degC.
_TYPE_K_COLD = (
    0.0,
    3.9450128025e-2,
    2.3622373598e-5,
    -3.2858906784e-7,
    -4.9904828777e-9,
    -6.7509059173e-11,
    -5.7410327428e-13,
    -3.1088872894e-15,
    -1.0451609365e-17,
    -1.9889266878e-20,
    -1.6322697486e-23,
)
_TYPE_K_WARM = (
    -1.7600413686e-2,
    3.8921204975e-2,
    1.8558770032e-5,
    -9.9457592874e-8,
    3.1840945719e-10,
    -5.6072844889e-13,
    5.6075059059e-16,
    -3.2020720003e-19,
    9.7151147152e-23,
    -1.2104721275e-26,
)
_TYPE_K_BUMP_MV = 0.1185976
_TYPE_K_BUMP_PER_C2 = -1.183432e-4
_TYPE_K_BUMP_C = 126.9686


def transducer_voltage_v(pressure_pa: float, full_scale_pa: float, supply_v: float) -> float:
    """Output, V, of a ratiometric transducer: 10 % of supply at zero, 90 % at full scale; -10 to 110 % of
    range.

    Pressure and full scale share one reference, gauge or absolute.
    """
    share = pressure_pa / require_positive("full scale", full_scale_pa, "Pa")
    require_range("pressure over full scale", share, -0.1, 1.1)
    return _supply(supply_v) * (RATIO_LOW + RATIO_SPAN * share)


def transducer_pressure_pa(voltage_v: float, full_scale_pa: float, supply_v: float) -> float:
    """Pressure, Pa, from the output of a ratiometric transducer; the inverse of `transducer_voltage_v`."""
    share = (voltage_v / _supply(supply_v) - RATIO_LOW) / RATIO_SPAN
    require_range("pressure over full scale", share, -0.13, 1.13)
    return share * require_positive("full scale", full_scale_pa, "Pa")


def transducer_step_pa(full_scale_pa: float, bits: int) -> float:
    """Pressure, Pa, of one count of a converter of 8 to 24 bits that shares the transducer's supply."""
    require_range("converter width", float(bits), 8.0, 24.0, "bit")
    return require_positive("full scale", full_scale_pa, "Pa") / (RATIO_SPAN * 2.0**bits)


def transducer_is_faulty(voltage_v: float, supply_v: float) -> bool:
    """Whether the output lies outside 5 to 95 % of supply, where only a wiring fault can put it."""
    share = voltage_v / _supply(supply_v)
    return not FAULT_LOW_V / 5.0 <= share <= FAULT_HIGH_V / 5.0


def thermistor_ohm(
    temperature_k: float, reference_ohm: float = THERMISTOR_OHM, beta_k: float = THERMISTOR_BETA_K
) -> float:
    """Resistance, ohm, of a thermistor of `reference_ohm` at 25 degC, 220 to 420 K: R exp(B (1/T -
    1/298.15)).
    """
    require_range("thermistor temperature", temperature_k, 220.0, 420.0, "K")
    require_positive("thermistor reference resistance", reference_ohm, "ohm")
    require_range("thermistor beta", beta_k, 2000.0, 6000.0, "K")
    return reference_ohm * math.exp(beta_k * (1.0 / temperature_k - 1.0 / THERMISTOR_REFERENCE_K))


def thermistor_k(
    resistance_ohm: float, reference_ohm: float = THERMISTOR_OHM, beta_k: float = THERMISTOR_BETA_K
) -> float:
    """Temperature, K, of a thermistor, 220 to 420 K; the inverse of `thermistor_ohm`."""
    require_positive("thermistor reference resistance", reference_ohm, "ohm")
    require_range("thermistor beta", beta_k, 2000.0, 6000.0, "K")
    share = require_positive("thermistor resistance", resistance_ohm, "ohm") / reference_ohm
    inverse = 1.0 / THERMISTOR_REFERENCE_K + math.log(share) / beta_k
    return require_range(
        "thermistor temperature", 1.0 / require_positive("1/T", inverse, "1/K"), 220.0, 420.0, "K"
    )


def type_k_voltage_v(junction_k: float, cold_junction_k: float = CELSIUS_K) -> float:
    """Output, V, of a type K couple, both junctions at -200 to 1372 degC."""
    return (_type_k_mv(junction_k) - _type_k_mv(cold_junction_k)) / 1000.0


def type_k_k(voltage_v: float, cold_junction_k: float = CELSIUS_K) -> float:
    """Junction temperature, K, from output, V, and cold junction; the inverse of `type_k_voltage_v`."""
    wanted_mv = voltage_v * 1000.0 + _type_k_mv(cold_junction_k)
    require_range("type K output", wanted_mv, _type_k_mv(TYPE_K_LOW_K), _type_k_mv(TYPE_K_HIGH_K), "mV")
    return float(
        brentq(lambda kelvin: _type_k_mv(kelvin) - wanted_mv, TYPE_K_LOW_K, TYPE_K_HIGH_K, xtol=1.0e-6)
    )


def _type_k_mv(junction_k: float) -> float:
    celsius = require_range("type K junction", junction_k, TYPE_K_LOW_K, TYPE_K_HIGH_K, "K") - CELSIUS_K
    coefficients = _TYPE_K_COLD if celsius < 0.0 else _TYPE_K_WARM
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * celsius + coefficient
    if celsius < 0.0:
        return total
    return total + _TYPE_K_BUMP_MV * math.exp(_TYPE_K_BUMP_PER_C2 * (celsius - _TYPE_K_BUMP_C) ** 2)


def _supply(supply_v: float) -> float:
    return require_range("sensor supply", supply_v, 2.0, 6.0, "V")
