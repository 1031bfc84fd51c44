"""Random but purposeful verdict streams: a pilot who usually wants to go on, an aircraft that usually works.

Pure noise never arms a controller. This stream looks at the state and the waits reached so far, mostly takes the
step that leads on, sometimes disturbs any channel, and holds each choice for a number of ticks drawn around the
timer boundaries of the settings. The seed decides everything.
"""

import random
from collections.abc import Callable, Sequence
from typing import Any

from oxlatch import reasons
from oxlatch import vocabulary as w
from oxlatch.settings import FIELDS, Settings, rules_hold

# channel: levels in which it may be disturbed
DISTURBED: dict[str, Sequence[int]] = {
    "contact": range(4),
    "throttle": range(4),
    "throttle_low_seen": range(2),
    "rpm": range(6),
    "supply": range(7),
    "line": range(6),
    "falling": range(2),
    "line_lost": range(2),
    "supply_warn": range(2),
    "fuel": range(6),
    "block": range(4),
    "bus": range(5),
    "rail": range(4),
    "shut": range(3),
    "time": range(3),
    "late": range(2),
    "contact_stuck": range(2),
    "chatter": range(2),
    "purge_held": range(2),
    "leak_watch": range(2),
    "service": range(3),
    "bench": range(2),
    "inject": range(2),
    "master": range(2),
    "purge": range(2),
    "ack": range(2),
}
COIL_WORDS = ("missing", "stray", "short", "current")
COILS = 10
SHORT_TICKS = 60
FLOW_DISTURBANCE = 0.55
# channels whose disturbance usually ends in a lock-out, and so the episode
RARE = frozenset({"stray", "short", "block", "shut", "purge_held", "bench", "inject"})
# what may go wrong in flow, as channel and level
FLOW_FAULTS: Sequence[tuple[str, int]] = (
    ("rpm", w.RPM_LOW),
    ("rpm", w.RPM_LOW),
    ("rpm", w.RPM_OVER),
    ("rpm", w.RPM_HOLD),
    ("supply", w.SUPPLY_FAULT),
    ("supply", w.SUPPLY_EMPTY),
    ("supply", w.SUPPLY_EMPTY),
    ("supply", w.SUPPLY_FAULT),
    ("supply", w.SUPPLY_CUT),
    ("supply", w.SUPPLY_CUT),
    ("supply", w.SUPPLY_LEAVE),
    ("supply", w.SUPPLY_HIGH),
    ("supply", w.SUPPLY_HIGH),
    ("supply_warn", 1),
    ("falling", 1),
    ("falling", 1),
    ("fuel", w.FUEL_FAULT),
    ("fuel", w.FUEL_FAULT),
    ("fuel", w.FUEL_FAIL),
    ("fuel", w.FUEL_FAIL),
    ("fuel", w.FUEL_HIGH),
    ("fuel", w.FUEL_OVER),
    ("bus", w.BUS_HARD),
    ("bus", w.BUS_HARD),
    ("bus", w.BUS_CUT),
    ("bus", w.BUS_CUT),
    ("bus", w.BUS_SURGE),
    ("bus", w.BUS_SURGE),
    ("bus", w.BUS_LOW),
    ("rail", w.RAIL_DEAD),
    ("rail", w.RAIL_WEAK),
    ("throttle", w.THROTTLE_FAULT),
    ("throttle", w.THROTTLE_DROP),
    ("chatter", 1),
    ("purge", 1),
    ("missing", w.COIL_OX),
    ("missing", w.COIL_OX),
    ("missing", w.COIL_FUEL),
    ("missing", w.COIL_FUEL),
    ("missing", w.COIL_MASTER_FUEL),
)
# Channels that a missing sensor leaves at their sound level.
OF_SENSOR: dict[int, frozenset[str]] = {
    w.FIT_THROTTLE: frozenset({"throttle", "throttle_low_seen"}),
    w.FIT_PROOF: frozenset({"proof", "shut"}),
    w.FIT_MASTER_FUEL: frozenset({"block"}),
    w.FIT_CURRENTS: frozenset({"missing", "stray", "short", "current"}),
    w.FIT_RAIL: frozenset({"rail"}),
    w.FIT_FUEL_PRESSURE: frozenset({"fuel"}),
}
CREW = ("master", "sel", "contact", "throttle", "purge", "ack", "boot", "rpm", "inject")


