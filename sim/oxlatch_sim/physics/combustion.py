"""Oxygen and energy balance of nitrous oxide with gasoline, and what both do to the charge.

The fuel is CHy with y hydrogens per carbon, 1.6 to 2.4; 1.87 stands for gasoline (Heywood, from memory).
Atomic masses: IUPAC. Dry air: 0.2314 oxygen by mass, 28.9647 g/mol (US Standard Atmosphere 1976 composition).
"""

import math
from typing import NamedTuple

from scipy.optimize import brentq

from oxlatch_sim.physics import nitrous
from oxlatch_sim.physics.validity import require_not_negative, require_positive, require_range

GASOLINE_HYDROGEN_PER_CARBON = 1.87
GASOLINE_HEATING_VALUE_J_KG = 44.0e6
CARBON_KG_MOL = 12.011e-3
HYDROGEN_KG_MOL = 1.008e-3
OXYGEN_ATOM_KG_MOL = 15.999e-3
AIR_KG_MOL = 28.9647e-3
AIR_OXYGEN_MASS_FRACTION = 0.2314
NITROUS_OXYGEN_MASS_FRACTION = OXYGEN_ATOM_KG_MOL / nitrous.MOLAR_MASS_KG_MOL
DECOMPOSITION_J_MOL = 82.05e3
AIR_HEAT_CAPACITY_J_KG_K = 1005.0
AIR_GAMMA = 1.4


class BoostedCharge(NamedTuple):
    """Charge with nitrous oxide in it: temperature, air breathed, and oxygen over that of the unboosted
    charge.
    """

    temperature_k: float
    air_kg_s: float
    oxygen_ratio: float


def stoichiometric_nitrous_ratio(hydrogen_per_carbon: float = GASOLINE_HYDROGEN_PER_CARBON) -> float:
    """Mass of nitrous oxide that burns one mass of CHy completely; each molecule brings one oxygen atom."""
    atoms = 2.0 + _hydrogens(hydrogen_per_carbon) / 2.0
    return atoms * nitrous.MOLAR_MASS_KG_MOL / _fuel_kg_mol(hydrogen_per_carbon)


def stoichiometric_air_ratio(hydrogen_per_carbon: float = GASOLINE_HYDROGEN_PER_CARBON) -> float:
    """Mass of dry air that burns one mass of CHy completely."""
    oxygen_kg_mol = (2.0 + _hydrogens(hydrogen_per_carbon) / 2.0) * OXYGEN_ATOM_KG_MOL
    return oxygen_kg_mol / AIR_OXYGEN_MASS_FRACTION / _fuel_kg_mol(hydrogen_per_carbon)


def oxygen_enrichment(nitrous_kg_s: float, air_kg_s: float) -> float:
    """Oxygen reaching the cylinders over that of the air alone."""
    require_not_negative("nitrous flow", nitrous_kg_s, "kg/s")
    require_positive("air flow", air_kg_s, "kg/s")
    return 1.0 + nitrous_kg_s * NITROUS_OXYGEN_MASS_FRACTION / (air_kg_s * AIR_OXYGEN_MASS_FRACTION)


def nitrous_flow_by_oxygen_kg_s(
    added_power_w: float, specific_fuel_kg_j: float, air_fuel_ratio: float
) -> float:
    """Nitrous flow, kg/s, that brings the oxygen of the air the added power would need. A lower bound on
    power.

    `specific_fuel_kg_j` is brake specific fuel consumption, kg/J (0.5 lb/(hp h) is 8.45e-8); `air_fuel_ratio`
    that of the engine, 9 to 18 by mass. Decomposition heat is left out, so the same flow makes more power
    than this says.
    """
    require_range("air-fuel ratio", air_fuel_ratio, 9.0, 18.0)
    air_kg_s = fuel_flow_kg_s(added_power_w, specific_fuel_kg_j) * air_fuel_ratio
    return air_kg_s * AIR_OXYGEN_MASS_FRACTION / NITROUS_OXYGEN_MASS_FRACTION


def fuel_flow_kg_s(added_power_w: float, specific_fuel_kg_j: float) -> float:
    """Fuel flow, kg/s, for the added power at a brake specific consumption of 5e-8 to 1.5e-7 kg/J."""
    require_not_negative("added power", added_power_w, "W")
    return added_power_w * require_range(
        "specific fuel consumption", specific_fuel_kg_j, 5.0e-8, 1.5e-7, "kg/J"
    )


def heat_per_nitrous_j_kg(
    heating_value_j_kg: float = GASOLINE_HEATING_VALUE_J_KG,
    hydrogen_per_carbon: float = GASOLINE_HYDROGEN_PER_CARBON,
) -> float:
    """Heat of burning with, and of decomposing, one kilogram of nitrous oxide, J/kg; stoichiometric.

    Decomposition: 82.05 kJ/mol (La Luna et al. 2022, doi 10.3390/aerospace9120828). Heating value from
    memory.
    """
    require_range("heating value", heating_value_j_kg, 38.0e6, 48.0e6, "J/kg")
    fuel_part = heating_value_j_kg / stoichiometric_nitrous_ratio(hydrogen_per_carbon)
    return fuel_part + DECOMPOSITION_J_MOL / nitrous.MOLAR_MASS_KG_MOL


