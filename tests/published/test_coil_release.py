"""Release of a solenoid coil into different clamps, and its resistance when hot."""

import pytest

from oxlatch_sim.physics import coil


@pytest.mark.parametrize(("clamp_v", "ms"), [(0.8, 12.1), (10.0, 5.4), (24.0, 3.0), (40.0, 2.0), (60.0, 1.4)])
def test_a_higher_clamp_releases_sooner(clamp_v: float, ms: float) -> None:
    # Computed from t = (L/R) ln((I0 + Vc/R) / (Ih + Vc/R)): 14 V, 12 A, 10 mH, hold at 20 %. Half of the last
    # digit.
    assert coil.release_time_s(12.0, 2.4, 14.0 / 12.0, 10e-3, clamp_v) * 1e3 == pytest.approx(ms, abs=0.06)


def test_hot_copper() -> None:
    # Source: AC 43.13-1B's 234.5 rule (read): R(100 degC) / R(20 degC) = 1.314. Tolerance: half of the last
    # digit.
    assert coil.copper_resistance_ohm(1.0, 293.15, 373.15) == pytest.approx(1.314, abs=6e-4)


def test_current_reaches_63_percent_after_one_time_constant() -> None:
    # Textbook first-order circuit: 1 - 1/e.
    current = coil.current_a(10e-3 / 2.0, 12.0, 2.0, 10e-3)
    assert current == pytest.approx(6.0 * 0.6321206, rel=1e-6)
