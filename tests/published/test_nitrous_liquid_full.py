"""Pressure in a closed bottle above the temperature at which its liquid fills it.

Values computed with CoolProp 8.0.0 (Lemmon-Span equation): they guard our call and that nothing clamps at the
critical point. The filling rules are 49 CFR 173.304a, whose form was read: p(55 degC) stays within 5/4 of the
service pressure.
"""

import pytest

from oxlatch_sim.physics import nitrous

KELVIN = 273.15
PSI_PA = 6894.757
CELSIUS = (36.4, 40.0, 50.0, 55.0, 65.0)

# kg/L: liquid-full degC, then bar at the temperatures above
LIQUID_FULL = {
    0.60: (34.7, (74.0, 82.9, 108.2, 121.1, 147.3)),
    0.68: (30.6, (82.8, 94.7, 128.2, 145.3, 179.6)),
    0.74: (25.3, (101.9, 116.7, 158.3, 179.2, 221.2)),
    0.75: (24.2, (106.8, 122.1, 165.1, 186.8, 230.2)),
}


@pytest.mark.parametrize("fill", LIQUID_FULL)
def test_pressure_depends_on_fill(fill: float) -> None:
    # Tolerance: half of the last printed digit in kelvin; 0.1 % or 0.1 bar in pressure.
    full_celsius, bars = LIQUID_FULL[fill]
    assert nitrous.liquid_full_temperature_k(fill * 1e3) - KELVIN == pytest.approx(full_celsius, abs=0.06)
    for celsius, bar in zip(CELSIUS, bars, strict=True):
        pressure = nitrous.pressure_at_density_pa(fill * 1e3, celsius + KELVIN)
        assert pressure / 1e5 == pytest.approx(bar, rel=1e-3, abs=0.1)


def test_nothing_clamps_at_the_critical_point() -> None:
    # Computed with CoolProp 8.0.0: 128 bar, 1859 psia. Tolerance 0.1 %, the last printed digit.
    pressure = nitrous.pressure_at_density_pa(680.0, 50.0 + KELVIN)
    assert pressure / PSI_PA == pytest.approx(1859.0, rel=1e-3)
    assert pressure > 1.7 * nitrous.CRITICAL_PRESSURE_PA


def test_a_68_percent_fill_passes_the_filling_rule_at_55_degc() -> None:
    # Rule: 49 CFR 173.304a, p(55 degC) <= 5/4 * 1800 psi (read). Pressure: computed with CoolProp 8.0.0, 2107
    # psia.
    pressure = nitrous.pressure_at_density_pa(680.0, 55.0 + KELVIN)
    assert pressure / PSI_PA == pytest.approx(2107.0, rel=1e-3)
    assert pressure < 1.25 * 1800.0 * PSI_PA


@pytest.mark.parametrize(("fill", "test_bar"), [(0.68, 180.0), (0.74, 225.0), (0.75, 250.0)])
def test_filling_ratios_keep_65_degc_within_test_pressure(fill: float, test_bar: float) -> None:
    # From memory (rows of P200 of the UN model regulations not seen): 0.68 at 180 bar, 0.74 at 225, 0.75 at
    # 250. A consistency check of that memory, no tolerance.
    assert nitrous.pressure_at_density_pa(fill * 1e3, 65.0 + KELVIN) <= test_bar * 1e5


def test_trapped_liquid_pressure_climbs_fast() -> None:
    # Computed with CoolProp 8.0.0: a line shut full at 0 degC holds 67 bar at 5 degC, 103 at 10, 175 at 20;
    # shut full at 20 degC it holds 98 bar at 30 degC and 146 at 40. Tolerance: half of the last digit,
    # rounded up.
    full_at_0 = nitrous.liquid_density_kg_m3(KELVIN)
    for celsius, bar in ((5.0, 67.0), (10.0, 103.0), (20.0, 175.0)):
        assert nitrous.pressure_at_density_pa(full_at_0, celsius + KELVIN) / 1e5 == pytest.approx(
            bar, abs=0.6
        )
    full_at_20 = nitrous.liquid_density_kg_m3(20.0 + KELVIN)
    for celsius, bar in ((30.0, 98.0), (40.0, 146.0)):
        assert nitrous.pressure_at_density_pa(full_at_20, celsius + KELVIN) / 1e5 == pytest.approx(
            bar, abs=0.6
        )


@pytest.mark.parametrize(("celsius", "bar"), [(45.0, 111.0), (50.0, 128.0), (54.4, 143.0)])
def test_a_68_percent_bottle_in_the_sun(celsius: float, bar: float) -> None:
    # Computed with CoolProp 8.0.0. Tolerance: half of the last digit, rounded up.
    assert nitrous.pressure_at_density_pa(680.0, celsius + KELVIN) / 1e5 == pytest.approx(bar, abs=0.7)


@pytest.mark.parametrize(
    ("celsius", "bar"),
    [(-10, 23.9), (0, 31.2), (10, 40.0), (20, 50.5), (25, 56.5), (30, 63.1), (33, 67.3), (36, 71.9)],
)
def test_below_that_temperature_fill_does_not_matter(celsius: float, bar: float) -> None:
    # Computed with CoolProp 8.0.0: saturation pressure at any two-phase fill. Tolerance: half of the last
    # digit.
    for fill in (400.0, 450.0, 500.0):
        assert nitrous.pressure_at_density_pa(fill, celsius + KELVIN) / 1e5 == pytest.approx(bar, abs=0.06)
