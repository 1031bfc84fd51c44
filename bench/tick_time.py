"""Time of a controller tick: under desktop MicroPython for every scenario, and per core under CPython."""

import json
import shutil
import subprocess
import sys
import tempfile
import time
from array import array
from pathlib import Path

import oxlatch
from oxlatch.controller import Controller
from oxlatch.settings import Settings
from oxlatch.vocabulary import RAW_COUNT
from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.plant.parameters import alpine_tug_parameters
from oxlatch_sim.scenario import bundled, load, play

RESET = 65535
PASSES = 7
RP2040_FACTOR = 190  # desktop MicroPython against the board at 125 MHz, emulated, 150 to 220


def micropython() -> str:
    """The MicroPython of the development extras."""
    beside = Path(sys.executable).parent / "micropython"
    found = str(beside) if beside.exists() else shutil.which("micropython")
    if not found:
        raise SystemExit("no micropython here; install the development extras")
    return found


def samples_of_scenarios() -> array:
    """Raw samples of every tick of every bundled scenario, a reset row before each controller's first."""
    samples = array("H")
    for path in bundled():
        seen: list[object] = []

        def keep(bench, seen=seen):
            if not bench.ran:
                return
            if not seen or seen[-1] is not bench.controller:
                seen.append(bench.controller)
                samples.extend([RESET] * RAW_COUNT)
            samples.extend(min(value, RESET - 1) for value in bench.raw)

        play(load(path), alpine_tug_parameters(), Settings(), on_tick=keep)
    return samples


def cpython_ticks_per_s(samples: array) -> float:
    """Ticks per second of one core, over the same samples."""
    raw = [0] * RAW_COUNT
    controller = Controller(Settings())
    rows = len(samples) // RAW_COUNT
    begin = time.process_time()
    for row in range(rows):
        at = row * RAW_COUNT
        if samples[at] == RESET:
            controller = Controller(Settings())
            continue
        raw[:] = samples[at : at + RAW_COUNT]
        controller.tick(raw)
    return rows / (time.process_time() - begin)


def envelope(median: int, p99: int, worst: int, ticks: int, state: str) -> dict:
    """The figures as the evidence reads them; measured on this computer, not on the board."""
    figures = {"ticks": ticks, "median_us": median / 1000, "percentile_99_us": p99 / 1000, "worst_us": worst / 1000}
    return {
        "format": 1,
        "command": "ticks",
        "ok": True,
        "exit": 0,
        "installation": None,
        "firmware": firmware_digest(),
        "problems": [],
        "result": {
            "measured_on": "MicroPython on a desktop computer, every bundled scenario",
            "is_board": False,
            **figures,
            "worst_in_state": state,
        },
    }


def main() -> None:
    samples = samples_of_scenarios()
    firmware = str(Path(oxlatch.__file__).parent.parent)
    with tempfile.NamedTemporaryFile(suffix=".raw") as file:
        file.write(samples.tobytes())
        file.flush()
        script = str(Path(__file__).parent / "timed_ticks.py")
        answer = subprocess.run(
            [micropython(), "-X", "heapsize=64m", script, firmware, file.name, str(PASSES)],
            capture_output=True,
            text=True,
            check=True,
        ).stdout.split()
    ticks, median, p99, worst = (int(word) for word in answer[:4])
    if "--json" in sys.argv[1:]:
        print(json.dumps(envelope(median, p99, worst, ticks, answer[4]), indent=1))
        return
    print(f"{'ticks of all scenarios':44}{ticks:>12,}")
    for name, ns, wanted in (("median", median, 8), ("99th percentile", p99, 0), ("worst", worst, 12)):
        target = f"   wanted under {wanted}" if wanted else ""
        board_ms = ns * RP2040_FACTOR / 1e6
        words = f"tick, {name}, us (MicroPython here)"
        print(f"{words:44}{ns / 1000:>12.1f}{target}; about {board_ms:.1f} ms on the RP2040")
    print(f"{'worst tick was in state':44}{answer[4]:>12}")
    print(f"{'bytes allocated, all ticks, heap locked':44}{0:>12}")
    print(f"{'ticks per second, CPython, one core':44}{cpython_ticks_per_s(samples):>12,.0f}   wanted over 60,000")


if __name__ == "__main__":
    main()
