"""The case argued: every claim with its evidence and where it stands; every invariant with what shows it."""

from dataclasses import dataclass

from oxlatch_sim.invariants import MONITORS, NOT_MONITORED
from oxlatch_tools.commissioning.programme_inputs import INPUT_STEPS
from oxlatch_tools.commissioning.results import Standing
from oxlatch_tools.evidence.case import ORDER, Case, Item, State
from oxlatch_tools.evidence.claims import CLAIMS, Claim
from oxlatch_tools.evidence.exhibits import EXHIBITS
from oxlatch_tools.evidence.proof_reading import assumptions_of, is_broken, methods_of
from oxlatch_tools.installation_fitted import NotFitted

BENCH_STATES: dict[str, State] = {
    "passed": "HOLDS",
    "failed": "BROKEN",
    "not done": "NOT DONE",
    "re-opened": "STALE",
    "open": "MISSING",
    "waits": "MISSING",
}
IN_WORDS: dict[State, str] = {
    "HOLDS": "supported by everything listed",
    "DECLARED": "supported, but for what is declared as not covered",
    "NOT DONE": "NOT SHOWN: a test was left out",
    "MISSING": "NOT SHOWN: evidence is missing",
    "STALE": "NOT SHOWN: evidence is of another build",
    "BROKEN": "DOES NOT HOLD",
}
INVARIANT_WORDS = {kind.id: kind.words for kind in MONITORS} | {
    "I14": "logging, serial and the host delay no tick by more than 1 ms",
    "I17": "without the inject strap no serial frame changes a raw sample",
}
RESTS_ON_PARTS = {
    "I1": ("oxidizer proof",),
    "I2": ("oxidizer proof", "master fuel valve", "contact second pole", "throttle position"),
    "I11": ("contact second pole", "throttle position"),
    "I13": ("lockout memory",),
}
"""Optional parts whose absence leaves an invariant true of the commands but weaker in what it means."""


@dataclass(frozen=True)
class Argued:
    """One claim, its evidence, and the parts whose absence weakens it here."""

    claim: Claim
    items: tuple[Item, ...]
    lost: tuple[NotFitted, ...]

    @property
    def state(self) -> State:
        """The worst of its evidence."""
        return worst([item.state for item in self.items])

    @property
    def in_words(self) -> str:
        """Its standing in words; weaker when a part is not fitted."""
        words = IN_WORDS[self.state]
        return f"{words}; WEAKER: not fitted {', '.join(part.part for part in self.lost)}" if self.lost else words

    @property
    def is_red(self) -> bool:
        """Whether anything but support is said of it."""
        return self.state != "HOLDS" or bool(self.lost)


@dataclass(frozen=True)
class InvariantRow:
    """One invariant: what shows it, what watched it, what it takes for granted."""

    id: str
    words: str
    shown_by: Item
    watched: Item
    assumes: tuple[str, ...]


def worst(states: list[State]) -> State:
    """The worst of some states; nothing at all is missing evidence."""
    return max(states, key=ORDER.index) if states else "MISSING"


def argue(case: Case) -> list[Argued]:
    """Every claim in order."""
    return [argue_claim(case, claim) for claim in CLAIMS]


def argue_claim(case: Case, claim: Claim) -> Argued:
    """One claim with its evidence."""
    items: list[Item] = []
    for name in claim.evidence:
        kind, _, rest = name.partition(":")
        if kind == "bench":
            items += bench_items(case, rest)
        elif name == "bench_inputs":
            items += input_items(case)
        else:
            items += EXHIBITS[name](case)
    lost = tuple(part for part in case.unfitted if part.part in claim.weakened_by)
    return Argued(claim, tuple(dict.fromkeys(items)), lost)


def bench_items(case: Case, name: str) -> list[Item]:
    """Where the named steps of the commissioning programme stand."""
    step, _, measure = name.partition(":")
    chosen = [
        standing
        for standing in case.bench
        if standing.step.key == step or (step.endswith("*") and standing.step.key.startswith(step[:-1]))
    ]
    if not chosen:
        return [Item("MISSING", f"MISSING: no step {step} in the programme of this installation")]
    return [Item(BENCH_STATES[one.status], bench_words(one, measure)) for one in chosen]


