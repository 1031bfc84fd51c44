"""Electrical life of a DC solenoid coil: a resistance and an inductance in series, one of each.

Source of the circuit equations: any text on first-order circuits. The inductance is taken as constant; a real
one rises as the armature seats, so measured times replace these once a bench has them. A DC coil has no
inrush: the largest current is that of the cold coil at rest.
"""

import math

from oxlatch_sim.physics.validity import (
    PhysicsRangeError,
    require_not_negative,
    require_positive,
    require_range,
)

# Copper's resistance extrapolates to zero at -234.5 degC (AC 43.13-1B uses the same constant).
COPPER_ZERO_CELSIUS = -234.5
KELVIN_OFFSET = 273.15


def copper_resistance_ohm(resistance_ohm: float, at_temperature_k: float, temperature_k: float) -> float:
    """Resistance, ohm, at `temperature_k` of copper that has `resistance_ohm` at `at_temperature_k`, 200 to
    500 K.
    """
    require_positive("resistance", resistance_ohm, "ohm")
    span = (
        require_range("temperature", temperature_k, 200.0, 500.0, "K") - KELVIN_OFFSET - COPPER_ZERO_CELSIUS
    )
    reference = require_range("reference temperature", at_temperature_k, 200.0, 500.0, "K")
    return resistance_ohm * span / (reference - KELVIN_OFFSET - COPPER_ZERO_CELSIUS)


def current_a(
    time_s: float, supply_v: float, resistance_ohm: float, inductance_h: float, start_a: float = 0.0
) -> float:
    """Current, A, `time_s` after the supply is applied: an exponential from `start_a` to V/R."""
    final_a = require_not_negative("supply voltage", supply_v, "V") / _resistance(resistance_ohm)
    decay = math.exp(-require_not_negative("time", time_s, "s") * resistance_ohm / _inductance(inductance_h))
    return final_a + (require_not_negative("starting current", start_a, "A") - final_a) * decay


def rise_time_s(wanted_a: float, supply_v: float, resistance_ohm: float, inductance_h: float) -> float:
    """Time, s, from zero to `wanted_a`.

    Errors: `PhysicsRangeError` when the supply can never drive that current.
    """
    final_a = require_positive("supply voltage", supply_v, "V") / _resistance(resistance_ohm)
    require_not_negative("wanted current", wanted_a, "A")
    if wanted_a >= final_a:
        raise PhysicsRangeError(
            f"coil current is {wanted_a:g} A, allowed is below {final_a:g} A, supply over resistance"
        )
    return -_inductance(inductance_h) / resistance_ohm * math.log(1.0 - wanted_a / final_a)


def release_time_s(
    start_a: float, hold_a: float, resistance_ohm: float, inductance_h: float, clamp_v: float
) -> float:
    """Time, s, for the current to fall from `start_a` to `hold_a` into a clamp: (L/R) ln((I0 + Vc/R)/(Ih +
    Vc/R)).

    `clamp_v` is the constant voltage across the clamp, 0.1 to 500 V: about 0.8 for a plain diode, the
    avalanche voltage plus a diode drop for a fast one.
    """
    require_not_negative("starting current", start_a, "A")
    require_range("hold current", hold_a, 0.0, start_a, "A")
    clamp_a = require_range("clamp voltage", clamp_v, 0.1, 500.0, "V") / _resistance(resistance_ohm)
    return _inductance(inductance_h) / resistance_ohm * math.log((start_a + clamp_a) / (hold_a + clamp_a))


def lift_current_a(rated_a: float, rated_drop_pa: float, drop_pa: float, spring_share: float) -> float:
    """Current, A, that just lifts the armature against `drop_pa` across the seat, when `rated_a` lifts
    `rated_drop_pa`.

    Pull grows with the square of the current while the iron is unsaturated (textbook reluctance force);
    `spring_share` is the spring's part of the force at the rated drop, 0.05 to 0.95.
    """
    require_positive("rated lift current", rated_a, "A")
    require_positive("rated pressure drop", rated_drop_pa, "Pa")
    require_not_negative("pressure drop", drop_pa, "Pa")
    share = require_range("spring share of the lift force", spring_share, 0.05, 0.95)
    return rated_a * math.sqrt(share + (1.0 - share) * drop_pa / rated_drop_pa)


def threshold_voltage_v(threshold_a: float, resistance_20c_ohm: float, coil_k: float) -> float:
    """Supply, V, that just drives `threshold_a` through the coil at this temperature.

    With the lift current it is the pull-in voltage, with the hold current the drop-out voltage. Add the drop
    of the wiring to get bus volts.
    """
    require_not_negative("threshold current", threshold_a, "A")
    return threshold_a * copper_resistance_ohm(resistance_20c_ohm, 293.15, coil_k)


def _resistance(resistance_ohm: float) -> float:
    return require_positive("coil resistance", resistance_ohm, "ohm")


def _inductance(inductance_h: float) -> float:
    return require_positive("coil inductance", inductance_h, "H")
