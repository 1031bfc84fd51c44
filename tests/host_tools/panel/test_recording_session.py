"""Walking through a recording: any tick, as it was recorded."""

from pathlib import Path
from typing import Any

import pytest
from tests.host_tools.panel.served import let_pass

from oxlatch_sim.recording import Recording, parse_recording, read_recording
from oxlatch_sim.scenario import find, load, play
from oxlatch_tools.aircraft import Aircraft
from oxlatch_tools.panel.bench_session import BenchSession
from oxlatch_tools.panel.library import Library, LibraryError
from oxlatch_tools.panel.messages import MessageError
from oxlatch_tools.panel.recording_session import RecordedTicks, RecordingSession
from oxlatch_tools.panel.session import NOTHING_NEW


@pytest.fixture(scope="module")
def recording(tug: Aircraft) -> Recording:
    """A sortie that an oxidizer valve ends."""
    played = play(load(find("oxidizer-valve-does-not-open")), tug.plant, tug.settings, installation=tug.digest)
    return parse_recording(played.recorder.end())


@pytest.fixture()
def walk(recording: Recording) -> RecordingSession:
    return RecordingSession("sortie.jsonl", recording, RecordedTicks(recording), 0)


def do(session: RecordingSession, deed: str, **arguments: Any) -> None:
    session.take({"do": deed, **arguments}, 1)


def test_every_tick_can_be_had_at_once_and_as_recorded(recording: Recording, walk: RecordingSession) -> None:
    whole = {tick["tick"]: tick for tick in recording.ticks()}
    last = max(whole)
    for number in (0, 1, last // 3, last // 2, last - 1, last):
        do(walk, "seek", tick=number)
        shown = walk.frame()
        assert shown["tick"] == number
        assert shown["state"] == whole[number]["state"] and shown["why"] == whole[number]["why"]
        assert shown["out"] == whole[number]["out"] and shown["read"] == whole[number]["in"]
        assert shown["nozzle"] == whole[number]["nozzle"]


def test_walking_on_shows_the_same_as_jumping(recording: Recording, walk: RecordingSession) -> None:
    do(walk, "run")
    do(walk, "speed", factor=10)
    for _ in range(30):
        walk.advance(0.05)
    walked = walk.frame()
    do(walk, "seek", tick=walked["tick"])
    jumped = walk.frame()
    assert walked["tick"] == 30 * 100
    assert {key: walked[key] for key in ("state", "why", "out", "read", "moves")} == {
        key: jumped[key] for key in ("state", "why", "out", "read", "moves")
    }


def test_the_trip_shows_its_first_cause_and_how_it_was_reached(recording: Recording, walk: RecordingSession) -> None:
    do(walk, "seek", tick=10**9)
    shown = walk.frame()
    assert shown["state"] == "TRIP" and shown["cause"] == "O NOT PROVED"
    assert [move[2] for move in shown["moves"]][-3:] == ["READY", "LEAD-IN", "TRIP"]


def test_a_walk_ends_with_the_recording(walk: RecordingSession) -> None:
    do(walk, "seek", tick=walk.ticks.last - 5)
    do(walk, "run")
    walk.advance(0.1)
    assert walk.frame()["tick"] == walk.ticks.last and not walk.clock.running
    walk.advance(0.0)
    assert walk.advance(0.1) == NOTHING_NEW


@pytest.mark.parametrize("deed", ["switch", "push", "fault", "save", "start_over", "branch"])
def test_nothing_on_a_recording_can_be_moved(walk: RecordingSession, deed: str) -> None:
    with pytest.raises(MessageError, match="walked through"):
        do(walk, deed)


def test_a_counterexample_from_the_middle_of_a_flight_opens(recording: Recording) -> None:
    """A snapshot and a few ticks, with no boot line, no readings and no nozzle."""
    import json
    import zlib

    header = {**recording.header, "source": "counterexample"}
    words = next(line["words"] for line in recording.lines if line["kind"] == "snapshot")
    raw = next(line["raw"] for line in recording.lines if "raw" in line)
    out = next(line["out"] for line in recording.lines if "out" in line)
    lines = [
        header,
        {"kind": "snapshot", "tick": 0, "words": words},
        {"kind": "tick", "tick": 0, "raw": raw, "state": "LEAD-IN", "out": out},
        {"kind": "tick", "tick": 1, "state": "TRIP", "why": ["O NOT PROVED"]},
    ]
    data = b"".join(json.dumps(line).encode() + b"\n" for line in lines)
    data += json.dumps({"kind": "end", "ticks": 2, "dropped": 0, "crc32": f"{zlib.crc32(data):08x}"}).encode() + b"\n"
    found = parse_recording(data)
    assert found.complete
    walk = RecordingSession("cx.jsonl", found, RecordedTicks(found), 1)
    assert walk.hello()["source"] == "counterexample"
    shown = walk.frame()
    assert shown["state"] == "TRIP" and shown["cmd"] is None and shown["nozzle"] is None and shown["tick"] == 1


def test_the_library_keeps_to_its_folder(tmp_path: Path, session: BenchSession) -> None:
    (tmp_path / "kept").mkdir()
    library = Library(tmp_path / "kept")
    (tmp_path / "outside.jsonl").write_text("{}\n")
    (tmp_path / "kept" / "link.jsonl").symlink_to(tmp_path / "outside.jsonl")
    for name in ("../outside.jsonl", "/etc/passwd", "link.jsonl", "..jsonl", "none.jsonl", "a/b.jsonl", ""):
        with pytest.raises(LibraryError):
            library.path(name)


def test_an_upload_is_checked_and_overwrites_nothing(
    tmp_path: Path, recording: Recording, session: BenchSession
) -> None:
    library = Library(tmp_path)
    with pytest.raises(LibraryError, match="header"):
        library.take_in("junk.jsonl", b"junk\n")
    with pytest.raises(LibraryError, match="named by"):
        library.take_in("../x.jsonl", b"")
    let_pass(session, 0.2)
    session.take({"do": "save", "seconds": 10}, 1)
    for _ in range(50):
        session.advance(0.0)
    data = (tmp_path / session.saved).read_bytes()
    first = library.take_in("mine.jsonl", data)
    again = library.take_in("mine.jsonl", data)
    other = library.take_in("mine.jsonl", data[: len(data) // 2])
    assert (first, again, other) == ("mine.jsonl", "mine.jsonl", "mine-1.jsonl")
    assert read_recording(tmp_path / "mine.jsonl").complete
    recording_again, ticks = library.open("mine.jsonl")
    assert recording_again.complete and ticks.lines
