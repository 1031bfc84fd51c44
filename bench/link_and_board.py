"""The bench controller's numbers: tick with board, heap, flash, hostile hosts, fuzz, a million locked ticks, replay."""

import argparse
import shutil
import subprocess
import sys
import tempfile
from array import array
from pathlib import Path

from oxlatch.settings import RECORD_BYTES, pack
from oxlatch.store import Files, Store, lockout_pattern
from oxlatch.vocabulary import RAW_COUNT
from oxlatch_sim.flight import Flight
from oxlatch_sim.scenario import find, load, play, scenario_settings
from oxlatch_tools.aircraft import Aircraft, load_aircraft
from oxlatch_tools.evidence.board_times import BOARD_FACTOR as RP2040_FACTOR
from oxlatch_tools.evidence.board_times import RESET, SCRIPTS
from oxlatch_tools.installation_settings import record_bytes
from oxlatch_tools.serial.client import Client
from oxlatch_tools.serial.desk import desk, micropython_command
from oxlatch_tools.serial.device_files import build_files, firmware_for
from oxlatch_tools.serial.inject import Injector, packed
from oxlatch_tools.serial.port import open_line

HERE = Path(__file__).parent / "micropython"
LOCKED_LOOP = Path(__file__).parents[1] / "tests" / "micropython" / "locked_loop.py"
BUS_US = 6 * 8 / 2 + 6 * 3 * 8 / 1
"""Bits on the buses in a tick: six register bytes at 2 MHz, six conversions of three bytes at 1 MHz."""
NODE_PACKAGE = "@micropython/micropython-webassembly-pyscript@1.27.0"
"""A 32-bit MicroPython: objects of 4 bytes, blocks of 16 bytes, integers of 31 bits, as on the board."""
HEAP_BYTES = 160 * 1024
BLOCK_SHARE = 128 / 131
"""Of a heap, what is left for blocks: 3 bits of tables go with every 16 bytes."""
WANTED_FREE_KB = 60


def line(what: str, value: str, wanted: str = "") -> None:
    print(f"{what:58}{value:>16}" + (f"   wanted {wanted}" if wanted else ""), flush=True)


def run(script: Path, *arguments: object, heap: str = "64m", cwd: Path | None = None) -> str:
    """What a script prints under the desktop MicroPython."""
    command = [micropython_command(), "-X", f"heapsize={heap}", str(script), *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=cwd, stdin=subprocess.DEVNULL, check=False)
    if done.returncode:
        raise SystemExit(f"{script.name}: {done.stderr or done.stdout}")
    return done.stdout


def firmware(script: Path, work: Path, board: str = "desk") -> Path:
    """What a script uses of the firmware, compiled as it is flashed."""
    return firmware_for([script], work / f"firmware-{script.stem}", board)


def write_samples(into: Path) -> Path:
    """Settings record and raw samples of a full sortie."""
    scenario = load(find("full-sortie-two-stages"))
    aircraft = load_aircraft(None)
    rows = array("H", [RESET] * RAW_COUNT)
    play(scenario, aircraft.plant, aircraft.settings, on_tick=lambda bench: rows.extend(bench.raw))
    record = bytearray(RECORD_BYTES)
    pack(scenario_settings(scenario, aircraft.settings), record)
    into.write_bytes(bytes(record) + rows.tobytes())
    return into


def flashed(folder: Path, aircraft: Aircraft, board: str = "desk") -> int:
    """Fill a folder as a flashed board of that kind; returns the bytes of flash its files take."""
    built = build_files(board)
    for name, content in built.files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    Store(Files(f"{folder}/")).settings.save(record_bytes(aircraft.settings))
    pattern = bytearray(8)
    lockout_pattern(0, pattern)
    (folder / "lockout.memory").write_bytes(pattern)
    return built.compiled_bytes


def board_and_hosts(work: Path, samples: Path, ticks: int) -> None:
    """The board's own calls in a tick, and what hosts of six kinds can do to one."""
    calls_us = int(run(HERE / "board_time.py", firmware(HERE / "board_time.py", work, "rp2"), cwd=work)) / 1000
    calls_ms = (calls_us * RP2040_FACTOR + BUS_US) / 1000
    line("calls of the real board file in a tick, us here", f"{calls_us:.1f}")
    line(
        "those calls on the RP2040 and the bits on its buses, ms",
        f"{calls_ms:.2f}",
        "with the controller under 3.5",
    )
    hosts = SCRIPTS / "time_hosts.py"
    told = run(hosts, firmware(hosts, work), samples, ticks, cwd=work).splitlines()
    digests = set()
    silent_ms = int(told[0].split("|")[2]) / 10 * RP2040_FACTOR / 1000
    for name, digest, longest, mean, dropped, broken in (row.split("|") for row in told):
        digests.add(digest)
        longer_ms = int(longest) / 10 * RP2040_FACTOR / 1000 - silent_ms
        mean_ms = int(mean) / 10 * RP2040_FACTOR / 1000
        extra = f"at most 1; mean {mean_ms:.2f}; frames dropped {dropped}, broken {broken}"
        line(f"host {name}: tick longer by at most, ms on board", f"{longer_ms:.2f}", extra)
    line(f"digests of {ticks:,} ticks equal under all hosts", "yes" if len(digests) == 1 else "NO", "yes")


