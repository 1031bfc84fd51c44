"""A counterexample in words, and as a recording that replays."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from oxlatch import vocabulary as names
from oxlatch.controller import Controller, feed_back
from oxlatch.gate import gate_step
from oxlatch.lamps import lamps_step
from oxlatch.sequencer import core_step
from oxlatch.settings import FIELDS, Settings
from oxlatch.vocabulary import RAW_BOOT, RAW_COUNT
from oxlatch_sim.observation import LEVELS, RAW_NAMES, observe
from oxlatch_sim.proof.symbolic_core import CORE
from oxlatch_sim.proof.symbolic_engine import Claim, Counterexample, System
from oxlatch_sim.proof.symbolic_replay import changed_words, load, run_step
from oxlatch_sim.proof.symbolic_whole import with_samples
from oxlatch_sim.proof.translate_cells import cells_of
from oxlatch_sim.recording import Recorder, make_header
from oxlatch_sim.state_names import STATE_WORD_NAMES

DEFAULTS = {f"c.{field[0]}": field[4] for field in FIELDS}
BESIDE = ("past", "extra", "story", "driven", "fed")  # the proof's own words


def in_words(cell: str, value: int) -> str:
    """One word with its name and, where it has one, its level's name."""
    owner, _, name = cell.partition(".")
    if owner == "v" and name in LEVELS and 0 <= value < len(LEVELS[name]):
        return f"{name} {LEVELS[name][value]}"
    if cell == "core.state" and 0 <= value < len(names.STATE_NAMES):
        return f"state {names.STATE_NAMES[value]}"
    if cell.startswith("raw["):
        return f"{RAW_NAMES[int(cell[4:-1])]} {value}"
    return f"{name or cell} {value}"


def describe(system: System, claim: Claim, example: Counterexample) -> list[str]:
    """The counterexample for a reader: claim, settings, state, input, and what one tick of the firmware makes of it."""
    usual = {cell: value for name, make in system.objects.items() for cell, value in cells_of(name, make())}
    shown = [
        (cell, value) for cell, value in example.cells.items() if value != usual[cell] and not cell.startswith("c.")
    ]
    groups = {
        "settings other than the defaults": [(c, x) for c, x in example.cells.items() if x != DEFAULTS.get(c, x)],
        "state before": [(c, x) for c, x in shown if _owner(c) in ("sense", "core", "gate", "out")],
        "input": [(c, x) for c, x in shown if _owner(c) in ("raw", "v")],
        "history kept by the proof": [(c, x) for c, x in shown if _owner(c) in BESIDE],
    }
    lines = [f"{claim.name}: {claim.words}"]
    lines += [f"{title}: {', '.join(in_words(c, x) for c, x in words)}" for title, words in groups.items() if words]
    if example.at_start:
        return [*lines, "broken in the state after a reset"]
    things = load(system, example.cells)
    run_step(system, things)
    after = changed_words(system, example.cells, things)
    changes = [f"{in_words(c, x)} (was {old})" for c, (old, x) in after.items() if _owner(c) not in BESIDE]
    return [*lines, f"one tick of the firmware: {', '.join(changes) or 'nothing changes'}"]


def _owner(cell: str) -> str:
    return cell.replace("[", ".").partition(".")[0]


def _settings(cells: Mapping[str, int]) -> Settings:
    settings = Settings()
    for field in FIELDS:
        setattr(settings, field[0], cells.get(f"c.{field[0]}", field[4]))
    return settings


def record(system: System, one: Claim, example: Counterexample) -> Recorder:
    """The counterexample as a recording of one tick.

    With raw samples, and so replayable, wherever some samples give its verdicts; with verdicts only otherwise.
    """
    if system is CORE and not example.at_start:
        example = with_samples(one, example) or example
    cells = example.cells
    controller = Controller(_settings(cells))
    controller.load_words([cells.get(name, 0) for name in STATE_WORD_NAMES])
    words = [0] * len(STATE_WORD_NAMES)
    controller.state_words(words)
    recorder = Recorder(make_header(controller.settings, "counterexample"))
    recorder.boot(0, cells.get(f"raw[{RAW_BOOT}]", 0))
    recorder.snapshot(0, words)
    raw = [cells.get(f"raw[{i}]", 0) for i in range(RAW_COUNT)]
    if "raw[0]" in cells:
        controller.tick(raw)
        recorder.tick(0, controller, raw)
        return recorder
    _step_on_verdicts(controller, cells)
    tick = observe(0, controller, raw, {})
    recorder.tick_data({key: value for key, value in tick.items() if key not in ("raw", "in")})
    return recorder


def _step_on_verdicts(controller: Any, cells: Mapping[str, int]) -> None:
    """Run what comes after sense on the counterexample's verdicts."""
    for cell, value in cells.items():
        if cell.startswith("v."):
            setattr(controller.verdicts, cell[2:], value)
    if "core.state" in cells:
        core_step(controller.core, controller.verdicts, controller.settings)
    gate_step(controller.gate, controller.core, controller.verdicts, controller.settings, controller.out)
    feed_back(controller.sense, controller.out)
    lamps_step(controller.core, controller.out)
