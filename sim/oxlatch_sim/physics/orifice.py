"""Mass flow of nitrous oxide and of gasoline through a jet, and the jet for a wanted flow.

Three models of the flux (kg/s per m2 of hole, coefficient 1):

- incompressible: `sqrt(2 rho dp)`, for fuel and for nitrous that stays liquid;
- homogeneous equilibrium, choked: the largest `rho2 sqrt(2 (h1 - h2))` along the isentrope of the inlet. The
  default for feed near saturation, times an effective coefficient that stands for everything the model leaves
  out;
- Dyer (non-homogeneous non-equilibrium): a mean of the two, weighted by kappa = sqrt((p1 - p2) / (psat -
  p2)). Used only where the inlet is subcooled by 14 bar or more; near saturation it over-predicts by 20 to 70
  %.

Source: La Luna, Foletti, Magni, Zuin, Maggi, Aerospace 9 (2022) 828, doi 10.3390/aerospace9120828, which
quotes Dyer et al., AIAA 2007-5702, with the weights as corrected by Solomon, Utah State University 2011. The
default effective coefficient is a round value inside what its measured 1 mm orifice shows, Tables 2 and 3:
0.57 to 0.71 with liquid, 0.57 to 0.62 with vapour.
"""

import math
from typing import NamedTuple

from scipy.optimize import minimize_scalar

from oxlatch_sim.physics import nitrous
from oxlatch_sim.physics.validity import require_not_negative, require_positive, require_range

DEFAULT_EQUILIBRIUM_COEFFICIENT = 0.65
DEFAULT_LIQUID_COEFFICIENT = 0.77
DEFAULT_FUEL_COEFFICIENT = 0.75
DYER_SUBCOOLING_PA = 14.0e5
LOWEST_THROAT_PA = nitrous.SATURATION_LOW_PA


class CriticalFlow(NamedTuple):
    """Choked flow: the largest flux, and the throat pressure below which the downstream no longer matters."""

    flux_kg_m2_s: float
    throat_pressure_pa: float


def area_m2(diameter_m: float) -> float:
    """Area, m2, of a round hole of 0.05 to 50 mm."""
    require_range("hole diameter", diameter_m, 5.0e-5, 0.05, "m")
    return math.pi / 4.0 * diameter_m**2


def diameter_m(hole_area_m2: float) -> float:
    """Diameter, m, of the round hole with this area; the inverse of `area_m2`."""
    require_positive("hole area", hole_area_m2, "m2")
    return math.sqrt(hole_area_m2 * 4.0 / math.pi)


def incompressible_flux_kg_m2_s(density_kg_m3: float, pressure_drop_pa: float) -> float:
    """Flux of a liquid that stays liquid: Bernoulli, coefficient 1, pressure drop 0 to 50 MPa."""
    require_positive("liquid density", density_kg_m3, "kg/m3")
    require_range("pressure drop", pressure_drop_pa, 0.0, nitrous.EQUATION_HIGH_PA, "Pa")
    return math.sqrt(2.0 * density_kg_m3 * pressure_drop_pa)


def homogeneous_flux_kg_m2_s(inlet: nitrous.FluidState, throat_pressure_pa: float) -> float:
    """Flux of an isentropic homogeneous equilibrium expansion to the given throat pressure, not limited by
    choking.

    At a throat pressure below the critical one this is far below the true flow; see `critical_flow`.
    """
    require_range("throat pressure", throat_pressure_pa, LOWEST_THROAT_PA, inlet.pressure_pa, "Pa")
    if throat_pressure_pa == inlet.pressure_pa:
        return 0.0
    throat = nitrous.state_at_pressure_entropy(throat_pressure_pa, inlet.entropy_j_kg_k)
    enthalpy_drop_j_kg = max(inlet.enthalpy_j_kg - throat.enthalpy_j_kg, 0.0)
    return throat.density_kg_m3 * math.sqrt(2.0 * enthalpy_drop_j_kg)


def critical_flow(inlet: nitrous.FluidState) -> CriticalFlow:
    """Choked homogeneous equilibrium flow of any inlet up to 50 MPa, coefficient 1, whose throat stays above
    the triple pressure, 88 kPa.
    """
    require_range("inlet pressure", inlet.pressure_pa, LOWEST_THROAT_PA, nitrous.EQUATION_HIGH_PA, "Pa")

    def negative_flux(ratio: float) -> float:
        return -homogeneous_flux_kg_m2_s(inlet, ratio * inlet.pressure_pa)

    bounds = (LOWEST_THROAT_PA / inlet.pressure_pa, _highest_throat_ratio(inlet))
    best = minimize_scalar(negative_flux, bounds=bounds, method="bounded", options={"xatol": 1.0e-6})
    throat_pressure_pa = float(best.x) * inlet.pressure_pa
    require_range("throat pressure", throat_pressure_pa, 1.001 * LOWEST_THROAT_PA, inlet.pressure_pa, "Pa")
    return CriticalFlow(float(-best.fun), throat_pressure_pa)


