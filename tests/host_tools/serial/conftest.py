"""A desk controller: real MicroPython running the real main.py behind a pseudo-terminal."""

import json
import shutil
from zlib import crc32

import pytest

from oxlatch.store import Files, Store, lockout_pattern
from oxlatch_sim.scenario import find, load, play
from oxlatch_tools.aircraft import load_aircraft
from oxlatch_tools.installation_settings import record_bytes
from oxlatch_tools.serial.client import Client
from oxlatch_tools.serial.desk import desk
from oxlatch_tools.serial.device_files import build_files
from oxlatch_tools.serial.port import open_line

BRIEF_TICKS = 600


@pytest.fixture(scope="session")
def aircraft():
    return load_aircraft(None)


@pytest.fixture(scope="session")
def flashed_folder(aircraft, tmp_path_factory):
    """The file system of a board after flashing, made without flashing."""
    folder = tmp_path_factory.mktemp("board")
    built = build_files("desk")
    for name, content in built.files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    assert Store(Files(f"{folder}/")).settings.save(record_bytes(aircraft.settings))
    pattern = bytearray(8)
    lockout_pattern(0, pattern)
    (folder / "lockout.memory").write_bytes(pattern)
    return folder


@pytest.fixture
def board_folder(flashed_folder, tmp_path):
    """A copy of it for one test."""
    return shutil.copytree(flashed_folder, tmp_path / "board")


@pytest.fixture
def controller(board_folder):
    """A desk controller with the inject strap, and its port."""
    with desk(board_folder) as running:
        yield running


@pytest.fixture
def client(controller):
    line = open_line(controller.port)
    found = Client(line)
    found.connect(10.0)
    yield found
    line.close()


@pytest.fixture(scope="session")
def brief(sortie):
    """The first three seconds of it, whole again with an end line of its own."""
    lines = []
    for line in sortie.read_bytes().splitlines(keepends=True):
        if json.loads(line).get("tick", 0) >= BRIEF_TICKS or b'"kind":"end"' in line:
            break
        lines.append(line)
    body = b"".join(lines)
    end = {"kind": "end", "ticks": BRIEF_TICKS, "dropped": 0, "crc32": f"{crc32(body):08x}"}
    path = sortie.with_name("brief.jsonl")
    path.write_bytes(body + json.dumps(end).encode() + b"\n")
    return path


@pytest.fixture(scope="session")
def sortie(aircraft, tmp_path_factory):
    """A recorded refusal: a push without a purge, short enough to be replayed often."""
    scenario = load(find("push-without-purge"))
    played = play(scenario, aircraft.plant, aircraft.settings, installation=aircraft.digest)
    return played.recorder.save(tmp_path_factory.mktemp("flown") / "push-without-purge.jsonl")
