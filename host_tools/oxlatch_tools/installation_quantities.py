"""Quantities of the installation file: a number with its unit, read once by pint, an SI float from then on.

Two exceptions to SI, both because the controller and the cockpit count that way: speeds of rotation are kept in
revolutions per minute, angles of the crank and of slopes in degrees.
"""

import functools
import math
import re
import tokenize
from dataclasses import dataclass
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import PydanticCustomError, core_schema

ODD_UNITS = (ValueError, TypeError, AttributeError, AssertionError, ArithmeticError)
"""What a units library may raise, besides its own errors, at text that is no unit."""
_TEXT = re.compile(r"^\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(\S.*?)?\s*$")
_POWER = re.compile(r"([A-Za-z])([23])\b")

# what a value of each kind is kept in, and the units a reader may expect to meet
_KEPT = {
    "power": "W",
    "mass": "kg",
    "length": "m",
    "area": "m**2",
    "volume": "m**3",
    "pressure": "Pa",
    "temperature": "K",
    "time": "s",
    "rotation": "rpm",
    "torque": "N*m",
    "speed": "m/s",
    "voltage": "V",
    "current": "A",
    "resistance": "ohm",
    "inductance": "H",
    "density": "kg/m**3",
    "volume_flow": "m**3/s",
    "consumption": "kg/J",
    "angle": "deg",
    "fraction": "",
    "heat_capacity": "J/K",
    "conductance": "W/K",
    "energy": "J/kg",
    "mass flow": "kg/s",
    "moment": "kg*m",
    "temperature difference": "delta_degC",
}


@functools.cache
def registry() -> Any:
    """The one pint registry; built on first use, because that costs half a second."""
    import pint

    return pint.UnitRegistry()


def to_kept(number: float, unit: str, kind: str) -> float:
    """The value in the unit that `kind` is kept in; ValueError when the unit is unknown or of another kind."""
    slope, offset = _straight_line(unit, kind)
    return slope * number + offset


def from_kept(value: float, unit: str, kind: str) -> float:
    """A kept value in `unit`, for printing; ValueError as `to_kept`."""
    slope, offset = _straight_line(unit, kind)
    return (value - offset) / slope


@functools.cache
def _straight_line(unit: str, kind: str) -> tuple[float, float]:
    """Every unit is a straight line of the kept one: slope and offset, asked of pint once."""
    offset = _by_pint(0.0, unit, kind)
    if offset == 0.0:
        return _by_pint(1.0, unit, kind), 0.0
    return (_by_pint(1000.0, unit, kind) - offset) / 1000.0, offset


def _by_pint(number: float, unit: str, kind: str) -> float:
    import pint

    units = registry()
    try:
        quantity = units.Quantity(number, _POWER.sub(r"\1**\2", unit.replace("%", "percent")))
        return float(quantity.to(units.Unit(_KEPT[kind])).magnitude)
    except (pint.errors.PintError, tokenize.TokenError, *ODD_UNITS) as error:
        raise ValueError(f"{unit!r} is not a unit of {kind.replace('_', ' ')}") from error


@dataclass(frozen=True)
class Quantity:
    """Marks a float field as a quantity: its kind, the unit of its bounds, and the bounds themselves (inclusive)."""

    kind: str
    unit: str
    low: float
    high: float

    def allowed(self) -> str:
        """The allowed range in words."""
        unit = self.unit if self.unit == "%" else f" {self.unit}"
        return f"{self.low:g}{unit} to {self.high:g}{unit}, any unit of {self.kind.replace('_', ' ')}"

    def read(self, value: Any) -> float:
        """A text such as "55 bar" as a kept float; pydantic's custom error when it is none or out of bounds."""
        kept = self._read_text(value)
        low, high = to_kept(self.low, self.unit, self.kind), to_kept(self.high, self.unit, self.kind)
        slack = 1e-9 * max(abs(low), abs(high))
        if not (math.isfinite(kept) and low - slack <= kept <= high + slack):
            raise self._refusal("is out of bounds")
        return kept

    def _read_text(self, value: Any) -> float:
        if not isinstance(value, str):
            raise self._refusal('must be a text with a number and a unit, such as "' + self.example() + '"')
        match = _TEXT.match(value)
        if match is None:
            raise self._refusal("must be a number and a unit")
        if match.group(2) is None and self.kind != "fraction":
            raise self._refusal("has no unit")
        try:
            return to_kept(float(match.group(1)), match.group(2) or "", self.kind)
        except ValueError as error:
            raise self._refusal(f"has a wrong unit: {error}") from error

    def _refusal(self, what: str) -> PydanticCustomError:
        return PydanticCustomError("quantity", "{what}", {"what": what, "allowed": self.allowed()})

    def example(self) -> str:
        """A value inside the bounds, for messages and for the schema."""
        return f"{(self.low + self.high) / 2:.3g} {self.unit}".replace(" %", "%")

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        unit = "(\\S.*)?$" if self.kind == "fraction" else "\\S.*$"
        return {
            "type": "string",
            "pattern": r"^\s*[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?\s*" + unit,
            "x-kind": self.kind,
            "x-allowed": self.allowed(),
            "examples": [self.example()],
        }
