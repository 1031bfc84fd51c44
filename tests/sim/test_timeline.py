"""The timeline picture: what its columns hold, and that it needs no colour."""

import io
from typing import Any

import numpy as np
import pytest
from matplotlib import image

from oxlatch.settings import Settings
from oxlatch_sim.recording import Recorder, Recording, make_header, parse_recording
from oxlatch_sim.timeline import close_ups, columns, draw, runs

FLOW = range(200, 300)
FUEL = range(206, 296)


def tick(n: int) -> dict[str, Any]:
    """Two seconds with one flow of stage 1."""
    return {
        "tick": n,
        "in": {
            "master": 1,
            "sel": 1,
            "purge": 0,
            "detent": "OPEN",
            "rpm": 2500,
            "bus_v": 14.0,
            "supply_bar": 50.0,
        },
        "state": "RUN" if n in FLOW else "READY",
        "out": {
            "ox": int(n in FLOW),
            "fuel": int(n in FUEL),
            "master_fuel": int(n in FUEL),
            "purge": 0,
            "run": int(n in FLOW),
            "text": None,
        },
    }


def recorded(ticks: int = 400, **missing: Any) -> Recording:
    recorder = Recorder(make_header(Settings()))
    for n in range(ticks):
        recorder.tick_data({key: value for key, value in tick(n).items() if key not in missing})
    return parse_recording(recorder.end())


def test_columns_follow_the_recording_tick_by_tick() -> None:
    series = columns(recorded())
    rows = {row.label: row for row in series.valves}
    assert np.flatnonzero(rows["O1"].on).tolist() == list(FLOW)
    assert np.flatnonzero(rows["F1"].on).tolist() == list(FUEL)
    assert not rows["O2"].on.any()
    assert series.seconds[-1] == pytest.approx(399 * 0.005)


def test_fuel_rows_and_no_others_are_hatched() -> None:
    series = columns(recorded())
    assert {row.label for row in series.valves if row.hatched} == {"F1", "F2", "F3", "MASTER F"}


def test_readings_that_were_not_recorded_are_left_out() -> None:
    series = columns(recorded())
    assert set(series.readings) == {"supply_bar", "rpm", "bus_v"}
    assert series.nozzle == {}


def test_equal_neighbours_form_one_run() -> None:
    assert runs(["a", "a", "b", "a"]) == [(0, 2, "a"), (2, 3, "b"), (3, 4, "a")]


def test_the_picture_is_drawn_in_one_ink() -> None:
    pixels = image.imread(io.BytesIO(draw(recorded(), "two seconds")))[..., :3]
    assert np.ptp(pixels, axis=2).max() == 0
    assert 0.005 < (pixels.mean(axis=2) < 0.5).mean() < 0.5


def test_the_close_ups_surround_the_first_opening_and_its_end() -> None:
    assert close_ups(columns(recorded(100))) == []
    opening, end = close_ups(columns(recorded()))
    assert opening == pytest.approx((0.9, 1.5))
    assert end == pytest.approx((1.2, 1.8))


def test_a_recording_without_outputs_cannot_be_drawn() -> None:
    with pytest.raises(ValueError, match="no tick with outputs"):
        draw(recorded(5, out=True), "nothing")
