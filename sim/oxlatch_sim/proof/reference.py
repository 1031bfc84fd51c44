"""Execute the cause-and-effect table: the second specification of the core, one tick at a time.

`Reference(settings).tick(verdicts)` judges one tick; what it then asks, drives and shows is in its attributes.
The table decides everything; this module only keeps the memory the table names and carries out the
actions it calls. State changes go through a `transitions` machine, so an action or a state that the table does
not allow cannot happen.
"""

from collections.abc import Mapping
from typing import Any

from transitions import Machine

from oxlatch import reasons, vocabulary
from oxlatch.settings import Settings
from oxlatch_sim.proof.reference_actions import Actions
from oxlatch_sim.proof.reference_code import CORRUPT_STATE, STATES, row_names
from oxlatch_sim.proof.reference_gate import Interlock
from oxlatch_sim.proof.reference_program import FLOW_STATES, program_of
from oxlatch_sim.proof.reference_table import load_table

LAMP_SHIFTS = {
    "ready": vocabulary.LAMP_READY_SHIFT,
    "flow": vocabulary.LAMP_FLOW_SHIFT,
    "check": vocabulary.LAMP_CHECK_SHIFT,
    "stop": vocabulary.LAMP_STOP_SHIFT,
    "purge": vocabulary.LAMP_PURGE_SHIFT,
}
LAMP_LEVELS = {"off": vocabulary.LAMP_OFF, "on": vocabulary.LAMP_ON, "blink": vocabulary.LAMP_BLINK}


class Memory:
    """What the table remembers from tick to tick; the table's [memory] section says what each is."""

    def __init__(self, table: Mapping[str, Any]) -> None:
        for name in table["memory"]:
            setattr(self, name, 0)
        for row in table["counter"]:
            setattr(self, row["name"], 0)
        self.state = vocabulary.WAKE
        self.sel_before = 0
        self.fuel_wait = -1
        self.arm_age = -1
        self.corrupt_seen = -1
        self.ox_at = [0] * vocabulary.STAGES_MAX
        self.tail_at = [0] * vocabulary.STAGES_MAX
        self.first = -1  # index into REASONS of the first cause, or -1
        self.marker = 0  # 1 between arming and an orderly disarm

    def __getattr__(self, name: str) -> int:  # for type checkers: every field is a number set above
        raise AttributeError(name)


