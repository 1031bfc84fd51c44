"""Ctrl-C in the terminal, at moments that matter: one message, nothing half-written, outputs off, the next run goes on.

Every command is a process of its own, interrupted with its children as a terminal does it.
"""

import json
import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest

from oxlatch.vocabulary import REST, STATE_NAMES
from oxlatch_sim.recording import read_recording
from oxlatch_sim.scenario import find, load, play
from oxlatch_tools.serial.client import Client
from oxlatch_tools.serial.desk import desk
from oxlatch_tools.serial.port import open_line

PATIENCE_S = 60.0
DAMAGED = ("oxlatch/flow.mpy", "oxlatch/gate.mpy", "oxlatch/trip.mpy")


class Running:
    """A command in a process group of its own."""

    def __init__(self, *arguments):
        self.process = subprocess.Popen(
            [sys.executable, "-m", "oxlatch_tools.cli", *map(str, arguments)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # a shell's background jobs ignore it
        )

    def interrupt_when(self, is_time):
        """Ctrl-C once something is so; the command must still be running then."""
        until = time.monotonic() + PATIENCE_S
        try:
            while not is_time():
                assert self.process.poll() is None, self.process.communicate()
                assert time.monotonic() < until, "the moment never came"
                time.sleep(0.01)
            os.killpg(self.process.pid, signal.SIGINT)
            return self.end()
        finally:
            self.process.kill()

    def has_held(self, port, seconds=0.0):
        """A moment: the command has had the port open for so long."""
        since = []

        def is_time():
            with suppress(OSError):
                opened = [os.readlink(fd) for fd in Path(f"/proc/{self.process.pid}/fd").iterdir()]
                if not since and port in opened:
                    since.append(time.monotonic())
            return bool(since) and time.monotonic() - since[0] >= seconds

        return is_time

    def end(self):
        """(exit code, standard output, standard error)."""
        try:
            out, err = self.process.communicate(timeout=PATIENCE_S)
        finally:
            self.process.kill()
        return self.process.returncode, out, err


def outputs_off(port):
    """A controller answers there, and drives nothing."""
    line = open_line(port)
    try:
        client = Client(line)
        client.connect(20.0)
        told = client.settled()
        assert (told.ox, told.fuel, told.bits) == (0, 0, 0)
        return STATE_NAMES[told.state]
    finally:
        line.close()


@pytest.fixture(scope="module")
def good(flashed_folder):
    return {path.relative_to(flashed_folder).as_posix(): path.read_bytes() for path in flashed_folder.rglob("*.mpy")}


@pytest.fixture(scope="module")
def flow(aircraft, tmp_path_factory):
    """Eight seconds that begin in flow."""
    scenario = load(find("coils-at-their-limit-in-flow"))
    played = play(scenario, aircraft.plant, aircraft.settings, installation=aircraft.digest)
    return played.recorder.save(tmp_path_factory.mktemp("flown") / "flow.jsonl")


def test_flash_stopped_at_any_stage_leaves_old_or_new_files_and_the_next_run_finishes(board_folder, good, tmp_path):
    damaged = {name: f"old {name}".encode() for name in DAMAGED}
    for name, content in damaged.items():
        (board_folder / name).write_bytes(content)
    moments = (
        lambda: any(board_folder.rglob("*.new")),  # files on their way
        lambda: (board_folder / DAMAGED[-1]).read_bytes() == good[DAMAGED[-1]],  # files have taken their names
    )
    with desk(board_folder, straps="") as running:
        flash = ("flash", "--port", running.port, "--out", tmp_path / "out", "--json")
        for is_time in moments:
            code, out, _err = Running(*flash).interrupt_when(is_time)
            assert code == 2, out
            assert "stopped by hand" in json.loads(out)["problems"][0]
            for name, content in good.items():
                assert (board_folder / name).read_bytes() in (content, damaged.get(name)), name
            assert not list(tmp_path.rglob("certificate*"))
        code, out, err = Running(*flash).end()
        assert code == 0, out + err
        assert outputs_off(running.port) == STATE_NAMES[REST]
    assert {name: (board_folder / name).read_bytes() for name in good} == good


def test_replay_stopped_in_flow_lets_the_bench_controller_go_back_to_its_pins(controller, flow):
    command = Running("replay", flow, "--port", controller.port, "--live")
    code, _out, err = command.interrupt_when(command.has_held(controller.port, 3.0))
    assert code == 2
    assert err.count("\n") == 1, err
    assert "stopped by hand; the controller has gone back to its pins" in err
    assert outputs_off(controller.port) == STATE_NAMES[REST]


def test_watch_stopped_saves_a_whole_recording(controller, tmp_path):
    path = tmp_path / "seen.jsonl"
    command = Running("watch", "--port", controller.port, "--record", path, "--json")
    code, out, err = command.interrupt_when(command.has_held(controller.port, 2.0))
    assert code == 0, err
    assert json.loads(out)["result"]["frames"] > 0
    assert read_recording(path).complete
    assert [found.name for found in tmp_path.iterdir() if found.is_file()] == ["seen.jsonl"]


def test_pull_stopped_writes_nothing(controller, tmp_path):
    out = tmp_path / "out"
    command = Running("pull", "--port", controller.port, "--out", out)
    code, _out, err = command.interrupt_when(command.has_held(controller.port))
    assert code == 2
    assert err == "oxlatch pull: stopped by hand; nothing was written\n"
    assert not out.exists() or not list(out.iterdir())
