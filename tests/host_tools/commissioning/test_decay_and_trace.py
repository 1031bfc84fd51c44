"""Pressure decay and valve times say what the log says, with its doubt."""

import math

import pytest

from oxlatch_tools.commissioning.decay import corrected_decay
from oxlatch_tools.commissioning.static_run import bore_resonance_hz
from oxlatch_tools.commissioning.trace import lead_lines, valve_times


def test_a_line_that_only_cools_has_not_leaked():
    # Gas law at constant volume, worked by hand: 70.00 bar at 20 C is 70.00 * 283.15 / 293.15 = 67.612 bar at 10 C.
    decay = corrected_decay([0, 3600], [70.00e5, 67.612e5], [293.15, 283.15], 5e3, 0.3)
    assert decay.drop_pa == pytest.approx(0.0, abs=100)
    assert decay.verdict(0.5e5) == "holds"


def test_a_leak_is_seen_through_a_warming_line():
    # 1 bar lost while warming 10 K hides two thirds of it: (70 - 1) * 303.15 / 293.15 = 71.354 bar is read.
    decay = corrected_decay([0, 3600], [70e5, 71.354e5], [293.15, 303.15], 5e3, 0.3, volume_m3=72e-6)
    assert decay.drop_pa == pytest.approx(1e5, rel=0.001)
    assert decay.verdict(0.5e5) == "leaks"
    assert decay.leak_pa_m3_s == pytest.approx(72e-6 * 1e5 / 3600, rel=0.001)


def test_the_band_is_that_of_the_instruments():
    # 0.3 K of 293 K at 70 bar is 0.0717 bar a reading; twice the root of two of it is 0.203 bar.
    decay = corrected_decay([0, 3600], [70e5, 70e5], [293.15, 293.15], 0.0, 0.3)
    assert decay.band_pa == pytest.approx(2 * math.sqrt(2) * 70e5 * 0.3 / 293.15, rel=1e-6)
    assert decay.verdict(0.1e5) == "not decided"


@pytest.mark.parametrize(
    ("times", "pressures", "temperatures"),
    [
        ([0], [1e5], [300]),
        ([0, 0], [1e5, 1e5], [300, 300]),
        ([0, 1], [1e5, -1], [300, 300]),
        ([0, 1], [1e5, 1e5], [20, 21]),
    ],
)
def test_a_decay_that_cannot_be_is_refused(times, pressures, temperatures):
    with pytest.raises(ValueError, match="pressure decay"):
        corrected_decay(times, pressures, temperatures, 1e3, 0.3)


def trace(opening_s: float, closing_s: float):
    """A pressure that ramps from 0 to 10 bar in a tenth of a second after the dead time, and back."""
    times = [i * 0.0005 for i in range(2000)]
    command = [1.0 if 0.1 <= t < 0.6 else 0.0 for t in times]

    def level(t: float) -> float:
        up = min(1.0, max(0.0, (t - 0.1 - opening_s) / 0.01))
        down = min(1.0, max(0.0, (t - 0.6 - closing_s) / 0.01))
        return 1e6 * (up - down)

    return times, command, [level(t) for t in times]


def test_valve_times_are_read_off_at_ten_and_ninety_per_cent():
    found = valve_times(*trace(0.020, 0.025))
    assert found.opening_first_s == [pytest.approx(0.021, abs=0.0006)]
    assert found.opening_s == [pytest.approx(0.029, abs=0.0006)]
    assert found.closing_s == [pytest.approx(0.034, abs=0.0006)]
    lines = lead_lines(found, valve_times(*trace(0.010, 0.008)))
    assert lines[0] == "[oxidizer_valve]" and 'opening = "29' in lines[1]


def test_a_pressure_that_does_not_answer_is_refused():
    times, command, _pressure = trace(0.02, 0.02)
    with pytest.raises(ValueError, match="does not answer"):
        valve_times(times, command, [5e5] * len(times))
    with pytest.raises(ValueError, match="never changes"):
        valve_times(times, [0.0] * len(times), [5e5] * len(times))


def test_a_bore_rings_at_its_first_circumferential_mode():
    # 1.841 c / (pi B): 4.5 kHz for a 126 mm bore with 970 m/s, elementary acoustics; computed by hand 4.511 kHz.
    assert bore_resonance_hz(0.126) == pytest.approx(4511, rel=0.001)
