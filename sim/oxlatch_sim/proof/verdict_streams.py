"""Random but purposeful verdict streams: a pilot who usually wants to go on, an aircraft that usually works.

Pure noise never arms a controller. This stream looks at the state and the waits reached so far, mostly takes the
step that leads on, sometimes disturbs any channel, and holds each choice for a number of ticks drawn around the
timer boundaries of the settings. The seed decides everything.
"""

import random
from collections.abc import Sequence
from typing import Any

from oxlatch import vocabulary as w
from oxlatch.settings import FIELDS, Settings, rules_hold
from oxlatch_sim.proof.verdict_crew import FLOWING, Crew

# channel: levels in which it may be disturbed
DISTURBED: dict[str, Sequence[int]] = {
    "contact": range(4),
    "throttle": range(4),
    "throttle_low_seen": range(2),
    "rpm": range(6),
    "supply": range(7),
    "line": range(7),
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
    "row": range(w.ROWS),
    "outlets": range(3),
}
COIL_WORDS = ("missing", "stray", "short", "current")
COILS = 11
GUARDED = (w.WAITING, w.READY, w.GAP)
LOCKING_EXTRAS = w.EXTRA_FIRE | w.EXTRA_BOTTLE_RED | w.EXTRA_CONTENT | w.EXTRA_KNOCK
SHORT_TICKS = 60
FLOW_DISTURBANCE = 0.6
# channels whose disturbance usually ends in a lock-out, and so the episode
RARE = frozenset({"stray", "short", "block", "shut", "purge_held", "bench", "inject", "extras"})
# what may go wrong in flow, as channel and level
FLOW_FAULTS: Sequence[tuple[str, int]] = (
    ("rpm", w.RPM_LOW),
    ("rpm", w.RPM_LOW),
    ("rpm", w.RPM_OVER),
    ("rpm", w.RPM_OVER),
    ("rpm", w.RPM_HOLD),
    ("supply", w.SUPPLY_FAULT),
    *[("supply", w.SUPPLY_EMPTY)] * 3,
    ("supply", w.SUPPLY_FAULT),
    ("supply", w.SUPPLY_CUT),
    ("supply", w.SUPPLY_CUT),
    ("supply", w.SUPPLY_HIGH),
    ("supply", w.SUPPLY_HIGH),
    ("supply_warn", 1),
    ("falling", 1),
    ("falling", 1),
    *[("fuel", w.FUEL_FAULT)] * 3,
    *[("fuel", w.FUEL_FAIL)] * 3,
    ("fuel", w.FUEL_HIGH),
    ("fuel", w.FUEL_OVER),
    ("fuel", w.FUEL_OVER),
    *[("bus", w.BUS_HARD)] * 3,
    *[("bus", w.BUS_CUT)] * 3,
    ("bus", w.BUS_SURGE),
    ("bus", w.BUS_SURGE),
    ("bus", w.BUS_LOW),
    ("rail", w.RAIL_DEAD),
    ("rail", w.RAIL_WEAK),
    ("throttle", w.THROTTLE_FAULT),
    ("throttle", w.THROTTLE_FAULT),
    ("throttle", w.THROTTLE_DROP),
    ("chatter", 1),
    ("missing", w.COIL_OX),
    ("missing", w.COIL_OX),
    *[("missing", w.COIL_FUEL)] * 3,
    ("missing", w.COIL_MASTER_FUEL),
    ("missing", w.COIL_MASTER_OX),
    *[("extras", w.EXTRA_KNOCK)] * 3,
    ("extras", w.EXTRA_FIRE),
    ("extras", w.EXTRA_BOTTLE_RED),
    *[("row", row) for row in (0, 1, 3)],
)
# what may be amiss while READY is waited for or lost again
GUARDED_FAULTS: Sequence[tuple[str, int]] = (
    *[("contact_stuck", 1)] * 6,
    *[("extras", 1 << bit) for bit in range(w.EXTRA_BITS) if 1 << bit != w.EXTRA_BOTTLE_RED],
    *[("extras", w.EXTRA_CONTENT)] * 4,
    *[("extras", bit) for bit in (w.EXTRA_AIRSPEED_BAD, w.EXTRA_FAST, w.EXTRA_NO_RETARD, w.EXTRA_NOT_RICH)],
    *[("block", w.BLOCK_FALLING), ("block", w.BLOCK_CLIMBING), ("block", w.BLOCK_FAULT)],
    *[
        ("purge_held", 1),
        ("proof", 1),
        ("proof", 1),
        ("throttle_low_seen", 0),
        ("fuel", w.FUEL_HIGH),
        ("time", w.TIME_HARD),
    ],
    *[("shut", w.SHUT_STUCK), ("rail", w.RAIL_WELDED), ("supply", w.SUPPLY_HIGH), ("supply", w.SUPPLY_FAULT)],
    ("bus", w.BUS_SURGE),
)
# Channels that a missing sensor leaves at their sound level.
OF_SENSOR: dict[int, frozenset[str]] = {
    w.FIT_THROTTLE: frozenset({"throttle", "throttle_low_seen"}),
    w.FIT_PROOF: frozenset({"proof", "shut"}),
    w.FIT_MASTER_FUEL: frozenset({"block"}),
    w.FIT_CURRENTS: frozenset({"missing", "stray", "short", "current"}),
    w.FIT_RAIL: frozenset({"rail"}),
    w.FIT_FUEL_PRESSURE: frozenset({"fuel"}),
    w.FIT_AIR: frozenset({"row"}),
}
# The extras that an input can make adverse.
EXTRAS_OF: dict[int, int] = {
    w.FIT_BOTTLE_TEMPERATURE: w.EXTRA_BOTTLE_BAD | w.EXTRA_BOTTLE_WARM | w.EXTRA_BOTTLE_RED | w.EXTRA_CONTENT,
    w.FIT_AIR: w.EXTRA_AIR_BAD,
    w.FIT_KNOCK: w.EXTRA_KNOCK,
    w.FIT_MIXTURE: w.EXTRA_NOT_RICH,
    w.FIT_RETARD: w.EXTRA_NO_RETARD,
    w.FIT_FIRE: w.EXTRA_FIRE,
    w.FIT_AIRSPEED: w.EXTRA_FAST | w.EXTRA_AIRSPEED_BAD,
    w.FIT_OUTLET_1: w.EXTRA_OUTLET_BAD,
    w.FIT_OUTLET_2: w.EXTRA_OUTLET_BAD,
}
CREW = ("master", "sel", "contact", "throttle", "purge", "ack", "boot", "rpm", "inject", "row", "bottle_g")


