"""Measured flows through real holes.

- 1.0 mm orifice on a self-pressurised bottle, liquid and vapour: La Luna et al., Aerospace 9 (2022) 828,
  Tables 2 and 3 (read).
- Supercharged 1.5 mm hole, rounded inlet: Waxman et al., AIAA 2013-3636, Figs. 13 and 16 (secondary:
  digitised by a public repository, about 2 % reading error; 0.781 is the pooled single-phase coefficient of
  the same data).
- Supercharged 1.5 mm hole, square edge: Nino and Razavi, AIAA 2019-4154, Table 4 (secondary), coefficient
  0.66 to 0.69 from Waxman Fig. 15 (secondary).
"""

from statistics import mean

import pytest

from oxlatch_sim.physics import nitrous, orifice

PSI_PA = 6894.757
ATMOSPHERE_PSI = 14.7
ROUNDED_COEFFICIENT = 0.781

# bar, g/s
LIQUID_1MM = [
    (69.0, 18.31),
    (66.2, 14.94),
    (69.5, 16.42),
    (69.2, 16.28),
    (60.3, 14.93),
    (60.0, 14.86),
    (61.1, 15.24),
    (60.2, 17.26),
    (66.3, 14.72),
    (70.1, 16.77),
    (72.0, 15.05),
]
VAPOUR_1MM = [(67.34, 11.56), (67.20, 10.95), (66.97, 10.92), (69.80, 11.97), (68.40, 12.23)]


def effective_coefficient(bar: float, grams_s: float, quality: float) -> float:
    temperature = nitrous.saturation_temperature_k(bar * 1e5)
    choked = orifice.critical_flow(nitrous.saturated_state(temperature, quality)).flux_kg_m2_s
    return grams_s * 1e-3 / (orifice.area_m2(1.0e-3) * choked)


def test_liquid_through_1_mm_has_an_effective_coefficient_of_057_to_071() -> None:
    # Band: the spread of the eleven runs, 0.57 to 0.71, mean 0.63 (computed with CoolProp 8.0.0); 0.005 for
    # rounding.
    coefficients = [effective_coefficient(bar, flow, 0.0) for bar, flow in LIQUID_1MM]
    assert min(coefficients) > 0.565
    assert max(coefficients) < 0.715
    assert mean(coefficients) == pytest.approx(0.63, abs=0.005)


def test_vapour_through_1_mm_has_an_effective_coefficient_of_057_to_062() -> None:
    # Band: the spread of the five runs (computed with CoolProp 8.0.0); 0.005 for rounding.
    coefficients = [effective_coefficient(bar, flow, 1.0) for bar, flow in VAPOUR_1MM]
    assert min(coefficients) > 0.565
    assert max(coefficients) < 0.625


def test_the_default_coefficient_predicts_every_1_mm_run_within_20_percent() -> None:
    # Tolerance: 20 %, the accuracy claimed for an uncalibrated hole.
    for quality, runs in ((0.0, LIQUID_1MM), (1.0, VAPOUR_1MM)):
        for bar, grams_s in runs:
            temperature = nitrous.saturation_temperature_k(bar * 1e5)
            inlet = nitrous.saturated_state(temperature, quality)
            flow = orifice.nitrous_flow_kg_s(1.0e-3, inlet, 101_325.0)
            assert flow * 1e3 == pytest.approx(grams_s, rel=0.20)


def test_dyer_over_predicts_near_saturation() -> None:
    # La Luna et al. report 34 to 68 % too much (read). With the form here and a coefficient of 0.65 the
    # eleven runs come out 31 to 64 % too high (computed with CoolProp 8.0.0). Asserted: always above 30 %,
    # never above 70 %.
    for bar, grams_s in LIQUID_1MM:
        inlet = nitrous.saturated_state(nitrous.saturation_temperature_k(bar * 1e5), 0.0)
        flow = 0.65 * orifice.area_m2(1.0e-3) * orifice.dyer_flux_kg_m2_s(inlet, 101_325.0)
        assert 1.3 * grams_s < flow * 1e3 < 1.7 * grams_s


def supercharged(gauge_psi: float, temperature_k: float) -> nitrous.FluidState:
    return nitrous.state_at_pressure_temperature((gauge_psi + ATMOSPHERE_PSI) * PSI_PA, temperature_k)


