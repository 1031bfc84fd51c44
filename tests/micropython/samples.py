"""Recorded raw samples of scenarios, as a file that the MicroPython scripts read; and where that MicroPython is."""

import shutil
import subprocess
import sys
import tempfile
from array import array
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from oxlatch.settings import RECORD_BYTES, pack
from oxlatch.vocabulary import RAW_COUNT
from oxlatch_sim.scenario import load, play, scenario_settings
from oxlatch_tools.aircraft import load_aircraft
from oxlatch_tools.serial.device_files import firmware_for

HERE = Path(__file__).parent
FIRMWARE = HERE.parents[1] / "firmware"
RESET = 65535


def tool(name: str) -> str:
    """A program of the development extras, beside this interpreter or on the path."""
    beside = Path(sys.executable).parent / name
    found = str(beside) if beside.exists() else shutil.which(name)
    assert found, f"{name} is missing; install the development extras"
    return found


def played(scenario_path: Path) -> tuple[bytes, "array[int]"]:
    """The settings record of a scenario and every raw sample, a reset row before each controller's."""
    scenario = load(scenario_path)
    aircraft = load_aircraft(None)
    rows = array("H")
    controllers: list[object] = []

    def keep(bench):
        if not bench.ran:
            return
        if not controllers or controllers[-1] is not bench.controller:
            controllers.append(bench.controller)
            rows.extend([RESET] * RAW_COUNT)
        rows.extend(min(value, RESET - 1) for value in bench.raw)

    play(scenario, aircraft.plant, aircraft.settings, on_tick=keep)
    record = bytearray(RECORD_BYTES)
    pack(scenario_settings(scenario, aircraft.settings), record)
    return bytes(record), rows


def write_samples(scenario_path: Path, into: Path) -> Path:
    """A scenario as one file: settings record, then rows."""
    record, rows = played(scenario_path)
    into.write_bytes(record + rows.tobytes())
    return into


def write_scenarios(scenario_paths: Sequence[Path], into: Path) -> Path:
    """Scenarios as one file, each a settings record, the number of rows (u32) and the rows."""
    with into.open("wb") as stream:
        for path in scenario_paths:
            record, rows = played(path)
            stream.write(record + (len(rows) // RAW_COUNT).to_bytes(4, "little") + rows.tobytes())
    return into


@cache
def compiled(script: str, board: str) -> Path:
    """The firmware as a script gets it: compiled for a board of that kind, once."""
    return firmware_for([HERE / script], Path(tempfile.mkdtemp(prefix="firmware-")), board)


def run_micropython(
    script: str, *arguments: object, heap: str = "64m", cwd: Path | None = None, board: str = "desk"
) -> list[str]:
    """The words a script prints under the desktop MicroPython, from what a board gets; its error when it fails."""
    command = [tool("micropython"), "-X", f"heapsize={heap}", str(HERE / script), str(compiled(script, board))]
    return _run(command, arguments, cwd)


def run_cpython(script: str, *arguments: object) -> list[str]:
    """The words the same script prints under this Python."""
    return _run([sys.executable, str(HERE / script), str(FIRMWARE)], arguments, None)


def _run(command: list[str], arguments: tuple[object, ...], cwd: Path | None) -> list[str]:
    told = subprocess.run(
        [*command, *map(str, arguments)],
        capture_output=True,
        text=True,
        cwd=cwd,
        stdin=subprocess.DEVNULL,
    )
    assert told.returncode == 0, told.stderr + told.stdout
    return told.stdout.split()
