"""Wire tables and worked rows of FAA AC 43.13-1B, chapter 11 (read).

Two rows of its table 11-7 are misprinted and not tested against: 19.5 ft of No 10 at 20 A prints 0.366 V (its
own resistance gives 0.491), and 88 ft of No 12 prints 3.60 V (3.555).
"""

import pytest

from oxlatch_sim.physics import wire

FOOT_M = 0.3048


@pytest.mark.parametrize(
    ("size", "feet", "ampere", "volt"),
    [(6, 107.0, 20.0, 0.942), (4, 90.0, 20.0, 0.504), (10, 39.0, 20.0, 0.983)],
)
def test_worked_drops(size: int, feet: float, ampere: float, volt: float) -> None:
    # Source: AC 43.13-1B table 11-7 (read; the third prints 0.98). Tolerance: half of the last digit.
    assert wire.drop_v(size, feet * FOOT_M, ampere) == pytest.approx(volt, abs=0.001)


def test_rows_that_are_misprinted_follow_their_own_resistance() -> None:
    # Computed from table 11-9: 0.491 and 3.555 V. Tolerance: half of the last digit.
    assert wire.drop_v(10, 19.5 * FOOT_M, 20.0) == pytest.approx(0.491, abs=0.001)
    assert wire.drop_v(12, 88.0 * FOOT_M, 20.0) == pytest.approx(3.555, abs=0.001)


def test_worked_choice_of_size() -> None:
    # Source: AC 43.13-1B worked example (read): 50 ft, 28 V, 20 A continuous lies between 8 and 10; choose 8.
    allowed = wire.ALLOWED_DROP_V[28]["continuous"]
    assert wire.drop_v(10, 50.0 * FOOT_M, 20.0) > allowed
    assert wire.smallest_size(50.0 * FOOT_M, 20.0, allowed) == 8


@pytest.mark.parametrize(("size", "feet"), [(18, 5.4), (16, 6.9), (14, 10.9), (12, 16.5), (10, 26.5)])
def test_longest_run_at_15_a(size: int, feet: float) -> None:
    # Computed from table 11-9: 15 A, 0.5 V; twice that at 1 V. Tolerance: half of the last digit.
    half_volt = wire.longest_run_m(size, 15.0, 0.5) / FOOT_M
    assert half_volt == pytest.approx(feet, abs=0.06)
    assert wire.longest_run_m(size, 15.0, 1.0) / FOOT_M == pytest.approx(2.0 * half_volt)


def test_a_hot_wire_reaches_less_far() -> None:
    # Source: AC 43.13-1B, L2 = 254.5 L1 / (234.5 + T2) (read): 0.8946 at 50 degC. Tolerance: half of the last
    # digit.
    hot = wire.longest_run_m(14, 10.0, 0.5, 323.15) / wire.longest_run_m(14, 10.0, 0.5)
    assert hot == pytest.approx(0.8946, abs=6e-5)


@pytest.mark.parametrize(
    ("size", "a105", "a150", "a200", "ohm"),
    [
        (24, 2.5, 4, 5, 28.40),
        (22, 3, 5, 6, 16.20),
        (20, 4, 7, 9, 9.88),
        (18, 6, 9, 12, 6.23),
        (16, 7, 11, 14, 4.81),
        (14, 10, 14, 18, 3.06),
        (12, 13, 19, 25, 2.02),
        (10, 17, 26, 32, 1.26),
        (8, 38, 57, 71, 0.70),
        (6, 50, 76, 97, 0.44),
        (4, 68, 103, 133, 0.28),
    ],
)
def test_table_11_9(size: int, a105: float, a150: float, a200: float, ohm: float) -> None:
    # Source: AC 43.13-1B table 11-9 (read). Exact.
    assert (wire.ampacity_a(size), wire.ampacity_a(size, 150), wire.ampacity_a(size, 200)) == (
        a105,
        a150,
        a200,
    )
    assert wire.resistance_ohm(size, 1000.0 * FOOT_M) == pytest.approx(ohm)


@pytest.mark.parametrize("size", [22, 20, 18, 16, 14, 12, 10, 8, 6, 4, 2])
def test_table_11_3(size: int) -> None:
    # Source: AC 43.13-1B table 11-3 (read). Exact.
    published = {22: (5, 5), 20: (7.5, 5), 18: (10, 10), 16: (15, 10), 14: (20, 15), 12: (30, 20)}
    published |= {10: (40, 30), 8: (50, 50), 6: (80, 70), 4: (100, 70), 2: (125, 100)}
    assert wire.protection(size) == published[size]


def test_switch_derating() -> None:
    # Source: AC 43.13-1B table 11-4 (read). Exact.
    assert wire.switch_rating_a(28, "inductive", 3.0) == 12.0
    assert wire.switch_rating_a(14, "inductive", 3.0) == 6.0
    assert wire.switch_rating_a(28, "lamp", 1.0) == 8.0
    assert wire.switch_rating_a(14, "lamp", 1.0) == 5.0
    assert (wire.switch_rating_a(28, "motor", 1.0), wire.switch_rating_a(14, "motor", 1.0)) == (3.0, 2.0)
    assert (wire.switch_rating_a(28, "resistive", 1.0), wire.switch_rating_a(14, "resistive", 1.0)) == (
        2.0,
        1.0,
    )
