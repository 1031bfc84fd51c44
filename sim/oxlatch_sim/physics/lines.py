"""Tubes: steady loss, filling, pressure waves, hydraulic shock, liquid trapped between shut valves."""

import math

from fluids.core import Reynolds, dP_from_K, nu_mu_converter
from fluids.friction import friction_factor
from scipy.optimize import brentq

from oxlatch_sim.physics import nitrous
from oxlatch_sim.physics.validity import require_not_negative, require_positive, require_range

# Drawn tubing, common practice.
SMOOTH_TUBE_ROUGHNESS_M = 1.5e-6
# Gasoline near 20 degC, from memory: density, viscosity, bulk modulus.
GASOLINE_DENSITY_KG_M3 = 720.0
GASOLINE_VISCOSITY_PA_S = 0.5e-3
GASOLINE_BULK_MODULUS_PA = 1.0e9
_TRAPPED_STEP_K = 0.05


def bore_area_m2(bore_m: float) -> float:
    """Flow area, m2, of a tube of 0.2 to 50 mm bore."""
    return math.pi / 4.0 * require_range("tube bore", bore_m, 2.0e-4, 0.05, "m") ** 2


def line_volume_m3(length_m: float, bore_m: float) -> float:
    """Volume, m3, inside a tube of up to 50 m."""
    return bore_area_m2(bore_m) * _length(length_m)


def velocity_m_s(flow_kg_s: float, density_kg_m3: float, bore_m: float) -> float:
    """Mean velocity, m/s."""
    require_not_negative("flow", flow_kg_s, "kg/s")
    return flow_kg_s / (require_positive("density", density_kg_m3, "kg/m3") * bore_area_m2(bore_m))


def liquid_nitrous_viscosity_pa_s(temperature_k: float) -> float:
    """Viscosity of saturated liquid nitrous oxide, Pa s, at 183 to 303 K.

    Source: ESDU 91022, equation 4.9 (secondary: coefficients identical in several public files).
    """
    require_range("nitrous liquid temperature", temperature_k, 183.0, 303.15, "K")
    theta = (309.59 - 5.24) / (temperature_k - 5.24) - 1.0
    return 0.0293423e-3 * math.exp(1.6089 * math.pow(theta, 1.0 / 3.0) + 2.0439 * math.pow(theta, 4.0 / 3.0))


def pipe_loss_pa(
    flow_kg_s: float,
    density_kg_m3: float,
    viscosity_pa_s: float,
    length_m: float,
    bore_m: float,
    fittings_k: float = 0.0,
    roughness_m: float = SMOOTH_TUBE_ROUGHNESS_M,
) -> float:
    """Pressure loss, Pa, of a single-phase liquid in a straight tube plus `fittings_k` velocity heads.

    Darcy-Weisbach with the friction factor of `fluids` (laminar below its critical Reynolds number, Clamond's
    solution of Colebrook above). Bubbles in the liquid raise the loss several times over.
    """
    require_positive("viscosity", viscosity_pa_s, "Pa s")
    require_not_negative("fittings loss", fittings_k)
    require_range("roughness over bore", roughness_m / bore_m, 0.0, 0.05)
    speed = velocity_m_s(flow_kg_s, density_kg_m3, bore_m)
    if speed == 0.0:
        return 0.0
    kinematic = nu_mu_converter(density_kg_m3, mu=viscosity_pa_s)
    factor = friction_factor(Re=Reynolds(V=speed, D=bore_m, nu=kinematic), eD=roughness_m / bore_m)
    return float(dP_from_K(factor * _length(length_m) / bore_m + fittings_k, rho=density_kg_m3, V=speed))


def pipe_flow_kg_s(
    pressure_drop_pa: float,
    density_kg_m3: float,
    viscosity_pa_s: float,
    length_m: float,
    bore_m: float,
    fittings_k: float = 0.0,
    roughness_m: float = SMOOTH_TUBE_ROUGHNESS_M,
) -> float:
    """Flow, kg/s, up to 10 kg/s, that loses `pressure_drop_pa`; the inverse of `pipe_loss_pa`."""
    require_range("pressure drop", pressure_drop_pa, 0.0, 1.0e8, "Pa")

    def excess_pa(flow_kg_s: float) -> float:
        loss = pipe_loss_pa(
            flow_kg_s, density_kg_m3, viscosity_pa_s, length_m, bore_m, fittings_k, roughness_m
        )
        return loss - pressure_drop_pa

    require_range("pressure drop", pressure_drop_pa, 0.0, pressure_drop_pa + excess_pa(10.0), "Pa")
    return float(brentq(excess_pa, 0.0, 10.0, xtol=1.0e-12))


def fill_time_s(volume_m3: float, density_kg_m3: float, flow_kg_s: float) -> float:
    """Time, s, for a steady flow of liquid to fill a volume: a lower bound, it boils into a warm line."""
    require_not_negative("volume", volume_m3, "m3")
    require_positive("density", density_kg_m3, "kg/m3")
    return volume_m3 * density_kg_m3 / require_positive("flow", flow_kg_s, "kg/s")


def wave_time_s(length_m: float, sound_speed_m_s: float) -> float:
    """Time, s, for a pressure wave to run the length of a line once."""
    return _length(length_m) / require_range("sound speed", sound_speed_m_s, 10.0, 6000.0, "m/s")


def liquid_sound_speed_m_s(bulk_modulus_pa: float, density_kg_m3: float) -> float:
    """Sound speed, m/s, in a bubble-free liquid in a stiff tube: sqrt(K / rho)."""
    require_positive("bulk modulus", bulk_modulus_pa, "Pa")
    return math.sqrt(bulk_modulus_pa / require_positive("density", density_kg_m3, "kg/m3"))


def hydraulic_shock_pa(density_kg_m3: float, sound_speed_m_s: float, velocity_change_m_s: float) -> float:
    """Pressure rise, Pa, of a flow stopped in less than a wave's return: Joukowsky, rho c dv.

    An upper bound: any bubble lowers the sound speed many times over.
    """
    require_positive("density", density_kg_m3, "kg/m3")
    require_range("sound speed", sound_speed_m_s, 10.0, 6000.0, "m/s")
    return (
        density_kg_m3 * sound_speed_m_s * require_not_negative("velocity change", velocity_change_m_s, "m/s")
    )


def trapped_liquid_slope_pa_k(temperature_k: float) -> float:
    """Pressure rise per kelvin, Pa/K, of liquid nitrous just filling a rigid line shut at both ends.

    Range 240 to 305 K. Reason enough for a relief between any two valves.
    """
    require_range("nitrous liquid temperature", temperature_k, 240.0, 305.0, "K")
    density = nitrous.liquid_density_kg_m3(temperature_k)
    warmer_pa = nitrous.pressure_at_density_pa(density, temperature_k + _TRAPPED_STEP_K)
    return (warmer_pa - nitrous.saturation_pressure_pa(temperature_k)) / _TRAPPED_STEP_K


def _length(length_m: float) -> float:
    return require_range("tube length", length_m, 0.0, 50.0, "m")
