"""Nitrous oxide states from the Helmholtz equation of Lemmon and Span.

Source: E. W. Lemmon, R. Span, "Short Fundamental Equations of State for 20 Industrial Fluids", J. Chem. Eng.
Data 51 (2006) 785-850, evaluated by CoolProp. Valid from the triple point, 182.33 K, to 525 K and 50 MPa.
Enthalpy, entropy and internal energy share CoolProp's arbitrary zero: only differences mean anything.

Pressure is nowhere clamped at the critical point: above it, and in a liquid-full bottle, it follows from
density and temperature together.
"""

import math
import threading
from collections.abc import Callable
from typing import Any, NamedTuple

from CoolProp import CoolProp
from scipy.optimize import brentq

from oxlatch_sim.physics.validity import PhysicsRangeError, require_range

MOLAR_MASS_KG_MOL = 0.0440128
TRIPLE_TEMPERATURE_K = 182.33
CRITICAL_TEMPERATURE_K = 309.52
CRITICAL_PRESSURE_PA = 7.245e6
CRITICAL_DENSITY_KG_M3 = 452.0

SATURATION_LOW_K = TRIPLE_TEMPERATURE_K
SATURATION_HIGH_K = 309.5
SATURATION_LOW_PA = 87_838.0
SATURATION_HIGH_PA = 7.241e6
EQUATION_HIGH_K = 525.0
EQUATION_HIGH_PA = 50.0e6
DENSITY_LOW_KG_M3 = 1.0e-3
DENSITY_HIGH_KG_M3 = 1300.0


class FluidState(NamedTuple):
    """One equilibrium state; `quality` is the vapour mass fraction, None in a single phase."""

    pressure_pa: float
    temperature_k: float
    density_kg_m3: float
    enthalpy_j_kg: float
    entropy_j_kg_k: float
    internal_energy_j_kg: float
    quality: float | None


class _PerThread(threading.local):
    """One CoolProp state per thread: costly to build, cheap to update, not thread-safe."""

    def __init__(self) -> None:
        self.state: Any = _new_state()


def _new_state() -> Any:
    return CoolProp.AbstractState("HEOS", "NitrousOxide")


_per_thread = _PerThread()


def _update(inputs: int, first: float, second: float, what: str) -> Any:
    try:
        _per_thread.state.update(inputs, first, second)
    except ValueError as error:
        # A failed search leaves the state unusable: later updates of it fail too.
        _per_thread.state = _new_state()
        raise PhysicsRangeError(f"no nitrous oxide state at {what}: {error}") from error
    return _per_thread.state


def _update_near(inputs: int, pressure_pa: float, second: float, what: str) -> Any:
    """Update from pressure and another input; where CoolProp's search fails, at a pressure 0.002 % away.

    It fails at isolated points, most of them within 100 Pa of the critical pressure.
    """
    try:
        return _update(inputs, pressure_pa, second, what)
    except PhysicsRangeError:
        return _update(inputs, (1.0 - 2.0e-5) * pressure_pa, second, what)


def _saturated(temperature_k: float, quality: float) -> Any:
    require_range("nitrous saturation temperature", temperature_k, SATURATION_LOW_K, SATURATION_HIGH_K, "K")
    return _update(CoolProp.QT_INPUTS, quality, temperature_k, f"saturation, {temperature_k:g} K")


def _read(state: Any) -> FluidState:
    quality = state.Q()
    result = FluidState(
        state.p(),
        state.T(),
        state.rhomass(),
        state.hmass(),
        state.smass(),
        state.umass(),
        quality if 0.0 <= quality <= 1.0 else None,
    )
    if not all(math.isfinite(value) for value in result[:6]):
        raise PhysicsRangeError(f"nitrous oxide state is not finite: {result}")
    return result


def saturation_pressure_pa(temperature_k: float) -> float:
    """Vapour pressure, Pa, at 182.33 to 309.5 K."""
    return float(_saturated(temperature_k, 0.0).p())


def saturation_temperature_k(pressure_pa: float) -> float:
    """Temperature of boiling, K, at 0.0878 to 7.241 MPa."""
    require_range("nitrous saturation pressure", pressure_pa, SATURATION_LOW_PA, SATURATION_HIGH_PA, "Pa")
    return float(_update(CoolProp.PQ_INPUTS, pressure_pa, 0.0, f"saturation, {pressure_pa:g} Pa").T())


def liquid_density_kg_m3(temperature_k: float) -> float:
    """Density of saturated liquid, kg/m3, at 182.33 to 309.5 K."""
    return float(_saturated(temperature_k, 0.0).rhomass())


def vapour_density_kg_m3(temperature_k: float) -> float:
    """Density of saturated vapour, kg/m3, at 182.33 to 309.5 K."""
    return float(_saturated(temperature_k, 1.0).rhomass())


def liquid_enthalpy_j_kg(temperature_k: float) -> float:
    """Specific enthalpy of saturated liquid, J/kg, at 182.33 to 309.5 K."""
    return float(_saturated(temperature_k, 0.0).hmass())


