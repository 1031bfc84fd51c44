"""Linear interpolation on uniform grids in plain Python: faster than numpy for one point at a time."""

from collections.abc import Callable, Sequence

from oxlatch_sim.physics.validity import require_range


class UniformTable:
    """One quantity on a uniform grid, called with a point of the grid's span.

    Errors: `PhysicsRangeError` outside the span; no table extrapolates.
    """

    __slots__ = ("_inverse_step", "_last", "_low", "_quantity", "_values")

    def __init__(self, quantity: str, low: float, step: float, values: Sequence[float]) -> None:
        self._quantity = quantity
        self._low = low
        self._inverse_step = 1.0 / step
        self._last = len(values) - 1
        # One repeated value at the end lets the last grid point be looked up like any other.
        self._values = [*values, values[-1]]

    def __call__(self, point: float) -> float:
        place = (point - self._low) * self._inverse_step
        if not 0.0 <= place <= self._last:
            place = require_place(self._quantity, point, self._low, 1.0 / self._inverse_step, self._last)
        index = int(place)
        value = self._values[index]
        return value + (place - index) * (self._values[index + 1] - value)


def grid(low: float, high: float, step: float) -> list[float]:
    """Points from `low` to `high` inclusive, `step` apart; the span is a whole number of steps."""
    return [low + index * step for index in range(round((high - low) / step) + 1)]


def require_place(quantity: str, point: float, low: float, step: float, last: int) -> float:
    """Place of `point` on a grid, 0 to `last`, forgiving only the rounding error of its own ends."""
    require_range(f"argument of the table of {quantity}", point, low, low + last * step)
    return min(max((point - low) / step, 0.0), float(last))


def blend(row: Sequence[float], column: int, share: float) -> float:
    """Value in `row` a `share` of the way from `column` to the next."""
    low = row[column]
    return low + share * (row[column + 1] - low)


def bracket(value_at: Callable[[int], float], count: int, wanted: float) -> int:
    """Largest index below `count - 1` whose value is at most `wanted`; values rise with the index."""
    low, high = 0, count - 1
    while high - low > 1:
        middle = (low + high) // 2
        if value_at(middle) <= wanted:
            low = middle
        else:
            high = middle
    return low
