"""What every page shows of one tick, whatever it comes from: outputs, reasons, readings and what to do."""

from collections.abc import Mapping
from typing import Any

from oxlatch import vocabulary
from oxlatch.vocabulary import (
    CLASS_NAMES,
    COIL_FUEL_SHIFT,
    COIL_MASTER_FUEL,
    COIL_MASTER_OX,
    COIL_PURGE,
    REFUSE,
    STAGES_MAX,
    STATE_NAMES,
)
from oxlatch_sim.observation import LEVELS, Scales, Tick, driven, first_cause, readings, reason_words
from oxlatch_sim.reason_words import REASONS

Frame = dict[str, Any]


def _kind(word: int, reaction: int) -> str:
    """Faults stand in the first two words; of the others, what refuses is a wait and what tells a note."""
    return "fault" if word < 2 else "wait" if reaction == REFUSE else "note"


REASON_ROWS = [
    {
        "words": row[2],
        "kind": _kind(row.word, row.reaction),
        "class": CLASS_NAMES[row[3]],
        "latch": row[4],
        "row": row[5],
        "todo": "nothing to do" if row[6] == "nothing" else row[6],
        "clears": row[7],
    }
    for row in REASONS
]
STAGE_WORDS = ("sel", "proof")
COIL_WORDS = ("current", "missing", "stray", "short")
COILS = {
    **{1 << i: f"O{i + 1}" for i in range(STAGES_MAX)},
    **{1 << i + COIL_FUEL_SHIFT: f"F{i + 1}" for i in range(STAGES_MAX)},
    COIL_PURGE: "purge",
    COIL_MASTER_FUEL: "F master",
    COIL_MASTER_OX: "O master",
}
EXTRA_WORDS = {
    value: name.removeprefix("EXTRA_").replace("_", " ")
    for name, value in vars(vocabulary).items()
    if name.startswith("EXTRA_") and name != "EXTRA_BITS"
}
BIT_KEYS = ("ox", "fuel", "master_fuel", "purge", "run", "master_ox")


def controller_part(controller: Any, raw: list[int], scales: Scales) -> Frame:
    """State, reasons, readings, asked and driven outputs of a controller that has just stepped on `raw`."""
    core, out = controller.core, controller.out
    bits = core.ask_bits
    return {
        "state": STATE_NAMES[core.state],
        "why": reason_words(core.why0, core.why1, core.why2, core.why3),
        "cause": first_cause(core),
        "class": CLASS_NAMES[core.reaction],
        "latch": core.latch,
        "cmd": _bits(driven(core.ask_ox, core.ask_fuel, bits, 0, -1)),
        "out": driven(out.ox, out.fuel, out.bits, out.lamps, out.text),
        "read": readings(controller.verdicts, raw, scales),
        "judged": judged(vars(controller.verdicts)),
    }


def recorded_part(tick: Tick) -> Frame:
    """The same from a recorded tick; what was not recorded is none or empty."""
    cmd, verdict = tick.get("cmd"), tick.get("verdict")
    return {
        "state": tick.get("state"),
        "why": tick.get("why", []),
        "cause": tick.get("first_cause"),
        "class": tick.get("class"),
        "latch": tick.get("latch", 0),
        "cmd": _bits(cmd) if cmd else None,
        "out": tick.get("out"),
        "read": tick.get("in") or (verdict and read_from(verdict)),
        "judged": judged(verdict) if verdict else None,
    }


def judged(verdict: Mapping[str, int]) -> dict[str, str]:
    """What sense makes of each channel, in words: the level of each, and every flag or word that is not zero."""
    told = {name: _level(LEVELS[name], verdict[name]) for name in LEVELS if name in verdict}
    told.update({name: _word(name, value) for name, value in verdict.items() if name not in LEVELS and value})
    return told


def _level(names: list[str], value: int) -> str:
    return names[value] if 0 <= value < len(names) else str(value)


def _word(name: str, value: int) -> str:
    """A flag, the stages of a word, the coils of a word."""
    if name in STAGE_WORDS:
        return "+".join(str(i + 1) for i in range(STAGES_MAX) if value >> i & 1)
    if name in COIL_WORDS:
        return " ".join(coil for bit, coil in COILS.items() if value & bit)
    if name == "extras":
        return " ".join(words for bit, words in EXTRA_WORDS.items() if value & bit)
    return "yes" if value == 1 else str(value)


def read_from(verdict: Mapping[str, int]) -> Frame:
    """Positions of the switches, where only the verdicts of a tick were recorded."""
    shown: Frame = {name: verdict.get(name, 0) for name in ("master", "purge", "ack", "sel", "proof")}
    shown["detent"] = _level(LEVELS["contact"], verdict.get("contact", -1))
    shown["currents"] = verdict.get("current", 0)
    return shown


def _bits(asked: Mapping[str, Any]) -> dict[str, Any]:
    return {key: asked.get(key, 0) for key in BIT_KEYS}
