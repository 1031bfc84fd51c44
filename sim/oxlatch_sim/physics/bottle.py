"""Equilibrium blowdown of a closed bottle of nitrous oxide.

Both phases share one temperature and pressure; mass and energy balance what leaves: dE = h_out dm, where the
energy E counts the contents and, if given, a wall at the same temperature. The simplest of the models
compared by Zimmerman, Waxman, Cantwell, Zilliac, AIAA 2013-4045: it needs saturation data only, misses the
dip in the first instants, and tends to read high on pressure; agreement with tests about 15 % (secondary).
"""

import math
from collections.abc import Callable
from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from oxlatch_sim.physics import nitrous
from oxlatch_sim.physics.validity import (
    PhysicsRangeError,
    require_not_negative,
    require_positive,
    require_range,
)

Draw = Literal["liquid", "vapour"]
COLDEST_K = 183.0
HOTTEST_K = 360.0


class BottleState(NamedTuple):
    """Contents of a bottle. In a single phase one of the two masses is zero: liquid counts above critical
    density.
    """

    temperature_k: float
    pressure_pa: float
    liquid_kg: float
    vapour_kg: float
    liquid_enthalpy_j_kg: float
    vapour_enthalpy_j_kg: float


class RunOut(NamedTuple):
    """The end of a draw: when the last liquid left, the state then, and the share of the contents drawn by
    then.
    """

    time_s: float
    state: BottleState
    drawn_fraction: float


def energy_j(volume_m3: float, mass_kg: float, temperature_k: float, wall_j_k: float = 0.0) -> float:
    """Energy, J, of contents and wall at a temperature of 183 to 360 K; its zero is arbitrary."""
    require_not_negative("wall heat capacity", wall_j_k, "J/K")
    state = nitrous.state_at_density_temperature(_density(volume_m3, mass_kg), _temperature(temperature_k))
    return mass_kg * state.internal_energy_j_kg + wall_j_k * temperature_k


def fill_mass_kg(volume_m3: float, liquid_share: float, temperature_k: float) -> float:
    """Mass, kg, of a bottle whose liquid takes up `liquid_share` of the volume, at 183 to 309 K."""
    require_positive("bottle volume", volume_m3, "m3")
    require_range("liquid share of the volume", liquid_share, 0.0, 1.0)
    liquid = nitrous.liquid_density_kg_m3(temperature_k)
    return volume_m3 * (
        liquid_share * liquid + (1.0 - liquid_share) * nitrous.vapour_density_kg_m3(temperature_k)
    )


def bottle_at_temperature(volume_m3: float, mass_kg: float, temperature_k: float) -> BottleState:
    """State of a bottle at a known temperature, 183 to 360 K."""
    density = _density(volume_m3, mass_kg)
    state = nitrous.state_at_density_temperature(density, _temperature(temperature_k))
    if state.quality is None:
        is_liquid = density > nitrous.CRITICAL_DENSITY_KG_M3
        liquid_kg = mass_kg if is_liquid else 0.0
        enthalpy = state.enthalpy_j_kg
        return BottleState(
            temperature_k, state.pressure_pa, liquid_kg, mass_kg - liquid_kg, enthalpy, enthalpy
        )
    return BottleState(
        temperature_k,
        state.pressure_pa,
        mass_kg * (1.0 - state.quality),
        mass_kg * state.quality,
        nitrous.liquid_enthalpy_j_kg(temperature_k),
        nitrous.vapour_enthalpy_j_kg(temperature_k),
    )


def bottle_at_energy(
    volume_m3: float, mass_kg: float, total_energy_j: float, wall_j_k: float = 0.0
) -> BottleState:
    """State of a bottle from what it conserves; the inverse of `energy_j`, 183 to 360 K."""

    hottest_k = _hottest_k(math.ceil(_density(volume_m3, mass_kg) / 10.0) * 10.0)

    def excess_j(temperature_k: float) -> float:
        return energy_j(volume_m3, mass_kg, temperature_k, wall_j_k) - total_energy_j

    if not excess_j(COLDEST_K) <= 0.0 <= excess_j(hottest_k):
        raise PhysicsRangeError(
            f"bottle of {mass_kg:g} kg in {volume_m3:g} m3 at {total_energy_j:g} J has no temperature within "
            f"{COLDEST_K:g} to {hottest_k:g} K"
        )
    temperature_k = float(brentq(excess_j, COLDEST_K, hottest_k, xtol=1.0e-7))
    return bottle_at_temperature(volume_m3, mass_kg, temperature_k)


def outflow_enthalpy_j_kg(state: BottleState, draw: Draw) -> float:
    """Enthalpy, J/kg, that each kilogram takes out: liquid through the siphon tube while any is left, else
    vapour.
    """
    takes_liquid = draw == "liquid" and state.liquid_kg > 0.0
    return state.liquid_enthalpy_j_kg if takes_liquid else state.vapour_enthalpy_j_kg


