"""Resistors one can buy, and the dividers and time constants made of them.

Preferred numbers: IEC 60063 "Preferred number series for resistors and capacitors", series E96, computed as the
rounded powers of the 96th root of ten.
"""

import math
from dataclasses import dataclass

E96 = tuple(round(10 ** (step / 96), 2) for step in range(96))
SENSE_MILLIOHM = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 15, 18, 20, 25, 30, 40, 50, 75, 100)
"""Values in which low-ohm sense resistors are common: judgement."""


def e96(ohm: float) -> float:
    """The nearest E96 value, by ratio. Errors: ValueError for nothing or less."""
    if ohm <= 0:
        raise ValueError(f"a resistor of {ohm:g} ohm does not exist, allowed is above 0")
    decade = 10.0 ** math.floor(math.log10(ohm))
    nearest = min((*E96, 10.0), key=lambda value: abs(math.log(value * decade / ohm)))
    return float(f"{nearest * decade:.3g}")


def sense_milliohm(wanted: float) -> int:
    """The common sense resistor nearest to a wanted one, by ratio."""
    return min(SENSE_MILLIOHM, key=lambda value: abs(math.log(value / wanted)))


@dataclass(frozen=True)
class Divider:
    """Two resistors: `top` to the voltage measured, `bottom` to ground."""

    top_ohm: float
    bottom_ohm: float

    @property
    def share(self) -> float:
        """What part of the voltage is left."""
        return self.bottom_ohm / (self.top_ohm + self.bottom_ohm)


def divider(share: float, about_ohm: float) -> Divider:
    """The E96 pair whose share is nearest, its sum within a factor of 1.5 of `about_ohm`. `share` lies between 0 and 1.

    Errors: ValueError for a share outside.
    """
    if not 0 < share < 1:
        raise ValueError(f"a divider leaves a share between 0 and 1, not {share:g}")
    best: Divider | None = None
    for decade in (10.0, 100.0, 1000.0, 10_000.0, 100_000.0):
        for value in E96:
            bottom = float(f"{value * decade:.3g}")
            pair = Divider(e96(bottom * (1 - share) / share), bottom)
            if not about_ohm / 1.5 <= pair.top_ohm + bottom <= about_ohm * 1.5:
                continue
            if best is None or abs(pair.share - share) < abs(best.share - share) - 1e-12:
                best = pair
    if best is None:
        raise ValueError(f"no pair near {about_ohm:g} ohm")
    return best


def ohm_text(ohm: float) -> str:
    """Three digits with the usual prefix."""
    for limit, factor, unit in ((1e6, 1e6, "MΩ"), (1e3, 1e3, "kΩ"), (0.9995, 1.0, "Ω")):
        if ohm >= limit:
            return f"{ohm / factor:.3g} {unit}"
    return f"{ohm * 1e3:.3g} mΩ"
