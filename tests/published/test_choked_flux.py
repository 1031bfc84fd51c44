"""Flux of saturated nitrous oxide through a hole into one atmosphere, coefficient 1.

Formulas: La Luna et al., Aerospace 9 (2022) 828 (read). Values: computed with CoolProp 8.0.0 by a grid search
written apart from this package, so they check our search and our formulas, not the equation of state.
"""

import pytest

from oxlatch_sim.physics import nitrous, orifice

KELVIN = 273.15
ATMOSPHERE_PA = 101_325.0

# degC: incompressible, choked, p*/p1, equilibrium at 1 atm, Dyer with choked part, Dyer, choked vapour, p*/p1
FLUX = {
    -10.0: (66163, 18426, 0.774, 2163, 42294, 34163, 7705, 0.585),
    0.0: (74027, 21869, 0.755, 2180, 47948, 38104, 10115, 0.588),
    10.0: (81527, 25485, 0.739, 2196, 53506, 41862, 13132, 0.594),
    20.0: (88172, 29124, 0.717, 2211, 58648, 45192, 16984, 0.602),
    21.11: (88816, 29516, 0.715, 2212, 59166, 45514, 17481, 0.604),
    25.0: (90814, 30838, 0.707, 2217, 60826, 46516, 19368, 0.609),
    30.0: (92418, 32293, 0.694, 2221, 62355, 47319, 22266, 0.618),
}


@pytest.mark.parametrize("celsius", FLUX)
def test_flux_table(celsius: float) -> None:
    # Tolerance: 0.1 % of flux and 0.002 of pressure ratio, the step of the grid search behind the values.
    liquid_flux, choked, ratio, unchoked, dyer_choked, dyer, vapour_choked, vapour_ratio = FLUX[celsius]
    liquid = nitrous.saturated_state(celsius + KELVIN, 0.0)
    pressure = liquid.pressure_pa
    drop = pressure - ATMOSPHERE_PA
    assert orifice.incompressible_flux_kg_m2_s(liquid.density_kg_m3, drop) == pytest.approx(
        liquid_flux, rel=1e-3
    )
    critical = orifice.critical_flow(liquid)
    assert critical.flux_kg_m2_s == pytest.approx(choked, rel=1e-3)
    assert critical.throat_pressure_pa / pressure == pytest.approx(ratio, abs=0.002)
    assert orifice.homogeneous_flux_kg_m2_s(liquid, ATMOSPHERE_PA) == pytest.approx(unchoked, rel=1e-3)
    assert orifice.dyer_flux_kg_m2_s(liquid, ATMOSPHERE_PA) == pytest.approx(dyer, rel=1e-3)
    choked_dyer = orifice.dyer_flux_kg_m2_s(liquid, ATMOSPHERE_PA, choked_equilibrium=True)
    assert choked_dyer == pytest.approx(dyer_choked, rel=1e-3)
    vapour = orifice.critical_flow_saturated_vapour(celsius + KELVIN)
    assert vapour.flux_kg_m2_s == pytest.approx(vapour_choked, rel=1e-3)
    assert vapour.throat_pressure_pa / pressure == pytest.approx(vapour_ratio, abs=0.002)


def test_flow_into_an_atmosphere_is_choked() -> None:
    # Forgetting to choke loses a factor of 13 at 20 degC (computed with CoolProp 8.0.0). Tolerance: half a
    # digit.
    liquid = nitrous.saturated_state(20.0 + KELVIN, 0.0)
    choked = orifice.equilibrium_flux_kg_m2_s(liquid, ATMOSPHERE_PA)
    assert choked / orifice.homogeneous_flux_kg_m2_s(liquid, ATMOSPHERE_PA) == pytest.approx(13.0, abs=0.5)


@pytest.mark.parametrize(("celsius", "relative"), [(-10.0, 0.72), (0.0, 0.82), (10.0, 0.91), (30.0, 1.06)])
def test_mixture_drifts_with_bottle_temperature(celsius: float, relative: float) -> None:
    # Computed with CoolProp 8.0.0 from the Dyer form with its choked part, the fifth column above over its
    # value at 20 degC. Tolerance: half of the last digit.
    def flux(temperature: float) -> float:
        liquid = nitrous.saturated_state(temperature + KELVIN, 0.0)
        return orifice.dyer_flux_kg_m2_s(liquid, ATMOSPHERE_PA, choked_equilibrium=True)

    assert flux(celsius) / flux(20.0) == pytest.approx(relative, abs=0.006)
