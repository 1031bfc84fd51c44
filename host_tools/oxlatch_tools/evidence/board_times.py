"""How long a tick takes and what hosts on the link can do to one, measured under the desktop MicroPython.

`python -m oxlatch_tools.evidence.board_times ticks` (or `link`) prints the result file that the pack reads. The
desktop is not the board: what is measured here is multiplied by one factor, and the pack says so.
"""

import subprocess
import sys
import tempfile
from array import array
from collections.abc import Callable
from pathlib import Path
from typing import Any

from oxlatch.settings import RECORD_BYTES, Settings, pack
from oxlatch.vocabulary import RAW_COUNT, TICK_MS
from oxlatch_sim.bench import Bench
from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.scenario import bundled, find, load, play, scenario_settings
from oxlatch_tools.aircraft import load_aircraft
from oxlatch_tools.outcome import Outcome, emit
from oxlatch_tools.serial.desk import NoMicroPython, micropython_command
from oxlatch_tools.serial.device_files import firmware_for

RESET = 65535
TICK_PASSES = 7
HOST_TICKS = 11_000
BOARD_FACTOR = 190
"""Desktop MicroPython against an RP2040 at 125 MHz: 150 to 220 by cycle-level emulation, +-15 %."""
LONGER_BY_MS = 1.0
SCRIPTS = Path(__file__).parent / "on_micropython"
WHERE = "MicroPython on a desktop computer"
TIMEOUT_S = 900


def samples_of_scenarios() -> "tuple[array[int], list[Settings]]":
    """Raw samples of every tick of every bundled scenario, flown with the tug, and the settings they ran with.

    A row that begins with RESET stands before each controller's first; its second word is the place of its settings.
    """
    tug = load_aircraft(None)
    samples = array("H")
    used: list[Settings] = []
    for path in bundled():
        seen: list[object] = []

        def keep(bench: Bench, seen: list[object] = seen) -> None:
            if not bench.ran:
                return
            if not seen or seen[-1] is not bench.controller:
                seen.append(bench.controller)
                samples.extend([RESET, len(used)] + [0] * (RAW_COUNT - 2))
                used.append(bench.controller.settings)
            samples.extend(min(value, RESET - 1) for value in bench.raw)

        play(load(path), tug.plant, tug.settings, on_tick=keep)
    return samples, used


def packed(settings: Settings) -> bytes:
    """The record of some settings."""
    record = bytearray(RECORD_BYTES)
    pack(settings, record)
    return bytes(record)


def sortie_with_settings() -> bytes:
    """A settings record, then the raw samples of one full sortie of the tug."""
    tug = load_aircraft(None)
    scenario = load(find("full-sortie-two-stages"))
    rows = array("H", [RESET] * RAW_COUNT)
    play(scenario, tug.plant, tug.settings, on_tick=lambda bench: rows.extend(bench.raw))
    return packed(scenario_settings(scenario, tug.settings)) + rows.tobytes()


def under_micropython(script: str, content: bytes, *arguments: object) -> list[str]:
    """Lines that a script prints, given the firmware as flashed, a file and its arguments.

    Raises RuntimeError, NoMicroPython or BuildError.
    """
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "samples"
        file.write_bytes(content)
        firmware = firmware_for([SCRIPTS / script], Path(folder) / "firmware")
        line = [micropython_command(), "-X", "heapsize=256m", str(SCRIPTS / script), str(firmware), str(file)]
        done = subprocess.run(
            [*line, *map(str, arguments)],
            capture_output=True,
            text=True,
            cwd=folder,
            stdin=subprocess.DEVNULL,
            timeout=TIMEOUT_S,
            check=False,
        )
    if done.returncode:
        raise RuntimeError(f"{script}: {done.stderr or done.stdout}")
    return done.stdout.splitlines()


def ticks() -> Outcome:
    """Median, 99th percentile and worst tick over every scenario, the heap locked in a further pass."""
    samples, used = samples_of_scenarios()
    content = b"".join(packed(settings) for settings in used) + samples.tobytes()
    told = under_micropython("time_ticks.py", content, len(used), TICK_PASSES)
    count, median, p99, worst, state = told[0].split()
    on_board_ms = int(worst) * BOARD_FACTOR / 1e6
    figures = {
        "measured_on": f"{WHERE}, every bundled scenario",
        "is_board": False,
        "ticks": int(count),
        "median_us": int(median) / 1000,
        "percentile_99_us": int(p99) / 1000,
        "worst_us": int(worst) / 1000,
        "worst_in_state": state,
        "bytes_allocated": 0,
        "worst_on_board_about_ms": round(on_board_ms, 1),
    }
    late = f"the worst tick, in {state}, takes about {on_board_ms:.1f} ms on the board by this estimate"
    problems = [] if on_board_ms < TICK_MS else [f"{late}; a tick is {TICK_MS} ms"]
    return Outcome("ticks", not problems, figures, problems, firmware=firmware_digest())


def link() -> Outcome:
    """Six kinds of host: whether any changes what the controller does, and by how much one lengthens a tick."""
    rows = [host_row(told) for told in under_micropython("time_hosts.py", sortie_with_settings(), HOST_TICKS)]
    silent = rows[0]["longest_us"]
    longer_ms = max(row["longest_us"] - silent for row in rows) * BOARD_FACTOR / 1000
    is_equal = len({row["digest"] for row in rows}) == 1
    problems = [] if is_equal else ["what the controller does depends on the host"]
    if longer_ms > LONGER_BY_MS:
        problems.append(f"a host lengthens a tick by about {longer_ms:.2f} ms on the board, allowed {LONGER_BY_MS:g}")
    result: dict[str, Any] = {
        "measured_on": WHERE,
        "is_board": False,
        "ticks": HOST_TICKS,
        "digests_equal": is_equal,
        "longer_on_board_about_ms": round(longer_ms, 2),
        "hosts": rows,
    }
    return Outcome("link", not problems, result, problems, firmware=firmware_digest())


def host_row(told: str) -> dict[str, Any]:
    """One host; times of one poll of the link, in us here."""
    name, digest, longest, mean, dropped, broken = told.split("|")
    return {
        "host": name,
        "digest": digest,
        "longest_us": int(longest) / 10,
        "mean_us": int(mean) / 10,
        "dropped": int(dropped),
        "broken": int(broken),
    }


MEASURES: dict[str, Callable[[], Outcome]] = {"ticks": ticks, "link": link}


def main() -> None:
    """Measure what is named and print it for machines."""
    names = sys.argv[1:]
    if len(names) != 1 or names[0] not in MEASURES:
        sys.exit(f"board_times takes one of: {', '.join(MEASURES)}")
    try:
        outcome = MEASURES[names[0]]()
    except NoMicroPython as error:
        sys.exit(str(error))
    emit(outcome, as_json=True)


if __name__ == "__main__":
    main()