def critical_flow_saturated_liquid(temperature_k: float) -> CriticalFlow:
    """Choked flow of saturated liquid at 195 to 309.5 K: a bottle feeding through its siphon tube."""
    return critical_flow(nitrous.saturated_state(_feed_temperature(temperature_k), 0.0))


def critical_flow_saturated_vapour(temperature_k: float) -> CriticalFlow:
    """Choked flow of saturated vapour at 195 to 309.5 K: a bottle whose tube is uncovered."""
    return critical_flow(nitrous.saturated_state(_feed_temperature(temperature_k), 1.0))


def equilibrium_flux_kg_m2_s(inlet: nitrous.FluidState, downstream_pa: float) -> float:
    """Homogeneous equilibrium flux into `downstream_pa`, choked where it must be, coefficient 1."""
    require_range("downstream pressure", downstream_pa, 0.0, inlet.pressure_pa, "Pa")
    critical = critical_flow(inlet)
    if downstream_pa <= critical.throat_pressure_pa:
        return critical.flux_kg_m2_s
    return homogeneous_flux_kg_m2_s(inlet, downstream_pa)


def unchoked_fraction(pressure_ratio: float, critical_ratio: float) -> float:
    """Flux into a raised downstream pressure over the choked flux, 1 at and below the critical pressure
    ratio.

    A quarter ellipse, for a plant step that cannot afford `homogeneous_flux_kg_m2_s`. Between -20 and 30 degC
    it is up to 0.10 of the choked flux too low for saturated liquid and up to 0.03 for saturated vapour.
    """
    require_range("pressure ratio", pressure_ratio, 0.0, 1.0)
    require_range("critical pressure ratio", critical_ratio, 0.0, 0.999)
    if pressure_ratio <= critical_ratio:
        return 1.0
    return math.sqrt(1.0 - ((pressure_ratio - critical_ratio) / (1.0 - critical_ratio)) ** 2)


def dyer_flux_kg_m2_s(
    inlet: nitrous.FluidState, downstream_pa: float, choked_equilibrium: bool = False
) -> float:
    """Dyer flux of a liquid inlet at 182.33 to 309.5 K into 88 kPa or more, coefficient 1.

    As published, the equilibrium part is taken at `downstream_pa` even where it would choke;
    `choked_equilibrium` takes its choked value instead. Above saturation pressure downstream nothing boils
    and the flux is the incompressible one.
    """
    require_range("downstream pressure", downstream_pa, LOWEST_THROAT_PA, inlet.pressure_pa, "Pa")
    liquid_flux = incompressible_flux_kg_m2_s(inlet.density_kg_m3, inlet.pressure_pa - downstream_pa)
    vapour_pressure_pa = nitrous.saturation_pressure_pa(inlet.temperature_k)
    if downstream_pa >= vapour_pressure_pa:
        return liquid_flux
    # An inlet on the saturation line may sit a rounding error below it; kappa is 1 there.
    available_pa = max(inlet.pressure_pa, vapour_pressure_pa) - downstream_pa
    kappa = math.sqrt(available_pa / (vapour_pressure_pa - downstream_pa))
    model = equilibrium_flux_kg_m2_s if choked_equilibrium else homogeneous_flux_kg_m2_s
    return (kappa * liquid_flux + model(inlet, downstream_pa)) / (1.0 + kappa)


def dyer_plateau_flux_kg_m2_s(inlet: nitrous.FluidState, downstream_pa: float) -> float:
    """Dyer flux as published, held at its largest value once the downstream pressure falls below that point.

    The published form falls again there, which no flow does. Range as `dyer_flux_kg_m2_s`.
    """
    direct = dyer_flux_kg_m2_s(inlet, downstream_pa)
    vapour_pressure_pa = nitrous.saturation_pressure_pa(inlet.temperature_k)
    if downstream_pa >= vapour_pressure_pa:
        return direct

    def negative_flux(pressure_pa: float) -> float:
        return -dyer_flux_kg_m2_s(inlet, pressure_pa)

    highest_pa = min(vapour_pressure_pa, inlet.pressure_pa)
    best = minimize_scalar(negative_flux, bounds=(downstream_pa, highest_pa), method="bounded")
    return max(direct, float(-best.fun))


def subcooling_pa(inlet: nitrous.FluidState) -> float:
    """Inlet pressure above saturation, Pa; negative for a superheated inlet, inlet at 182.33 to 309.5 K."""
    return inlet.pressure_pa - nitrous.saturation_pressure_pa(inlet.temperature_k)


def nitrous_flux_kg_m2_s(
    inlet: nitrous.FluidState,
    downstream_pa: float,
    equilibrium_coefficient: float = DEFAULT_EQUILIBRIUM_COEFFICIENT,
    liquid_coefficient: float = DEFAULT_LIQUID_COEFFICIENT,
) -> float:
    """Expected flux of a real hole, coefficient included: Dyer where the liquid is subcooled by 14 bar or
    more, choked homogeneous equilibrium otherwise. Uncalibrated, expect 20 % either way; calibrate by
    weighing. The two meet with a step at 14 bar.
    """
    _coefficient("equilibrium coefficient", equilibrium_coefficient)
    _coefficient("liquid coefficient", liquid_coefficient)
    if _is_well_subcooled(inlet):
        return liquid_coefficient * dyer_plateau_flux_kg_m2_s(inlet, downstream_pa)
    return equilibrium_coefficient * equilibrium_flux_kg_m2_s(inlet, downstream_pa)


