"""How near the end gas comes to igniting by itself: one condition compared with another.

The end gas is compressed by the piston and by the burned gas. Its pressure follows a polytrope until the spark and
then a burn that reaches the estimated peak pressure; its temperature follows the pressure isentropically. The
Livengood-Wu integral of that history against the Douaud-Eyzat delay gives the octane number at which the integral
would be 1.

Source of integral and delay: Livengood and Wu, 5th Symposium on Combustion (1955); Douaud and Eyzat, SAE 780080 (1978).
The burn's shape and length and the temperature of the trapped charge are judgement: use differences, not values.
"""

import math
from dataclasses import dataclass

from oxlatch_sim.physics import engine

EXPONENT = 1.33
OCTANE_POWER = 3.402  # of the delay, Douaud and Eyzat
OCTANE_PER_DEGREE = 1.0  # Russ, SAE 960497, quoted
ROD_RATIO = 3.5  # connecting rod over crank radius: usual proportions
BURN_DEGREES = 50.0
BURNED_AT_END = 0.85
CLOSING_DEGREES = -130.0
COLDEST_COUNTED_K = 500.0
STEP_DEGREES = 1.0


@dataclass(frozen=True)
class Condition:
    """One way the engine is run."""

    speed_rpm: float
    intake_pa: float
    charge_k: float
    peak_pa: float
    compression_ratio: float
    spark_degrees: float


def volume_ratio(degrees: float, compression_ratio: float) -> float:
    """Cylinder volume over clearance volume, crank degrees from top dead centre."""
    angle = math.radians(degrees)
    travel = 1 - math.cos(angle) + ROD_RATIO - math.sqrt(ROD_RATIO**2 - math.sin(angle) ** 2)
    return 1 + 0.5 * (compression_ratio - 1) * travel


def burned_share(degrees: float, spark_degrees: float) -> float:
    """Wiebe burn (a = 5, m = 2) beginning at the spark."""
    progress = (degrees + spark_degrees) / BURN_DEGREES
    return 0.0 if progress <= 0 else 1 - math.exp(-5 * min(progress, 1.0) ** 3)


def end_gas(condition: Condition) -> tuple[list[float], list[float], list[float]]:
    """Times, pressures and temperatures of the end gas from where it is hot enough to count until little is left."""
    reference = volume_ratio(CLOSING_DEGREES, condition.compression_ratio)
    scale = _burn_scale_pa(condition, reference)
    times, pressures, temperatures = [], [], []
    degrees = CLOSING_DEGREES
    while degrees < 90 and burned_share(degrees, condition.spark_degrees) < BURNED_AT_END:
        pressure = _pressure_pa(condition, degrees, reference, scale)
        temperature = condition.charge_k * (pressure / condition.intake_pa) ** (1 - 1 / EXPONENT)
        if temperature >= COLDEST_COUNTED_K:
            times.append(degrees / (6 * condition.speed_rpm))
            pressures.append(pressure)
            temperatures.append(temperature)
        degrees += STEP_DEGREES
    return times, pressures, temperatures


def _pressure_pa(condition: Condition, degrees: float, reference: float, scale_pa: float) -> float:
    volume = volume_ratio(degrees, condition.compression_ratio)
    motored = condition.intake_pa * (reference / volume) ** EXPONENT
    return motored + scale_pa * burned_share(degrees, condition.spark_degrees) / volume**EXPONENT


def _burn_scale_pa(condition: Condition, reference: float) -> float:
    """Pressure that burning everything at clearance volume would add, so that the largest pressure is the estimate."""
    low, high = 0.0, 4 * condition.peak_pa
    for _ in range(40):
        middle = (low + high) / 2
        peak = max(_pressure_pa(condition, float(degrees), reference, middle) for degrees in range(-30, 61, 2))
        low, high = (middle, high) if peak < condition.peak_pa else (low, middle)
    return (low + high) / 2


def needed_octane(condition: Condition) -> float:
    """Octane number at which the integral is 1."""
    integral = engine.knock_integral(*end_gas(condition), 100.0)
    return float(100.0 * integral ** (1 / OCTANE_POWER))
