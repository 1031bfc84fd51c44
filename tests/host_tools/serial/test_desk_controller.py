"""End to end against a real MicroPython running main.py behind a pseudo-terminal: client, watch, pull, replay."""

import json
import os
import shutil
import signal
import subprocess
import threading
import time

import pytest
from click.testing import CliRunner

from oxlatch import protocol
from oxlatch.vocabulary import REST, STATE_NAMES
from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.recording import read_recording
from oxlatch_tools.cli import main
from oxlatch_tools.commands.watch import Watcher
from oxlatch_tools.installation_settings import record_bytes
from oxlatch_tools.serial.client import Client, Refused
from oxlatch_tools.serial.desk import Desk, desk
from oxlatch_tools.serial.frames import encode_frame
from oxlatch_tools.serial.port import open_line

PATIENCE_S = 60.0


def oxlatch(*arguments):
    """Run the command line; a traceback is a failure."""
    done = CliRunner().invoke(main, [str(word) for word in arguments])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exc_info
    return done


def told(done):
    return json.loads(done.stdout)


def test_the_controller_says_who_it_is_and_what_it_holds(client, aircraft):
    identity = client.identity()
    assert identity["board"] == "desk"
    assert identity["python"].startswith("micropython 1.2")
    assert identity["firmware"] == firmware_digest()
    assert identity["files"] == "verified"
    assert identity["installation"] == aircraft.digest
    assert client.settings_record() == record_bytes(aircraft.settings)
    assert client.settled().state == REST


def test_a_file_that_is_not_the_one_listed_is_told(board_folder):
    manifest = board_folder / "manifest.json"
    listed = json.loads(manifest.read_text())
    listed["files"]["oxlatch/pilot.mpy"] = "0" * 64
    manifest.write_text(json.dumps(listed))
    with desk(board_folder) as running:
        line = open_line(running.port)
        client = Client(line)
        client.connect(10.0)
        assert client.identity()["files"] == "changed:oxlatch/pilot.mpy"
        assert client.identity()["firmware"] == "00000000"
        line.close()


def test_a_restart_comes_back_through_wake(client, controller):
    client.settled()
    before = client.one_telemetry().tick
    client.restart(maintenance=False)
    client.line.close()
    time.sleep(0.5)
    line = open_line(controller.port)
    again = Client(line)
    again.connect(10.0)
    assert again.one_telemetry().tick < before + 1000
    assert again.settled().state == REST
    line.close()


@pytest.mark.parametrize("over", ["pty", "socket"])
def test_replay_injects_tick_by_tick_and_finds_no_difference(board_folder, sortie, brief, over):
    recording = brief if over == "socket" else sortie
    with desk(board_folder, over_tcp=over == "socket") as running:
        done = oxlatch("replay", recording, "--port", running.port, "--json")
    result = told(done)
    assert done.exit_code == 0, result["problems"]
    assert result["result"]["compared"] == read_recording(recording).ticks_total
    assert result["result"]["difference"] is None


def test_replay_shows_the_first_difference_and_ten_ticks_before_it(controller, sortie, tmp_path):
    lines = sortie.read_text().splitlines()
    at = next(i for i, line in enumerate(lines) if '"state":"WAITING"' in line)
    tick = json.loads(lines[at])["tick"]
    lines[at] = lines[at].replace('"state":"WAITING"', '"state":"READY"')
    bent = tmp_path / "bent.jsonl"
    bent.write_text("\n".join(lines) + "\n")
    done = oxlatch("replay", bent, "--port", controller.port, "--json")
    difference = told(done)["result"]["difference"]
    assert done.exit_code == 1
    assert (difference["tick"], difference["recorded"], difference["got"]) == (tick, "READY", "WAITING")
    assert [row["tick"] for row in difference["before"]] == list(range(tick - 10, tick))
    assert any(problem.startswith(f"first difference at tick {tick}") for problem in told(done)["problems"])


def test_live_replay_runs_at_the_tick_rate_and_finds_no_difference(controller, brief):
    done = oxlatch("replay", brief, "--port", controller.port, "--live", "--json")
    result = told(done)
    assert done.exit_code == 0, result["problems"]
    assert result["result"]["times_real_time"] < 1.05
    assert result["result"]["compared"] == read_recording(brief).ticks_total


def test_without_the_strap_nothing_is_injected(board_folder, sortie):
    with desk(board_folder, straps="") as running:
        done = oxlatch("replay", sortie, "--port", running.port)
        assert done.exit_code == 2
        assert "the inject strap is not fitted" in done.stderr
        line = open_line(running.port)
        client = Client(line)
        client.connect(5.0)
        before = client.one_telemetry().raw
        for kind in (protocol.BEGIN, protocol.STEP, protocol.LOAD_STATE):
            with pytest.raises(Refused) as refused:
                client.ask(kind, b"\x01\x00")
            assert refused.value.code == protocol.NO_STRAP
        assert client.one_telemetry().raw == before
        line.close()


