"""Oxygen, energy and charge temperature with nitrous oxide and gasoline."""

import cantera as ct
import pytest

from oxlatch_sim.physics import combustion, engine, nitrous

KELVIN = 273.15
PSI_PA = 6894.757
HORSEPOWER_W = 745.6999
POUND_KG = 0.45359237
BOTTLE_70F_K = (70.0 - 32.0) / 1.8 + KELVIN
ISOOCTANE, BENZENE = "C8H18,isooctane", "C6H6"
SPECIES = (ISOOCTANE, BENZENE, "N2O", "N2", "O2", "CO2", "H2O", "NO", "O")


@pytest.fixture(scope="module")
def gas() -> ct.Solution:
    library = [species for species in ct.Species.list_from_file("nasa_gas.yaml") if species.name in SPECIES]
    return ct.Solution(thermo="ideal-gas", kinetics="gas", species=library)


def blend(hydrogen_per_carbon: float) -> str:
    """Mole fractions of two fuels whose mean hydrogen per carbon is the given one."""
    octane = 6.0 * (hydrogen_per_carbon - 1.0)
    benzene = 18.0 - 8.0 * hydrogen_per_carbon
    return f"{ISOOCTANE}:{octane}, {BENZENE}:{benzene}"


@pytest.mark.parametrize(("hydrogen", "ratio"), [(18.0 / 8.0, 9.63), (1.87, 9.30), (2.0, 9.41)])
def test_stoichiometric_nitrous(gas: ct.Solution, hydrogen: float, ratio: float) -> None:
    # Values computed by hand from CHy + (2 + y/2) N2O; half of the last digit. Also computed with cantera
    # 3.2.0: 0.02 %, its atomic masses.
    assert combustion.stoichiometric_nitrous_ratio(hydrogen) == pytest.approx(ratio, abs=0.006)
    library = gas.stoich_air_fuel_ratio(blend(hydrogen), "N2O:1")
    assert combustion.stoichiometric_nitrous_ratio(hydrogen) == pytest.approx(library, rel=2e-4)


@pytest.mark.parametrize(("hydrogen", "ratio"), [(1.87, 14.60), (2.0, 14.78)])
def test_stoichiometric_air(gas: ct.Solution, hydrogen: float, ratio: float) -> None:
    # Values computed by hand; tolerance one last digit. cantera 3.2.0 with air of 0.2314 oxygen by mass: 0.05
    # %.
    assert combustion.stoichiometric_air_ratio(hydrogen) == pytest.approx(ratio, abs=0.01)
    pure_oxygen = gas.stoich_air_fuel_ratio(blend(hydrogen), "O2:1")
    assert combustion.stoichiometric_air_ratio(hydrogen) == pytest.approx(pure_oxygen / 0.2314, rel=5e-4)


def test_oxygen_fractions() -> None:
    # Computed from atomic masses: N2O 0.3635 oxygen by mass, 1.571 times the 0.2314 of air. Half of the last
    # digit.
    assert pytest.approx(0.3635, abs=6e-5) == combustion.NITROUS_OXYGEN_MASS_FRACTION
    ratio = combustion.NITROUS_OXYGEN_MASS_FRACTION / combustion.AIR_OXYGEN_MASS_FRACTION
    assert ratio == pytest.approx(1.571, abs=6e-4)


def test_decomposition_heat(gas: ct.Solution) -> None:
    # Source: 82.05 kJ/mol, products near 1908 K (La Luna et al. 2022, read). Computed with cantera 3.2.0:
    # 81.60 kJ/mol, 1907 K. Tolerance 1 % of heat, the spread of heats of formation; 3 K.
    gas.TPX = 298.15, 101_325.0, "N2O:1"
    before = gas.enthalpy_mole
    gas.equilibrate("HP")
    assert pytest.approx(1908.0, abs=3.0) == gas.T
    gas.TPX = 298.15, 101_325.0, "N2:2, O2:1"
    released = (before - 1.5 * gas.enthalpy_mole) / 1e3
    assert released == pytest.approx(combustion.DECOMPOSITION_J_MOL, rel=0.01)


