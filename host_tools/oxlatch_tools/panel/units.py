"""How a page shows the numbers of a frame: unit, decimals and the straight line to get there, metric or US.

Frames carry bar, degrees Celsius, kg, g/s and m; the printed units are those of `presentation`.
"""

from typing import Any

from oxlatch_tools.presentation import KINDS, Units, number_in, unit_of

TO_KEPT = {
    "pressure": (1.0e5, 0.0),
    "fuel pressure": (1.0e5, 0.0),
    "temperature": (1.0, 273.15),
    "mass": (1.0, 0.0),
    "flow": (1.0e-3, 0.0),
    "altitude": (1.0, 0.0),
    "speed": (1.0, 0.0),
}
"""From the unit of a frame to the one that values are kept in: factor and offset."""


def shown_units(units: Units) -> dict[str, dict[str, Any]]:
    """Per kind of number: unit, decimals, and `scale` and `offset` from the frame's number to the one shown."""
    found = {}
    for kind, (factor, zero) in TO_KEPT.items():
        at_zero = number_in(zero, kind, units)
        scale = number_in(zero + factor, kind, units) - at_zero
        _name, _unit, decimals = KINDS[kind].us if units == "us" else KINDS[kind].metric
        found[kind] = {"unit": unit_of(kind, units), "decimals": decimals, "scale": scale, "offset": at_zero}
    return found