def narrow_micropython(work: Path) -> Path | None:
    """The folder of the 32-bit MicroPython, installed if it can be; None on a machine without node and npm."""
    if not shutil.which("node") or not shutil.which("npm"):
        return None
    install = ["npm", "install", "--silent", "--no-audit", "--no-fund", "--prefix", str(work / "npm"), NODE_PACKAGE]
    if subprocess.run(install, check=False).returncode:
        return None
    return work / "npm" / "node_modules" / NODE_PACKAGE.rsplit("@", 1)[0]


def memory(work: Path, aircraft: Aircraft) -> None:
    """Heap of the real board's files, under a MicroPython with words as long as the board's."""
    package = narrow_micropython(work)
    if package is None:
        line("heap of the firmware", "NOT MEASURED", f"needs node and npm, for {NODE_PACKAGE}")
        return
    folder = work / "rp2"
    flashed(folder, aircraft, "rp2")
    script = HERE.parent / "heap_on_board.mjs"
    command = ["node", str(script), str(package), str(folder), str(HEAP_BYTES), "rp2"]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
    used = {name: int(count) for name, count, _free in (row.split("|") for row in told)}
    before = used["stand-ins for the hardware"]
    for step, words in (
        ("everything imported", "whole firmware imported"),
        ("200 ticks run", "ready to run: journal and buffers made, start-up let go"),
    ):
        taken = used[step] - before
        free_kb = (HEAP_BYTES * BLOCK_SHARE - taken) / 1024
        line(f"heap, {words}, kB", f"{taken / 1024:.1f}")
        line("  left free of 160 kB, kB", f"{free_kb:.1f}", f"{WANTED_FREE_KB}")


def million(work: Path, samples: Path, ticks: int) -> None:
    """Ticks with the heap locked while telemetry streams."""
    told = run(LOCKED_LOOP, firmware(LOCKED_LOOP, work), ticks, samples, cwd=work).split()
    line("ticks with the heap locked while telemetry streams", f"{int(told[0]):,}", "1,000,000")
    line("telemetry frames sent meanwhile", f"{int(told[1]):,}")
    line("bytes the heap grew by", told[5], "0")


def fuzz(work: Path, frames: int) -> None:
    """Random and mutated frames."""
    told = run(HERE / "fuzz_link.py", firmware(HERE / "fuzz_link.py", work), frames, 11, cwd=work).split()
    line("fuzz: frames sent", f"{int(told[0]):,}", "1,000,000")
    line("fuzz: sent whole, accepted", f"{told[1]}, {told[2]}", "equal")
    line("fuzz: accepted wrongly", told[3], "0")
    line("fuzz: bytes the heap grew by", told[4], "0")


def stepped(folder: Path, aircraft: Aircraft, minutes: float) -> None:
    """A long recording injected tick by tick through the pseudo-terminal."""
    from oxlatch_sim.bench import Bench
    from oxlatch_sim.recording import parse_recording

    flight = Flight(Bench(aircraft.plant, aircraft.settings), aircraft.digest)
    flight.run(int(minutes * 60 * 200))
    recording = parse_recording(flight.recorder.end())
    with desk(folder) as running:
        link = open_line(running.port)
        client = Client(link)
        client.connect(10.0)
        client.settled()
        done = Injector(client, lambda at, of: None, packed(recording.settings)).run(recording, live=False)
        link.close()
    speed = done.compared * 0.005 / done.seconds
    line(f"stepped replay of {minutes:g} minutes, times real time", f"{speed:.1f}", "at least 20")
    line("ticks compared, all the same", f"{done.compared:,} {'yes' if done.same else 'NO'}", "yes")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a tenth of every long count")
    share = 0.1 if parser.parse_args().quick else 1.0
    aircraft = load_aircraft(None)
    work = Path(tempfile.mkdtemp())
    try:
        folder = work / "board"
        folder.mkdir()
        flashed(folder, aircraft)
        samples = write_samples(work / "samples")
        flash_bytes = build_files("rp2").compiled_bytes
        line("flash taken by the compiled firmware, kB", f"{flash_bytes / 1024:.1f}", "under 96")
        memory(work, aircraft)
        board_and_hosts(work, samples, 11000)
        million(work, samples, int(1_000_000 * share))
        fuzz(work, int(1_000_000 * share))
        stepped(folder, aircraft, 10 * share)
    finally:
        shutil.rmtree(work, ignore_errors=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
