"""Validity ranges: one error, one message form, for every physical quantity."""

import math


class PhysicsRangeError(ValueError):
    """A physical quantity is outside the range in which a relation holds."""


def require_range(quantity: str, value: float, low: float, high: float, unit: str = "") -> float:
    """Return `value` when it lies in [low, high].

    Errors: `PhysicsRangeError` naming quantity, value, unit and range. NaN lies in no range.
    """
    if low <= value <= high:
        return value
    suffix = f" {unit}" if unit else ""
    raise PhysicsRangeError(f"{quantity} is {value:g}{suffix}, allowed is {low:g} to {high:g}{suffix}")


def require_positive(quantity: str, value: float, unit: str = "") -> float:
    """Return `value` when it is finite and above zero, else raise `PhysicsRangeError`."""
    if 0.0 < value < math.inf:
        return value
    suffix = f" {unit}" if unit else ""
    raise PhysicsRangeError(f"{quantity} is {value:g}{suffix}, allowed is any finite value above 0{suffix}")


def require_not_negative(quantity: str, value: float, unit: str = "") -> float:
    """Return `value` when it is finite and zero or more, else raise `PhysicsRangeError`."""
    if 0.0 <= value < math.inf:
        return value
    suffix = f" {unit}" if unit else ""
    raise PhysicsRangeError(f"{quantity} is {value:g}{suffix}, allowed is any finite value from 0{suffix} up")