def quiet(v: Any) -> None:
    """Set every verdict to what a sound aircraft with an idle crew gives."""
    for name in DISTURBED:
        setattr(v, name, 0)
    for name in COIL_WORDS:
        setattr(v, name, 0)
    v.sel = v.proof = v.boot = 0
    v.contact, v.throttle, v.throttle_low_seen = w.CONTACT_OPEN, w.THROTTLE_HOLD, 1
    v.rpm, v.supply, v.line = w.RPM_WINDOW, w.SUPPLY_PERMIT, w.LINE_GOOD
    v.fuel, v.block, v.bus, v.rail = w.FUEL_PERMIT, w.BLOCK_CLEAN, w.BUS_PERMIT, w.RAIL_DEAD
    v.shut, v.time = w.SHUT_CLEAN, w.TIME_GOOD


def small_settings(chance: random.Random) -> Settings:
    """Settings whose timers are a few ticks long, so that every boundary is met often."""
    while True:
        c: Any = Settings()
        for name, unit, low, _high, _default in FIELDS:
            if unit == "ticks":
                setattr(c, name, max(low, 1) + chance.randrange(8))
        c.stages = chance.choice((1, 2, 3, 3, 4))
        c.fitted = 0xFFFF
        if chance.random() < 0.4:
            c.fitted ^= 1 << chance.randrange(w.FIT_DETENT_NC.bit_length() - 1, 16)
        elif chance.random() < 0.05:
            c.fitted ^= w.FIT_ACK
        c.arm_warn_ticks, c.arm_ticks = 200 + chance.randrange(400), 700 + chance.randrange(400)
        c.run_warn_ticks, c.run_ticks = 10 + chance.randrange(10), 22 + chance.randrange(10)
        c.lead_ticks, c.lead_limit_ticks = 1 + chance.randrange(6), 7 + chance.randrange(6)
        c.purge_confirm_ticks = 3 + chance.randrange(12)
        c.purge_after_run_ticks = chance.choice((40, 1500)) + chance.randrange(100)
        c.purge_valid_ticks = chance.choice((150, 1600)) + chance.randrange(200)
        c.hold_off_ticks = 5 + chance.randrange(40)
        c.start_cost_ticks, c.start_limit_ticks = 10 + chance.randrange(30), 30 + chance.randrange(60)
        c.patterns = chance.choice((0xFFFE, 0xFFFE, 0xFFFE, 0x9696)) & ((1 << (1 << c.stages)) - 2)
        if rules_hold(c):
            made: Settings = c
            return made