class Reference(Actions):
    """The table, running. All results are attributes:

    state_name, state; ask_ox, ask_fuel, ask_bits (asked); ox, fuel, bits (driven after the interlock);
    why0..why3 (standing reasons); latch; lamps; hits (per row of `rows`).
    """

    def __init__(self, settings: Settings, table: Mapping[str, Any] | None = None) -> None:
        self.table = table or load_table()
        self.settings = settings
        self.rows = row_names(self.table)
        self.hits = [0] * len(self.rows)
        self.memory: Any = Memory(self.table)
        self.interlock = Interlock(settings, self.table, self.hits)
        self.state_name = STATES[vocabulary.WAKE]
        self.why0 = self.why1 = self.why2 = self.why3 = 0
        self.ask_ox = self.ask_fuel = self.ask_bits = 0
        self.ox = self.fuel = self.bits = self.lamps = 0
        self.verdicts: Any = None
        self.program = program_of(settings, self.table)
        self._machine = self._make_machine()

    # --- preparation

    def _make_machine(self) -> Machine:
        rows = [
            {
                "trigger": row["id"],
                "source": list(row["from"]),
                "dest": row.get("to"),
                "before": list(row["actions"]),
                "after": ["enter"] if "to" in row else [],
            }
            for row in self.table["transition"]
        ]
        return Machine(
            model=self,
            model_attribute="state_name",
            states=list(STATES),
            transitions=rows,
            initial=STATES[vocabulary.WAKE],
            auto_transitions=False,
        )

    # --- one tick

    @property
    def state(self) -> int:
        """The state as a number of the vocabulary."""
        number: int = self.memory.state
        return number

    @property
    def latch(self) -> int:
        """The highest latch among the recorded causes, 0 to 4."""
        level: int = self.memory.latch
        return level

    def snapshot(self) -> tuple[dict[str, Any], dict[str, Any], str]:
        """All that the next tick depends on, as a copy."""
        return _copied(self.memory), _copied(self.interlock.memory), self.state_name

    def restore(self, kept: tuple[dict[str, Any], dict[str, Any], str]) -> None:
        """Go back to a snapshot; what is asked, driven and shown is that of the next tick."""
        for target, words in ((self.memory, kept[0]), (self.interlock.memory, kept[1])):
            for name, value in words.items():
                setattr(target, name, value[:] if isinstance(value, list) else value)
        self._machine.set_state(kept[2], model=self)

    def tick(self, v: Any) -> str:
        """Judge one tick of verdicts; return the name of the state after it."""
        m, h = self.memory, self.hits
        self.verdicts = v
        row = self.program.judge[CORRUPT_STATE if m.corrupt else m.state](v, m, h, self)
        if row >= 0:
            self._fire(row)
        if m.state in self.program.stages:
            self.program.stages[m.state](v, m, h)
            if m.state == vocabulary.LEAD_IN:
                row = self.program.after(v, m, h, self)
                if row >= 0:
                    self._fire(row)
        if m.latch >= 2:
            m.purge_ok = m.confirm_left = 0
        self.ask_ox, self.ask_fuel = m.ox, m.fuel
        self.ask_bits = self.program.outputs[m.state](v, m, h)
        m.purge_asked = int(self.ask_bits & vocabulary.OUT_PURGE != 0)
        interlock = self.interlock
        interlock.step(v, m.ox, m.fuel, self.ask_bits)
        self.ox, self.fuel, self.bits = interlock.ox, interlock.fuel, interlock.bits
        if self.why2 | self.why3 & reasons.WAITS_3:
            h[self.program.effect_hits[vocabulary.REFUSE]] += 1
        if self.why3 & ~reasons.WAITS_3:
            h[self.program.effect_hits[vocabulary.TELL]] += 1
        self.lamps = self._lamp_word(v, m)
        return STATES[m.state]

    def _fire(self, number: int) -> None:
        self.trigger(self.table["transition"][number]["id"])  # type: ignore[attr-defined]

    def enter(self) -> None:
        """What entering any state means for the memory."""
        m = self.memory
        state = STATES.index(self.state_name)
        m.state = state
        m.corrupt = 0
        m.age = 0
        if state == vocabulary.SERVICE:
            m.arm_age = -1
        if state != vocabulary.WAITING:
            m.calm_for = 0
        if state in (vocabulary.REST, vocabulary.HELD):
            m.marker = m.off_in_rest = 0
            m.arm_age = -1
        if state not in FLOW_STATES:
            m.ox = m.fuel = m.latched = m.pending = m.overdue = 0

    def record(self, word0: int, word1: int, unclassified: int) -> None:
        """Record the causes standing in this tick; the strongest class acts, the highest latch holds.

        A lost current or rail (`unclassified`, of word 0) beside a new cause is a cause like any other; in a
        run-down a cause that asks for no more than a run-down is passed over instead.
        """
        m = self.memory
        if unclassified and not m.pending and (word0 & ~m.held0 or word1 & ~m.held1):
            stronger = any(self.program.reaction[p] > vocabulary.FUEL_FIRST for p in _places(word0, word1))
            if m.state != vocabulary.RUN_DOWN or stronger:
                word0 |= unclassified
                m.unclassified = 0
            else:
                word0 = word1 = 0
        if m.pending and m.pending_age >= self.settings.classify_ticks:
            if not (m.let_go or word0 & ~m.held0 or word1 & ~m.held1):
                word0 |= m.pending0
            m.pending = 0
        m.strongest = 0
        m.fault = int(word0 != 0 or word1 != 0)
        if m.state == vocabulary.WAKE and m.age <= 1 and not m.corrupt:
            return
        for place in _places(word0, word1):
            m.strongest = max(m.strongest, self.program.reaction[place])
            held = m.held0 if place[0] == 0 else m.held1
            if held & place[1]:
                continue
            self.hits[self.program.effect_hits[self.program.reaction[place]]] += 1
            self._hold(place)

    def _hold(self, place: tuple[int, int]) -> None:
        m = self.memory
        if not (m.held0 or m.held1):
            m.first = self.program.reason_index[place]
            m.first0 = place[1] if place[0] == 0 else 0
        if place[0] == 0:
            m.held0 |= place[1]
        else:
            m.held1 |= place[1]
        m.latch = max(m.latch, self.program.latch[place])
        for name in self.program.also[place]:
            if name == "void":
                m.purge_ok = m.confirm_left = 0
            elif name == "hold_off":
                m.hold_off = self.settings.hold_off_ticks
            else:
                setattr(m, name, 1)

    # --- what is shown and stored

    def _lamp_word(self, v: Any, m: Any) -> int:
        telling, ending = self.why3 & self.program.tell_mask != 0, self.why3 & reasons.TIME_SOON_UP != 0
        overlay = self.program.overlays[m.state](v, m, telling, ending)
        key = (m.state, overlay)
        self.hits[self.program.lamp_hits[m.state]] += 1
        if overlay:
            for number, index in enumerate(self.program.overlay_hits):
                if overlay >> number & 1:
                    self.hits[index] += 1
        word = self.program.lamp_words.get(key)
        if word is None:
            word = self.program.lamp_words[key] = self._make_lamp_word(*key)
        return word

    def _make_lamp_word(self, state: int, overlay: int) -> int:
        shown: dict[str, Any] = dict.fromkeys(LAMP_SHIFTS, "off") | {"tone": False}
        shown |= {name: value for name, value in self.table["lamp"][state].items() if name != "state"}
        for number, row in enumerate(self.table["overlay"]):
            if overlay >> number & 1:
                for name, value in row["set"].items():
                    if not (row.get("keeps_blink") and shown[name] == "blink"):
                        shown[name] = value
        word = vocabulary.LAMP_TONE if shown["tone"] else 0
        for name, shift in LAMP_SHIFTS.items():
            word |= LAMP_LEVELS[shown[name]] << shift
        return word

    @property
    def text(self) -> int:
        """Index into REASONS of the reason shown, or -1: in TRIP the first cause, else the first standing."""
        if self.memory.state == vocabulary.TRIP and self.memory.first >= 0:
            first: int = self.memory.first
            return first
        for word, bits in enumerate((self.why0, self.why1, self.why2, self.why3)):
            if bits:
                return self.program.reason_index[(word, bits & -bits)]
        return -1

    @property
    def cause(self) -> tuple[int, int]:
        """First cause as one bit in two words."""
        if self.memory.first < 0:
            return 0, 0
        word, bit = reasons.RULES[self.memory.first][:2]
        return (bit, 0) if word == 0 else (0, bit)

    @property
    def store(self) -> int:
        """What the lockout memory must hold: 0 nothing, 1 armed, 3 or 4 locked."""
        level: int = self.memory.latch
        return level if level >= 3 else int(self.memory.marker)


def _copied(memory: Any) -> dict[str, Any]:
    return {name: value[:] if isinstance(value, list) else value for name, value in vars(memory).items()}


def _places(word0: int, word1: int) -> list[tuple[int, int]]:
    """The bits of two words, lowest first: the order of the hazard rows."""
    places = []
    for word, bits in ((0, word0), (1, word1)):
        while bits:
            places.append((word, bits & -bits))
            bits &= bits - 1
    return places
