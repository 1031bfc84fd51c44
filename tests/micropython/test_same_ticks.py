"""The same firmware under CPython and under a real MicroPython: same digests, no allocation, every file compiles."""

import subprocess

import pytest
from tests.micropython.samples import FIRMWARE, run_cpython, run_micropython, tool, write_samples

from oxlatch.vocabulary import RAW_COUNT, RAW_SUPPLY_MV, READY, RUN, WAKE
from oxlatch_sim.scenario import bundled

SCENARIOS = list(bundled())
LOCKED_TICKS = 60_000
SOURCES = sorted(FIRMWARE.rglob("*.py"))


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_a_scenario_gives_the_same_digest_under_both_pythons(path, tmp_path):
    samples = write_samples(path, tmp_path / "samples")
    here = run_cpython("replay_digest.py", samples)
    there = run_micropython("replay_digest.py", samples)
    assert here == there
    assert int(here[0]) > 300


def test_the_digest_notices_one_millivolt_in_one_channel(tmp_path):
    samples = write_samples(SCENARIOS[0], tmp_path / "samples")
    before = run_cpython("replay_digest.py", samples)
    data = bytearray(samples.read_bytes())
    row = 2 * RAW_COUNT
    for at in range(len(data) - 40 * row, len(data), row):
        data[at + 2 * RAW_SUPPLY_MV] ^= 1
    samples.write_bytes(data)
    assert run_cpython("replay_digest.py", samples) != before


def test_the_loop_allocates_nothing_while_it_flies_a_sortie_and_streams(tmp_path):
    sortie = next(path for path in SCENARIOS if path.stem == "full-sortie-two-stages")
    samples = write_samples(sortie, tmp_path / "samples")
    ticks, frames, states, mean_us, worst_us, grown = run_micropython(
        "locked_loop.py", LOCKED_TICKS, samples, cwd=tmp_path
    )
    assert int(ticks) == LOCKED_TICKS
    assert int(frames) > LOCKED_TICKS / 40
    for state in (WAKE, READY, RUN):
        assert int(states) >> state & 1
    assert int(grown) == 0
    assert float(mean_us) < float(worst_us)


def test_every_call_of_the_real_board_file_in_a_tick_allocates_nothing(tmp_path):
    assert run_micropython("locked_board.py", cwd=tmp_path)[0] == "ok"


@pytest.mark.parametrize("source", SOURCES, ids=lambda path: path.relative_to(FIRMWARE).as_posix())
def test_every_firmware_file_compiles_for_the_board(source, tmp_path):
    done = subprocess.run(
        [tool("mpy-cross"), "-march=armv6m", "-o", str(tmp_path / "out.mpy"), str(source)],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
