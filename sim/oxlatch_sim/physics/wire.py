"""Aircraft wire: resistance, current, protection and voltage drop.

Source: FAA AC 43.13-1B, chapter 11: tables 11-3 (protection), 11-4 (switch derating), 11-6 (drop), 11-9
(copper wire in bundles of 33 or more at 70 degC ambient and 60 000 ft, ohm at 20 degC). The intermittent
drops of table 11-6 are from memory.
"""

from typing import Literal, NamedTuple

from oxlatch_sim.physics.coil import copper_resistance_ohm
from oxlatch_sim.physics.validity import PhysicsRangeError, require_not_negative, require_positive

FOOT_M = 0.3048
REFERENCE_K = 293.15

InsulationRating = Literal[105, 150, 200]
BusVoltage = Literal[14, 28]
Duty = Literal["continuous", "intermittent"]
SwitchLoad = Literal["lamp", "inductive", "resistive", "motor"]


class WireSize(NamedTuple):
    """One American wire gauge: ohm per 1000 ft at 20 degC, and ampere at insulation ratings of 105, 150, 200
    degC.
    """

    ohm_per_1000_ft: float
    ampere_105: float
    ampere_150: float
    ampere_200: float


class Protection(NamedTuple):
    """Largest breaker and fuse, A, that still protect a wire size."""

    breaker_a: float
    fuse_a: float


WIRES: dict[int, WireSize] = {
    24: WireSize(28.40, 2.5, 4.0, 5.0),
    22: WireSize(16.20, 3.0, 5.0, 6.0),
    20: WireSize(9.88, 4.0, 7.0, 9.0),
    18: WireSize(6.23, 6.0, 9.0, 12.0),
    16: WireSize(4.81, 7.0, 11.0, 14.0),
    14: WireSize(3.06, 10.0, 14.0, 18.0),
    12: WireSize(2.02, 13.0, 19.0, 25.0),
    10: WireSize(1.26, 17.0, 26.0, 32.0),
    8: WireSize(0.70, 38.0, 57.0, 71.0),
    6: WireSize(0.44, 50.0, 76.0, 97.0),
    4: WireSize(0.28, 68.0, 103.0, 133.0),
}

PROTECTION: dict[int, Protection] = {
    22: Protection(5.0, 5.0),
    20: Protection(7.5, 5.0),
    18: Protection(10.0, 10.0),
    16: Protection(15.0, 10.0),
    14: Protection(20.0, 15.0),
    12: Protection(30.0, 20.0),
    10: Protection(40.0, 30.0),
    8: Protection(50.0, 50.0),
    6: Protection(80.0, 70.0),
    4: Protection(100.0, 70.0),
    2: Protection(125.0, 100.0),
}

ALLOWED_DROP_V: dict[BusVoltage, dict[Duty, float]] = {
    14: {"continuous": 0.5, "intermittent": 1.0},
    28: {"continuous": 1.0, "intermittent": 2.0},
}

# The table's 12 V column is for 14 V systems, its 24 V column for 28 V ones.
SWITCH_DERATING: dict[BusVoltage, dict[SwitchLoad, float]] = {
    14: {"lamp": 5.0, "inductive": 2.0, "resistive": 1.0, "motor": 2.0},
    28: {"lamp": 8.0, "inductive": 4.0, "resistive": 2.0, "motor": 3.0},
}


def resistance_ohm(size: int, length_m: float, temperature_k: float = REFERENCE_K) -> float:
    """Resistance, ohm, of a run of wire, conductor at 200 to 500 K; count the return unless it is the
    airframe.
    """
    cold = (
        _wire(size).ohm_per_1000_ft * require_not_negative("wire length", length_m, "m") / (1000.0 * FOOT_M)
    )
    if cold == 0.0:
        return 0.0
    return copper_resistance_ohm(cold, REFERENCE_K, temperature_k)


def drop_v(size: int, length_m: float, current_a: float, temperature_k: float = REFERENCE_K) -> float:
    """Voltage drop, V, along a run of wire."""
    return resistance_ohm(size, length_m, temperature_k) * require_not_negative("current", current_a, "A")


def longest_run_m(size: int, current_a: float, allowed_v: float, temperature_k: float = REFERENCE_K) -> float:
    """Longest run, m, that stays within the allowed drop."""
    require_positive("current", current_a, "A")
    return require_positive("allowed drop", allowed_v, "V") / drop_v(size, 1.0, current_a, temperature_k)


def ampacity_a(size: int, insulation_celsius: InsulationRating = 105) -> float:
    """Continuous current, A, of one wire in a full bundle, table 11-9; free air carries more."""
    wire = _wire(size)
    return {105: wire.ampere_105, 150: wire.ampere_150, 200: wire.ampere_200}[insulation_celsius]


def protection(size: int) -> Protection:
    """Largest breaker and fuse for a wire size; mount either as close to the bus as possible.

    Errors: `PhysicsRangeError` for a size the table does not list (24 is not).
    """
    if size not in PROTECTION:
        raise PhysicsRangeError(f"protected wire size is {size}, allowed are {_listed(PROTECTION)}")
    return PROTECTION[size]


def smallest_size(
    length_m: float,
    current_a: float,
    allowed_v: float,
    temperature_k: float = REFERENCE_K,
    insulation_celsius: InsulationRating = 105,
) -> int:
    """Thinnest listed wire within both the allowed drop and its ampacity.

    Errors: `PhysicsRangeError` when not even size 4 suffices.
    """
    require_positive("allowed drop", allowed_v, "V")
    for size in WIRES:
        fits = drop_v(size, length_m, current_a, temperature_k) <= allowed_v
        if fits and current_a <= ampacity_a(size, insulation_celsius):
            return size
    raise PhysicsRangeError(
        f"no listed wire (sizes {_listed(WIRES)}) carries {current_a:g} A over {length_m:g} m "
        f"within {allowed_v:g} V"
    )


def switch_rating_a(bus_v: BusVoltage, load: SwitchLoad, current_a: float) -> float:
    """Nominal rating, A, a switch needs for this load: current times the derating factor of table 11-4."""
    return SWITCH_DERATING[bus_v][load] * require_not_negative("current", current_a, "A")


def _wire(size: int) -> WireSize:
    if size not in WIRES:
        raise PhysicsRangeError(f"wire size is {size}, allowed are {_listed(WIRES)}")
    return WIRES[size]


def _listed(sizes: dict[int, WireSize] | dict[int, Protection]) -> str:
    return ", ".join(str(size) for size in sizes)