def test_heat_per_kilogram_of_nitrous() -> None:
    # Computed: 4.73 (fuel at 44 MJ/kg, from memory) + 1.86 (decomposition) = 6.60 MJ/kg. Half of the last
    # digit.
    assert combustion.heat_per_nitrous_j_kg() / 1e6 == pytest.approx(6.60, abs=0.006)


@pytest.mark.parametrize(
    ("specific_fuel", "air_fuel", "nitrous_lb_min", "fuel_lb_min", "mixture"),
    [(0.50, 12.5, 6.63, 0.83, 7.96), (0.55, 12.0, 7.00, 0.92, 7.64), (0.60, 11.5, 7.32, 1.00, 7.32)],
)
def test_nitrous_per_100_hp_by_oxygen(
    specific_fuel: float, air_fuel: float, nitrous_lb_min: float, fuel_lb_min: float, mixture: float
) -> None:
    # Computed from the oxygen balance; the specific consumptions, lb/(hp h), are from memory. Half of the
    # last digit.
    power = 100.0 * HORSEPOWER_W
    consumption = specific_fuel * POUND_KG / (HORSEPOWER_W * 3600.0)
    flow = combustion.nitrous_flow_by_oxygen_kg_s(power, consumption, air_fuel)
    fuel = combustion.fuel_flow_kg_s(power, consumption)
    assert flow * 60.0 / POUND_KG == pytest.approx(nitrous_lb_min, abs=0.01)
    assert fuel * 60.0 / POUND_KG == pytest.approx(fuel_lb_min, abs=0.006)
    assert flow / fuel == pytest.approx(mixture, abs=0.01)


@pytest.mark.parametrize(("efficiency", "lb_min"), [(0.24, 6.2), (0.26, 5.8), (0.28, 5.3), (0.30, 5.0)])
def test_nitrous_per_100_hp_by_energy(efficiency: float, lb_min: float) -> None:
    # Computed from 6.60 MJ/kg. Tolerance: half of the last digit.
    flow = combustion.nitrous_flow_by_energy_kg_s(100.0 * HORSEPOWER_W, efficiency)
    assert flow * 60.0 / POUND_KG == pytest.approx(lb_min, abs=0.06)


def test_both_bases_lie_within_5_to_7_point_3_lb_per_minute() -> None:
    # The accepted span for 100 hp is computed above; its ends are rounded to a tenth.
    power = 100.0 * HORSEPOWER_W
    by_energy = [
        combustion.nitrous_flow_by_energy_kg_s(power, efficiency) for efficiency in (0.24, 0.27, 0.30)
    ]
    unit = POUND_KG / (HORSEPOWER_W * 3600.0)
    by_oxygen = [
        combustion.nitrous_flow_by_oxygen_kg_s(power, consumption * unit, air_fuel)
        for consumption, air_fuel in ((0.50, 12.5), (0.55, 12.0), (0.60, 11.5))
    ]
    for flow in by_energy + by_oxygen:
        assert 4.95 <= flow * 60.0 / POUND_KG <= 7.35
    # A flow sized by oxygen is a lower bound on the power it makes.
    assert min(by_oxygen) > max(by_energy)


@pytest.mark.parametrize(
    ("bottle_celsius", "kj_kg"), [(0.0, 281.2), ((70.0 - 32.0) / 1.8, 247.6), (30.0, 226.3)]
)
def test_heat_taken_up_by_liquid_becoming_gas(bottle_celsius: float, kj_kg: float) -> None:
    # Computed with CoolProp 8.0.0, gas at 1 atm and the temperature of the liquid. Tolerance: half of the
    # last digit.
    gas_j_kg = nitrous.state_at_pressure_temperature(101_325.0, bottle_celsius + KELVIN).enthalpy_j_kg
    taken_up = gas_j_kg - nitrous.liquid_enthalpy_j_kg(bottle_celsius + KELVIN)
    assert taken_up / 1e3 == pytest.approx(kj_kg, abs=0.06)