class VerdictStream:
    """Changes a verdict object tick by tick. `step` is told what was last reached and driven."""

    def __init__(self, settings: Settings, seed: int, verdicts: Any, disturbance: float = 0.12) -> None:
        self.settings: Any = settings
        self.chance = random.Random(seed)
        self.v = verdicts
        self.disturbance = disturbance
        self.hold = 0
        self.waits = 0
        self.follows = True
        self.disturbed = 0  # ticks for which the plant leaves its channels alone
        self.proof_delay = self.chance.randrange(9)
        absent = [names for bit, names in OF_SENSOR.items() if not self.settings.fitted & bit]
        self.sound: frozenset[str] = frozenset().union(*absent)
        self.ox_for = [0] * w.STAGES_MAX
        ticks = {int(getattr(settings, field[0])) for field in FIELDS if field[1] == "ticks"}
        self.holds = sorted({n + d for n in ticks if n <= SHORT_TICKS for d in (-1, 0, 1) if n + d >= 1} | {1, 2})
        self.long_holds = sorted({n + d for n in ticks if n > SHORT_TICKS for d in (-1, 0, 1)})
        quiet(verdicts)
        self._boot()

    def _boot(self) -> None:
        v, chance = self.v, self.chance
        choice = chance.random()
        if choice < 0.12:
            v.boot = 1 << chance.randrange(8)
        elif choice < 0.35:
            v.inject, v.rpm = 1, w.RPM_STOPPED
        elif choice < 0.5:
            v.master = 1
        v.sel = chance.randrange(1 << self.settings.stages)

    def step(self, state: int, waits: int, ox: int, fuel: int, bits: int) -> None:
        """Verdicts of the next tick, given the state, the standing waits and what was driven in the last."""
        chance = self.chance
        self.waits = waits
        if self.hold > 0:
            self.hold -= 1
        elif chance.random() < self._disturbance(state):
            self._disturb(state, ox, fuel)
            self.hold = chance.choice((0, 0, 1, 1, 2, 3, 8))
        else:
            if chance.random() < 0.35:
                self._mend()
            choice = chance.random()
            self.hold = chance.choice(self.holds) if choice < 0.5 else chance.randrange(6)
            if choice > 0.99:
                self.hold = chance.choice(self.long_holds)
            _LEADS_ON[state](self)
        self._plant(ox, fuel, bits)
        if "throttle" in self.sound:
            self.v.throttle = w.THROTTLE_FULL

    def _disturbance(self, state: int) -> float:
        return FLOW_DISTURBANCE if state in (w.LEAD_IN, w.RUN, w.RUN_DOWN) else self.disturbance

    def _plant(self, ox: int, fuel: int, bits: int) -> None:
        v = self.v
        commanded = ox | fuel << w.COIL_FUEL_SHIFT
        commanded |= w.COIL_PURGE if bits & w.OUT_PURGE else 0
        commanded |= w.COIL_MASTER_FUEL if bits & w.OUT_MASTER_FUEL else 0
        v.missing &= commanded  # only a coil that is commanded can be missed
        free = self.follows and self.disturbed == 0
        self.disturbed = max(self.disturbed - 1, 0)
        if free or "rail" in self.sound:
            v.rail = w.RAIL_LIVE if bits & w.OUT_RUN else w.RAIL_DEAD
        if "current" in self.sound:
            v.current = 0
        elif free:
            v.current = commanded
        if not free:
            return
        proof = 0
        for number in range(self.settings.stages):
            self.ox_for[number] = self.ox_for[number] + 1 if ox >> number & 1 else 0
            proof |= int(self.ox_for[number] > self.proof_delay) << number
        v.proof = proof if self.settings.fitted & w.FIT_PROOF else 0

    def _mend(self) -> None:
        """Everything but the crew's controls is as it should be again."""
        v = self.v
        kept = {name: getattr(v, name) for name in CREW}
        quiet(v)
        for name, value in kept.items():
            setattr(v, name, value)
        v.bench = int(self.chance.random() < 0.03)
        self.follows = self.chance.random() < 0.97
        self.proof_delay = self.chance.randrange(10) if self.chance.random() < 0.8 else 40

    def _disturb(self, state: int, ox: int, fuel: int) -> None:
        v, chance = self.v, self.chance
        self.disturbed = chance.choice((1, 1, 2, 4))
        if state in (w.LEAD_IN, w.RUN, w.RUN_DOWN) and chance.random() < 0.7:
            name, level = chance.choice(FLOW_FAULTS)
            if state == w.LEAD_IN and chance.random() < 0.2:
                name, level = "supply", w.SUPPLY_HIGH
            elif state == w.RUN_DOWN and chance.random() < 0.3:
                name, level = "rail", w.RAIL_DEAD
            if name not in self.sound:
                setattr(v, name, level)
            return
        name = chance.choice((*DISTURBED, *COIL_WORDS, *["contact_stuck"] * 5, "missing", "sel", "sel", "proof"))
        if name in self.sound or (name in RARE and chance.random() < 0.7):
            return
        if name == "sel":
            v.sel ^= 1 << chance.randrange(self.settings.stages)
        elif name == "proof":
            v.proof ^= 1 << chance.randrange(self.settings.stages)
        elif name == "missing":
            coils = ox | fuel << w.COIL_FUEL_SHIFT | w.COIL_PURGE | w.COIL_MASTER_FUEL
            v.missing = coils & chance.choice((1 << chance.randrange(COILS), w.COIL_OX, w.COIL_PURGE))
        elif name in COIL_WORDS:
            setattr(v, name, 1 << chance.randrange(COILS))
        else:
            setattr(v, name, chance.choice(tuple(DISTURBED[name])))

    # --- what leads on from each state

    def _to_rest(self) -> None:
        v = self.v
        v.master, v.purge = 0, 0
        v.contact, v.throttle = w.CONTACT_OPEN, w.THROTTLE_HOLD

    def _from_rest(self) -> None:
        v, chance = self.v, self.chance
        v.master = int(v.master == 0 and chance.random() < 0.9)
        v.rpm = w.RPM_WINDOW
        v.service = int(chance.random() < 0.02)
        if v.service:
            v.master, v.rpm = 0, w.RPM_STOPPED

    def _waiting(self) -> None:
        v, chance, waits = self.v, self.chance, self.waits
        v.master, v.ack = 1, 0
        if chance.random() < 0.03:
            v.contact = w.CONTACT_CLOSED
        elif waits & reasons.ARM_TIME_OVER and chance.random() < 0.8:
            v.master = 0
        elif waits & reasons.RELEASE_THROTTLE:
            v.contact = w.CONTACT_OPEN
            self.hold = int(self.settings.contact_open_ticks)
        elif waits & (reasons.NOTHING_SELECTED | reasons.PATTERN_NOT_ALLOWED) or chance.random() < 0.03:
            v.sel = chance.choice((chance.randrange(1, 1 << self.settings.stages), (1 << self.settings.stages) - 1))
        elif waits & reasons.PURGE_CONFIRM:
            v.purge, v.ack = int(chance.random() < 0.1), int(chance.random() < 0.9)
            self.hold = chance.randrange(2)
        elif waits & reasons.PURGE_NEEDED or chance.random() < 0.03:
            v.purge = 1 - v.purge
            longer = int(self.settings.purge_press_ticks) + int(self.settings.purge_ticks)
            self.hold = longer + chance.randrange(-3, 8) if v.purge else chance.randrange(3)
        elif waits & ~(reasons.SETTLING | reasons.HOLD_OFF | reasons.SELECTION_MOVING):
            self._mend()
        else:
            self.hold = int(self.settings.ready_ticks) + chance.randrange(4)

    def _purging(self) -> None:
        v, chance = self.v, self.chance
        v.ack = 0
        self.hold = chance.randrange(2)
        choice = chance.random()
        if choice < 0.08:
            v.missing = w.COIL_PURGE
        elif choice < 0.14:
            v.line = w.LINE_DEAD
        else:
            v.purge = int(choice < 0.2)

    def _ready(self) -> None:
        v, chance = self.v, self.chance
        if chance.random() < 0.85:
            v.contact = w.CONTACT_CLOSED
            v.throttle = w.THROTTLE_FULL if chance.random() < 0.9 else w.THROTTLE_HOLD
            v.rpm = w.RPM_WINDOW if chance.random() < 0.75 else chance.randrange(6)
            self.hold = chance.randrange(30)
        elif chance.random() < 0.3:
            v.master = 0

    def _flowing(self) -> None:
        v, chance = self.v, self.chance
        choice = chance.random()
        self.hold = chance.randrange(4)
        if choice < 0.12:
            v.contact = chance.choice((w.CONTACT_OPEN, w.CONTACT_UNSURE, w.CONTACT_FAULT))
        elif choice < 0.24:
            v.sel &= ~(1 << chance.randrange(self.settings.stages))
        elif choice < 0.28:
            v.master = 0
        elif choice < 0.33:
            v.sel = chance.randrange(1 << self.settings.stages)
        else:
            self.hold = chance.choice((chance.randrange(8), chance.randrange(40)))

    def _release(self) -> None:
        v, chance = self.v, self.chance
        if chance.random() < 0.7:
            v.contact, v.throttle = w.CONTACT_OPEN, w.THROTTLE_HOLD
        if chance.random() < 0.1:
            v.master = 1 - v.master

    def _waking(self) -> None:
        if self.chance.random() < 0.1:
            self.v.master = 1 - self.v.master

    def _tripped(self) -> None:
        v, chance = self.v, self.chance
        if chance.random() < 0.6:
            self._mend()
        if chance.random() < 0.8:
            v.contact, v.throttle, v.purge = w.CONTACT_OPEN, w.THROTTLE_HOLD, 0
        choice = chance.random()
        v.ack = v.service = 0
        v.rpm = w.RPM_WINDOW
        if choice < 0.45:
            v.master = 0
        if choice < 0.25:
            v.rpm, v.ack, v.proof = w.RPM_STOPPED, 1, 0
            self.hold = int(self.settings.ack_hold_ticks) + chance.randrange(4)
        elif choice < 0.32:
            v.rpm, v.service = w.RPM_STOPPED, chance.choice((1, 2))
            v.master = 0

    def _serving(self) -> None:
        v, chance = self.v, self.chance
        v.service = chance.choice((0, 0, 1, 2))
        if chance.random() < 0.25:
            v.rpm, v.service = w.RPM_WINDOW, chance.choice((1, 2))


_LEADS_ON: dict[int, Callable[[VerdictStream], None]] = {
    w.WAKE: VerdictStream._waking,
    w.REST: VerdictStream._from_rest,
    w.HELD: VerdictStream._to_rest,
    w.WAITING: VerdictStream._waiting,
    w.PURGING: VerdictStream._purging,
    w.READY: VerdictStream._ready,
    w.LEAD_IN: VerdictStream._flowing,
    w.RUN: VerdictStream._flowing,
    w.RUN_DOWN: VerdictStream._release,
    w.GAP: VerdictStream._release,
    w.TRIP: VerdictStream._tripped,
    w.SERVICE: VerdictStream._serving,
}
