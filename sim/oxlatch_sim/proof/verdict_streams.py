"""Random but purposeful verdict streams: a pilot who usually wants to go on, an aircraft that usually works.

Pure noise never arms a controller. This stream looks at the state reached so far, mostly takes the step
that leads on, sometimes disturbs any channel, and holds each choice for a number of ticks drawn around the
timer boundaries of the settings. The seed decides everything.
"""

import random
from collections.abc import Callable, Sequence
from typing import Any

from oxlatch import vocabulary as w
from oxlatch.settings import FIELDS, Settings, rules_hold

ALWAYS_TICKS = frozenset({"wake_ticks", "arm_ticks", "arm_warn_ticks", "run_ticks", "run_warn_ticks"})

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
# Channels that a missing sensor leaves at their sound level.
OF_SENSOR: dict[int, frozenset[str]] = {
    w.FIT_THROTTLE: frozenset({"throttle", "throttle_low_seen"}),
    w.FIT_PROOF: frozenset({"proof", "shut"}),
    w.FIT_MASTER_FUEL: frozenset({"block"}),
    w.FIT_CURRENTS: frozenset({"missing", "stray", "short", "current"}),
    w.FIT_RAIL: frozenset({"rail"}),
    w.FIT_FUEL_PRESSURE: frozenset({"fuel"}),
}
RARE = frozenset({"time", "chatter", "stray", "short", "block", "shut", "purge_held", "bench", "inject"})


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


def small_settings(chance: random.Random, stages: int = 3, fitted: int = 0xFFFF) -> Settings:
    """Settings whose timers are a few ticks long, so that every boundary is met often."""
    while True:
        c = Settings()
        for name, unit, low, _high, _default in FIELDS:
            if unit == "ticks":
                setattr(c, name, max(low, 1) + chance.randrange(8))
        long: Any = c
        long.stages, long.fitted = stages, fitted
        long.arm_warn_ticks, long.arm_ticks = 200 + chance.randrange(400), 700 + chance.randrange(400)
        long.run_warn_ticks, long.run_ticks = 10 + chance.randrange(10), 22 + chance.randrange(10)
        long.lead_ticks, long.lead_limit_ticks = 1 + chance.randrange(6), 7 + chance.randrange(6)
        long.purge_valid_ticks, long.purge_after_run_ticks = (
            150 + chance.randrange(200),
            40 + chance.randrange(100),
        )
        long.hold_off_ticks = 5 + chance.randrange(40)
        long.start_cost_ticks, long.start_limit_ticks = 10 + chance.randrange(30), 30 + chance.randrange(60)
        long.patterns = chance.choice((0xFE, 0xFE, 0xFE, 0x16)) & ((1 << (1 << stages)) - 2)
        if rules_hold(c):
            return c


