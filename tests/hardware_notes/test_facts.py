"""Values of the notes: resistors one can buy, and circuits that do what the page says."""

import math

import pytest

from notes.draw_bench import gas_rows
from notes.draw_driver import falling
from notes.facts import CONVERTER_V, DUMMY_OVER_HOLD, ONE_SHOT_HIGH_MS, RAIL_FARAD, REFERENCE_V, SENSE_GAIN, Facts, tug
from notes.pack import connectors
from notes.preferred import E96, divider, e96, ohm_text, sense_milliohm
from oxlatch.boards import rp2_pins

PUBLISHED_E96 = (
    "1.00 1.02 1.05 1.07 1.10 1.13 1.15 1.18 1.21 1.24 1.27 1.30 1.33 1.37 1.40 1.43 "
    "1.47 1.50 1.54 1.58 1.62 1.65 1.69 1.74 1.78 1.82 1.87 1.91 1.96 2.00 2.05 2.10 "
    "2.15 2.21 2.26 2.32 2.37 2.43 2.49 2.55 2.61 2.67 2.74 2.80 2.87 2.94 3.01 3.09 "
    "3.16 3.24 3.32 3.40 3.48 3.57 3.65 3.74 3.83 3.92 4.02 4.12 4.22 4.32 4.42 4.53 "
    "4.64 4.75 4.87 4.99 5.11 5.23 5.36 5.49 5.62 5.76 5.90 6.04 6.19 6.34 6.49 6.65 "
    "6.81 6.98 7.15 7.32 7.50 7.68 7.87 8.06 8.25 8.45 8.66 8.87 9.09 9.31 9.53 9.76"
)
"""IEC 60063, series E96, from memory."""

HALF_STEP = 10 ** (1 / 192) - 1
"""The series is geometric: two values of it miss a ratio by at most half a step."""
AIRCRAFT = ("alpine_tug", "valley_two_seater")


def test_the_series_is_that_of_the_standard() -> None:
    assert [f"{value:.2f}" for value in E96] == PUBLISHED_E96.split()


@pytest.mark.parametrize(("wanted", "bought"), [(28_000, 28_000), (9_990, 10_000), (0.0471, 0.0475), (5.0e3, 4.99e3)])
def test_the_nearest_value_is_taken_by_ratio(wanted: float, bought: float) -> None:
    assert e96(wanted) == pytest.approx(bought)


def test_a_divider_is_within_half_a_step_of_the_series() -> None:
    for share in (0.03, 0.0825, 0.25, 0.5, 0.66, 0.9):
        pair = divider(share, 20e3)
        assert pair.share == pytest.approx(share, rel=HALF_STEP)
        assert 20e3 / 1.5 <= pair.top_ohm + pair.bottom_ohm <= 20e3 * 1.5


@pytest.mark.parametrize("share", [0.0, 1.0, -1.0, 2.0])
def test_a_share_that_no_divider_leaves_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        divider(share, 20e3)


def test_ohms_are_written_as_on_a_drawing() -> None:
    assert [ohm_text(value) for value in (0.004, 1.5, 487, 28_000, 2.2e6)] == [
        "4 mΩ",
        "1.5 Ω",
        "487 Ω",
        "28 kΩ",
        "2.2 MΩ",
    ]
    assert sense_milliohm(4.3) == 4


@pytest.mark.parametrize("name", AIRCRAFT)
def test_comparator_dividers_give_the_levels_they_stand_for(name: str) -> None:
    for coil in Facts(name).coils():
        assert coil.hold_divider.share * REFERENCE_V == pytest.approx(coil.hold_v, rel=HALF_STEP)
        assert coil.trip_divider.share * REFERENCE_V == pytest.approx(coil.trip_v, rel=HALF_STEP)
        assert coil.hold_v / SENSE_GAIN / coil.sense_ohm == pytest.approx(coil.parameters.hold_sense_a)
        assert coil.trip_v < CONVERTER_V - 0.5, "the amplifier must reach the trip level on 3.3 V"