def waxman_flow_g_s(inlet: nitrous.FluidState, drop_psi: float) -> float:
    flux = orifice.dyer_flux_kg_m2_s(inlet, inlet.pressure_pa - drop_psi * PSI_PA)
    return ROUNDED_COEFFICIENT * orifice.area_m2(1.5e-3) * flux * 1e3


@pytest.mark.parametrize(
    ("drop_psi", "measured", "model"),
    [(117.8, 51.7, 52.0), (180.8, 64.4, 64.5), (287.0, 72.5, 74.0), (359.1, 72.9, 74.6)],
)
def test_dyer_predicts_a_jet_supercharged_by_14_bar(drop_psi: float, measured: float, model: float) -> None:
    # Measured (secondary): tolerance 3 %, 2 % reading error plus 1 % of model. Model: computed with CoolProp
    # 8.0.0, half of the last digit, rounded up.
    inlet = supercharged(752.0, 281.7)
    assert orifice.subcooling_pa(inlet) >= orifice.DYER_SUBCOOLING_PA
    assert waxman_flow_g_s(inlet, drop_psi) == pytest.approx(measured, rel=0.03)
    assert waxman_flow_g_s(inlet, drop_psi) == pytest.approx(model, abs=0.1)


@pytest.mark.parametrize(
    ("drop_psi", "measured", "model"),
    [(38.2, 28.8, 29.6), (84.6, 41.1, 41.0), (165.0, 46.2, 50.4), (249.6, 48.7, 55.7), (345.9, 48.3, 59.0)],
)
def test_dyer_drifts_high_at_3_bar_of_supercharge(drop_psi: float, measured: float, model: float) -> None:
    # Measured (secondary): within 3 % until boiling sets in, then up to 25 % too high: no place for Dyer.
    # Model: computed with CoolProp 8.0.0, half of the last digit, rounded up.
    inlet = supercharged(568.0, 280.3)
    flow = waxman_flow_g_s(inlet, drop_psi)
    assert flow == pytest.approx(model, abs=0.1)
    if drop_psi < 100.0:
        assert flow == pytest.approx(measured, rel=0.03)
    else:
        assert 1.05 * measured < flow < 1.25 * measured


@pytest.mark.parametrize(("mpa", "grams_s"), [(0.84, 44.0), (0.98, 46.5), (1.09, 47.5), (1.37, 48.0)])
def test_a_second_laboratory_agrees_within_5_percent(mpa: float, grams_s: float) -> None:
    # 6.2 bar of supercharge, coefficient 0.67 (both secondary). Tolerance: 2 % for the band of the
    # coefficient, 3 % for a supercharge below the 14 bar where Dyer is trusted.
    inlet = nitrous.state_at_pressure_temperature(4.36e6, 280.0)
    flux = orifice.dyer_flux_kg_m2_s(inlet, 4.36e6 - mpa * 1e6)
    assert 0.67 * orifice.area_m2(1.5e-3) * flux * 1e3 == pytest.approx(grams_s, rel=0.05)


@pytest.mark.parametrize(
    ("super_psi", "grams_s"), [(205.0, 71.8), (269.0, 83.2), (290.0, 85.2), (329.0, 90.9), (371.0, 95.3)]
)
def test_flow_of_a_well_supercharged_jet_levels_off_where_measured(super_psi: float, grams_s: float) -> None:
    # Waxman Fig. 16 (secondary), inlet near 281 K. Tolerance 5 %: 2 % reading error, 1 % for the unrecorded
    # inlet temperature of each run, 2 % of model.
    pressure = nitrous.saturation_pressure_pa(281.0) + super_psi * PSI_PA
    inlet = nitrous.state_at_pressure_temperature(pressure, 281.0)
    flow = orifice.nitrous_flow_kg_s(1.5e-3, inlet, 101_325.0, liquid_coefficient=ROUNDED_COEFFICIENT)
    assert flow * 1e3 == pytest.approx(grams_s, rel=0.05)


def test_short_tube_coefficient() -> None:
    # Computed from the formula of La Luna et al. (read), which puts it near 0.6 for their hole. Tolerance
    # 0.05.
    assert orifice.short_tube_coefficient(5.0e-3, 1.0e-3, 1.0e5) == pytest.approx(0.6, abs=0.05)
