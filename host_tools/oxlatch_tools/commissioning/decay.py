"""Pressure decay of a shut volume of gas, corrected for temperature, with its uncertainty.

Ideal gas at constant volume: p/T is constant, so a reading is brought to the first temperature by T0/T.
The uncertainty is that of the difference of two readings, each with the stated standard uncertainty of
pressure and temperature, combined in quadrature; the band printed is twice that (about 95 %).
"""

import math
from dataclasses import dataclass
from typing import Literal

COVERAGE = 2.0
ABSOLUTE_ZERO_K = 150.0  # a temperature below this is not a test in a shed: the column is in the wrong unit
Verdict = Literal["holds", "leaks", "not decided"]


@dataclass(frozen=True)
class Decay:
    """Corrected drop over the test and its band (Pa), duration (s), leak rate (Pa m3/s) where the volume is known."""

    drop_pa: float
    band_pa: float
    duration_s: float
    leak_pa_m3_s: float | None

    def verdict(self, allowed_pa: float) -> Verdict:
        """Against an allowed drop over the same time: decided only when the whole band lies on one side."""
        if self.drop_pa + self.band_pa <= allowed_pa:
            return "holds"
        if self.drop_pa - self.band_pa > allowed_pa:
            return "leaks"
        return "not decided"


def corrected_decay(
    times_s: list[float],
    pressures_pa: list[float],
    temperatures_k: list[float],
    pressure_uncertainty_pa: float,
    temperature_uncertainty_k: float,
    volume_m3: float | None = None,
) -> Decay:
    """Drop between the means of the first and last tenth of a log. Absolute pressures.

    Raises ValueError for fewer than two readings, unequal lengths, time that does not advance, or values
    that cannot be absolute pressure and temperature.
    """
    count = len(times_s)
    if count < 2 or len(pressures_pa) != count or len(temperatures_k) != count:
        raise ValueError("pressure decay needs at least two readings of time, pressure and temperature each")
    if times_s[-1] <= times_s[0]:
        raise ValueError("pressure decay: the time does not advance")
    if min(pressures_pa) <= 0.0 or min(temperatures_k) < ABSOLUTE_ZERO_K:
        raise ValueError("pressure decay needs absolute pressures above 0 Pa and temperatures above 150 K")
    tenth = max(1, count // 10)
    first_p, last_p = _mean(pressures_pa[:tenth]), _mean(pressures_pa[-tenth:])
    first_t, last_t = _mean(temperatures_k[:tenth]), _mean(temperatures_k[-tenth:])
    corrected = last_p * first_t / last_t
    relative = math.hypot(temperature_uncertainty_k / first_t, temperature_uncertainty_k / last_t)
    sigma = math.hypot(math.sqrt(2.0) * pressure_uncertainty_pa, corrected * relative)
    duration = _mean(times_s[-tenth:]) - _mean(times_s[:tenth])
    drop = first_p - corrected
    leak = None if volume_m3 is None else volume_m3 * drop / duration
    return Decay(drop, COVERAGE * sigma, duration, leak)


def _mean(values: list[float]) -> float:
    return math.fsum(values) / len(values)
