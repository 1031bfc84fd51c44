"""The same firmware under CPython and under a real MicroPython: same digests, no allocation, every file compiles."""

import subprocess

import pytest
from tests.micropython.samples import FIRMWARE, run_cpython, run_micropython, tool, write_samples, write_scenarios

from oxlatch.vocabulary import RAW_COUNT, RAW_SUPPLY_MV, READY, RUN, STATE_NAMES, WAKE
from oxlatch_sim.scenario import find

SCENARIOS = (
    "full-sortie-two-stages",
    "bench-with-gas",
    "bench-without-gas",
    "budget-used-up-in-flow",
    "refill-entered-after-a-short-budget",
    "descent-into-dense-air-in-flow",
    "cold-outlets-confirm-the-purge",
    "bottle-too-warm",
    "knock-stops-the-flow",
    "fire-in-flow",
    "lockout-cleared-by-maintenance",
    "switches-on-at-power-up",
    "power-glitch-in-flow",
    "throttle-chopped-in-flow",
)
LOCKED_TICKS = 40_000
SOURCES = sorted(FIRMWARE.rglob("*.py"))


def digests(told):
    """(ticks, states, digest) of each scenario, by its name."""
    return {name: tuple(told[3 * i : 3 * i + 3]) for i, name in enumerate(SCENARIOS)}


def test_scenarios_give_the_same_digests_under_both_pythons_and_between_them_visit_every_state(tmp_path):
    """There from what a board gets, here from the source."""
    samples = write_scenarios([find(name) for name in SCENARIOS], tmp_path / "samples")
    here = digests(run_cpython("replay_digest.py", samples))
    there = digests(run_micropython("replay_digest.py", samples))
    assert here == there
    visited = 0
    for ticks, states, _digest in here.values():
        assert int(ticks) > 300
        visited |= int(states)
    assert [name for state, name in enumerate(STATE_NAMES) if not visited >> state & 1] == []


def test_the_digest_notices_one_millivolt_in_one_channel(tmp_path):
    samples = write_scenarios([find("knock-stops-the-flow")], tmp_path / "samples")
    before = run_cpython("replay_digest.py", samples)
    data = bytearray(samples.read_bytes())
    row = 2 * RAW_COUNT
    for at in range(len(data) - 40 * row, len(data), row):
        data[at + 2 * RAW_SUPPLY_MV] ^= 1
    samples.write_bytes(data)
    assert run_cpython("replay_digest.py", samples) != before


def test_the_loop_allocates_nothing_while_it_flies_a_sortie_and_streams(tmp_path):
    samples = write_samples(find("full-sortie-two-stages"), tmp_path / "samples")
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
    assert run_micropython("locked_board.py", cwd=tmp_path, board="rp2")[0] == "ok"


@pytest.mark.parametrize("source", SOURCES, ids=lambda path: path.relative_to(FIRMWARE).as_posix())
def test_every_firmware_file_compiles_for_the_board(source, tmp_path):
    done = subprocess.run(
        [tool("mpy-cross"), "-march=armv6m", "-o", str(tmp_path / "out.mpy"), str(source)],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
