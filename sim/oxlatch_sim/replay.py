"""Step a controller through a recording and compare what it does with what was recorded."""

from collections import deque
from dataclasses import dataclass, field
from typing import Any

from oxlatch import vocabulary as v
from oxlatch.controller import STATE_WORDS, Controller
from oxlatch_sim.after_sense import tick_after_sense
from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.observation import ANALOGUE, LEVELS, Scales, Tick, driven
from oxlatch_sim.recording import Recording, header_scales

BEFORE = 10
"""Ticks shown before the first difference."""


@dataclass(frozen=True)
class Difference:
    """The first tick at which the controller and the recording part, with the ticks before it."""

    tick: int
    key: str
    recorded: Any
    got: Any
    before: list[Tick]


@dataclass
class Replay:
    """How far a replay went and where it first differed."""

    compared: int = 0
    difference: Difference | None = None
    problems: list[str] = field(default_factory=list)

    @property
    def same(self) -> bool:
        """Whether every tick compared was the same, and there was one."""
        return self.difference is None and self.compared > 0


def replay(recording: Recording) -> Replay:
    """Step a fresh controller through the recording from its boot and snapshot lines.

    Takes raw samples where the recording has them, otherwise the debounced readings; a path of the proof
    has neither and is stepped from its verdicts. Stops at the first difference in state or outputs. What is
    wrong with the recording itself is carried over.
    """
    outcome = Replay(problems=list(recording.problems))
    settings = recording.settings
    scales = header_scales(recording.header)
    if recording.header.get("firmware") != firmware_digest():
        outcome.problems.append(
            f"recorded with firmware {recording.header.get('firmware')}, replayed with {firmware_digest()}"
        )
    controller = None
    before: deque[Tick] = deque(maxlen=BEFORE)
    for tick in recording.ticks():
        if controller is None and "boot" not in tick and "snapshot" not in tick:
            outcome.problems.append("starts without boot or snapshot; replayed from a reset")
        if controller is None or "boot" in tick:
            controller = Controller(settings)
        if "snapshot" in tick and not _load(controller, tick, outcome):
            return outcome
        raw = tick.get("raw") or raw_from_readings(tick, scales)
        if raw is None and "in" not in tick and "verdict" in tick:
            tick_after_sense(controller, tick["verdict"])
        elif raw is None:
            outcome.problems.append(
                f"tick {tick['tick']}: neither raw samples nor readings; replayed up to here"
            )
            return outcome
        else:
            if "raw" not in tick and outcome.compared == 0:
                outcome.problems.append("has no raw samples: replayed from readings, debounce counts twice")
            controller.tick(list(raw))
        found = first_difference(tick, controller)
        if found:
            outcome.difference = Difference(tick["tick"], *found, before=list(before))
            return outcome
        before.append(tick)
        outcome.compared += 1
    return outcome


def _load(controller: Controller, tick: Tick, outcome: Replay) -> bool:
    words = tick["snapshot"]
    if len(words) != STATE_WORDS:
        outcome.problems.append(
            f"tick {tick['tick']}: snapshot has {len(words)} words, this firmware {STATE_WORDS}"
        )
        return False
    controller.load_words(words)
    return True


def first_difference(tick: Tick, controller: Any) -> tuple[str, Any, Any] | None:
    """The first of state and outputs that a stepped controller has otherwise than the recorded tick."""
    state = v.STATE_NAMES[controller.core.state]
    if tick.get("state", state) != state:
        return "state", tick["state"], state
    out = controller.out
    got = driven(out.ox, out.fuel, out.bits, out.lamps, out.text)
    for key, recorded in tick.get("out", {}).items():
        if got.get(key) != recorded:
            return f"out.{key}", recorded, got.get(key)
    return None


def raw_from_readings(tick: Tick, scales: Scales) -> list[int] | None:
    """Raw samples that read as a tick's "in" object, or none when it has too little.

    What a reading does not tell (elapsed ticks, boot word) is taken as undisturbed.
    """
    shown = tick.get("in")
    if (
        not isinstance(shown, dict)
        or not {"master", "detent", "purge", "ack", "sel", "rpm", "bus_v"} <= shown.keys()
    ):
        return None
    raw = [0] * v.RAW_COUNT
    raw[v.RAW_ELAPSED] = 1
    raw[v.RAW_SWITCHES] = _switch_word(shown)
    raw[v.RAW_RPM] = shown["rpm"]
    raw[v.RAW_PULSE_AGE_MS] = shown.get("pulse_age_ms", 0)
    raw[v.RAW_BUS_MV] = round(shown["bus_v"] * 1000)
    raw[v.RAW_RAIL_MV] = round(shown.get("rail_v", 0) * 1000)
    raw[v.RAW_CURRENTS] = shown.get("currents", 0)
    raw[v.RAW_SHORTS] = shown.get("shorts", 0)
    for channel, at in ANALOGUE.items():
        if channel in shown and channel in scales:
            raw[at] = scales[channel].millivolts(shown[channel])
    return raw


def _switch_word(shown: dict[str, Any]) -> int:
    word = shown["sel"] << v.SW_SEL_SHIFT | shown.get("proof", 0) << v.SW_PROOF_SHIFT
    for name, bit in (("master", v.SW_MASTER), ("purge", v.SW_PURGE), ("ack", v.SW_ACK)):
        word |= bit if shown[name] else 0
    contact = LEVELS["contact"].index(shown["detent"])
    if contact == v.CONTACT_CLOSED:
        word |= v.SW_DETENT_NO
    elif contact == v.CONTACT_OPEN:
        word |= v.SW_DETENT_NC
    return word
