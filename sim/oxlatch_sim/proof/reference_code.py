"""Source of the functions that judge one tick, made from the cause-and-effect table, one per state.

Each generated function works on `v` (verdicts), `m` (memory), `h` (hits per row) and `r` (the reference
itself, for the few things that are done rather than judged). Rows that settings and state rule out leave no
trace in the source.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from oxlatch import vocabulary
from oxlatch.settings import Settings
from oxlatch_sim.proof.reference_table import (
    CONSTANTS,
    WHEN,
    Resolver,
    is_false,
    reason_place,
)

STATES = vocabulary.STATE_NAMES
NO_ROW = -1
CORRUPT_STATE = len(STATES)  # judged as no state at all: only causes that always apply


def row_names(table: Mapping[str, Any]) -> list[str]:
    """A name for every row that can be hit, in the order in which hits are counted."""
    names = []
    for kind in ("push", "rule", "cause", "refusal", "wait", "note", "transition", "stage", "output"):
        for row in table[kind]:
            names.append(f"{kind}: {row.get('id') or row.get('reason') or row.get('name')}")
    names += [f"interlock holds: {row['output']} - {row['condition']}" for row in table["interlock"]]
    names += [f"interlock refuses: {row['output']} - {row['condition']}" for row in table["interlock"]]
    names += [f"effect: {row['class']}" for row in table["effect"]]
    names += [f"lamp: {row['state']}" for row in table["lamp"]]
    names += [f"overlay: {row['id']}" for row in table["overlay"]]
    return names


class Generator:
    """Writes the source for one table and one settings record."""

    def __init__(self, table: Mapping[str, Any], settings: Settings) -> None:
        self.table = table
        self.settings = settings
        self.resolver = Resolver(table, settings)
        self.index = {name: number for number, name in enumerate(row_names(table))}

    def test(self, text: str, state: int, **places: str | int) -> str:
        return self.resolver.source(text, {"state": state, **places})

    def hit(self, kind: str, name: str) -> str:
        return f"h[{self.index[f'{kind}: {name}']}] += 1"

    def corrupt_row(self) -> int:
        """The transition that fires when the state word is out of range."""
        return [row["id"] for row in self.table["transition"]].index("corrupt")

    # --- what comes before the causes: counters, push, purge, timers

    def _counters(self) -> list[str]:
        lines = [
            "m.now += 1",
            "m.age += 1",
            "m.push_age += 1",
            "m.line_good_before = m.line_good_for",
            "m.fuel_before = m.fuel_for",
            "m.vented_before = m.vented",
        ]
        for row in self.table["counter"]:
            name = row["name"]
            lines.append(f"m.{name} = m.{name} + 1 if {self.test(row['test'], 0)} else 0")
        lines += [
            "if v.sel == m.sel_before: m.still_for += 1",
            "else: m.still_for = 0; m.sel_before = v.sel",
            "if m.hold_off: m.hold_off -= 1",
            "if m.starts: m.starts -= 1",
            "if m.fuel_wait >= 0: m.fuel_wait += 1",
        ]
        return lines

    def _state_timers(self, state: int) -> list[str]:
        if state in (vocabulary.REST, vocabulary.HELD):
            return ["m.arm_age = -1"]
        lines = ["if m.arm_age >= 0: m.arm_age += 1"]
        if state in (vocabulary.LEAD_IN, vocabulary.RUN):
            lines.append("if m.fuel: m.fuel_for += 1")
        if state == vocabulary.RUN_DOWN:
            released = self.test("master == 0 or contact_released", state)
            lines.append(f"if m.pending: m.pending_age += 1; m.let_go = int({released})")
        return lines

    def _push(self, state: int) -> list[str]:
        lines: list[str] = []
        word = "if"
        for row in self.table["push"]:
            test = self.test(row["test"], state)
            if is_false(test):
                continue
            allowed = [CONSTANTS[name] for name in row["from"]]
            source = f"m.push == {allowed[0]}" if len(allowed) == 1 else f"m.push in {tuple(allowed)}"
            lines.append(f"{word} {source} and ({test}):")
            word = "elif"
            lines.append(f"    {self.hit('push', row['id'])}")
            lines.append(f"    m.push = {CONSTANTS[row['to']]}")
            if row["to"] == "PUSH_READY":
                lines.append("    m.refused = 0")
            if row["to"] == "PUSH_JUDGED":
                lines.append("    m.push_age = 0")
        return lines

    def _rules(self, state: int, after_causes: bool = False) -> list[str]:
        lines: list[str] = []
        for row in self.table["rule"]:
            if row.get("after_causes", False) != after_causes or (state == CORRUPT_STATE and not row.get("always")):
                continue
            test = self.test(row["test"], state)
            if is_false(test):
                continue
            lines.append(f"if {test}:")
            lines.append(f"    {self.hit('rule', row['id'])}")
            if "count_down" in row:
                lines.append(f"    m.{row['count_down']} -= 1")
            for name, value in row.get("set", {}).items():
                lines.append(f"    m.{name} = {self.test(str(value), state)}")
        return lines

    def _overdue(self, state: int) -> list[str]:
        lines = ["m.overdue = 0", "m.opening = m.latched & m.ox & ~m.fuel"]
        for row in self.table["stage"]:
            if row["does"] != "overdue":
                continue
            for number in range(self.settings.stages):
                test = self._stage_test(row["test"], state, number)
                if state == vocabulary.LEAD_IN and not is_false(test):
                    lines.append(f"if {test}: m.overdue |= {1 << number}; {self.hit('stage', row['id'])}")
        return lines

    def _stage_test(self, text: str, state: int, number: int) -> str:
        places: dict[str, str | int] = {
            "state": state,
            "this": 1 << number,
            "ox_age": f"(m.now - m.ox_at[{number}])",
            "tail": f"(m.now - m.tail_at[{number}])",
        }
        return self.resolver.source(text, places)

    # --- reasons

    def _causes(self, state: int) -> list[str]:
        lines = ["w0 = w1 = u0 = s0 = s1 = 0"]
        for row in self.table["cause"]:
            word, bit = reason_place(row["reason"])
            applies = f"({WHEN[row['when']]}) and ({row['test']})"
            test = self.test(applies, state, no_other="w0 | w1 | u0 == 0")
            name = "u" if row.get("classify") and not self.resolver.constant("on_bench", {"state": state}) else "w"
            if row["when"] == "found" and state != vocabulary.WAKE:
                name = "s"  # shown, but a latch may open all the same
            if not is_false(test):
                lines.append(f"if {test}: {name}{word} |= {bit}; {self.hit('cause', row['reason'])}")
        lines.append("m.unclassified = 1 if u0 else 0")
        if state == vocabulary.RUN_DOWN:
            settled = f"m.pending and m.pending_age >= {self.settings.classify_ticks}"
            stronger = [f"w{word} & ~m.held{word} & {~self._fuel_first(word)}" for word in (0, 1)]
            lines.append(f"if {settled} and not ({' or '.join(stronger)}): s0 = m.pending0")
        return lines

    def _fuel_first(self, word: int) -> int:
        """The causes of a word that ask for no more than a run-down."""
        places = [reason_place(row["reason"]) for row in self.table["cause"] if row["class"] == "FUEL-FIRST"]
        return sum({bit for place, bit in places if place == word})

    def _words(self, rows: Sequence[Mapping[str, Any]], kind: str, state: int) -> list[str]:
        lines: list[str] = []
        for row in rows:
            word, bit = reason_place(row["reason"])
            test = self.test(row["test"], state, other_waits="m.other_waits")
            if row["reason"] == "SETTLING":
                lines.append("m.other_waits = w2 | w3")  # no note is in the third word yet
            if not is_false(test):
                lines.append(f"if {test}: w{word} |= {bit}; {self.hit(kind, row['reason'])}")
        return lines

    def _waits(self, state: int) -> list[str]:
        if self.resolver.constant("guarded", {"state": state}):
            return self._words(self.table["wait"], "wait", state)
        rows = [row for row in self.table["wait"] if row.get("anywhere")]
        return ["m.other_waits = 0", *self._words(rows, "wait", state)]

    # --- transitions

    def _guards(self, state: int, after_stages: bool) -> list[str]:
        lines: list[str] = []
        for number, row in enumerate(self.table["transition"]):
            if STATES[state] not in row["from"] or row.get("after_stages", False) != after_stages:
                continue
            test = self.test(row["guard"], state)
            if is_false(test):
                continue
            lines.append(f"if {test}:")
            lines.append(f"    {self.hit('transition', row['id'])}")
            lines.append(f"    return {number}")
        lines.append(f"return {NO_ROW}")
        return lines

    def judge(self, state: int) -> str:
        """Source of `judge(v, m, h, r)`: everything up to the row of the transition that fires, or NO_ROW."""
        body = self._counters()
        body += self._state_timers(state) + self._push(state)
        body += self._rules(state)
        if state != CORRUPT_STATE:
            body += self._overdue(state)
        body += self._causes(state)
        body += [
            "if w0 or w1 or m.pending: r.record(w0, w1, u0)",
            "else: m.strongest = m.fault = 0",
            "w2 = w3 = 0",
        ]
        body += self._rules(state, after_causes=True)
        if state == CORRUPT_STATE:
            body += self._words(self.table["note"], "note", state)
            body += ["r.why0 = w0; r.why1 = w1; r.why2 = 0; r.why3 = w3"]
            body += [self.hit("transition", "corrupt"), f"return {self.corrupt_row()}"]
        else:
            body += self._waits(state) + self._words(self.table["note"], "note", state)
            body.append("r.why0 = w0 | u0 | s0; r.why1 = w1 | s1; r.why2 = w2; r.why3 = w3")
            if state in (vocabulary.WAITING, vocabulary.GAP):
                body.append("m.calm_for = m.calm_for + 1 if m.other_waits == 0 else 0")
            body += self._guards(state, after_stages=False)
        return function("judge", "v, m, h, r", body)

    def after(self, state: int) -> str:
        """Source of `after(v, m, h, r)`: the transitions judged once the stages have moved."""
        return function("after", "v, m, h, r", self._guards(state, after_stages=True))

    def stages(self, state: int) -> str:
        """Source of `stages(v, m, h)`: one pass over the stages in a state in which something may flow."""
        body: list[str] = []
        for number in range(self.settings.stages):
            for row in self.table["stage"]:
                test = self._stage_test(row["test"], state, number)
                if row["does"] == "overdue" or is_false(test):
                    continue
                body.append(f"if {test}:")
                body.append(f"    {self.hit('stage', row['id'])}")
                body += [f"    {line}" for line in _STAGE_ACTIONS[row["does"]](number)]
        return function("stages", "v, m, h", body or ["pass"])

    def outputs(self, state: int) -> str:
        """Source of `outputs(v, m, h)`: the bits asked for beside the stages."""
        bits = {
            "run": vocabulary.OUT_RUN,
            "master_fuel": vocabulary.OUT_MASTER_FUEL,
            "purge": vocabulary.OUT_PURGE,
            "master_ox": vocabulary.OUT_MASTER_OX,
        }
        body = ["bits = 0"]
        for row in self.table["output"]:
            test = self.test(row["test"], state)
            if not is_false(test):
                body.append(f"if {test}: bits |= {bits[row['name']]}; {self.hit('output', row['name'])}")
        body.append("return bits")
        return function("outputs", "v, m, h", body)

    def overlays(self, state: int) -> str:
        """Source of `overlays(v, m, telling, ending)`: one bit per lamp overlay that applies."""
        body = ["word = 0"]
        for number, row in enumerate(self.table["overlay"]):
            test = self.test(row["test"], state, telling="telling", ending="ending")
            if not is_false(test):
                body.append(f"if {test}: word |= {1 << number}")
        return function("overlays", "v, m, telling, ending", [*body, "return word"])


def _drop(number: int) -> Sequence[str]:
    this = 1 << number
    return [
        f"m.latched &= {~this}; m.tail_at[{number}] = m.now",
        f"if m.fuel & {this}: m.fuel &= {~this}",
        f"elif m.ox & {this}: m.ox &= {~this}; m.fuel_wait = 1",
    ]


_STAGE_ACTIONS: Mapping[str, Callable[[int], Sequence[str]]] = {
    "drop": _drop,
    "leave_out": lambda number: [f"m.latched &= {~(1 << number)}"],
    "close_ox": lambda number: [f"m.ox &= {~(1 << number)}"],
    "open_fuel": lambda number: [f"m.fuel |= {1 << number}; m.fuel_wait = 0"],
    "open_ox": lambda number: [f"m.ox |= {1 << number}; m.ox_at[{number}] = m.now"],
    "open_on_bench": lambda number: [f"m.ox |= {1 << number}; m.ox_at[{number}] = m.now; m.fuel_wait = 0"],
}


def function(name: str, parameters: str, body: Sequence[str]) -> str:
    """Source of one function."""
    return "\n".join([f"def {name}({parameters}):", *(f"    {line}" for line in body)])


def compiled(source: str, name: str) -> Callable[..., Any]:
    """The function that the source defines."""
    space: dict[str, Any] = {}
    exec(compile(source, f"<{name} of the reference table>", "exec"), space)
    made: Callable[..., Any] = space[name]
    return made