def input_items(case: Case) -> list[Item]:
    """Where the steps stand of the inputs that this installation could do without and has."""
    chosen = [one for one in case.bench if one.step.key in INPUT_STEPS]
    found = [Item(BENCH_STATES[one.status], bench_words(one)) for one in chosen]
    return found or [Item("HOLDS", "No input beyond the core that has a step of its own is fitted")]


def bench_words(standing: Standing, measure: str = "") -> str:
    """One bench result in words, its numbers and who measured them."""
    title = f"Bench, {standing.step.title}"
    marks = {"open": "MISSING", "waits": "MISSING", "re-opened": "STALE", "failed": "FAILED", "not done": "NOT DONE"}
    mark = marks.get(standing.status, "")
    if standing.result is None or standing.status in ("not done", "re-opened"):
        why = "no result is kept" if standing.result is None else standing.why
        wanted = [one for one in standing.step.measures if one.key == measure]
        what = f" ({wanted[0].words})" if wanted else ""
        return f"{mark}: {title}{what}: {why}"
    numbers = [
        f"{one.words} {standing.result.values[one.key]:g}{' ' + one.unit if one.unit else ''}, allowed {one.allowed}"
        for one in standing.step.measures
        if one.key in standing.result.values and measure in ("", one.key)
    ]
    head = f"{mark}: {title}" if mark else title
    return f"{head}: {'; '.join(numbers)} ({standing.result.date}, {standing.result.by})"


def invariant_rows(case: Case) -> list[InvariantRow]:
    """I1 to I17 in order."""
    return [invariant_row(case, f"I{number}") for number in range(1, 18)]


def invariant_row(case: Case, name: str) -> InvariantRow:
    """One invariant."""
    file, data = case.files["prove"], case.data("prove")
    methods = methods_of(data, name)
    if is_broken(data, name):
        shown = Item("BROKEN", "DOES NOT HOLD: broken in the proof file")
    elif methods:
        shown = Item("HOLDS", ", ".join(methods))
    else:
        why = file.why.split(";")[0] if file.freshness == "missing" else "MISSING: no method of the proof file names it"
        shown = Item("MISSING", why)
    if file.freshness == "stale":
        shown = Item("STALE", f"STALE (firmware {file.firmware}): {shown.words}")
    parts = [part.part for part in case.unfitted if part.part in RESTS_ON_PARTS.get(name, ())]
    assumes = assumptions_of(data, name) + [f"WEAKER: not fitted {part}" for part in parts]
    return InvariantRow(name, INVARIANT_WORDS[name], shown, watched(case, name), tuple(assumes))


def watched(case: Case, name: str) -> Item:
    """What the monitor of one invariant saw over the scenarios."""
    if name in NOT_MONITORED:
        return Item("DECLARED", f"not visible in a recording: {NOT_MONITORED[name]}")
    file = case.files["run"]
    if file.freshness == "missing":
        return Item("MISSING", file.why.split(";")[0])
    rows = [one for row in file.data.get("scenarios", []) for one in row.get("monitors", []) if one.get("id") == name]
    tested = [one for one in rows if not one.get("vacuous")]
    held = sum(bool(one.get("held")) for one in tested)
    words = f"held in {held} of {len(tested)} scenarios that put it to the test"
    if file.freshness == "stale":
        return Item("STALE", f"STALE: {words}")
    return Item(
        "BROKEN" if held < len(tested) else "HOLDS" if tested else "MISSING",
        words if tested else "MISSING: no scenario put it to the test",
    )


def not_current(case: Case) -> list[str]:
    """Everything that was made for another build, in words: the list that a pack is refused with."""
    found = [
        f"{file.kind.file}: {file.why.removeprefix('STALE: ')}"
        for file in case.files.values()
        if file.freshness == "stale"
    ]
    found += [f"bench result {one.step.key}: {one.why}" for one in case.bench if one.status == "re-opened"]
    return found
