"""What every page shows of one tick, whatever it comes from: outputs, reasons, readings and what to do."""

from collections.abc import Mapping
from typing import Any

from oxlatch.reasons import REASONS
from oxlatch.vocabulary import CLASS_NAMES, STATE_NAMES
from oxlatch_sim.observation import Scales, Tick, driven, first_cause, readings, reason_words

Frame = dict[str, Any]
REASON_KINDS = ("fault", "fault", "wait", "note")
REASON_ROWS = [
    {
        "words": row[2],
        "kind": REASON_KINDS[row[0]],
        "class": CLASS_NAMES[row[3]],
        "latch": row[4],
        "row": row[5],
        "todo": row[6],
        "clears": row[7],
    }
    for row in REASONS
]
BIT_KEYS = ("ox", "fuel", "master_fuel", "purge", "run")


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
    }


def recorded_part(tick: Tick) -> Frame:
    """The same from a recorded tick; what was not recorded is none or empty."""
    cmd = tick.get("cmd")
    return {
        "state": tick.get("state"),
        "why": tick.get("why", []),
        "cause": tick.get("first_cause"),
        "class": tick.get("class"),
        "latch": tick.get("latch", 0),
        "cmd": _bits(cmd) if cmd else None,
        "out": tick.get("out"),
        "read": tick.get("in"),
    }


def _bits(asked: Mapping[str, Any]) -> dict[str, Any]:
    return {key: asked.get(key, 0) for key in BIT_KEYS}
