"""The guard against an empty argument: every state, change of state, reason and lamp pattern has a witness.

What must be seen is a list of its own, written from the behaviour and not from the code. States and changes of state
are witnessed by every exploration; reasons and lamps by those that try every single deviation on its own. What no run
can reach is listed with the reason why, and a listed thing that is reached fails as well.
"""

from dataclasses import dataclass

from oxlatch.controller import Controller
from oxlatch.core import INJECT_ABSENT, INJECT_FITTED
from oxlatch.lamps import lamps_step
from oxlatch.reasons import STRAP_FITTED
from oxlatch.sequencer import core_step
from oxlatch.settings import Settings
from oxlatch.vocabulary import (
    BENCH_DRY,
    BENCH_GAS,
    FIT_AIR,
    FIT_AIRSPEED,
    FIT_BOTTLE_TEMPERATURE,
    FIT_BUDGET,
    FIT_CURRENTS,
    FIT_FIRE,
    FIT_FUEL_PRESSURE,
    FIT_KNOCK,
    FIT_MASTER_FUEL,
    FIT_MIXTURE,
    FIT_OUTLET_1,
    FIT_OUTLET_2,
    FIT_PROOF,
    FIT_RETARD,
    FIT_RPM,
    FIT_THROTTLE,
    FIT_VENT_DOWN,
    GAP,
    HELD,
    LEAD_IN,
    PURGING,
    READY,
    REST,
    RUN,
    RUN_DOWN,
    SERVICE,
    STATE_NAMES,
    TRIP,
    WAITING,
    WAKE,
)
from oxlatch_sim.observation import LAMP_WORDS, lamps
from oxlatch_sim.proof.explore_levels import GOOD
from oxlatch_sim.proof.explore_result import LOOK_MASKS, Exploration, Look
from oxlatch_sim.reason_names import reasons_by_name, standing

STRAP = LOOK_MASKS.index((3, STRAP_FITTED))

LEGAL = (
    (WAKE, (WAKE, REST, HELD, TRIP)),
    (REST, (REST, WAITING, SERVICE, BENCH_GAS, BENCH_DRY, TRIP)),
    (HELD, (HELD, REST, SERVICE, TRIP)),
    (WAITING, (WAITING, PURGING, READY, REST, TRIP)),
    (PURGING, (PURGING, WAITING, REST, TRIP)),
    (READY, (READY, WAITING, LEAD_IN, REST, TRIP)),
    (LEAD_IN, (LEAD_IN, RUN, RUN_DOWN, TRIP)),
    (RUN, (RUN, RUN_DOWN, TRIP)),
    (RUN_DOWN, (RUN_DOWN, GAP, REST, TRIP)),
    (GAP, (GAP, WAITING, REST, TRIP)),
    (TRIP, (TRIP, GAP, HELD, REST, SERVICE)),
    (SERVICE, (SERVICE, WAKE)),
    (BENCH_GAS, (BENCH_GAS, REST, TRIP)),
    (BENCH_DRY, (BENCH_DRY, REST, TRIP)),
)
"""Every change of state the behaviour knows, staying put included."""

NEVER = {
    "STATE_CORRUPT": "needs a state word outside its range, which no run reaches; shown from such a word",
    "INPUT_NOT_FITTED": "needs settings without a required input; shown with such settings",
}
"""Reasons that no run of the explored settings reaches, and why; each is shown apart."""
ONE_STAGE_NEVER = {"SELECTOR_IGNORED": "needs a second stage to select in flow; seen with two"}

NEEDS = (
    (FIT_PROOF, ("O_PROOF_LOST", "O_STUCK_OPEN", "O_SLOW_TO_SHUT", "PROOF_NOT_OPEN")),
    (FIT_PROOF | FIT_CURRENTS, ("O_NOT_PROVED", "O_NOT_PROVED_AGAIN")),
    (FIT_CURRENTS, ("O_CURRENT_LOST", "F_CURRENT_LOST", "COIL_SHORTED", "COIL_UNASKED", "PURGE_NO_CURRENT")),
    (FIT_MASTER_FUEL, ("F_STAGE_LEAKS", "F_MASTER_LEAKS")),
    (
        FIT_FUEL_PRESSURE | FIT_MASTER_FUEL,
        (
            "F_PRESSURE_LOST", "F_PRESSURE_OVER", "F_SIGNAL_LOST", "F_SIGNAL_BAD", "F_PRESSURE_LOW", "F_PRESSURE_HIGH",
            "F_PRESSURE_RICH",
        ),
    ),
    (
        FIT_THROTTLE,
        (
            "THROTTLE_SIGNAL_LOST", "THROTTLE_SIGNAL_BAD", "THROTTLE_NEVER_LOW", "DETENT_STUCK", "DETENT_STUCK_AGAIN",
            "PUSH_NOT_FULL",
        ),
    ),
    (FIT_BOTTLE_TEMPERATURE, ("BOTTLE_TEMP_BAD", "BOTTLE_WARM", "BOTTLE_OVERHEATED", "CONTENT_DOUBTFUL")),
    (FIT_AIR, ("AIR_SIGNAL_BAD", "ABOVE_ROW", "PATTERN_NOT_ALLOWED")),
    (FIT_KNOCK, ("KNOCK_HEARD",)),
    (FIT_OUTLET_1 | FIT_OUTLET_2, ("OUTLET_SIGNAL_BAD", "ONE_OUTLET_WARM")),
    (FIT_MIXTURE, ("MIXTURE_NOT_RICH",)),
    (FIT_RETARD, ("RETARD_MISSING",)),
    (FIT_FIRE, ("FIRE_SEEN",)),
    (FIT_AIRSPEED, ("AIRSPEED_HIGH", "AIRSPEED_BAD")),
    (FIT_BUDGET, ("BUDGET_SHORT", "BUDGET_USED", "REFILL_ENTERED")),
    (FIT_VENT_DOWN, ("VENTING",)),
)  # fmt: skip
"""Flags of which one must be fitted for these reasons to be possible."""
LAMP_NEEDS = {"stop blink, tone on": FIT_PROOF}

