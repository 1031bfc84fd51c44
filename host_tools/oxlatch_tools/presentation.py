"""How a number is shown: the unit and the decimals of each kind of quantity, metric or US.

Values are kept in the units of `installation_quantities` (SI, with rev/min and degrees); this module is the only place
that turns them into text.
"""

import math
from dataclasses import dataclass
from typing import Literal

from oxlatch_tools.installation_quantities import from_kept

Units = Literal["metric", "us"]


@dataclass(frozen=True)
class Shown:
    """One kind of quantity: what pint calls its dimension, then unit, printed unit and decimals in both systems."""

    kind: str
    metric: tuple[str, str, int]
    us: tuple[str, str, int]


KINDS = {
    "power": Shown("power", ("kW", "kW", 1), ("hp", "hp", 1)),
    "mass": Shown("mass", ("kg", "kg", 2), ("lb", "lb", 2)),
    "heavy mass": Shown("mass", ("kg", "kg", 0), ("lb", "lb", 0)),
    "distance": Shown("length", ("m", "m", 0), ("ft", "ft", 0)),
    "arm": Shown("length", ("m", "m", 2), ("in", "in", 1)),
    "altitude": Shown("length", ("m", "m", 0), ("ft", "ft", 0)),
    "bore": Shown("length", ("mm", "mm", 3), ("in", "in", 4)),
    "speed": Shown("speed", ("km/h", "km/h", 0), ("kt", "kt", 0)),
    "piston speed": Shown("speed", ("m/s", "m/s", 2), ("ft/min", "ft/min", 0)),
    "displacement": Shown("volume", ("L", "L", 2), ("in**3", "in³", 0)),
    "volume": Shown("volume", ("mL", "mL", 1), ("in**3", "in³", 2)),
    "small volume": Shown("volume", ("mL", "mL", 3), ("in**3", "in³", 4)),
    "pressure": Shown("pressure", ("bar", "bar", 1), ("psi", "psi", 0)),
    "fuel pressure": Shown("pressure", ("bar", "bar", 3), ("psi", "psi", 2)),
    "altimeter": Shown("pressure", ("hPa", "hPa", 0), ("inHg", "inHg", 2)),
    "temperature": Shown("temperature", ("degC", "°C", 0), ("degF", "°F", 0)),
    "temperature difference": Shown("temperature difference", ("K", "K", 1), ("delta_degF", "°F", 0)),
    "time": Shown("time", ("s", "s", 0), ("s", "s", 0)),
    "tenths": Shown("time", ("s", "s", 1), ("s", "s", 1)),
    "milliseconds": Shown("time", ("ms", "ms", 0), ("ms", "ms", 0)),
    "flow": Shown("mass flow", ("g/s", "g/s", 2), ("lb/min", "lb/min", 3)),
    "fuel flow": Shown("volume_flow", ("L/h", "L/h", 1), ("gal/h", "gal/h", 1)),
    "torque": Shown("torque", ("N*m", "N·m", 0), ("lbf*ft", "lbf·ft", 0)),
    "voltage": Shown("voltage", ("V", "V", 2), ("V", "V", 2)),
    "current": Shown("current", ("A", "A", 1), ("A", "A", 1)),
    "rotation": Shown("rotation", ("rpm", "rpm", 0), ("rpm", "rpm", 0)),
    "moment": Shown("moment", ("kg*m", "kg·m", 1), ("lb*in", "lb·in", 0)),
    "fraction": Shown("fraction", ("%", "%", 1), ("%", "%", 1)),
    "whole per cent": Shown("fraction", ("%", "%", 0), ("%", "%", 0)),
    "heat": Shown("energy", ("kJ/kg", "kJ/kg", 0), ("Btu/lb", "Btu/lb", 0)),
    "heat flow": Shown("power", ("kW", "kW", 1), ("kW", "kW", 1)),
    "angle": Shown("angle", ("deg", "°", 0), ("deg", "°", 0)),
    "shot mass": Shown("mass", ("g", "g", 0), ("oz", "oz", 2)),
    "coefficient": Shown("ratio", ("", "", 3), ("", "", 3)),
    "ratio": Shown("ratio", ("", "", 2), ("", "", 2)),
    "count": Shown("ratio", ("", "", 0), ("", "", 0)),
}
_PLAIN = {"ratio", "count", "coefficient"}


def unit_of(kind: str, units: Units) -> str:
    """The unit as printed; empty for pure numbers."""
    return _of(kind, units)[1]


def number_in(value: float, kind: str, units: Units) -> float:
    """A kept value in the unit that `kind` is shown in."""
    if kind in _PLAIN:
        return value
    return from_kept(value, _of(kind, units)[0], KINDS[kind].kind)


def number_text(value: float | None, kind: str, units: Units) -> str:
    """A kept value as digits without its unit; a dash when there is none."""
    if value is None or math.isnan(value):
        return "–"
    if math.isinf(value):
        return "no limit"
    decimals = _of(kind, units)[2]
    text = f"{number_in(value, kind, units):,.{decimals}f}".replace(",", "\u202f")
    return text[1:] if float(text.replace("\u202f", "")) == 0 and text.startswith("-") else text


def quantity_text(value: float | None, kind: str, units: Units) -> str:
    """A kept value with its unit."""
    number, unit = number_text(value, kind, units), unit_of(kind, units)
    if not unit or number in ("–", "no limit"):
        return number
    return f"{number}{unit}" if unit == "°" else f"{number}\u00a0{unit}"


def _of(kind: str, units: Units) -> tuple[str, str, int]:
    shown = KINDS[kind]
    return shown.us if units == "us" else shown.metric
