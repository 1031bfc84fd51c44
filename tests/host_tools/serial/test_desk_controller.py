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
from oxlatch.vocabulary import REST, SERVICE, STATE_NAMES, WAKE
from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.recording import read_recording
from oxlatch_tools.cli import main
from oxlatch_tools.installation_settings import record_bytes
from oxlatch_tools.serial.client import Client, Refused
from oxlatch_tools.serial.desk import Desk, desk
from oxlatch_tools.serial.frames import encode_frame
from oxlatch_tools.serial.port import open_line


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


def test_service_is_granted_only_after_the_engine_has_stood_still_for_five_seconds(client):
    client.settled()
    begun = client.one_telemetry().tick
    assert client.enter_service(12.0).state == SERVICE
    assert client.one_telemetry().tick + begun > 900
    client.ask(protocol.ASK_SERVICE, bytes((protocol.SERVICE_LEAVE,)))
    time.sleep(0.2)
    assert client.one_telemetry().state in (WAKE, REST)


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
def test_replay_injects_tick_by_tick_and_finds_no_difference(board_folder, sortie, over):
    with desk(board_folder, over_tcp=over == "socket") as running:
        done = oxlatch("replay", sortie, "--port", running.port, "--json")
    result = told(done)
    assert done.exit_code == 0, result["problems"]
    assert result["result"]["compared"] == read_recording(sortie).ticks_total
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
    assert "first difference at tick" in oxlatch("replay", bent, "--port", controller.port).stderr


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


def test_a_recording_of_another_firmware_is_refused_unless_anyway(controller, sortie, tmp_path):
    other = tmp_path / "other.jsonl"
    other.write_text(sortie.read_text().replace(f'"firmware":"{firmware_digest()}"', '"firmware":"12345678"', 1))
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


def test_watch_records_what_it_sees_through_a_reset(controller, client, tmp_path):
    client.settled()
    client.line.close()
    recording = tmp_path / "seen.jsonl"

    def reset_meanwhile():
        time.sleep(1.0)
        found = subprocess.run(["pgrep", "-P", str(controller.pid)], capture_output=True, text=True, check=True)
        for pid in found.stdout.split():
            os.kill(int(pid), signal.SIGKILL)

    meanwhile = threading.Thread(target=reset_meanwhile)
    meanwhile.start()
    done = oxlatch("watch", "--port", controller.port, "--seconds", "9", "--record", recording, "--json")
    meanwhile.join()
    assert done.exit_code == 0, done.output
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


def test_watch_goes_on_after_the_cable_was_pulled_and_plugged_in_again(board_folder, flashed_folder, tmp_path):
    """Two controllers take turns behind one port name, as a board does that comes back."""
    other_folder = shutil.copytree(flashed_folder, tmp_path / "other")
    name = tmp_path / "port"
    first = Desk(board_folder)
    name.symlink_to(first.port)
    second = []

    def replug():
        time.sleep(2.5)
        name.unlink()
        first.close()
        second.append(Desk(other_folder))
        name.symlink_to(second[0].port)

    meanwhile = threading.Thread(target=replug)
    meanwhile.start()
    done = oxlatch("watch", "--port", name, "--seconds", "9", "--json")
    meanwhile.join()
    second[0].close()
    result = told(done)["result"]
    assert done.exit_code == 0
    assert result["replugs"] >= 1
    assert result["frames"] > 20
    assert result["tick"] < 1900
