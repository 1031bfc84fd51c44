"""The recording: its schema, what reading gives back, broken files, and replay."""

import json
import zlib
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from oxlatch.controller import Controller
from oxlatch.settings import Settings
from oxlatch_sim.bench import Bench
from oxlatch_sim.flight import Flight
from oxlatch_sim.monitor import judge
from oxlatch_sim.observation import RAW_NAMES, Scale
from oxlatch_sim.plant.parameters import alpine_tug_parameters
from oxlatch_sim.recording import (
    KEYS,
    Recorder,
    RecordingError,
    controller_words,
    make_header,
    parse_recording,
    read_recording,
    schema,
)
from oxlatch_sim.replay import BEFORE, replay


def fly(reset_in_flow: bool = False) -> Flight:
    """A short sortie of one stage, with a reset in flow if asked."""
    bench = Bench(alpine_tug_parameters(1), short_settings())
    flight = Flight(bench, "0123abcd")
    bench.plant.engine.start(1000.0)
    flight.run(60)
    bench.set_switch("master", True)
    bench.select([1])
    flight.run(60)
    bench.set_switch("purge", True)
    flight.run(90)
    bench.set_switch("purge", False)
    flight.run(20)
    bench.set_switch("ack", True)
    flight.run(20)
    bench.set_throttle(100.0)
    flight.run(800)
    bench.push()
    flight.run(60)
    if reset_in_flow:
        bench.reset()
        flight.run(200)
    bench.release()
    flight.run(80)
    return flight


def short_settings() -> Settings:
    settings = Settings()
    settings.stages = 1
    settings.patterns = 2
    settings.wake_ticks = 20
    settings.purge_ticks = 60
    settings.purge_good_ticks = 20
    settings.supply_permit_ticks = 50
    settings.fuel_permit_ticks = 50
    settings.gap_ticks = 20
    return settings


@pytest.fixture(scope="module")
def flown() -> bytes:
    return fly().recorder.end()


@pytest.fixture(scope="module")
def flown_with_reset() -> bytes:
    return fly(reset_in_flow=True).recorder.end()


def lines(data: bytes) -> list[dict[str, Any]]:
    return [json.loads(row) for row in data.splitlines()]


def rebuilt(rows: list[dict[str, Any]]) -> bytes:
    """Lines back to bytes, with an end line that fits them."""
    body = b"".join(json.dumps(row).encode() + b"\n" for row in rows if row["kind"] != "end")
    end = {**rows[-1], "crc32": f"{zlib.crc32(body):08x}"}
    return body + json.dumps(end).encode() + b"\n"


def test_every_line_matches_the_published_schema(flown_with_reset: bytes) -> None:
    validator = jsonschema.Draft202012Validator(schema())
    jsonschema.Draft202012Validator.check_schema(schema())
    rows = lines(flown_with_reset)
    assert {row["kind"] for row in rows} == {"header", "boot", "snapshot", "tick", "end"}
    some = rows[:40] + rows[::25] + rows[-40:] + [row for row in rows if row["kind"] != "tick"]
    for row in some:
        validator.validate(row)


def test_the_schema_rejects_an_unknown_state_and_an_unknown_key(flown: bytes) -> None:
    validator = jsonschema.Draft202012Validator(schema())
    tick = next(row for row in lines(flown) if row["kind"] == "tick")
    assert not validator.is_valid({**tick, "state": "ASLEEP"})
    assert not validator.is_valid({**tick, "mood": 1})


def test_the_schema_names_the_keys_that_reading_accepts() -> None:
    assert set(schema()["$defs"]["tick"]["properties"]) == {"kind", "tick", *KEYS}


def test_the_sortie_flows_and_keeps_every_invariant(flown: bytes) -> None:
    recording = parse_recording(flown)
    assert "RUN" in {tick["state"] for tick in recording.ticks()}
    assert all(found.held for found in judge(recording))


def test_the_end_line_covers_every_byte_before_it(flown: bytes) -> None:
    body, end = flown.rsplit(b"\n", 2)[0] + b"\n", json.loads(flown.splitlines()[-1])
    assert end["crc32"] == f"{zlib.crc32(body):08x}"


