"""Flux through valves and jets, and areas in series: the arithmetic that flow, jets and calibration share.

The liquid passes valve and jets at the choked equilibrium flux of saturated liquid at the pressure before them. A valve
and the jets behind it share the pressure drop: of areas Av and Aj (coefficients included) the pair passes as much as
the area Av·Aj / √(Av² + Aj²).
"""

import math

from oxlatch_sim.physics import orifice
from oxlatch_sim.physics.tables import property_tables
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_system import Valve

FLUX_SOURCE = (
    "choked homogeneous equilibrium flow, properties of Lemmon and Span 2006, coefficient as in La Luna et al. 2022, "
    "doi 10.3390/aerospace9120828"
)
SERIES_SOURCE = "valve and jets in series; a quarter ellipse stands for the valve's share of choked flow"


def liquid_flux(pressure_pa: float) -> float:
    """Choked flux, kg/(m2 s), of saturated liquid arriving at this pressure; coefficient 1."""
    tables = property_tables()
    return tables.flux.liquid_kg_m2_s(tables.saturation.temperature_k(pressure_pa))


def vapour_flux(pressure_pa: float) -> float:
    """Choked flux, kg/(m2 s), of saturated vapour at this pressure; coefficient 1."""
    tables = property_tables()
    return tables.flux.vapour_kg_m2_s(tables.saturation.temperature_k(pressure_pa))


def saturation_pa(temperature_k: float) -> float:
    """Vapour pressure, Pa."""
    return property_tables().saturation.pressure_pa(temperature_k)


def valve_area(valve: Valve) -> float:
    """Open area of a valve times its coefficient, m2."""
    return orifice.area_m2(valve.bore) * valve.discharge


def in_series(first_m2: float, second_m2: float) -> float:
    """Area that passes what two restrictions in series do."""
    return first_m2 * second_m2 / math.hypot(first_m2, second_m2)


def behind(wanted_m2: float, first_m2: float) -> float | None:
    """Area that, behind `first_m2`, makes the series worth `wanted_m2`; None when the first alone is too small."""
    if wanted_m2 >= first_m2:
        return None
    return 1 / math.sqrt(1 / wanted_m2**2 - 1 / first_m2**2)


def fuel_flux(installation: Installation, pressure_drop_pa: float) -> float:
    """Flux, kg/(m2 s), of fuel across a pressure drop; coefficient 1."""
    return orifice.incompressible_flux_kg_m2_s(installation.fuel.density, pressure_drop_pa)


def jet_pressure_pa(installation: Installation, outside_pa: float = 101_325.0) -> float:
    """Pressure across the fuel jets at full throttle: set pressure, plus manifold depression unless referenced."""
    if installation.fuel.manifold_referenced:
        return installation.fuel.set_pressure
    return installation.fuel.set_pressure + installation.engine.manifold_loss * outside_pa