def drawn_state(
    volume_m3: float,
    mass_kg: float,
    temperature_k: float,
    drawn_fraction: float,
    draw: Draw = "liquid",
    wall_j_k: float = 0.0,
) -> BottleState:
    """State after a share of the contents was drawn, whatever the flow; `wall_j_k` is heat capacity in
    contact.

    Range: two-phase start at 230 to 309 K, drawn fraction 0 to 0.95.
    """
    require_range("drawn fraction", drawn_fraction, 0.0, 0.95)
    left_kg = (1.0 - drawn_fraction) * mass_kg
    begin = _Progress(mass_kg, energy_j(volume_m3, mass_kg, temperature_k, wall_j_k), 0.0)
    if draw == "liquid":
        begin = _drain(volume_m3, begin, left_kg, "liquid", _steady_flow, wall_j_k)
    end = _drain(volume_m3, begin, left_kg, "vapour", _steady_flow, wall_j_k)
    return bottle_at_energy(volume_m3, end.mass_kg, end.energy_j, wall_j_k)


def run_out(
    volume_m3: float,
    mass_kg: float,
    temperature_k: float,
    flow_kg_s: Callable[[BottleState], float],
    wall_j_k: float = 0.0,
) -> RunOut:
    """Draw liquid at the flow, kg/s, that `flow_kg_s` gives for each state, until the last liquid has left.

    Errors: `PhysicsRangeError` when the start is not two-phase, or the flow is not positive on the way.
    """
    start = bottle_at_temperature(volume_m3, mass_kg, temperature_k)
    if start.liquid_kg == 0.0 or start.vapour_kg == 0.0:
        raise PhysicsRangeError(
            f"bottle of {mass_kg:g} kg at {temperature_k:g} K holds one phase, allowed is two"
        )
    begin = _Progress(mass_kg, energy_j(volume_m3, mass_kg, temperature_k, wall_j_k), 0.0)
    end = _drain(volume_m3, begin, 0.001 * mass_kg, "liquid", flow_kg_s, wall_j_k)
    state = bottle_at_energy(volume_m3, end.mass_kg, end.energy_j, wall_j_k)
    return RunOut(end.time_s, state, 1.0 - end.mass_kg / mass_kg)


class _Progress(NamedTuple):
    mass_kg: float
    energy_j: float
    time_s: float


def _steady_flow(_state: BottleState) -> float:
    return 1.0


def _drain(
    volume_m3: float,
    begin: _Progress,
    left_kg: float,
    draw: Draw,
    flow_kg_s: Callable[[BottleState], float],
    wall_j_k: float,
) -> _Progress:
    """Draw one phase until `left_kg` remain or, for liquid, its last has left.

    Integrated over s = -ln(mass / mass at the beginning), so that a step is a small share of what is still
    there.
    """

    def state_at(s: float, energy_and_time: NDArray[np.float64]) -> BottleState:
        mass_kg = begin.mass_kg * math.exp(-float(s))
        return bottle_at_energy(volume_m3, mass_kg, float(energy_and_time[0]), wall_j_k)

    def slopes(s: float, energy_and_time: NDArray[np.float64]) -> list[float]:
        state = state_at(s, energy_and_time)
        mass_kg = state.liquid_kg + state.vapour_kg
        flow = require_positive("bottle outflow", flow_kg_s(state), "kg/s")
        return [-mass_kg * _phase_enthalpy_j_kg(state, draw), mass_kg / flow]

    def liquid_left(s: float, energy_and_time: NDArray[np.float64]) -> float:
        state = state_at(s, energy_and_time)
        mean_density = (state.liquid_kg + state.vapour_kg) / volume_m3
        return mean_density - nitrous.vapour_density_kg_m3(state.temperature_k)

    liquid_left.terminal = True  # type: ignore[attr-defined]
    span = math.log(begin.mass_kg / left_kg)
    if span <= 1.0e-9:
        return begin
    path = solve_ivp(
        slopes,
        (0.0, span),
        [begin.energy_j, begin.time_s],
        events=liquid_left if draw == "liquid" else None,
        rtol=1.0e-7,
        atol=1.0e-6,
        max_step=0.05,
    )
    if not path.success:
        raise PhysicsRangeError(f"bottle draw-down did not integrate: {path.message}")
    end_kg = begin.mass_kg * math.exp(-float(path.t[-1]))
    return _Progress(end_kg, float(path.y[0][-1]), float(path.y[1][-1]))


def _phase_enthalpy_j_kg(state: BottleState, draw: Draw) -> float:
    # A trial step may look past the last liquid; it must still see liquid leave, or the end would be a kink.
    if draw == "liquid" and state.liquid_kg == 0.0:
        return nitrous.liquid_enthalpy_j_kg(min(state.temperature_k, nitrous.SATURATION_HIGH_K))
    return state.liquid_enthalpy_j_kg if draw == "liquid" else state.vapour_enthalpy_j_kg


@lru_cache(maxsize=256)
def _hottest_k(rounded_density: float) -> float:
    """Highest temperature to search for contents of this density: a full bottle meets 50 MPa before 360 K."""
    if rounded_density <= nitrous.CRITICAL_DENSITY_KG_M3:
        return HOTTEST_K
    # Liquid-full pressure climbs by less than 1.1 MPa per kelvin, so 35 K above filling stays below 50 MPa.
    return min(HOTTEST_K, nitrous.liquid_full_temperature_k(max(rounded_density, 500.0)) + 35.0)


def _density(volume_m3: float, mass_kg: float) -> float:
    require_positive("bottle volume", volume_m3, "m3")
    return require_positive("bottle contents", mass_kg, "kg") / volume_m3


def _temperature(temperature_k: float) -> float:
    return require_range("bottle temperature", temperature_k, COLDEST_K, HOTTEST_K, "K")