def test_unchanged_keys_are_left_out_and_filled_in_again() -> None:
    recorder = Recorder(make_header(Settings()))
    ticks = [
        {"tick": 0, "state": "REST", "out": {"ox": 0, "fuel": 0}},
        {"tick": 1, "state": "REST", "out": {"ox": 0, "fuel": 0}},
        {"tick": 2, "state": "WAITING", "out": {"ox": 0, "fuel": 0}},
        {"tick": 3, "state": "WAITING", "out": {"ox": 0, "fuel": 0}},
    ]
    for tick in ticks:
        recorder.tick_data(tick)
    data = recorder.end()
    assert [row["tick"] for row in lines(data) if row["kind"] == "tick"] == [0, 2]
    assert list(parse_recording(data).ticks()) == ticks


def test_a_flight_reads_back_tick_for_tick() -> None:
    bench = Bench(alpine_tug_parameters(1), short_settings())
    flight = Flight(bench)
    seen = [flight.step() for _ in range(60)]
    again = list(parse_recording(flight.recorder.end()).ticks())
    assert "boot" in again[0] and "snapshot" in again[0]
    for tick, read in zip(seen, again, strict=True):
        assert json.loads(json.dumps(tick)) == {
            k: x for k, x in read.items() if k not in ("boot", "snapshot")
        }


def test_readings_are_in_the_unit_their_name_ends_with(flown: bytes) -> None:
    recording = parse_recording(flown)
    last = list(recording.ticks())[-1]
    full_bar = recording.header["scales"]["fuel_bar"]["full"]
    fuel_mv = last["raw"][RAW_NAMES.index("fuel_mv")]
    assert 45 < last["in"]["supply_bar"] < 60
    assert last["in"]["fuel_bar"] == pytest.approx((fuel_mv - 500) / 4000 * full_bar, abs=0.006)
    assert 13 < last["in"]["bus_v"] < 15
    assert last["in"]["throttle_pct"] == pytest.approx(100, abs=1)


def test_a_scale_turns_millivolts_into_units_and_back() -> None:
    scale = Scale(500, 4500, 100)
    assert scale.value(2500) == 50
    assert scale.millivolts(scale.value(2520)) == 2520


def test_saving_leaves_no_half_written_file(tmp_path: Path, flown: bytes) -> None:
    target = tmp_path / "out" / "a.jsonl"
    recorder = fly().recorder
    recorder.save(target)
    assert target.read_bytes() == flown
    assert [path.name for path in target.parent.iterdir()] == ["a.jsonl"]


def test_replay_gives_the_same_states_and_outputs(flown_with_reset: bytes) -> None:
    recording = parse_recording(flown_with_reset)
    result = replay(recording)
    assert recording.complete and result.same and not result.problems
    assert result.compared == recording.ticks_total


def test_replay_shows_the_first_difference_with_ten_ticks_before_it(flown: bytes) -> None:
    rows = lines(flown)
    at = next(i for i, row in enumerate(rows) if row.get("out", {}).get("fuel"))
    rows[at]["out"]["fuel"] = 0
    result = replay(parse_recording(rebuilt(rows)))
    difference = result.difference
    assert difference is not None and not result.same
    assert (difference.tick, difference.key) == (rows[at]["tick"], "out.fuel")
    assert (difference.recorded, difference.got) == (0, 1)
    assert [tick["tick"] for tick in difference.before] == list(
        range(difference.tick - BEFORE, difference.tick)
    )


def test_replay_begins_at_a_snapshot_in_mid_flow(flown: bytes) -> None:
    whole = parse_recording(flown)
    ticks = list(whole.ticks())
    start = next(tick["tick"] for tick in ticks if tick["state"] == "RUN")
    controller = Controller(whole.settings)
    for tick in ticks[:start]:
        controller.tick(tick["raw"])
    recorder = Recorder(whole.header)
    recorder.snapshot(start, controller_words(controller))
    for tick in ticks[start:]:
        recorder.tick_data(tick)
    result = replay(parse_recording(recorder.end()))
    assert result.same and result.compared == len(ticks) - start


def test_a_recording_of_readings_alone_replays_with_a_warning(flown: bytes) -> None:
    rows = lines(flown)
    for row in rows:
        row.pop("raw", None)
    result = replay(parse_recording(rebuilt(rows)))
    assert result.compared > 0
    assert any("readings" in problem for problem in result.problems)


