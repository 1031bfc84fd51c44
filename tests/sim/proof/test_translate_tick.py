import numpy as np
import pytest

from oxlatch.controller import Controller
from oxlatch.gate import gate_step
from oxlatch.sense import VERDICT_NAMES
from oxlatch.sequencer import core_step
from oxlatch.settings import Settings
from oxlatch.vocabulary import RAW_COUNT
from oxlatch_sim.proof.symbolic_ranges import word_range
from oxlatch_sim.proof.translate_tick import CORE_TICK, WHOLE_TICK, settings_ranges, tick_columns
from oxlatch_sim.state_names import STATE_WORD_NAMES

ROWS = 700


def short_settings():
    """Timers so short that random counters stand at their limits."""
    c = Settings()
    for name in ("gap_ticks", "release_ticks", "ready_ticks", "selection_ticks", "purge_ticks", "run_ticks"):
        setattr(c, name, 3)
    return c


def random_columns(program, c):
    draw = np.random.default_rng(5)
    columns = {}
    for name in program.inputs:
        low, high = settings_ranges(c)(name)
        columns[name] = draw.integers(low, high, size=ROWS, endpoint=True)
        if name.startswith("core.cause"):  # only single reasons have a text
            columns[name] = np.where(draw.random(ROWS) < 0.5, 0, 1 << draw.integers(0, high.bit_length(), size=ROWS))
    return columns


def run_row(controller, columns, row, steps):
    controller.load_words([int(columns[name][row]) if name in columns else 0 for name in STATE_WORD_NAMES])
    if steps is WHOLE_TICK:
        controller.tick([int(columns[f"raw[{i}]"][row]) if f"raw[{i}]" in columns else 0 for i in range(RAW_COUNT)])
    else:
        for name in VERDICT_NAMES:
            setattr(controller.verdicts, name, int(columns[f"v.{name}"][row]) if f"v.{name}" in columns else 0)
        core_step(controller.core, controller.verdicts, controller.settings)
        gate_step(controller.gate, controller.core, controller.verdicts, controller.settings, controller.out)
    words = [0] * len(STATE_WORD_NAMES)
    controller.state_words(words)
    out = controller.out
    return dict(zip(STATE_WORD_NAMES, words)) | {"out.ox": out.ox, "out.fuel": out.fuel, "out.bits": out.bits}


@pytest.mark.parametrize("steps", [CORE_TICK, WHOLE_TICK], ids=["core", "whole"])
def test_a_tick_on_columns_is_the_running_tick(steps):
    c = short_settings()
    program = tick_columns(c, steps, rows=256)
    columns = random_columns(program, c)
    after = program.run(columns)
    controller = Controller(c)
    for row in range(ROWS):
        ran = run_row(controller, columns, row, steps)
        assert {name: int(values[row]) for name, values in after.items()} == {name: ran[name] for name in after}


def test_settings_are_constants_of_the_program_and_bound_its_counters():
    c = short_settings()
    program = tick_columns(c)
    assert not any(name.startswith("c.") for name in program.inputs)
    assert word_range("core.run_n", c) == (0, 3)


def test_a_missing_column_is_an_error():
    program = tick_columns(short_settings())
    columns = random_columns(program, short_settings())
    del columns["v.contact"]
    with pytest.raises(KeyError, match=r"v\.contact"):
        program.run(columns)