def nitrous_flow_kg_s(
    hole_diameter_m: float,
    inlet: nitrous.FluidState,
    downstream_pa: float,
    equilibrium_coefficient: float = DEFAULT_EQUILIBRIUM_COEFFICIENT,
    liquid_coefficient: float = DEFAULT_LIQUID_COEFFICIENT,
) -> float:
    """Expected nitrous flow, kg/s, of a round hole of 0.05 to 50 mm; model as `nitrous_flux_kg_m2_s`."""
    flux = nitrous_flux_kg_m2_s(inlet, downstream_pa, equilibrium_coefficient, liquid_coefficient)
    return area_m2(hole_diameter_m) * flux


def nitrous_diameter_m(
    flow_kg_s: float,
    inlet: nitrous.FluidState,
    downstream_pa: float,
    equilibrium_coefficient: float = DEFAULT_EQUILIBRIUM_COEFFICIENT,
    liquid_coefficient: float = DEFAULT_LIQUID_COEFFICIENT,
) -> float:
    """Hole diameter, m, for a wanted nitrous flow; the inverse of `nitrous_flow_kg_s`."""
    require_positive("nitrous flow", flow_kg_s, "kg/s")
    flux = nitrous_flux_kg_m2_s(inlet, downstream_pa, equilibrium_coefficient, liquid_coefficient)
    return diameter_m(flow_kg_s / require_positive("nitrous flux", flux, "kg/(m2 s)"))


def fuel_flow_kg_s(
    hole_diameter_m: float,
    pressure_drop_pa: float,
    density_kg_m3: float,
    coefficient: float = DEFAULT_FUEL_COEFFICIENT,
) -> float:
    """Fuel flow, kg/s, through a round hole of 0.05 to 50 mm; incompressible, not cavitating."""
    _coefficient("fuel coefficient", coefficient)
    return (
        coefficient * area_m2(hole_diameter_m) * incompressible_flux_kg_m2_s(density_kg_m3, pressure_drop_pa)
    )


def fuel_diameter_m(
    flow_kg_s: float,
    pressure_drop_pa: float,
    density_kg_m3: float,
    coefficient: float = DEFAULT_FUEL_COEFFICIENT,
) -> float:
    """Hole diameter, m, for a wanted fuel flow; the inverse of `fuel_flow_kg_s`."""
    _coefficient("fuel coefficient", coefficient)
    require_not_negative("fuel flow", flow_kg_s, "kg/s")
    flux = incompressible_flux_kg_m2_s(
        density_kg_m3, require_positive("pressure drop", pressure_drop_pa, "Pa")
    )
    return diameter_m(flow_kg_s / (coefficient * flux))


def short_tube_coefficient(length_m: float, bore_m: float, reynolds: float) -> float:
    """Discharge coefficient of a short smooth tube: 1 / sqrt(4 Cf L/D + 2.28), Cf = 0.0791 Re^-1/4.

    Source: La Luna et al. 2022 (module docstring). Range: turbulent, Reynolds 3e3 to 1e7, L/D up to 100.
    """
    require_range("Reynolds number", reynolds, 3.0e3, 1.0e7)
    slenderness = require_not_negative("tube length", length_m, "m") / require_positive(
        "tube bore", bore_m, "m"
    )
    require_range("tube length over bore", slenderness, 0.0, 100.0)
    friction = 0.0791 * reynolds**-0.25
    return 1.0 / math.sqrt(4.0 * friction * slenderness + 2.28)


def _highest_throat_ratio(inlet: nitrous.FluidState) -> float:
    """Liquid is never sonic before it boils, and expanding it cools it: the throat lies below inlet
    saturation.
    """
    is_liquid = inlet.density_kg_m3 > nitrous.CRITICAL_DENSITY_KG_M3
    if not is_liquid or inlet.temperature_k > nitrous.SATURATION_HIGH_K:
        return 1.0
    return min(nitrous.saturation_pressure_pa(inlet.temperature_k) / inlet.pressure_pa, 1.0)


def _is_well_subcooled(inlet: nitrous.FluidState) -> bool:
    if inlet.quality is not None or inlet.temperature_k > nitrous.SATURATION_HIGH_K:
        return False
    return subcooling_pa(inlet) >= DYER_SUBCOOLING_PA


def _coefficient(quantity: str, value: float) -> None:
    require_range(quantity, value, 0.05, 1.2)


def _feed_temperature(temperature_k: float) -> float:
    return require_range("nitrous feed temperature", temperature_k, 195.0, nitrous.SATURATION_HIGH_K, "K")
