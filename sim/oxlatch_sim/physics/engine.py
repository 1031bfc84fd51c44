"""Power, mean pressures and loads of a four-stroke piston engine.

Nothing here says what an engine may bear: the engine maker does. The pressure and knock figures are estimates
to compare one condition with another.
"""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from oxlatch_sim.physics.atmosphere import (
    AIR_GAS_CONSTANT_J_KG_K,
    INCH_OF_MERCURY_PA,
    SEA_LEVEL_PRESSURE_PA,
    SEA_LEVEL_TEMPERATURE_K,
)
from oxlatch_sim.physics.validity import (
    PhysicsRangeError,
    require_not_negative,
    require_positive,
    require_range,
)

REVOLUTIONS_PER_CYCLE = 2.0
COMPRESSION_GAMMA = 1.33
BURNED_GAMMA = 1.20
INDICATED_OVER_IDEAL = 0.90
PEAK_BAND_LOW = 0.55
PEAK_BAND_HIGH = 0.70
ATMOSPHERE_PA = 101_325.0


class PeakPressure(NamedTuple):
    """Peak cylinder pressure: the ideal cycle's, an upper bound, and the band in which real ones are
    expected.
    """

    ideal_pa: float
    low_pa: float
    high_pa: float


def gagg_farrar_lapse(density_ratio: float) -> float:
    """Full-throttle power over its sea-level value: sigma - (1 - sigma) / 7.55, density ratio 0.2 to 1.25.

    Source: Gagg and Farrar, SAE Transactions 29 (1934) 217-225. Friction does not thin with the air.
    """
    require_range("density ratio", density_ratio, 0.2, 1.25)
    return density_ratio - (1.0 - density_ratio) / 7.55


def pressure_temperature_lapse(pressure_pa: float, temperature_k: float) -> float:
    """Full-throttle power over its standard sea-level value: p / p0 * sqrt(T0 / T).

    Source: common practice, the form behind SAE J607. Indicated power without friction, so it fades less with
    altitude than Gagg and Farrar. Range 200 to 1150 hPa, -40 to 60 degC.
    """
    require_range("air pressure", pressure_pa, 20_000.0, 115_000.0, "Pa")
    require_range("air temperature", temperature_k, 233.15, 333.15, "K")
    return pressure_pa / SEA_LEVEL_PRESSURE_PA * math.sqrt(SEA_LEVEL_TEMPERATURE_K / temperature_k)


def mean_effective_pressure_pa(power_w: float, displacement_m3: float, speed_rpm: float) -> float:
    """Mean effective pressure, Pa, that makes this power: 120 P / (V n), n in rpm.

    With brake power it is BMEP; with the power that boost adds it is the added BMEP.
    """
    require_not_negative("power", power_w, "W")
    return power_w * 60.0 * REVOLUTIONS_PER_CYCLE / (_displacement(displacement_m3) * _speed(speed_rpm))


def power_w(mean_effective_pressure: float, displacement_m3: float, speed_rpm: float) -> float:
    """Power, W, of a mean effective pressure, Pa; the inverse of `mean_effective_pressure_pa`."""
    require_not_negative("mean effective pressure", mean_effective_pressure, "Pa")
    return (
        mean_effective_pressure
        * _displacement(displacement_m3)
        * _speed(speed_rpm)
        / (60.0 * REVOLUTIONS_PER_CYCLE)
    )


def torque_n_m(power: float, speed_rpm: float) -> float:
    """Shaft torque, N m, from power, W, and speed, rpm."""
    return require_not_negative("power", power, "W") / (2.0 * math.pi * _speed(speed_rpm) / 60.0)


def mean_piston_speed_m_s(stroke_m: float, speed_rpm: float) -> float:
    """Mean piston speed, m/s: two strokes a revolution."""
    return 2.0 * require_range("stroke", stroke_m, 0.02, 0.3, "m") * _speed(speed_rpm) / 60.0


def friction_mean_effective_pressure_pa(speed_rpm: float) -> float:
    """Friction mean effective pressure, Pa: 0.97 + 0.15 n + 0.05 n^2 bar, n in thousand rpm, 500 to 6500 rpm.

    Source: Heywood, Internal Combustion Engine Fundamentals (secondary: quoted elsewhere); car engines.
    """
    krpm = require_range("engine speed", speed_rpm, 500.0, 6500.0, "rpm") / 1000.0
    return (0.97 + 0.15 * krpm + 0.05 * krpm**2) * 1.0e5


def air_flow_kg_s(
    displacement_m3: float,
    speed_rpm: float,
    volumetric_efficiency: float,
    intake_pa: float,
    intake_k: float,
) -> float:
    """Air an engine breathes, kg/s: swept volume every second turn, at intake density, times efficiency."""
    require_range("volumetric efficiency", volumetric_efficiency, 0.1, 1.3)
    require_range("intake pressure", intake_pa, 10_000.0, 300_000.0, "Pa")
    density = intake_pa / (
        AIR_GAS_CONSTANT_J_KG_K * require_range("intake temperature", intake_k, 200.0, 450.0, "K")
    )
    strokes_per_s = _speed(speed_rpm) / 60.0 / REVOLUTIONS_PER_CYCLE
    return volumetric_efficiency * density * _displacement(displacement_m3) * strokes_per_s


