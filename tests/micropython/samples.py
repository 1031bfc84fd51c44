"""Recorded raw samples of scenarios, as a file that the MicroPython scripts read; and where that MicroPython is."""

import shutil
import subprocess
import sys
from array import array
from pathlib import Path

from oxlatch.settings import RECORD_BYTES, Settings, pack
from oxlatch.vocabulary import RAW_COUNT
from oxlatch_sim.plant.parameters import alpine_tug_parameters
from oxlatch_sim.scenario import load, play, scenario_settings

HERE = Path(__file__).parent
FIRMWARE = HERE.parents[1] / "firmware"
RESET = 65535


def tool(name: str) -> str:
    """A program of the development extras, beside this interpreter or on the path."""
    beside = Path(sys.executable).parent / name
    found = str(beside) if beside.exists() else shutil.which(name)
    assert found, f"{name} is missing; install the development extras"
    return found


def write_samples(scenario_path: Path, into: Path) -> Path:
    """Play a scenario and write its settings record and every raw sample, a reset row before each controller's."""
    scenario = load(scenario_path)
    rows = array("H")
    controllers: list[object] = []

    def keep(bench):
        if not bench.ran:
            return
        if not controllers or controllers[-1] is not bench.controller:
            controllers.append(bench.controller)
            rows.extend([RESET] * RAW_COUNT)
        rows.extend(min(value, RESET - 1) for value in bench.raw)

    play(scenario, alpine_tug_parameters(), Settings(), on_tick=keep)
    record = bytearray(RECORD_BYTES)
    pack(scenario_settings(scenario, Settings()), record)
    into.write_bytes(bytes(record) + rows.tobytes())
    return into


def run_micropython(script: str, *arguments: object, heap: str = "64m", cwd: Path | None = None) -> list[str]:
    """The words a script prints under the desktop MicroPython; its error when it fails."""
    return _run([tool("micropython"), "-X", f"heapsize={heap}", str(HERE / script)], arguments, cwd)


def run_cpython(script: str, *arguments: object) -> list[str]:
    """The words the same script prints under this Python."""
    return _run([sys.executable, str(HERE / script)], arguments, None)


def _run(command: list[str], arguments: tuple[object, ...], cwd: Path | None) -> list[str]:
    told = subprocess.run(
        [*command, str(FIRMWARE), *map(str, arguments)],
        capture_output=True,
        text=True,
        cwd=cwd,
        stdin=subprocess.DEVNULL,
    )
    assert told.returncode == 0, told.stderr + told.stdout
    return told.stdout.split()