@pytest.mark.parametrize("name", AIRCRAFT)
def test_hold_lies_above_drop_out_and_below_the_hot_coil_at_the_lowest_bus(name: str) -> None:
    facts = Facts(name)
    lowest = facts.installation.electrical.lowest
    for coil in facts.coils():
        hot_ohm = coil.valve.resistance * 1.3
        assert coil.parameters.drop_out_a < coil.parameters.hold_sense_a < 0.5 * lowest / hot_ohm
        assert coil.parameters.trip_sense_a > 1.2 * facts.installation.electrical.surge / coil.valve.resistance


@pytest.mark.parametrize("name", AIRCRAFT)
def test_fuel_lets_go_before_oxidizer_hot_against_cold(name: str) -> None:
    facts = Facts(name)
    slowest_fuel = max(coil.cold_release_s for coil in facts.coils() if coil.letter == "F")
    assert slowest_fuel < facts.coil("oxidizer").hot_release_s


def test_the_curve_of_a_falling_current_passes_through_its_release() -> None:
    coil = tug().coil("oxidizer")
    assert falling(coil, 0.0) == pytest.approx(1.0)
    let_go = falling(coil, 1e3 * coil.cold_release_s) * coil.cold_a
    assert let_go == pytest.approx(coil.parameters.drop_out_a, rel=1e-6)


@pytest.mark.parametrize("name", AIRCRAFT)
def test_the_bleeder_makes_the_rail_dead_in_time(name: str) -> None:
    facts = Facts(name)
    seconds = (facts.ticks_ms("rail_weld_ticks") - ONE_SHOT_HIGH_MS) / 1e3
    volts = facts.installation.electrical.surge * math.exp(-seconds / (facts.bleeder_ohm * RAIL_FARAD))
    assert volts <= facts.setting("rail_dead_mv") / 1e3


@pytest.mark.parametrize("name", AIRCRAFT)
def test_a_dummy_load_counts_as_a_coil_and_not_as_a_short(name: str) -> None:
    facts = Facts(name)
    for coil in facts.coils():
        current = facts.installation.electrical.in_flight / coil.dummy_ohm
        assert current == pytest.approx(DUMMY_OVER_HOLD * coil.parameters.hold_sense_a, rel=0.02)
        assert coil.parameters.hold_sense_a < current < coil.parameters.trip_sense_a


def test_converter_dividers_fill_the_converter_at_full_scale() -> None:
    facts = tug()
    assert facts.sensor_divider.share * rp2_pins.SENSOR_FULL_MV / 1e3 == pytest.approx(CONVERTER_V, rel=0.005)
    assert facts.volts_divider.share * rp2_pins.VOLTS_FULL_MV / 1e3 == pytest.approx(CONVERTER_V, rel=0.005)


def test_saturation_pressures_of_both_gases_are_the_published_ones() -> None:
    """Carbon dioxide: Span and Wagner 1996, J. Phys. Chem. Ref. Data 25; 57.29 bar at 20 °C, 34.85 at 0; memory."""
    rows = {celsius: (oxide, carbon) for celsius, oxide, carbon in gas_rows()}
    assert rows[20][1] == pytest.approx(57.29, abs=0.05)
    assert rows[0][1] == pytest.approx(34.85, abs=0.05)
    assert rows[20][0] == pytest.approx(50.5, abs=0.1)
    assert rows[33][1] is None


@pytest.mark.parametrize(("name", "stages"), [("alpine_tug", 3), ("valley_two_seater", 2)])
def test_every_coil_has_its_pair_and_fuel_its_own_connector(name: str, stages: int) -> None:
    found = {connector.name: [pin.name for pin in connector.pins] for connector in connectors(Facts(name))}
    assert found["J1"] == [f"O{n} {end}" for n in range(1, stages + 1) for end in "+-"] + ["PURGE +", "PURGE -"]
    assert all(pin.startswith("F") for pin in found["J2"])
    assert not any(pin.startswith(("O1", "F1", "PURGE")) for pin in found["J3"])
    assert f"IDENTITY {stages}" in found["J3"]
    every = [pin for pins in found.values() for pin in pins]
    assert len(every) == len(set(every))