def test_flash_to_one_atmosphere_makes_58_percent_vapour() -> None:
    # Computed with CoolProp 8.0.0: throttled from 21.1 degC to 1 atm, vapour fraction 0.58 at -88.5 degC.
    # Half a digit.
    cold = nitrous.saturation_temperature_k(101_325.0)
    liquid = nitrous.liquid_enthalpy_j_kg(cold)
    vapour_share = (nitrous.liquid_enthalpy_j_kg(BOTTLE_70F_K) - liquid) / nitrous.latent_heat_j_kg(cold)
    assert cold - KELVIN == pytest.approx(-88.5, abs=0.06)
    assert vapour_share == pytest.approx(0.58, abs=0.006)


TUG_INTAKE_PA = 0.97 * 101_325.0


def tug_air_kg_s() -> float:
    return engine.air_flow_kg_s(8.379e-3, 2600.0, 0.85, TUG_INTAKE_PA, 288.15)


@pytest.mark.parametrize(
    ("kw", "drop_k", "oxygen"), [(20, 16.4, 1.127), (40, 30.8, 1.253), (60, 43.5, 1.378), (80, 54.8, 1.503)]
)
def test_charge_cooling(kw: float, drop_k: float, oxygen: float) -> None:
    # Computed with CoolProp 8.0.0 by enthalpy balance, 8.379 L at 2600 rpm, 0.672 g/s per kW, bottle at 21.1
    # degC, full evaporation. Tolerance: half of the last digit. In a real intake expect between half of it
    # and all of it.
    assert tug_air_kg_s() == pytest.approx(0.1834, abs=6e-5)
    charge = combustion.boosted_charge(tug_air_kg_s(), 288.15, TUG_INTAKE_PA, 0.672e-3 * kw, BOTTLE_70F_K)
    assert 288.15 - charge.temperature_k == pytest.approx(drop_k, abs=0.06)
    assert charge.oxygen_ratio == pytest.approx(oxygen, abs=6e-4)
    # Air changes by +1 to +4 %: cooling about offsets displacement (computed as above).
    assert 1.01 < charge.air_kg_s / tug_air_kg_s() < 1.045


def test_a_sizeable_flow_cools_the_intake_by_40_degf_and_more() -> None:
    # Common practice, no source: "40 degF and more for a sizeable flow". In this model it takes
    # 20 g/s on 0.183 kg/s of air, about 30 kW on this engine: 11 % of the air by mass.
    def drop_degf(nitrous_per_air: float) -> float:
        air = tug_air_kg_s()
        charge = combustion.boosted_charge(air, 288.15, TUG_INTAKE_PA, nitrous_per_air * air, BOTTLE_70F_K)
        return (288.15 - charge.temperature_k) * 1.8

    assert drop_degf(0.11) > 40.0
    assert drop_degf(0.09) < 40.0


@pytest.mark.parametrize(
    ("psi", "per_psi", "real_per_psi"),
    [(1, 10.1, 14.4), (5, 9.24, 13.2), (10, 8.47, 12.1), (15, 7.86, 11.2), (20, 7.37, 10.5)],
)
def test_compression_heating(psi: float, per_psi: float, real_per_psi: float) -> None:
    # Computed by hand: gamma 1.4 from 70 degF and 1 atm, degF per psi; ideal and at 70 % efficiency.
    # Tolerance 0.5 %: three digits.
    ideal = combustion.compression_heating_k(BOTTLE_70F_K, 101_325.0, psi * PSI_PA) * 1.8 / psi
    real = combustion.compression_heating_k(BOTTLE_70F_K, 101_325.0, psi * PSI_PA, 0.70) * 1.8 / psi
    assert ideal == pytest.approx(per_psi, rel=5e-3)
    assert real == pytest.approx(real_per_psi, rel=5e-3)


@pytest.mark.parametrize("psi", [5.0, 6.0, 7.0])
def test_nine_degf_per_psi_is_the_ideal_value_at_5_to_7_psi(psi: float) -> None:
    # Common practice, no source: about 9 degF per psi of compression. Tolerance 0.3: "about 9".
    per_psi = combustion.compression_heating_k(BOTTLE_70F_K, 101_325.0, psi * PSI_PA) * 1.8 / psi
    assert per_psi == pytest.approx(9.0, abs=0.3)
