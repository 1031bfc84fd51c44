"""Mean pressures, piston speed, friction, peak pressure and knock delay.

The engine is a made-up flat-six of 8.379 L, stroke 112 mm.
"""

import cantera as ct
import pytest

from oxlatch_sim.physics import engine

DISPLACEMENT_M3 = 8.379e-3
STROKE_M = 0.112
PSI_PA = 6894.757
HORSEPOWER_W = 745.6999
CUBIC_INCH_M3 = 0.0254**3
ATMOSPHERE_PA = 101_325.0
INTAKE_PA = 0.95e5
COMPRESSION_RATIO = 8.5
FUEL = "C8H18,isooctane"
SPECIES = (FUEL, "N2O", "N2", "O2", "CO2", "H2O", "CO", "H2", "OH", "NO", "O", "H")


@pytest.mark.parametrize(
    ("kw", "rpm", "bar", "psi"),
    [(180, 2500, 10.31, 149.6), (205, 2600, 11.29, 163.8), (228, 2600, 12.56, 182.2)],
)
def test_brake_mean_effective_pressure(kw: float, rpm: float, bar: float, psi: float) -> None:
    # Source: the four-stroke relation 792 000 hp / (in3 rpm) (any engine text); bar and psi computed from it.
    # Tolerance: half of the last digit.
    pressure = engine.mean_effective_pressure_pa(kw * 1e3, DISPLACEMENT_M3, rpm)
    assert pressure / 1e5 == pytest.approx(bar, abs=0.006)
    assert pressure / PSI_PA == pytest.approx(psi, abs=0.06)
    inch_form = 792_000.0 * (kw * 1e3 / HORSEPOWER_W) / (DISPLACEMENT_M3 / CUBIC_INCH_M3 * rpm)
    assert pressure / PSI_PA == pytest.approx(inch_form, rel=1e-4)


def test_torque() -> None:
    # Computed: 205 kW at 2600 rpm is 752.9 N m. Tolerance: half of the last digit.
    assert engine.torque_n_m(205e3, 2600.0) == pytest.approx(752.9, abs=0.06)


def test_mean_piston_speed() -> None:
    # Source: 2 S N (Heywood, page from memory); computed 9.71 m/s, 1911 ft/min. Tolerance: half of the last
    # digit.
    speed = engine.mean_piston_speed_m_s(STROKE_M, 2600.0)
    assert speed == pytest.approx(9.71, abs=0.006)
    assert speed * 60.0 / 0.3048 == pytest.approx(1911.0, abs=0.6)


def test_friction_mean_effective_pressure() -> None:
    # Source: 0.97 + 0.15 n + 0.05 n^2 bar (secondary, attributed to Heywood): 1.70 bar at 2600 rpm. Half a
    # digit.
    assert engine.friction_mean_effective_pressure_pa(2600.0) / 1e5 == pytest.approx(1.70, abs=0.006)


def fuel_air_cycle(charge_k: float, nitrous_per_air: float) -> tuple[float, float]:
    """Peak pressure and mean effective pressure, bar, of an equilibrium constant-volume cycle without heat
    loss.
    """
    library = {
        species.name: species
        for species in ct.Species.list_from_file("nasa_gas.yaml")
        if species.name in SPECIES
    }
    gas = ct.Solution(thermo="ideal-gas", kinetics="gas", species=list(library.values()))
    fuel = 1.0 / 12.5 + nitrous_per_air / 7.96
    gas.TPY = charge_k, INTAKE_PA, {FUEL: fuel, "O2": 0.2314, "N2": 0.7686, "N2O": nitrous_per_air}
    start_u, start_v, start_s = gas.u, gas.v, gas.s
    gas.SV = start_s, start_v / COMPRESSION_RATIO
    compressed_u, compressed_v = gas.u, gas.v
    gas.UV = compressed_u, compressed_v
    gas.equilibrate("UV")
    peak, burned_u, burned_s = gas.P, gas.u, gas.s
    gas.SV = burned_s, start_v
    gas.equilibrate("SV")
    work = (burned_u - gas.u) - (compressed_u - start_u)
    return peak / 1e5, work / (start_v - compressed_v) / 1e5


@pytest.mark.parametrize(
    ("boost_kw", "peak_bar", "imep_bar"),
    [(0, 78, 14.3), (20, 87, 16.4), (40, 96, 18.6), (60, 105, 20.9), (80, 115, 23.2)],
)
def test_ideal_peak_pressure_against_the_equilibrium_cycle(
    boost_kw: int, peak_bar: float, imep_bar: float
) -> None:
    # Computed with cantera 3.2.0: ratio 8.5, 0.95 bar, air-fuel 12.5, nitrous-fuel 7.96, 0.672 g/s per kW in
    # 0.1834 kg/s of air, charge 330 K less 0.70 K per kW. Tolerance: half of the last digit for the cycle, 2
    # % for our closed form.
    peak, imep = fuel_air_cycle(330.0 - 0.70 * boost_kw, 0.672e-3 * boost_kw / 0.1834)
    assert peak == pytest.approx(peak_bar, abs=0.6)
    assert imep == pytest.approx(imep_bar, abs=0.06)
    closed_form = engine.ideal_peak_pressure_pa(INTAKE_PA, COMPRESSION_RATIO, imep * 1e5)
    assert closed_form / 1e5 == pytest.approx(peak, rel=0.02)


def test_real_peak_band() -> None:
    # From memory: real peaks are 55 to 70 % of the ideal cycle's. At 205 kW and 2600 rpm the ideal peak from
    # brake figures agrees with the cycle above, 78 bar, within 3 % (computed): indicated over ideal work of
    # 0.90 is from memory too.
    brake = engine.mean_effective_pressure_pa(205e3, DISPLACEMENT_M3, 2600.0)
    estimate = engine.peak_pressure_estimate(brake, 2600.0, INTAKE_PA, COMPRESSION_RATIO)
    assert estimate.ideal_pa / 1e5 == pytest.approx(78.2, rel=0.03)
    assert estimate.low_pa / estimate.ideal_pa == pytest.approx(0.55)
    assert estimate.high_pa / estimate.ideal_pa == pytest.approx(0.70)


@pytest.mark.parametrize(("atm", "kelvin", "ms"), [(40, 900, 2.279), (40, 850, 2.921), (50, 850, 1.999)])
def test_ignition_delay(atm: float, kelvin: float, ms: float) -> None:
    # Source: Douaud and Eyzat, SAE 780080 (secondary, two quotations agree); values computed from it. Half a
    # digit.
    assert engine.ignition_delay_s(100.0, atm * ATMOSPHERE_PA, kelvin) * 1e3 == pytest.approx(ms, abs=6e-4)


def test_end_gas_held_for_its_delay_knocks() -> None:
    # Livengood and Wu's definition: at constant state the integral reaches 1 after exactly one delay.
    delay = engine.ignition_delay_s(100.0, 40.0 * ATMOSPHERE_PA, 900.0)
    integral = engine.knock_integral(
        [0.0, 0.3 * delay, delay], [40.0 * ATMOSPHERE_PA] * 3, [900.0] * 3, 100.0
    )
    assert integral == pytest.approx(1.0, rel=1e-12)
