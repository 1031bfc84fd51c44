"""What a crew does in each state to get on: the purposeful half of a verdict stream.

Each method changes the crew's controls, and what the aircraft must be for them to lead on, for the ticks in `hold`.
"""

import random
from collections.abc import Callable
from typing import Any

from oxlatch import reasons
from oxlatch import vocabulary as w

FLOWING = (w.LEAD_IN, w.RUN, w.RUN_DOWN)
ERRANDS = (87, 4, 5, 1, 3)
# Waits that mean that something of the aircraft is amiss; the others are the crew's to settle.
SETTLED_BY_CREW = (
    *(reasons.SETTLING, reasons.HOLD_OFF, reasons.SELECTION_MOVING, reasons.PURGE_NEEDED, reasons.PURGE_CONFIRM),
    *(reasons.RELEASE_THROTTLE, reasons.ARM_TIME_OVER, reasons.NOTHING_SELECTED, reasons.PATTERN_NOT_ALLOWED),
    *(reasons.PUSH_NOT_FULL, reasons.PUSH_RPM_LOW, reasons.PUSH_RPM_HIGH, reasons.PUSH_RPM_SIGNAL),
    reasons.PURGE_NO_CURRENT,
)
AMISS = ~sum(SETTLED_BY_CREW)
NO_WINDOW = (w.RPM_SILENT, w.RPM_LOW, w.RPM_HOLD, w.RPM_OVER)
UNSELECTED = reasons.NOTHING_SELECTED | reasons.PATTERN_NOT_ALLOWED


