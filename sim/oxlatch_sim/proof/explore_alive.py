"""That the controller still does its work: a push delivers, every state recovers, nothing swings for ever.

All three run the real code on from explored states. Words that the exploration treats as inputs are given their
worst value first: everything remembered that makes a second fault worse, every slow clock still to run out.
"""

from dataclasses import dataclass, field
from operator import attrgetter
from typing import Any

from oxlatch.controller import Controller
from oxlatch.core import CORE_WORDS
from oxlatch.gate import gate_step
from oxlatch.sense import VERDICT_NAMES
from oxlatch.sequencer import core_step
from oxlatch.settings import Settings
from oxlatch.vocabulary import (
    COIL_FUEL_SHIFT,
    CONTACT_CLOSED,
    CONTACT_OPEN,
    CONTACT_UNSURE,
    GAP,
    OUT_RUN,
    PURGING,
    RAIL_DEAD,
    RAIL_LIVE,
    READY,
    REST,
    RPM_STOPPED,
    SERVICE,
    STATE_NAMES,
    TRIP,
    WAITING,
)
from oxlatch_sim.proof.explore import Exploration, Key
from oxlatch_sim.proof.explore_claims import PAST_WORDS
from oxlatch_sim.proof.explore_hands import joined
from oxlatch_sim.proof.explore_inputs import Inputs
from oxlatch_sim.proof.explore_path import long_clocks
from oxlatch_sim.proof.explore_small import BUDGET_WHOLE, SLOW, Small
from oxlatch_sim.proof.explore_words import BOOT, BOOT_FOR_GOOD, GATE, PAST, PER_STAGE, STAGES, STATE, unpack_state

TICKS_MAX = 400
STEADY_TICKS = 48  # longer than any chain of small timers; before it, constant inputs must have settled
LONG = (("arm_left", "arm_ticks"), ("purge_left", "purge_valid_ticks"), ("hold_off_left", "hold_off_ticks"))
NO_VERDICTS = dict.fromkeys(VERDICT_NAMES, 0)
SETTLING_WORDS = attrgetter(*(name for name, count in CORE_WORDS if count == 1 and name not in SLOW))
HOLD_OFF_TICKS = 20
RECOVERY = (
    "let go of the throttle and the purge button, master off; hold ACK with the engine stopped, which also enters a full "
    "bottle; at the fourth latch the host tool signs off in SERVICE; then master on, purge, acknowledge the plume"
)


@dataclass
class Alive:
    """Bounds in ticks and what failed; `settings_bad` states need good settings and a reset, and are set apart."""

    delivered_in: int = 0
    deliveries: int = 0
    recovered_in: int = 0
    recoveries: int = 0
    settings_bad: int = 0
    steady_runs: int = 0
    dead_ends: list[str] = field(default_factory=list)
    not_delivered: list[str] = field(default_factory=list)
    swinging: list[str] = field(default_factory=list)

    @property
    def problems(self) -> list[str]:
        """What does not hold, in sentences."""
        return [
            *(f"dead end: {text}" for text in self.dead_ends[:5]),
            *(f"not delivered: {text}" for text in self.not_delivered[:5]),
            *(f"swings for ever: {text}" for text in self.swinging[:5]),
        ]


def prove_alive(found: Exploration) -> Alive:
    """All three on every explored state."""
    alive = Alive()
    plant = _Plant(found.small)
    allowed = Inputs(found.small).allowed
    for key in apart_from_past(found.order):
        if key[STATE] == READY:
            for stages in allowed:
                _deliver(alive, plant, key, stages)
        if key[BOOT] & BOOT_FOR_GOOD:
            alive.settings_bad += 1
        else:
            _recover(alive, plant, key)
        _settle(alive, plant, key)
    return alive


def apart_from_past(order: list[Key]) -> list[Key]:
    """One explored state for each that the controller itself can tell apart: what only the claims remember is left out."""
    first: dict[Key, Key] = {}
    for key in order:
        own = list(key)
        own[PAST:GATE] = []
        for at in range(STAGES - len(PAST_WORDS), len(own), PER_STAGE):
            own[at + 2] = own[at + 3] = 0
        first.setdefault(tuple(own), key)
    return list(first.values())


class _Plant:
    """A controller after sense with an obedient plant: proofs, currents and rail follow what is driven."""

    def __init__(self, small: Small) -> None:
        self.small = small
        settings = long_clocks(small.c)
        settings.hold_off_ticks = HOLD_OFF_TICKS
        self.controller = Controller(settings)
        self.well: dict[str, int] = Inputs(small).well

    def stand(self, key: Key, worst: bool) -> None:
        """Stand in an explored state, nothing driven, slow clocks whole; `worst`: with the worst to remember."""
        controller, small = self.controller, self.small
        core, c, out = controller.core, controller.settings, controller.out
        unpack_state(key, core, controller.gate, small.stages)
        out.ox = out.fuel = out.bits = 0
        for name, setting in LONG:
            if getattr(core, name):
                setattr(core, name, getattr(c, setting))
        if worst:
            core.stalled = core.stuck_before = core.no_show = core.purge_press_n = 1
            core.starts_n = small.c.start_limit_ticks
            core.coil_heat = small.c.coil_heat_top
            core.budget = 0

    def hand(self, *wanted: dict[str, int]) -> None:
        """From now on all well but for these verdicts."""
        vars(self.controller.verdicts).update(NO_VERDICTS, **joined(self.well, *wanted))

    def tick(self) -> None:
        """One tick."""
        k = self.controller
        v, out = k.verdicts, k.out
        v.proof = out.ox
        v.current = out.ox | out.fuel << COIL_FUEL_SHIFT
        v.rail = RAIL_LIVE if out.bits & OUT_RUN else RAIL_DEAD
        core_step(k.core, v, k.settings)
        gate_step(k.gate, k.core, v, k.settings, out)