def vapour_enthalpy_j_kg(temperature_k: float) -> float:
    """Specific enthalpy of saturated vapour, J/kg, at 182.33 to 309.5 K."""
    return float(_saturated(temperature_k, 1.0).hmass())


def latent_heat_j_kg(temperature_k: float) -> float:
    """Heat of vaporisation, J/kg, at 182.33 to 309.5 K."""
    return vapour_enthalpy_j_kg(temperature_k) - liquid_enthalpy_j_kg(temperature_k)


def liquid_sound_speed_m_s(temperature_k: float) -> float:
    """Sound speed of bubble-free saturated liquid, m/s, at 182.33 to 309.5 K. Bubbles lower it many times
    over.
    """
    return float(_saturated(temperature_k, 0.0).speed_sound())


def saturated_state(temperature_k: float, quality: float) -> FluidState:
    """Two-phase state at 182.33 to 309.5 K; quality 0 is saturated liquid, 1 saturated vapour."""
    require_range("vapour mass fraction", quality, 0.0, 1.0)
    return _read(_saturated(temperature_k, quality))


def state_at_pressure_temperature(pressure_pa: float, temperature_k: float) -> FluidState:
    """Single-phase state at 1 Pa to 50 MPa and 182.33 to 525 K; undefined exactly on the saturation line."""
    require_range("nitrous pressure", pressure_pa, 1.0, EQUATION_HIGH_PA, "Pa")
    _require_temperature(temperature_k)
    what = f"{pressure_pa:g} Pa, {temperature_k:g} K"
    return _read(_update_near(CoolProp.PT_INPUTS, pressure_pa, temperature_k, what))


def state_at_density_temperature(density_kg_m3: float, temperature_k: float) -> FluidState:
    """Any-phase state at 0.001 to 1300 kg/m3, 182.33 to 525 K, as long as the pressure stays below 50 MPa."""
    _require_density(density_kg_m3)
    _require_temperature(temperature_k)
    what = f"{density_kg_m3:g} kg/m3, {temperature_k:g} K"
    result = _read(_update(CoolProp.DmassT_INPUTS, density_kg_m3, temperature_k, what))
    require_range(f"nitrous pressure at {what}", result.pressure_pa, 0.0, EQUATION_HIGH_PA, "Pa")
    return result


def state_at_density_energy(density_kg_m3: float, internal_energy_j_kg: float) -> FluidState:
    """Any-phase state from density, 0.001 to 1300 kg/m3, and internal energy."""
    _require_density(density_kg_m3)
    require_range("nitrous internal energy", internal_energy_j_kg, -1.0e6, 1.0e6, "J/kg")
    what = f"{density_kg_m3:g} kg/m3, {internal_energy_j_kg:g} J/kg"
    return _read(_update(CoolProp.DmassUmass_INPUTS, density_kg_m3, internal_energy_j_kg, what))


def state_at_pressure_entropy(pressure_pa: float, entropy_j_kg_k: float) -> FluidState:
    """Any-phase state from pressure, 88 kPa to 50 MPa, and entropy: the end of an isentropic expansion."""
    require_range("nitrous pressure", pressure_pa, SATURATION_LOW_PA, EQUATION_HIGH_PA, "Pa")
    require_range("nitrous entropy", entropy_j_kg_k, -1.0e5, 1.0e5, "J/(kg K)")
    what = f"{pressure_pa:g} Pa, {entropy_j_kg_k:g} J/(kg K)"
    return _read(_update_near(CoolProp.PSmass_INPUTS, pressure_pa, entropy_j_kg_k, what))


def pressure_at_density_pa(density_kg_m3: float, temperature_k: float) -> float:
    """Pressure, Pa, of a closed volume filled to `density_kg_m3`: saturation pressure while two phases exist,
    the liquid-full or supercritical pressure otherwise. Range as `state_at_density_temperature`.
    """
    return state_at_density_temperature(density_kg_m3, temperature_k).pressure_pa


def liquid_full_temperature_k(density_kg_m3: float) -> float:
    """Temperature, K, at which the liquid in a closed volume swells to fill it.

    Valid for densities above the critical one, 500 to 1200 kg/m3; a leaner fill dries out instead.
    """
    require_range("fill density", density_kg_m3, 500.0, 1200.0, "kg/m3")

    def excess(temperature_k: float) -> float:
        return liquid_density_kg_m3(temperature_k) - density_kg_m3

    return float(_root(excess, SATURATION_LOW_K, SATURATION_HIGH_K))


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    return float(brentq(function, low, high, xtol=1.0e-6))


def _require_temperature(temperature_k: float) -> None:
    require_range("nitrous temperature", temperature_k, TRIPLE_TEMPERATURE_K, EQUATION_HIGH_K, "K")


def _require_density(density_kg_m3: float) -> None:
    require_range("nitrous density", density_kg_m3, DENSITY_LOW_KG_M3, DENSITY_HIGH_KG_M3, "kg/m3")