class Crew:
    """Acts by state; what it works on belongs to the stream."""

    settings: Any
    chance: random.Random
    v: Any
    state: int
    hold: int
    waits: int
    waits_3: int
    errand = "fly"
    short = False  # the bottle's content did not suffice

    def _mend(self) -> None:
        raise NotImplementedError

    def lead_on(self, state: int) -> None:
        """One act towards the next state."""
        _LEADS_ON[state](self)

    def _to_rest(self) -> None:
        v = self.v
        v.master, v.purge = 0, 0
        v.contact, v.throttle = w.CONTACT_OPEN, w.THROTTLE_HOLD

    def _from_rest(self) -> None:
        v, chance = self.v, self.chance
        v.bench = v.ack = 0
        self.hold = chance.choice((0, 0, 0, 1, self.hold))
        self.errand = chance.choices(("fly", "vent", "bench", "refill", "serve"), ERRANDS)[0]
        if self.short:
            self.errand, self.short = "refill", False
        if v.master or self.state == w.HELD:
            v.master = 0
            self.hold = chance.randrange(3)
        elif self.errand == "bench":
            self._to_bench()
        elif self.errand == "refill":
            v.rpm, v.ack = w.RPM_STOPPED, 1
            self.hold = int(self.settings.ack_hold_ticks) + chance.randrange(-2, 3)
        elif self.errand == "serve":
            v.rpm, v.service = w.RPM_STOPPED, 1
        else:
            v.master, v.rpm, v.service = 1, w.RPM_WINDOW, 0

    def _to_bench(self) -> None:
        v, chance = self.v, self.chance
        v.bench, v.rpm, v.master = 1, w.RPM_STOPPED, 1
        v.line = chance.choice((w.LINE_EMPTY, w.LINE_DEAD, w.LINE_DEAD, w.LINE_GOOD))
        v.contact, v.throttle = w.CONTACT_OPEN, w.THROTTLE_HOLD
        v.ack = int(chance.random() < 0.6)
        v.purge = int(not v.ack or chance.random() < 0.2)

    def _benching(self) -> None:
        v, chance = self.v, self.chance
        choice = chance.random()
        if choice < 0.06:
            self._mend()
            chance.choice((self._key_off, self._to_rest, self._turn))()
            return
        v.ack = v.purge = 0
        if choice < 0.1:
            v.sel = chance.randrange(1 << self.settings.stages)
        elif choice < 0.35:
            v.contact, v.purge = w.CONTACT_OPEN, 1
            longest = int(self.settings.purge_press_ticks) + int(self.settings.purge_max_ticks)
            self.hold = chance.randrange(longest + 4)
        elif v.contact == w.CONTACT_OPEN:
            v.contact = w.CONTACT_CLOSED
            self.hold = chance.randrange(int(self.settings.bench_push_ticks) + 4)
        else:
            v.contact = chance.choice((w.CONTACT_OPEN, w.CONTACT_OPEN, w.CONTACT_UNSURE, w.CONTACT_FAULT))
            self.hold = chance.randrange(int(self.settings.contact_open_ticks) + 4)

    def _key_off(self) -> None:
        self.v.bench = 0

    def _turn(self) -> None:
        self.v.rpm = w.RPM_SILENT

    def _vent(self) -> None:
        """The engine stands, the bottle is shut, and PURGE is held to empty the line."""
        v, chance = self.v, self.chance
        v.rpm, v.supply, v.contact = w.RPM_STOPPED, w.SUPPLY_EMPTY, w.CONTACT_OPEN
        v.line = chance.choice((w.LINE_DEAD, w.LINE_WEAK, w.LINE_DEAD, w.LINE_LOST))
        v.purge = 1 - v.purge
        self.hold = int(self.settings.purge_press_ticks) + chance.randrange(12) if v.purge else chance.randrange(3)

    def _waiting(self) -> None:
        v, chance, waits = self.v, self.chance, self.waits
        if self.errand == "vent":
            self._vent()
            self.errand = chance.choice(("vent", "vent", "fly"))
            return
        v.master, v.ack, v.rpm = 1, 0, w.RPM_WINDOW
        self.hold = chance.choice((0, 0, 1, 2, self.hold))
        if waits & AMISS or self.waits_3 & ~(reasons.COIL_WARM | reasons.BUDGET_SHORT) or v.line < w.LINE_GOOD:
            self._mend()
        if waits & UNSELECTED or self.waits_3 & reasons.BUDGET_SHORT or chance.random() < 0.02:
            self._select()
        if waits & reasons.RELEASE_THROTTLE:
            v.contact, v.throttle = w.CONTACT_OPEN, w.THROTTLE_HOLD
        if chance.random() < 0.02:
            v.contact = w.CONTACT_CLOSED
        elif waits & reasons.ARM_TIME_OVER or (self.waits_3 & reasons.BUDGET_SHORT and chance.random() < 0.3):
            self.short = self.waits_3 & reasons.BUDGET_SHORT != 0
            v.master = 0
        elif waits & reasons.PURGE_CONFIRM:
            v.purge, v.ack = int(chance.random() < 0.1), int(chance.random() < 0.9)
            self.hold = chance.randrange(2)
        elif waits & reasons.PURGE_NEEDED or chance.random() < 0.02:
            v.purge = 1 - v.purge
            longer = int(self.settings.purge_press_ticks) + int(self.settings.purge_ticks)
            self.hold = longer + chance.choice((-2, 0, 1, 1, 2, 3)) if v.purge else 0
        else:
            self.hold = int(self.settings.ready_ticks) + chance.randrange(4)

    def _select(self) -> None:
        """Mostly a combination that the present row allows."""
        every = range(1, 1 << self.settings.stages)
        patterns = getattr(self.settings, f"patterns_{self.v.row}") if self.v.row else self.settings.patterns
        allowed = [one for one in every if patterns >> one & 1]
        if allowed and self.chance.random() < 0.9:
            self.v.sel = self.chance.choice(allowed)
        else:
            self.v.sel = self.chance.choice(every)
            self.v.row = self.chance.randrange(w.ROWS) if self.settings.fitted & w.FIT_AIR else 0

    def _purging(self) -> None:
        v, chance = self.v, self.chance
        v.ack = 0
        self.hold = chance.randrange(2)
        choice = chance.random()
        if v.rpm == w.RPM_STOPPED:
            self._venting(choice)
            return
        if self.settings.fitted & (w.FIT_OUTLET_1 | w.FIT_OUTLET_2):
            v.outlets = chance.choice((w.OUTLETS_WARM, w.OUTLETS_ONE, w.OUTLETS_COLD))
        if choice < 0.05:
            v.missing = w.COIL_PURGE
        elif choice < 0.1:
            v.line = w.LINE_DEAD
        else:
            v.purge = int(choice < 0.3)
            self.hold = chance.randrange(int(self.settings.purge_ticks)) if v.purge else 0

    def _venting(self, choice: float) -> None:
        v = self.v
        if choice < 0.6:
            self.hold = self.chance.randrange(int(self.settings.vent_ticks) + 4)
        elif choice < 0.8:
            v.line = self.chance.choice((w.LINE_EMPTY, w.LINE_DEAD, w.LINE_WEAK, w.LINE_LOST, w.LINE_GOOD))
        elif choice < 0.9:
            v.purge_held = 1 - v.purge_held
        elif choice < 0.93:
            v.rpm = w.RPM_SILENT
        else:
            v.purge = 0

    def _ready(self) -> None:
        v, chance = self.v, self.chance
        choice = chance.random()
        if v.contact == w.CONTACT_CLOSED and choice < 0.2:
            v.contact = w.CONTACT_OPEN
        elif choice < 0.9:
            v.contact = w.CONTACT_CLOSED
            v.throttle = w.THROTTLE_FULL if chance.random() < 0.94 else w.THROTTLE_HOLD
            v.rpm = w.RPM_WINDOW if chance.random() < 0.88 else chance.choice(NO_WINDOW)
            self.hold = chance.randrange(12)
        elif choice < 0.93:
            v.master = 0
        elif choice < 0.96:
            self.hold = 80 + chance.randrange(160)

    def _flowing(self) -> None:
        v, chance = self.v, self.chance
        choice = chance.random()
        self.hold = chance.randrange(4)
        if choice < 0.12:
            v.contact = chance.choice((w.CONTACT_OPEN, w.CONTACT_UNSURE, w.CONTACT_FAULT))
        elif choice < 0.27:
            v.sel &= ~(1 << chance.randrange(self.settings.stages))
        elif choice < 0.32:
            v.master = 0
        elif choice < 0.36:
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
        self.hold = chance.choice((0, 2, 5, self.hold))
        if chance.random() < 0.8:
            self._mend()
        if chance.random() < 0.8:
            v.contact, v.throttle, v.purge = w.CONTACT_OPEN, w.THROTTLE_HOLD, 0
        choice = chance.random()
        v.ack = v.service = 0
        v.rpm = w.RPM_WINDOW
        if choice < 0.7:
            v.master = 0
            self.hold = int(self.settings.disarm_ticks) + chance.randrange(-1, 3)
        if choice < 0.25:
            v.rpm, v.ack, v.proof = w.RPM_STOPPED, 1, 0
            self.hold = int(self.settings.ack_hold_ticks) + chance.randrange(4)
        elif choice > 0.93:
            v.rpm, v.service = w.RPM_STOPPED, chance.choice((1, 2))
            v.master = 0

    def _serving(self) -> None:
        v, chance = self.v, self.chance
        v.service = chance.choice((0, 0, 1, 2))
        if chance.random() < 0.25:
            v.rpm, v.service = w.RPM_WINDOW, chance.choice((1, 2))


_LEADS_ON: dict[int, Callable[[Crew], None]] = {
    w.WAKE: Crew._waking,
    w.REST: Crew._from_rest,
    w.HELD: Crew._to_rest,
    w.WAITING: Crew._waiting,
    w.PURGING: Crew._purging,
    w.READY: Crew._ready,
    w.LEAD_IN: Crew._flowing,
    w.RUN: Crew._flowing,
    w.RUN_DOWN: Crew._release,
    w.GAP: Crew._release,
    w.TRIP: Crew._tripped,
    w.SERVICE: Crew._serving,
    w.BENCH_GAS: Crew._benching,
    w.BENCH_DRY: Crew._benching,
}