class VerdictStream:
    """Changes a verdict object tick by tick. `step(state, ox, fuel, bits)` is told what was last driven."""

    def __init__(self, settings: Settings, seed: int, verdicts: Any, disturbance: float = 0.15) -> None:
        self.settings: Any = settings
        self.chance = random.Random(seed)
        self.v = verdicts
        self.disturbance = disturbance
        self.hold = 0
        self.follows = True
        self.disturbed = 0  # ticks for which the plant leaves its channels alone
        self.proof_delay = self.chance.randrange(9)
        absent = [names for bit, names in OF_SENSOR.items() if not self.settings.fitted & bit]
        self.sound = frozenset().union(*absent)
        self.ox_for = [0] * w.STAGES_MAX
        ticks = {int(getattr(settings, field[0])) for field in FIELDS if field[1] == "ticks"}
        self.holds = sorted({n + d for n in ticks if n <= 400 for d in (-1, 0, 1) if n + d >= 1} | {1, 2})
        quiet(verdicts)
        self._boot()

    def _boot(self) -> None:
        v, chance = self.v, self.chance
        if chance.random() < 0.08:
            v.boot = 1 << chance.randrange(8)
        if chance.random() < 0.3:
            v.master = 1
        v.sel = chance.randrange(1 << self.settings.stages)

    def step(self, state: int, ox: int, fuel: int, bits: int) -> None:
        """Verdicts of the next tick, given the state and what was driven in the last."""
        if self.hold > 0:
            self.hold -= 1
        elif self.chance.random() < self.disturbance:
            self._disturb(fuel, ox)
            self.hold = self.chance.choice((0, 0, 1, 1, 2, 3, 8))
        else:
            if self.chance.random() < 0.35:
                self._mend()
            self.hold = (
                self.chance.choice(self.holds) if self.chance.random() < 0.5 else self.chance.randrange(6)
            )
            _LEADS_ON[state](self)
        self._plant(ox, fuel, bits)
        self._fill()

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
        if not free and "current" not in self.sound:
            return
        v.current = commanded
        proof = 0
        for number in range(self.settings.stages):
            self.ox_for[number] = self.ox_for[number] + 1 if ox >> number & 1 else 0
            proof |= int(self.ox_for[number] > self.proof_delay) << number
        v.proof = proof if self.settings.fitted & w.FIT_PROOF else 0

    def _fill(self) -> None:
        """What a missing throttle sensor reads as."""
        if "throttle" in self.sound:
            self.v.throttle = w.THROTTLE_FULL

    def _mend(self) -> None:
        """Everything but the crew's controls is as it should be again."""
        v = self.v
        kept = {
            name: getattr(v, name)
            for name in ("master", "sel", "contact", "throttle", "purge", "ack", "boot", "rpm")
        }
        quiet(v)
        for name, value in kept.items():
            setattr(v, name, value)
        v.bench = v.inject = int(self.chance.random() < 0.03)
        self.follows = self.chance.random() < 0.97
        self.proof_delay = self.chance.randrange(10) if self.chance.random() < 0.8 else 40

    def _disturb(self, fuel: int, ox: int) -> None:
        v, chance = self.v, self.chance
        self.disturbed = chance.choice((1, 1, 2, 4))
        name = chance.choice((*DISTURBED, *COIL_WORDS, "sel", "sel", "proof"))
        if name in self.sound:
            return
        if name in RARE and chance.random() < 0.7:
            return
        if name == "sel":
            v.sel ^= 1 << chance.randrange(self.settings.stages)
        elif name == "proof":
            v.proof ^= 1 << chance.randrange(self.settings.stages)
        elif name == "missing":
            coils = ox | fuel << w.COIL_FUEL_SHIFT | w.COIL_PURGE | w.COIL_MASTER_FUEL
            v.missing = coils & (1 << chance.randrange(10))
        elif name in COIL_WORDS:
            setattr(v, name, 1 << chance.randrange(10))
        else:
            setattr(v, name, chance.choice(tuple(DISTURBED[name])))

    # --- what leads on from each state

    def _to_rest(self) -> None:
        v = self.v
        v.master, v.purge = 0, 0
        v.contact, v.throttle = w.CONTACT_OPEN, w.THROTTLE_HOLD

    def _from_rest(self) -> None:
        v, chance = self.v, self.chance
        if v.master == 1 or chance.random() < 0.1:
            v.master = 0
        else:
            v.master = 1
        v.rpm = w.RPM_WINDOW
        v.service = int(chance.random() < 0.02)
        if v.service:
            v.master, v.rpm = 0, w.RPM_STOPPED

    def _waiting(self) -> None:
        v, chance = self.v, self.chance
        v.master = 1
        if v.contact != w.CONTACT_OPEN:
            v.contact = w.CONTACT_OPEN
            return
        if v.sel == 0 or chance.random() < 0.1:
            v.sel = chance.randrange(1, 1 << self.settings.stages)
            return
        choice = chance.random()
        v.ack = 0
        if choice < 0.35:
            v.purge = 1
            self.hold = int(self.settings.purge_ticks) + chance.randrange(12)
        elif choice < 0.55:
            v.purge = 0
            v.ack = 1
        else:
            v.purge = 0
            self.hold = int(self.settings.ready_ticks) + chance.randrange(4)

    def _purging(self) -> None:
        self.v.purge = 0

    def _ready(self) -> None:
        v, chance = self.v, self.chance
        if chance.random() < 0.85:
            v.contact = w.CONTACT_CLOSED
            v.throttle = w.THROTTLE_FULL if chance.random() < 0.9 else w.THROTTLE_HOLD
            v.rpm = w.RPM_WINDOW if chance.random() < 0.9 else chance.randrange(6)
            self.hold = chance.randrange(30)
        elif chance.random() < 0.3:
            v.master = 0

    def _flowing(self) -> None:
        v, chance = self.v, self.chance
        choice = chance.random()
        if choice < 0.25:
            v.contact = chance.choice((w.CONTACT_OPEN, w.CONTACT_UNSURE, w.CONTACT_FAULT))
        elif choice < 0.35:
            v.sel &= ~(1 << chance.randrange(self.settings.stages))
        elif choice < 0.4:
            v.master = 0
        elif choice < 0.45:
            v.sel = chance.randrange(1 << self.settings.stages)
        else:
            self.hold = chance.randrange(40)

    def _release(self) -> None:
        v, chance = self.v, self.chance
        if chance.random() < 0.7:
            v.contact, v.throttle = w.CONTACT_OPEN, w.THROTTLE_HOLD
        if chance.random() < 0.1:
            v.master = 1 - v.master

    def _tripped(self) -> None:
        v, chance = self.v, self.chance
        self._mend()
        v.contact, v.throttle, v.purge = w.CONTACT_OPEN, w.THROTTLE_HOLD, 0
        choice = chance.random()
        if choice < 0.4:
            v.master = 0
        if choice < 0.2:
            v.rpm, v.ack = w.RPM_STOPPED, 1
            self.hold = int(self.settings.ack_hold_ticks) + chance.randrange(4)
        elif choice < 0.5:
            v.rpm, v.ack = w.RPM_WINDOW, 0
        v.service = int(chance.random() < 0.05)

    def _serving(self) -> None:
        if self.chance.random() < 0.5:
            self.v.service = 0


_LEADS_ON: dict[int, Callable[[VerdictStream], None]] = {
    w.WAKE: VerdictStream._release,
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