@pytest.mark.parametrize("keep", [0.3, 0.7, 0.999])
def test_a_recording_cut_short_says_so_and_replays_as_far_as_it_goes(flown: bytes, keep: float) -> None:
    recording = parse_recording(flown[: int(len(flown) * keep)])
    assert not recording.complete and recording.problems
    result = replay(recording)
    assert result.same and result.compared == recording.ticks_total > 0
    assert result.problems[: len(recording.problems)] == recording.problems


def test_a_recording_cut_at_a_line_end_is_incomplete(flown: bytes) -> None:
    rows = flown.splitlines(keepends=True)
    recording = parse_recording(b"".join(rows[:-1]))
    assert not recording.complete
    assert "no end line" in recording.problems[0]


def test_a_changed_byte_is_reported_as_corruption(flown: bytes) -> None:
    rows = flown.splitlines(keepends=True)
    rows[500] = rows[500].replace(b"1", b"2", 1)
    recording = parse_recording(b"".join(rows))
    assert not recording.complete
    assert "crc32" in recording.problems[0] and "corrupted" in recording.problems[0]


def test_a_broken_line_ends_the_reading_there(flown: bytes) -> None:
    rows = flown.splitlines(keepends=True)
    rows[300] = b"{nonsense\n"
    recording = parse_recording(b"".join(rows))
    assert not recording.complete and recording.problems[0].startswith("line 301: ")
    assert 0 < replay(recording).compared == recording.ticks_total


def test_bytes_after_the_end_line_are_reported(flown: bytes) -> None:
    recording = parse_recording(flown + b"more\n")
    assert not recording.complete and "follow the end line" in recording.problems[0]


BROKEN_LINES = {
    "kind": {"kind": "tock", "tick": 5},
    "tick goes back": {"kind": "tick", "tick": 0},
    "tick is no number": {"kind": "tick", "tick": "5"},
    "raw too short": {"kind": "tick", "tick": 5, "raw": [1, 2]},
    "raw not integers": {"kind": "tick", "tick": 5, "raw": ["a"] * 14},
    "state not text": {"kind": "tick", "tick": 5, "state": 3},
    "out not an object": {"kind": "tick", "tick": 5, "out": 3},
    "boot without word": {"kind": "boot", "tick": 5},
    "snapshot without words": {"kind": "snapshot", "tick": 5},
    "end without ticks": {"kind": "end"},
    "not an object": [1, 2],
}


@pytest.mark.parametrize("why", BROKEN_LINES)
def test_a_line_of_the_wrong_shape_is_named_and_ends_the_reading(why: str) -> None:
    recorder = Recorder(make_header(Settings()))
    recorder.tick_data({"tick": 0, "state": "REST"})
    body = recorder.end().rsplit(b"\n", 2)[0] + b"\n"
    recording = parse_recording(body + json.dumps(BROKEN_LINES[why]).encode() + b"\n")
    assert not recording.complete
    assert recording.problems[0].startswith("line 3: ")


def header_with(**changes: Any) -> bytes:
    return json.dumps({**make_header(Settings()), **changes}).encode() + b"\n"


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"nonsense\n",
        b"[]\n",
        b"\xff\xfe\n",
        header_with(kind="tick"),
        header_with(format=2),
        header_with(tick_ms=10),
        header_with(settings=None),
        header_with(settings={}),
        header_with(scales={"supply_bar": {"full": 1}}),
    ],
)
def test_a_file_without_a_usable_header_is_no_recording(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "x.jsonl"
    path.write_bytes(data)
    with pytest.raises(RecordingError) as error:
        read_recording(path)
    assert str(error.value).startswith(f"{path}: ")


def test_a_missing_file_is_no_recording(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="cannot be read"):
        read_recording(tmp_path / "none.jsonl")


def test_a_snapshot_of_another_firmware_is_reported(flown: bytes) -> None:
    rows = lines(flown)
    rows[2]["words"] = rows[2]["words"][:-1]
    result = replay(parse_recording(rebuilt(rows)))
    assert not result.same and "words" in result.problems[0]


def test_another_firmware_digest_is_told_and_still_replays(flown: bytes) -> None:
    rows = lines(flown)
    rows[0]["firmware"] = "00000000"
    result = replay(parse_recording(rebuilt(rows)))
    assert result.same and "firmware 00000000" in result.problems[0]