def _deliver(alive: Alive, plant: _Plant, key: Key, stages: int) -> None:
    """Permits held, the contact opens and closes: every selected stage flows."""
    plant.stand(key, worst=False)
    plant.controller.core.sel_last = stages
    ticks = _push(plant, stages)
    alive.deliveries += 1
    if ticks is None:
        alive.not_delivered.append(f"stages {stages:b} from {STATE_NAMES[key[STATE]]} {key}")
    else:
        alive.delivered_in = max(alive.delivered_in, ticks)


def _push(plant: _Plant, stages: int) -> int | None:
    """Ticks from the contact's closing to the fuel of the last selected stage; none when it does not come.

    The controller is in READY; the contact is shown open first, for as long as the settings ask.
    """
    controller = plant.controller
    plant.hand({"sel": stages, "contact": CONTACT_OPEN})
    for _ in range(controller.settings.contact_open_ticks + controller.settings.ready_ticks + 2):
        plant.tick()
    if controller.core.state != READY:
        return None
    plant.hand({"sel": stages, "contact": CONTACT_CLOSED})
    for ticks in range(1, TICKS_MAX):
        plant.tick()
        if controller.out.fuel == stages:
            return ticks
    return None


def delivery_bound(settings: Settings, stages: int) -> int:
    """Ticks a push may take at most: the rail, then per stage its lead, and the stagger between two stages."""
    count = bin(stages).count("1")
    lead: int = settings.lead_ticks
    return 3 + count * (lead + 1) + (count - 1) * (settings.stagger_ticks + 1)


def _recover(alive: Alive, plant: _Plant, key: Key) -> None:
    """The stated recovery, from this state to READY."""
    plant.stand(key, worst=True)
    controller = plant.controller
    rest = {"boot": key[BOOT], "sel": 1}
    for ticks in range(TICKS_MAX):
        if controller.core.state == READY:
            alive.recovered_in = max(alive.recovered_in, ticks)
            alive.recoveries += 1
            return
        plant.hand(rest, _recovery_hand(controller.core, controller.settings, ticks))
        plant.tick()
    alive.dead_ends.append(f"{STATE_NAMES[key[STATE]]} {key}: still {STATE_NAMES[controller.core.state]}")


def _recovery_hand(core: Any, c: Settings, ticks: int) -> dict[str, int]:
    """What the crew does now, from what the lamps and the text show."""
    let_go = {"contact": CONTACT_OPEN}
    if ticks < 2 or core.state not in (REST, WAITING, PURGING, GAP) or core.hold_off_left:
        down = {"master": 0, "rpm": RPM_STOPPED, "ack": 1}
        if core.state == SERVICE:
            down["service"] = 2 if core.latch else 0
        elif core.state == TRIP and core.latch == 4:
            down["service"] = 1
        return joined(let_go, down)
    if core.state == REST:
        if core.budget < BUDGET_WHOLE:
            return joined(let_go, {"master": 0, "rpm": RPM_STOPPED, "ack": 1})
        return joined(let_go, {"master": int(core.timer > 0)})
    if core.state == PURGING:
        return joined(let_go, {"purge": int(core.timer < c.purge_ticks)})
    if core.confirm_left:
        return joined(let_go, {"ack": int(core.ack_n == 0)})
    if not core.purge_valid:
        return joined(let_go, {"purge": int(core.purge_press_n <= c.purge_press_ticks)})
    return let_go


def _settle(alive: Alive, plant: _Plant, key: Key) -> None:
    """Inputs held for ever: every word but the slow clocks must come to rest, with no stage valve open."""
    for contact in (CONTACT_OPEN, CONTACT_CLOSED, CONTACT_UNSURE):
        for master in (0, 1):
            hand = {"contact": contact, "master": master, "sel": 1, "boot": key[BOOT]}
            plant.stand(key, worst=True)
            plant.hand(hand)
            alive.steady_runs += 1
            if not _comes_to_rest(plant) or plant.controller.out.ox or plant.controller.out.fuel:
                alive.swinging.append(f"{STATE_NAMES[key[STATE]]} {key} with {hand}")


def _comes_to_rest(plant: _Plant) -> bool:
    core, gate = plant.controller.core, plant.controller.gate
    before: tuple[Any, ...] = ()
    for _ in range(STEADY_TICKS):
        plant.tick()
        words = *SETTLING_WORDS(core), *core.tail, *gate.stage, gate.away_n
        if words == before:
            return True
        before = words
    return False