LAMPS = (
    "dark",
    "check on",
    "check on, tone on",
    "check blink",
    "check blink, purge on",
    "check blink, purge on, tone on",
    "flow blink, check blink",
    "flow blink, check blink, tone on",
    "ready on",
    "ready on, check on, tone on",
    "flow on",
    "flow on, check on, tone on",
    "flow blink, check on, tone on",
    "stop on",
    "check on, stop on, tone on",
    "stop blink",
    "stop blink, tone on",
    "check on, stop blink, tone on",
    "ready on, flow on, check on, stop on, purge on",
)
"""Every lamp pattern the behaviour names."""


@dataclass
class Witnesses:
    """What was seen and what of the lists was not, or should not have been."""

    reasons: list[str]
    lamps: list[str]
    unvisited: list[str]
    unexpected: list[str]
    never: dict[str, str]

    @property
    def complete(self) -> bool:
        """Whether nothing is missing and nothing unexpected was seen."""
        return not self.unvisited and not self.unexpected


def witnesses(found: Exploration) -> Witnesses:
    """Judge what the exploration saw against the lists; reasons and lamps only where each has a letter of its own."""
    names = standing(tuple(found.seen.reasons))  # type: ignore[arg-type]
    lit = sorted({pattern_of(look) for look in found.seen.looks})
    counts = found.count_by_state()
    legal = {(before, after) for before, targets in LEGAL for after in targets}
    unvisited = [f"state {name}" for name, count in counts.items() if not count]
    unvisited += [f"transition {_edge(edge)}" for edge in sorted(legal - found.seen.edges)]
    unexpected = [f"transition {_edge(edge)}" for edge in sorted(found.seen.edges - legal)]
    unexpected += [f"lamps {pattern}" for pattern in lit if pattern not in LAMPS]
    fitted = found.small.c.fitted
    never = NEVER | (ONE_STAGE_NEVER if found.small.stages == 1 else {}) | not_fitted(fitted)
    if not found.small.free_waits:
        unvisited += [f"reason {name}" for name in reasons_by_name() if name not in names and name not in never]
        wanted = [pattern for pattern in LAMPS if fitted & LAMP_NEEDS.get(pattern, fitted)]
        unvisited += [f"lamps {pattern}" for pattern in wanted if pattern not in lit]
        unvisited += [f"reason {name}, shown apart" for name in NEVER if name not in shown_apart()]
        unexpected += [f"reason {name}, listed as never reached" for name in names if name in never]
    return Witnesses(names, lit, unvisited, unexpected, never)


def not_fitted(fitted: int) -> dict[str, str]:
    """The reasons that these fitted inputs cannot give."""
    return {name: "the input is not fitted" for flags, names in NEEDS if not fitted & flags for name in names}


def _edge(edge: tuple[int, int]) -> str:
    return f"{STATE_NAMES[edge[0]]} -> {STATE_NAMES[edge[1]]}"


def pattern_of(look: Look) -> str:
    """The lamps that a look lights, as text, lamps that are off left out."""
    state, is_high, *stands = look
    controller = Controller(Settings())
    core = controller.core
    core.state, core.latch = int(state), 4 if is_high else 1
    core.inject = INJECT_FITTED if stands[STRAP] else INJECT_ABSENT
    for (word, mask), there in zip(LOOK_MASKS, stands):
        if there:
            name = f"why{word}"
            setattr(core, name, getattr(core, name) | mask & -mask)
    controller.out.shown_state = -1
    lamps_step(core, controller.out)
    lit = [f"{name} {level}" for name, level in lamps(controller.out.lamps).items() if level != LAMP_WORDS[0]]
    return ", ".join(lit) or "dark"


def shown_apart() -> list[str]:
    """The reasons of NEVER, from a broken state word and from settings without a required input."""
    corrupt, resting = Controller(Settings()), Controller(Settings())
    corrupt.core.state = len(STATE_NAMES)
    resting.core.state = REST
    resting.settings.fitted &= ~FIT_RPM
    for controller in (corrupt, resting):
        vars(controller.verdicts).update(GOOD)
        core_step(controller.core, controller.verdicts, controller.settings)
    cores = corrupt.core, resting.core
    words = [0, 0, 0, 0]
    for core in cores:
        for at, bits in enumerate((core.why0, core.why1, core.why2, core.why3)):
            words[at] |= bits
    return standing((words[0], words[1], words[2], words[3]))


__all__ = ["LAMPS", "LEGAL", "NEVER", "Witnesses", "witnesses"]