def ideal_peak_pressure_pa(intake_pa: float, compression_ratio: float, ideal_imep_pa: float) -> float:
    """Peak pressure, Pa, of a constant-volume cycle that yields this indicated mean effective pressure.

    p1 r^1.33 + imep (g - 1)(r - 1) / (1 - r^(1 - g)) with g = 1.20 for burned gas: the pressure rise of heat
    added at top dead centre, per unit of work it yields. Within 2 % of the equilibrium fuel-air cycle at
    ratio 8.5. Range: ratio 6 to 12, intake 0.3 to 2 bar, imep up to 40 bar.
    """
    require_range("intake pressure", intake_pa, 3.0e4, 2.0e5, "Pa")
    require_range("compression ratio", compression_ratio, 6.0, 12.0)
    require_range("ideal mean effective pressure", ideal_imep_pa, 0.0, 4.0e6, "Pa")
    efficiency = 1.0 - math.pow(compression_ratio, 1.0 - BURNED_GAMMA)
    rise_per_imep = (BURNED_GAMMA - 1.0) * (compression_ratio - 1.0) / efficiency
    return intake_pa * math.pow(compression_ratio, COMPRESSION_GAMMA) + ideal_imep_pa * rise_per_imep


def peak_pressure_estimate(
    brake_mean_effective_pressure_pa: float, speed_rpm: float, intake_pa: float, compression_ratio: float
) -> PeakPressure:
    """Peak cylinder pressure from brake mean effective pressure: the ideal figure and the expected band.

    Friction is added, and indicated work taken as 0.90 of the ideal cycle's; real peaks as 0.55 to 0.70 of
    the ideal one. Both shares are from memory: compare conditions with it, do not approve one by it.
    """
    require_not_negative("brake mean effective pressure", brake_mean_effective_pressure_pa, "Pa")
    indicated_pa = brake_mean_effective_pressure_pa + friction_mean_effective_pressure_pa(speed_rpm)
    ideal_pa = ideal_peak_pressure_pa(intake_pa, compression_ratio, indicated_pa / INDICATED_OVER_IDEAL)
    return PeakPressure(ideal_pa, PEAK_BAND_LOW * ideal_pa, PEAK_BAND_HIGH * ideal_pa)


def j1349_factor(dry_pressure_pa: float, temperature_k: float) -> float:
    """Correction of brake power to 990 hPa dry and 25 degC: 1.18 (990/pd) sqrt(T/298) - 0.18, pd in hPa.

    Source: SAE J1349 (June 1990), read as quoted; 700 to 1100 hPa, -20 to 50 degC. It writes 0 degC as 273 K.
    """
    require_range("dry air pressure", dry_pressure_pa, 70_000.0, 110_000.0, "Pa")
    celsius = require_range("air temperature", temperature_k, 253.15, 323.15, "K") - 273.15
    return 1.18 * (99_000.0 / dry_pressure_pa) * math.sqrt((celsius + 273.0) / 298.0) - 0.18


def j607_factor(dry_pressure_pa: float, temperature_k: float) -> float:
    """Correction of brake power to 29.92 inHg dry and 60 degF: (29.92 / pd) sqrt((F + 460) / 520).

    Source: SAE J607 as quoted in dynamometer practice; 700 to 1100 hPa, -20 to 50 degC.
    """
    require_range("dry air pressure", dry_pressure_pa, 70_000.0, 110_000.0, "Pa")
    fahrenheit = 1.8 * (require_range("air temperature", temperature_k, 253.15, 323.15, "K") - 273.15) + 32.0
    return 29.92 / (dry_pressure_pa / INCH_OF_MERCURY_PA) * math.sqrt((fahrenheit + 460.0) / 520.0)


def ignition_delay_s(octane: float, pressure_pa: float, temperature_k: float) -> float:
    """Delay before end gas ignites by itself, s: 17.68e-3 (ON/100)^3.402 p^-1.7 exp(3800/T), p in atm.

    Source: Douaud and Eyzat, SAE 780080 (1978) (secondary, two quotations agree). Range: octane 80 to 130, 1
    to 200 atm, 500 to 1500 K.
    """
    require_range("octane number", octane, 80.0, 130.0)
    atmospheres = require_range("end gas pressure", pressure_pa, ATMOSPHERE_PA, 200.0 * ATMOSPHERE_PA, "Pa")
    atmospheres /= ATMOSPHERE_PA
    require_range("end gas temperature", temperature_k, 500.0, 1500.0, "K")
    octane_factor = math.pow(octane / 100.0, 3.402)
    return 17.68e-3 * octane_factor * math.pow(atmospheres, -1.7) * math.exp(3800.0 / temperature_k)


def knock_integral(
    times_s: Sequence[float], pressures_pa: Sequence[float], temperatures_k: Sequence[float], octane: float
) -> float:
    """Livengood-Wu integral of dt / delay over an end gas history, by trapezoids; 1 or more means knock.

    Errors: `PhysicsRangeError` for histories of unequal or too short length or times that do not rise.
    """
    if not len(times_s) == len(pressures_pa) == len(temperatures_k) or len(times_s) < 2:
        raise PhysicsRangeError(
            "end gas history needs two or more times with one pressure and temperature each"
        )
    rates = [
        1.0 / ignition_delay_s(octane, pressure, temperature)
        for pressure, temperature in zip(pressures_pa, temperatures_k, strict=True)
    ]
    total = 0.0
    for (start, end), (before, after) in zip(pairwise(times_s), pairwise(rates), strict=True):
        total += require_positive("time step of end gas history", end - start, "s") * (before + after) / 2.0
    return total


def _displacement(displacement_m3: float) -> float:
    return require_range("displacement", displacement_m3, 1.0e-4, 0.1, "m3")


def _speed(speed_rpm: float) -> float:
    return require_range("engine speed", speed_rpm, 100.0, 10_000.0, "rpm")
