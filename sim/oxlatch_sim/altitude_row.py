"""The altitude table in the settings record, as people read it: which patterns are let through in which air."""

from typing import Any

from oxlatch.sense_extras import DENSITY_SCALE, density_row
from oxlatch.vocabulary import FIT_AIR, ROWS

ROW_FIELDS = ("patterns", *(f"patterns_{row}" for row in range(1, ROWS)))


def patterns_in(settings: Any, air_pa: float, air_k: float) -> int:
    """Mask of the patterns allowed in outside air of this pressure and temperature."""
    if not settings.fitted & FIT_AIR:
        return int(settings.patterns)
    row = density_row(round(air_pa / 10.0) * DENSITY_SCALE // round(10.0 * air_k), settings)
    return int(getattr(settings, ROW_FIELDS[row]))


def patterns_somewhere(settings: Any) -> int:
    """Mask of the patterns allowed in some air."""
    mask = int(settings.patterns)
    if settings.fitted & FIT_AIR:
        for name in ROW_FIELDS:
            mask |= int(getattr(settings, name))
    return mask


def allow_everywhere(settings: Any, mask: int) -> None:
    """Let the patterns of a mask through in any air."""
    for name in ROW_FIELDS:
        setattr(settings, name, mask)