def test_a_recording_of_another_firmware_is_refused_unless_anyway(controller, brief, tmp_path):
    other = tmp_path / "other.jsonl"
    other.write_text(brief.read_text().replace(f'"firmware":"{firmware_digest()}"', '"firmware":"12345678"', 1))
    done = oxlatch("replay", other, "--port", controller.port)
    assert done.exit_code == 2
    assert "the recording is of firmware 12345678" in done.stderr
    assert "--anyway" in done.stderr
    done = oxlatch("replay", other, "--port", controller.port, "--anyway", "--json")
    assert told(done)["result"]["difference"] is None
    assert any("12345678" in problem for problem in told(done)["problems"])
    assert oxlatch("replay", other).exit_code == 2


def test_pull_tells_an_injected_refusal_in_words_after_a_power_cut(board_folder, sortie, tmp_path):
    with desk(board_folder) as running:
        assert oxlatch("replay", sortie, "--port", running.port).exit_code == 0
    with desk(board_folder) as running:
        done = oxlatch("pull", "--port", running.port, "--out", tmp_path, "--json")
    result = told(done)
    assert done.exit_code == 0
    page = (tmp_path / "journal-debrief.txt").read_text()
    assert "BENCH: samples injected over the link" in page
    assert any("refused" in line and "PURGE" in line for line in result["result"]["refusals"])
    recording = read_recording(tmp_path / "journal.jsonl")
    assert recording.complete
    assert recording.header["source"] == "controller"


def step_until(watcher, is_enough):
    """Let a watcher see enough; a machine that is busy may take its time."""
    until = time.monotonic() + PATIENCE_S
    while not is_enough():
        assert time.monotonic() < until, watcher.seen
        watcher.step()
    watcher.end()


def test_watch_records_what_it_sees_through_a_reset(controller, aircraft, tmp_path):
    recording = tmp_path / "seen.jsonl"
    watcher = Watcher(controller.port, aircraft, recording)
    begun = time.monotonic()
    while watcher.last_tick < 300:
        assert time.monotonic() < begun + PATIENCE_S
        watcher.step()
    found = subprocess.run(["pgrep", "-P", str(controller.pid)], capture_output=True, text=True, check=True)
    for pid in found.stdout.split():
        os.kill(int(pid), signal.SIGKILL)
    step_until(watcher, lambda: watcher.base > 0 and watcher.seen.frames > 20)
    seen = read_recording(recording)
    assert seen.complete
    assert [line["kind"] for line in seen.lines].count("boot") == 1
    assert {tick["state"] for tick in seen.ticks()} <= set(STATE_NAMES)


def test_garbage_on_the_line_does_not_keep_the_controller_from_answering(client):
    client.line.send(bytes(range(1, 256)) * 4 + b"\0" + encode_frame(0x77, b"x" * 100) + b"\0\0")
    assert client.settled().state == REST
    assert client.one_telemetry().broken >= 1


def test_a_cable_pulled_in_a_replay_is_one_message_and_exit_2(board_folder, sortie):
    held = Desk(board_folder)

    def pull():
        time.sleep(2.0)
        os.kill(held.pid, signal.SIGKILL)

    meanwhile = threading.Thread(target=pull)
    meanwhile.start()
    done = oxlatch("replay", sortie, "--port", held.port, "--live")
    meanwhile.join()
    held.close()
    assert done.exit_code == 2
    assert done.stderr.count("\n") == 1
    assert "oxlatch replay:" in done.stderr


def test_watch_goes_on_after_the_cable_was_pulled_and_put_back(board_folder, flashed_folder, aircraft, tmp_path):
    """Two controllers take turns behind one port name, as a board does that comes back."""
    other_folder = shutil.copytree(flashed_folder, tmp_path / "other")
    name = tmp_path / "port"
    first = Desk(board_folder)
    name.symlink_to(first.port)
    watcher = Watcher(str(name), aircraft, None)
    begun = time.monotonic()
    while watcher.seen.told is None or watcher.seen.told.tick < 300:
        assert time.monotonic() < begun + PATIENCE_S
        watcher.step()
    frames = watcher.seen.frames
    name.unlink()
    first.close()
    second = Desk(other_folder)
    name.symlink_to(second.port)
    try:
        step_until(watcher, lambda: watcher.seen.frames > frames + 10)
    finally:
        second.close()
    assert watcher.seen.replugs >= 1
    assert watcher.seen.told.tick < 300 + 400


def test_watch_stops_by_itself_and_says_what_it_saw(controller):
    done = oxlatch("watch", "--port", controller.port, "--seconds", "4", "--json")
    assert done.exit_code == 0, done.output
    assert told(done)["result"]["frames"] > 0
    assert told(done)["result"]["state"] in ("WAKE", "REST")