def nitrous_flow_by_energy_kg_s(added_power_w: float, brake_efficiency: float) -> float:
    """Nitrous flow, kg/s, whose heat, decomposition included, makes the added power at an efficiency of 0.15
    to 0.4.

    Turned round, it says how much more power a flow sized by oxygen may make.
    """
    require_not_negative("added power", added_power_w, "W")
    require_range("brake efficiency", brake_efficiency, 0.15, 0.4)
    return added_power_w / (brake_efficiency * heat_per_nitrous_j_kg())


def mixed_charge_temperature_k(
    air_kg_s: float, air_k: float, intake_pa: float, nitrous_kg_s: float, bottle_k: float
) -> float:
    """Charge temperature, K, once saturated bottle liquid has evaporated in the air completely.

    m_air cp (Ta - T) = m_nitrous (h(T, p) - h_liquid(T_bottle)), cp 1005 J/(kg K). An upper bound on cooling:
    what evaporates in the cylinder or on walls cools no charge. Range: intake 0.2 to 2 bar, air 233 to 400 K,
    bottle 230 to 309 K; the result must stay above 200 K, near where nitrous gas at intake pressure would
    condense.
    """
    require_positive("air flow", air_kg_s, "kg/s")
    require_not_negative("nitrous flow", nitrous_kg_s, "kg/s")
    require_range("intake pressure", intake_pa, 2.0e4, 2.0e5, "Pa")
    require_range("air temperature", air_k, 233.15, 400.0, "K")
    require_range("bottle temperature", bottle_k, 230.0, 309.0, "K")
    liquid_j_kg = nitrous.liquid_enthalpy_j_kg(bottle_k)

    def surplus_w(charge_k: float) -> float:
        gas_j_kg = nitrous.state_at_pressure_temperature(intake_pa, charge_k).enthalpy_j_kg
        return air_kg_s * AIR_HEAT_CAPACITY_J_KG_K * (air_k - charge_k) - nitrous_kg_s * (
            gas_j_kg - liquid_j_kg
        )

    lowest_k = 200.0
    require_range("heat left in the charge at 200 K", surplus_w(lowest_k), 0.0, 1.0e9, "W")
    return float(brentq(surplus_w, lowest_k, air_k, xtol=1.0e-6))


def boosted_charge(
    unboosted_air_kg_s: float, air_k: float, intake_pa: float, nitrous_kg_s: float, bottle_k: float
) -> BoostedCharge:
    """Charge once cooling and displacement have settled the air flow; complete evaporation, an upper bound.

    Range as `mixed_charge_temperature_k`. The two change the air by a few per cent of each other's effect, so
    eight rounds settle it to better than one part in a million.
    """
    air_kg_s = unboosted_air_kg_s
    for _ in range(8):
        charge_k = mixed_charge_temperature_k(air_kg_s, air_k, intake_pa, nitrous_kg_s, bottle_k)
        air_kg_s = unboosted_air_kg_s * air_flow_ratio(unboosted_air_kg_s, nitrous_kg_s, air_k, charge_k)
    oxygen_ratio = oxygen_enrichment(nitrous_kg_s, air_kg_s) * air_kg_s / unboosted_air_kg_s
    return BoostedCharge(charge_k, air_kg_s, oxygen_ratio)


def air_flow_ratio(air_kg_s: float, nitrous_kg_s: float, air_k: float, charge_k: float) -> float:
    """Air breathed with nitrous gas in the charge over `air_kg_s`, breathed without: cooling makes room for
    moles, and those of the gas take it.
    """
    require_positive("air flow", air_kg_s, "kg/s")
    require_not_negative("nitrous flow", nitrous_kg_s, "kg/s")
    require_range("air temperature", air_k, 200.0, 400.0, "K")
    require_range("charge temperature", charge_k, 200.0, air_k, "K")
    displaced = nitrous_kg_s / nitrous.MOLAR_MASS_KG_MOL / (air_kg_s / AIR_KG_MOL)
    return require_range("air breathed over air without boost", air_k / charge_k - displaced, 0.05, 2.0)


def compression_heating_k(
    temperature_k: float, pressure_pa: float, pressure_rise_pa: float, efficiency: float = 1.0
) -> float:
    """Warming of air, K, compressed by `pressure_rise_pa`: T ((p2/p1)^(0.4/1.4) - 1) / efficiency.

    Perfect gas, gamma 1.4; pressure ratio up to 4, isentropic efficiency 0.4 to 1.
    """
    require_range("air temperature", temperature_k, 200.0, 400.0, "K")
    require_positive("air pressure", pressure_pa, "Pa")
    ratio = require_range("pressure ratio", 1.0 + pressure_rise_pa / pressure_pa, 1.0, 4.0)
    require_range("compressor efficiency", efficiency, 0.4, 1.0)
    return temperature_k * (math.pow(ratio, (AIR_GAMMA - 1.0) / AIR_GAMMA) - 1.0) / efficiency


def _hydrogens(hydrogen_per_carbon: float) -> float:
    return require_range("hydrogen atoms per carbon atom", hydrogen_per_carbon, 1.6, 2.4)


def _fuel_kg_mol(hydrogen_per_carbon: float) -> float:
    return CARBON_KG_MOL + hydrogen_per_carbon * HYDROGEN_KG_MOL
