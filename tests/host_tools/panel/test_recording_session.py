"""Walking through a recording: any tick, as it was recorded."""

from pathlib import Path
from typing import Any

import pytest
from tests.host_tools.panel.served import let_pass

from oxlatch.controller import Controller
from oxlatch.gate import gate_step
from oxlatch.sequencer import core_step
from oxlatch.vocabulary import CONTACT_CLOSED, RAW_COUNT, WAITING
from oxlatch_sim.observation import observe
from oxlatch_sim.recording import (
    Recorder,
    Recording,
    controller_words,
    make_header,
    parse_recording,
    read_recording,
)
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


def test_a_counterexample_of_verdicts_alone_opens(tug: Aircraft) -> None:
    """As the exploration writes one: a snapshot in the middle of a flight, no raw samples, no readings, no nozzle."""
    controller = Controller(tug.settings)
    controller.core.state = WAITING
    recorder = Recorder(make_header(tug.settings, "counterexample"))
    recorder.boot(0, 0)
    recorder.snapshot(0, controller_words(controller))
    for n in range(3):
        controller.verdicts.master = controller.verdicts.sel = 1
        controller.verdicts.contact = CONTACT_CLOSED
        core_step(controller.core, controller.verdicts, tug.settings)
        gate_step(controller.gate, controller.core, controller.verdicts, tug.settings, controller.out)
        tick = observe(n, controller, [0] * RAW_COUNT, {})
        recorder.tick_data({key: value for key, value in tick.items() if key not in ("raw", "in")})
    found = parse_recording(recorder.end())
    assert found.complete
    walk = RecordingSession("counterexample-x.jsonl", found, RecordedTicks(found), 1)
    assert walk.hello()["source"] == "counterexample"
    shown = walk.frame()
    assert shown["tick"] == 1 and shown["state"] == "TRIP" and "RAIL STAYS LIVE" in shown["why"]
    assert shown["read"]["master"] == 1 and shown["read"]["sel"] == 1 and shown["read"]["detent"] == "CLOSED"
    assert shown["judged"]["contact"] == "CLOSED" and shown["judged"]["supply"] == "FAULT"
    assert shown["nozzle"] is None


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
