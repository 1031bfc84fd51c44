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
from oxlatch_sim.proof.reference_code import CORRUPT_STATE, STATES, Generator, compiled, function, row_names
from oxlatch_sim.proof.reference_gate import Interlock
from oxlatch_sim.proof.reference_table import CONSTANTS, load_table, reason_place

FLOW_STATES = (vocabulary.LEAD_IN, vocabulary.RUN, vocabulary.RUN_DOWN)
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
        self.ox_at = [0] * vocabulary.STAGES_MAX
        self.tail_at = [0] * vocabulary.STAGES_MAX
        self.first = -1  # index into REASONS of the first cause, or -1
        self.marker = 0  # 1 between arming and an orderly disarm

    def __getattr__(self, name: str) -> int:  # for type checkers: every field is a number set above
        raise AttributeError(name)


class Reference:
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
        self._read_causes()
        self._compile()
        self._machine = self._make_machine()

    # --- preparation

    def _read_causes(self) -> None:
        self._class: dict[tuple[int, int], int] = {}
        self._latch: dict[tuple[int, int], int] = {}
        self._also: dict[tuple[int, int], tuple[str, ...]] = {}
        self._classify = 0
        for row in self.table["cause"]:
            place = reason_place(row["reason"])
            self._class[place] = CONSTANTS[row["class"].replace("-", "_")]
            self._latch[place] = row["latch"]
            self._also[place] = tuple(row.get("also", ()))
            if row.get("classify"):
                self._classify |= place[1]
        self._reason_index = {(row[0], row[1]): n for n, row in enumerate(reasons.REASONS)}
        told = (reason_place(row["reason"])[1] for row in self.table["note"] if row["tell"])
        self._tell_mask = sum(told)

    def _compile(self) -> None:
        generator = Generator(self.table, self.settings)
        states = range(len(STATES))
        self._judge = [compiled(generator.judge(n), "judge") for n in (*states, CORRUPT_STATE)]
        self._after = compiled(generator.after(vocabulary.LEAD_IN), "after")
        self._stages = {n: compiled(generator.stages(n), "stages") for n in FLOW_STATES}
        self._outputs = [compiled(generator.outputs(n), "outputs") for n in states]
        self._overlays = [compiled(generator.overlays(n), "overlays") for n in states]
        self._gone = compiled(generator.gone(), "gone")
        ids = [row["id"] for row in self.table["transition"]]
        self.corrupt_row = ids.index("corrupt")
        index = generator.index
        self._effect_hits = [index[f"effect: {name}"] for name in vocabulary.CLASS_NAMES]
        self._lamp_hits = [index[f"lamp: {name}"] for name in STATES]
        self._overlay_hits = [index[f"overlay: {row['id']}"] for row in self.table["overlay"]]
        self._refusals = [
            (
                reason_place(row["reason"])[1],
                index[f"refusal: {row['reason']}"],
                compiled(
                    function("refused", "v, m", [f"return {generator.test(row['test'], vocabulary.READY)}"]),
                    "refused",
                ),
            )
            for row in self.table["refusal"]
        ]
        self._lamp_words: dict[tuple[int, int], int] = {}

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

    def tick(self, v: Any) -> str:
        """Judge one tick of verdicts; return the name of the state after it."""
        m, h = self.memory, self.hits
        self.verdicts = v
        row = self._judge[CORRUPT_STATE if m.corrupt else m.state](v, m, h, self)
        if row >= 0:
            self._fire(row)
        if m.state in self._stages:
            self._stages[m.state](v, m, h)
            if m.state == vocabulary.LEAD_IN:
                row = self._after(v, m, h, self)
                if row >= 0:
                    self._fire(row)
        self.ask_ox, self.ask_fuel = m.ox, m.fuel
        self.ask_bits = self._outputs[m.state](v, m, h)
        interlock = self.interlock
        interlock.step(v, m.ox, m.fuel, self.ask_bits)
        self.ox, self.fuel, self.bits = interlock.ox, interlock.fuel, interlock.bits
        if self.why2:
            h[self._effect_hits[vocabulary.REFUSE]] += 1
        if self.why3:
            h[self._effect_hits[vocabulary.TELL]] += 1
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
        if state != vocabulary.WAITING:
            m.calm_for = 0
        if state in (vocabulary.REST, vocabulary.HELD):
            m.marker = m.off_in_rest = 0
        if state not in FLOW_STATES:
            m.ox = m.fuel = m.latched = m.pending = m.overdue = 0

    def record(self, word0: int, word1: int) -> None:
        """Record the causes standing in this tick; the strongest class acts, the highest latch holds."""
        m = self.memory
        if m.pending and m.pending_age >= self.settings.classify_ticks:
            if not m.let_go:
                word0 |= m.pending0
            m.pending = 0
        m.strongest = 0
        m.fault = int(word0 != 0 or word1 != 0)
        if m.state == vocabulary.WAKE and m.age <= 1:
            return
        for place in _places(word0, word1):
            m.strongest = max(m.strongest, self._class[place])
            held = m.held0 if place[0] == 0 else m.held1
            if held & place[1]:
                continue
            self.hits[self._effect_hits[self._class[place]]] += 1
            self._hold(place)

    def _hold(self, place: tuple[int, int]) -> None:
        m = self.memory
        if not (m.held0 or m.held1):
            m.first = self._reason_index[place]
        if place[0] == 0:
            m.held0 |= place[1]
        else:
            m.held1 |= place[1]
        m.latch = max(m.latch, self._latch[place])
        for name in self._also[place]:
            if name == "void":
                m.purge_ok = m.confirm_left = 0
            elif name == "hold_off":
                m.hold_off = self.settings.hold_off_ticks
            else:
                setattr(m, name, 1)

    def causes_gone(self, v: Any) -> bool:
        """Whether no cause stands and the test of every recorded one holds."""
        m = self.memory
        return not m.fault and bool(self._gone(v, m))

    # --- actions the table names

    def begin_run_down(self) -> None:
        """Fuel off; oxidizer keeps its tail where fuel was on and goes at once where it was not."""
        m = self.memory
        opening = m.latched & m.ox & ~m.fuel
        for number in range(self.settings.stages):
            if m.fuel >> number & 1:
                m.tail_at[number] = m.now
        m.ox &= ~opening
        m.fuel = m.latched = 0
        m.stopped = 0

    def credit_run(self) -> None:
        """The flow ends: a long one renews a purge that is still valid; one that grew too old meanwhile stays void."""
        m, c = self.memory, self.settings
        if m.state != vocabulary.RUN_DOWN and m.purge_ok and m.fuel_for >= c.long_run_ticks:
            m.purge_left = c.purge_after_run_ticks

    def stop_all(self) -> None:
        """Every stage command off, no tail."""
        m = self.memory
        m.ox = m.fuel = m.latched = 0
        m.stopped = 1

    def begin_classifying(self) -> None:
        """Outputs have stopped; why is settled classify_ticks later."""
        m, v = self.memory, self.verdicts
        m.pending, m.pending_age = 1, 0
        m.pending0 = self.why0 & self._classify & ~m.held0
        m.let_go = int(v.master == 0 or v.contact != vocabulary.CONTACT_CLOSED)

    def start_arm_time(self) -> None:
        """Arming: the arm time starts, the marker of an armed controller is set."""
        self.memory.arm_age = self.memory.disarmed = 0
        self.memory.marker = int(self.settings.fitted & vocabulary.FIT_LOCKOUT_MEMORY == 0)

    def begin_purge(self) -> None:
        """The purge valve opens; nothing has spoilt this purge yet."""
        self.memory.purge_clean = 1
        self.memory.purge_dead = 0

    def judge_purge(self) -> None:
        """A purge that was long, good at its end and clean now waits for its confirmation."""
        m, c = self.memory, self.settings
        if m.age >= c.purge_ticks and m.line_good_for >= c.purge_good_ticks and m.purge_clean:
            m.confirm_left = c.purge_confirm_ticks

    def spend_press(self) -> None:
        """The press held now cannot begin another purge."""
        self.memory.press_spent = int(self.verdicts.purge != 0)

    def remember_dead_purge(self) -> None:
        """The purge coil carried no current: said until the next press."""
        self.memory.purge_dead = 1

    def refuse_push(self) -> None:
        """The push is spent; every guard that was false is told."""
        m, v = self.memory, self.verdicts
        m.push = vocabulary.PUSH_SPENT
        for bit, index, test in self._refusals:
            if test(v, m):
                m.refused |= bit
                self.hits[index] += 1

    def latch_selection(self) -> None:
        """The push is used: the selected stages are those of this flow."""
        m = self.memory
        m.latched = self.verdicts.sel & ((1 << self.settings.stages) - 1)
        m.push = vocabulary.PUSH_SPENT
        m.fuel_wait = -1
        m.fuel_for = 0

    def count_start(self) -> None:
        """A start costs; too many in a short time hold off the next."""
        m, c = self.memory, self.settings
        m.starts += c.start_cost_ticks
        if m.starts > c.start_limit_ticks:
            m.hold_off = c.hold_off_ticks

    def forget(self) -> None:
        """The latch opens: recorded causes are cleared."""
        m = self.memory
        m.held0 = m.held1 = m.latch = 0
        m.first = -1

    def forget_repeats(self) -> None:
        """A sign-off: what would make the next event a repeated one is cleared as well."""
        m = self.memory
        m.not_proved_seen = m.stuck_seen = m.stall_seen = 0

    def count_good_start(self) -> None:
        """Every latched stage has opened: a failed proof before this one no longer counts."""
        self.memory.not_proved_seen = 0

    # --- what is shown and stored

    def _lamp_word(self, v: Any, m: Any) -> int:
        overlay = self._overlays[m.state](v, m, self.why3 & self._tell_mask != 0)
        key = (m.state, overlay)
        self.hits[self._lamp_hits[m.state]] += 1
        if overlay:
            for number, index in enumerate(self._overlay_hits):
                if overlay >> number & 1:
                    self.hits[index] += 1
        word = self._lamp_words.get(key)
        if word is None:
            word = self._lamp_words[key] = self._make_lamp_word(*key)
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
                return self._reason_index[(word, bits & -bits)]
        return -1

    @property
    def cause(self) -> tuple[int, int]:
        """First cause as one bit in two words."""
        if self.memory.first < 0:
            return 0, 0
        word, bit = reasons.REASONS[self.memory.first][:2]
        return (bit, 0) if word == 0 else (0, bit)

    @property
    def store(self) -> int:
        """What the lockout memory must hold: 0 nothing, 1 armed, 3 or 4 locked."""
        level: int = self.memory.latch
        return level if level >= 3 else int(self.memory.marker)


def _places(word0: int, word1: int) -> list[tuple[int, int]]:
    """The bits of two words, lowest first: the order of the hazard rows."""
    places = []
    for word, bits in ((0, word0), (1, word1)):
        while bits:
            places.append((word, bits & -bits))
            bits &= bits - 1
    return places
