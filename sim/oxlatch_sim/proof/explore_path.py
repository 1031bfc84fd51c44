"""A path through the exploration as a recording that `oxlatch replay` can step.

The controller runs on from tick to tick as it would on the board. Where the exploration let time pass on a slow
clock, or took a remembered word as an input, the recording carries a snapshot: "here the words were these".
"""

from dataclasses import dataclass
from typing import Any

from oxlatch.controller import Controller
from oxlatch.settings import Settings
from oxlatch.vocabulary import RAW_COUNT, STATE_NAMES
from oxlatch_sim.after_sense import tick_after_sense
from oxlatch_sim.observation import observe
from oxlatch_sim.proof.explore import Breach, Exploration, FastSpace, letter_of
from oxlatch_sim.proof.explore_inputs import Letter
from oxlatch_sim.proof.explore_levels import GOOD
from oxlatch_sim.proof.explore_small import BUDGET_WHOLE, SLOW
from oxlatch_sim.proof.explore_words import BOOT, SOME
from oxlatch_sim.recording import Recorder, controller_words, make_header

SLOW_SETTINGS = ("arm_ticks", "hold_off_ticks", "purge_confirm_ticks", "purge_valid_ticks", "purge_after_run_ticks")
LONG_TICKS = 1000
UNSPENT = {"budget": BUDGET_WHOLE, "coil_heat": 0}  # what is used up is an input of every tick


@dataclass
class Path:
    """Letters from a reset, and the start-up finding of that reset."""

    settings: Settings
    boot: int
    letters: list[Letter]


def breach_path(found: Exploration, breach: Breach) -> Path:
    """The shortest way from a reset to the tick that breaks a claim."""
    return _path(found, [*found.path_to(breach.state), (breach.state, breach.letter)])


def state_path(found: Exploration, number: int) -> Path:
    """The shortest way from a reset to an explored state."""
    return _path(found, found.path_to(number))


def _path(found: Exploration, steps: list[tuple[int, int]]) -> Path:
    space = FastSpace(found.small)
    letters = [letter_of(space, found, state, letter) for state, letter in steps]
    boot = found.order[steps[0][0]][BOOT] if steps else 0
    return Path(found.small.c, boot, letters)


def long_clocks(settings: Settings) -> Settings:
    """The same settings with slow clocks long enough to run through a path."""
    longer = Settings()
    vars(longer).update(vars(settings))
    for name in SLOW_SETTINGS:
        setattr(longer, name, LONG_TICKS)
    longer.arm_warn_ticks = LONG_TICKS - 1
    return longer


def record_path(path: Path) -> tuple[bytes, list[str]]:
    """The path as a recording, and one line of words per tick."""
    settings = long_clocks(path.settings)
    controller = Controller(settings)
    recorder = Recorder(make_header(settings, "counterexample"))
    recorder.boot(0, path.boot)
    lines = []
    for n, letter in enumerate(path.letters):
        if _set_words(controller.core, {**UNSPENT, **letter.preset}) or n == 0:
            recorder.snapshot(n, controller_words(controller))
        tick_after_sense(controller, vars(letter.v))
        tick = observe(n, controller, [0] * RAW_COUNT, {})
        del tick["raw"], tick["in"]
        recorder.tick_data(tick)
        lines.append(_line(n, letter, tick))
    return recorder.end(), lines


def _set_words(core: Any, preset: dict[str, int]) -> bool:
    """Set what the letter presets and the run does not already have; whether anything had to be set."""
    changed = False
    for name, value in preset.items():
        have = getattr(core, name)
        runs_on = name in SLOW and value == SOME and have > 1
        if have != value and not runs_on:
            setattr(core, name, value)
            changed = True
    return changed


def _line(n: int, letter: Letter, tick: dict[str, Any]) -> str:
    out = tick["out"]
    unusual = [f"{name} {value}" for name, value in vars(letter.v).items() if value != GOOD.get(name, 0)]
    driven = [f"{name} {out[name]}" for name in ("ox", "fuel", "master_fuel", "purge", "run") if out[name]]
    why = ", ".join(tick["why"])
    head = f"tick {n:3}  {tick['state']:9} drives {' '.join(driven) or 'nothing'}"
    return f"{head}; inputs: {', '.join(unusual) or 'all well'}" + (f"; {why}" if why else "")


def states_of(path: Path) -> list[str]:
    """Names of the states along a path."""
    controller = Controller(long_clocks(path.settings))
    names = []
    for letter in path.letters:
        _set_words(controller.core, {**UNSPENT, **letter.preset})
        tick_after_sense(controller, vars(letter.v))
        names.append(STATE_NAMES[controller.core.state])
    return names