def quiet(v: Any) -> None:
    """Set every verdict to what a sound aircraft with an idle crew gives."""
    for name in DISTURBED:
        setattr(v, name, 0)
    for name in COIL_WORDS:
        setattr(v, name, 0)
    v.sel = v.proof = v.boot = v.extras = 0
    v.bottle_g = 60
    v.contact, v.throttle, v.throttle_low_seen = w.CONTACT_OPEN, w.THROTTLE_HOLD, 1
    v.rpm, v.supply, v.line = w.RPM_WINDOW, w.SUPPLY_PERMIT, w.LINE_GOOD
    v.fuel, v.block, v.bus, v.rail = w.FUEL_PERMIT, w.BLOCK_CLEAN, w.BUS_PERMIT, w.RAIL_DEAD
    v.shut, v.time = w.SHUT_CLEAN, w.TIME_GOOD


def small_settings(chance: random.Random, turn: int = 1) -> Settings:
    """Settings whose timers are a few ticks long, so that every boundary is met often.

    In every twelfth `turn` an input is left out that must be fitted.
    """
    while True:
        c: Any = Settings()
        for name, unit, low, _high, _default in FIELDS:
            if unit == "ticks":
                setattr(c, name, max(low, 1) + chance.randrange(8))
        c.match_turns, c.row_turns, c.outlet_turns = (2 + chance.randrange(4) for _ in range(3))
        c.stages = chance.choice((1, 2, 3, 3, 4))
        c.fitted = w.FIT_ALL
        if chance.random() < 0.6:
            c.fitted ^= 1 << chance.randrange(w.FIT_DETENT_NC.bit_length() - 1, w.FIT_ALL.bit_length())
        if turn % 12 == 0:
            c.fitted &= ~w.FIT_ACK
        c.arm_warn_ticks = chance.choice((60, 200, 600)) + chance.randrange(100)
        c.arm_ticks = c.arm_warn_ticks + 50 + chance.randrange(400)
        c.run_warn_ticks, c.run_ticks = 10 + chance.randrange(10), 22 + chance.randrange(10)
        c.lead_ticks, c.lead_limit_ticks = 1 + chance.randrange(6), 7 + chance.randrange(6)
        c.purge_confirm_ticks = 3 + chance.randrange(12)
        c.purge_after_run_ticks = chance.choice((40, 1500)) + chance.randrange(100)
        c.purge_valid_ticks = chance.choice((60, 150, 1600)) + chance.randrange(200)
        c.hold_off_ticks = 5 + chance.randrange(40)
        c.start_cost_ticks, c.start_limit_ticks = 10 + chance.randrange(30), 30 + chance.randrange(60)
        c.vent_ticks, c.bench_ticks = c.purge_max_ticks + chance.randrange(9), 60 + chance.randrange(200)
        c.bench_push_ticks = chance.choice((2, 5, 20, 60))
        _small_amounts(c, chance)
        every = (1 << (1 << c.stages)) - 2
        c.patterns = chance.choice((0xFFFE, 0xFFFE, 0x9696, chance.randrange(1 << 16))) & every
        for row in range(1, w.ROWS):
            setattr(c, f"patterns_{row}", chance.choice((0xFFFE, 0xFFFE, 0x9696, chance.randrange(1 << 16))) & every)
        if rules_hold(c):
            made: Settings = c
            return made


def _small_amounts(c: Any, chance: random.Random) -> None:
    """Bottle and coil heat: a few flows or seconds of warning empty the one and fill the other."""
    c.bottle_full_g = chance.choice((4, 30, 60))
    c.flow_purge = chance.randrange(60)
    for number in range(1, w.STAGES_MAX + 1):
        setattr(c, f"flow_{number}", chance.randrange(20, 200))
        setattr(c, f"need_{number}", chance.choice((0, *[chance.randrange(200, 1600)] * 9)))
    c.coil_heat_up, c.coil_heat_down = chance.choice((0, 1, 3, 6)), chance.choice((1, 1, 2, 4))
    c.coil_heat_start = chance.choice((8, 20, 60, 1000))
    c.coil_heat_top = c.coil_heat_start + 1 + chance.randrange(60)


class VerdictStream(Crew):
    """Changes a verdict object tick by tick. `step` is told what was last reached and driven."""

    def __init__(self, settings: Settings, seed: int, verdicts: Any, disturbance: float = 0.12) -> None:
        self.settings: Any = settings
        self.chance = random.Random(seed)
        self.v = verdicts
        self.disturbance = disturbance
        self.hold = 0
        self.waits = self.waits_3 = 0
        self.state = w.WAKE
        self.extras = 0
        for fit, bits in EXTRAS_OF.items():
            self.extras |= bits if self.settings.fitted & fit else 0
        self.follows = True
        self.disturbed = 0  # ticks for which the plant leaves its channels alone
        self.proof_delay = self.chance.randrange(9)
        absent = [names for bit, names in OF_SENSOR.items() if not self.settings.fitted & bit]
        outlets = frozenset() if self.settings.fitted & (w.FIT_OUTLET_1 | w.FIT_OUTLET_2) else frozenset({"outlets"})
        self.sound: frozenset[str] = frozenset().union(*absent, outlets)
        self.ox_for = [0] * w.STAGES_MAX
        ticks = {int(getattr(settings, field[0])) for field in FIELDS if field[1] == "ticks"}
        self.holds = sorted({n + d for n in ticks if n <= SHORT_TICKS for d in (-1, 0, 1) if n + d >= 1} | {1, 2})
        self.long_holds = sorted({n + d for n in ticks if n > SHORT_TICKS for d in (-1, 0, 1)})
        quiet(verdicts)
        self._boot()

    def _boot(self) -> None:
        v, chance = self.v, self.chance
        choice = chance.random()
        if choice < 0.15:
            v.boot = w.BOOT_WATCHDOG
        elif choice < 0.4:
            v.boot = 1 << chance.randrange(7)
        elif choice < 0.6:
            v.inject, v.rpm = 1, w.RPM_STOPPED
        elif choice < 0.7:
            v.master = 1
        v.sel = chance.randrange(1 << self.settings.stages)
        v.row = 0 if "row" in self.sound else chance.randrange(w.ROWS)
        v.bottle_g = chance.choice((0, 1, *[self.settings.bottle_full_g] * 8))

    def step(self, state: int, waits: int, ox: int, fuel: int, bits: int, waits_3: int = 0) -> None:
        """Verdicts of the next tick, given the state, the standing waits of either word, and what was driven in the last."""
        chance = self.chance
        self.state, self.waits, self.waits_3 = state, waits, waits_3
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
            self.lead_on(state)
        self._plant(ox, fuel, bits)
        if "throttle" in self.sound:
            self.v.throttle = w.THROTTLE_FULL

    def _disturbance(self, state: int) -> float:
        return FLOW_DISTURBANCE if state in FLOWING else self.disturbance

    def _plant(self, ox: int, fuel: int, bits: int) -> None:
        v = self.v
        commanded = ox | fuel << w.COIL_FUEL_SHIFT
        commanded |= w.COIL_PURGE if bits & w.OUT_PURGE else 0
        commanded |= w.COIL_MASTER_FUEL if bits & w.OUT_MASTER_FUEL else 0
        commanded |= w.COIL_MASTER_OX if bits & w.OUT_MASTER_OX else 0
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
        on_bench = self.state in (w.BENCH_GAS, w.BENCH_DRY)
        kept = {name: getattr(v, name) for name in (*CREW, *(("bench", "line") if on_bench else ()))}
        quiet(v)
        for name, value in kept.items():
            setattr(v, name, value)
        if not on_bench:
            v.bench = int(self.chance.random() < 0.03)
        self.follows = self.chance.random() < 0.97
        self.proof_delay = self.chance.randrange(10) if self.chance.random() < 0.8 else 40

    def _disturb(self, state: int, ox: int, fuel: int) -> None:
        v, chance = self.v, self.chance
        self.disturbed = chance.choice((1, 1, 2, 4))
        if state in FLOWING and chance.random() < 0.7:
            name, level = chance.choice(FLOW_FAULTS)
            if state == w.LEAD_IN and chance.random() < 0.35:
                name, level = "supply", w.SUPPLY_HIGH
            elif state == w.RUN_DOWN and chance.random() < 0.45:
                name, level = "rail", w.RAIL_DEAD
            by_block = level == w.FUEL_FAIL and self.settings.fitted & w.FIT_MASTER_FUEL
            if name not in self.sound or (name == "fuel" and by_block):
                setattr(v, name, level & self.extras if name == "extras" else level)
            return
        if state in GUARDED and chance.random() < 0.4:
            name, level = chance.choice(GUARDED_FAULTS)
            if name not in self.sound:
                setattr(v, name, level & self.extras if name == "extras" else level)
            return
        name = (
            "extras"
            if chance.random() < 0.15
            else chance.choice((*DISTURBED, *COIL_WORDS, *["contact_stuck"] * 5, "missing", "sel", "sel", "proof"))
        )
        if name in self.sound or (name in RARE and chance.random() < 0.7):
            return
        if name == "sel":
            v.sel ^= 1 << chance.randrange(self.settings.stages)
        elif name == "proof":
            v.proof ^= 1 << chance.randrange(self.settings.stages)
        elif name == "extras":
            v.extras = self.extras & (1 << chance.randrange(w.EXTRA_BITS))
            if v.extras & LOCKING_EXTRAS and chance.random() < 0.7:
                v.extras = 0
        elif name == "missing":
            coils = ox | fuel << w.COIL_FUEL_SHIFT | w.COIL_PURGE | w.COIL_MASTER_FUEL | w.COIL_MASTER_OX
            v.missing = coils & chance.choice((1 << chance.randrange(COILS), w.COIL_OX, w.COIL_PURGE))
        elif name in COIL_WORDS:
            setattr(v, name, 1 << chance.randrange(COILS))
        else:
            setattr(v, name, chance.choice(tuple(DISTURBED[name])))
