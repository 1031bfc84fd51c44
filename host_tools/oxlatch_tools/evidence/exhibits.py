"""What each piece of evidence says for this build: one function an exhibit, results in, words with a standing out.

Every number is taken from a result file or a kept bench result. A file that is missing, stale or does not hold
gives words that say so, never silence.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

from oxlatch_sim.campaign import FAULT_BOUNDS_MS, NO_FAULT, NORMAL_BOUNDS_MS, full_cases
from oxlatch_sim.campaign import Case as Run
from oxlatch_sim.remedies import uncovered
from oxlatch_tools.commissioning.results import Standing
from oxlatch_tools.evidence.proof_reading import audit_words, claim_rows, figures, section_of
from oxlatch_tools.evidence.result_files import Build, ResultFile
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_fitted import NotFitted, not_fitted
from oxlatch_tools.planning.start import branch_m3

State = Literal["HOLDS", "DECLARED", "NOT DONE", "MISSING", "STALE", "BROKEN"]
ORDER: tuple[State, ...] = ("HOLDS", "DECLARED", "NOT DONE", "MISSING", "STALE", "BROKEN")
"""From best to worst. DECLARED: outside a bound, and said so in the list of what is not covered."""


@dataclass(frozen=True)
class Item:
    """One piece of evidence: its standing, and words that end with where they come from."""

    state: State
    words: str

    @property
    def is_red(self) -> bool:
        """Whether it must be shown in red."""
        return self.state != "HOLDS"


@dataclass(frozen=True)
class Case:
    """Everything a pack is made from."""

    installation: Installation
    build: Build
    files: dict[str, ResultFile]
    bench: list[Standing]

    @property
    def unfitted(self) -> list[NotFitted]:
        """Optional parts that this installation does without."""
        return not_fitted(self.installation)

    @property
    def hardware(self) -> str:
        """The campaign's name for the parts fitted here, clamps as drawn."""
        missing = {part.part for part in self.unfitted}
        proof, master = "oxidizer proof" in missing, "master fuel valve" in missing
        return "none" if proof and master else "no proof" if proof else "no master fuel" if master else "recommended"

    def data(self, key: str) -> dict[str, Any]:
        """The result in a file; empty when missing."""
        return self.files[key].data

    def rows(self) -> list[dict[str, Any]]:
        """Rows of the fault campaign flown with the parts fitted here."""
        return [row for row in self.data("faults").get("rows", []) if row.get("hardware") == self.hardware]


def from_file(case: Case, key: str, items: Callable[[dict[str, Any]], Iterator[Item]]) -> list[Item]:
    """Items read from one file, each marked when the file is stale; one item when there is no file."""
    file = case.files[key]
    if file.freshness == "missing":
        return [Item("MISSING", file.why)]
    found = list(items(file.data))
    if file.freshness == "stale":
        return [Item("STALE", f"{file.why}. It said: {item.words}") for item in found]
    return found


def symbolic(case: Case) -> list[Item]:
    """The proof by induction with a solver."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        yield from _argument(data, "symbolic", "Symbolic proof, every valid settings record, unlimited time")

    return from_file(case, "prove", items)


def exhaustive(case: Case) -> list[Item]:
    """The exploration to a fixpoint."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        section = section_of(data, "exhaustive")
        if not section:
            yield Item("MISSING", "MISSING: the proof file holds no exhaustive exploration")
            return
        done = "to a fixpoint" if section.get("complete") else "NOT to a fixpoint"
        words = (
            f"Exhaustive: {section.get('states', 0):,} states and {section.get('transitions', 0):,} transitions of "
            f"the running code, {section.get('stages')} stages, {done}; digest {section.get('digest')}"
        )
        yield Item("HOLDS" if section.get("complete") else "BROKEN", words)
        yield from _claims(section, "Exhaustive")
        yield from audit_items(section)

    return from_file(case, "prove", items)


def audit_items(section: dict[str, Any]) -> Iterator[Item]:
    """The audit of the exploration's alphabet of inputs."""
    words, is_clean = audit_words(section)
    if words:
        yield Item("HOLDS" if is_clean else "BROKEN", words)


def channels(case: Case) -> list[Item]:
    """Each sense channel alone."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        rows = data.get("channels") or []
        if not rows:
            yield Item("MISSING", "MISSING: the proof file holds no sense channels")
            return
        states = sum(int(row.get("states", 0)) for row in rows)
        broken = [str(row["name"]) for row in rows if row.get("broken")]
        words = f"Sense: {len(rows)} channels explored alone to a fixpoint, {states:,} states"
        yield Item("BROKEN" if broken else "HOLDS", words + (f"; broken: {', '.join(broken)}" if broken else ""))

    return from_file(case, "prove", items)


def _argument(data: dict[str, Any], name: str, words: str) -> Iterator[Item]:
    """One section of the proof: its claims, or the figures it carries; missing when it was not run."""
    section = section_of(data, name)
    if not section:
        yield Item("MISSING", f"MISSING: {words}: not in the proof file")
        return
    rows = claim_rows(section)
    broken = [row for row in rows if not row.holds]
    shown = f"{words}: {len(rows) - len(broken)} of {len(rows)} claims hold" if rows else words
    numbers = figures(section)
    state: State = "BROKEN" if broken or section.get("ok") is False else "HOLDS"
    yield Item(state, shown + (f"; {numbers}" if numbers else ""))
    yield from (Item("BROKEN", f"{words}: {row.name} does not hold: {row.words}") for row in broken)


def _claims(section: dict[str, Any], words: str) -> Iterator[Item]:
    rows = claim_rows(section)
    broken = [row for row in rows if not row.holds]
    yield Item("BROKEN" if broken else "HOLDS", f"{words}: {len(rows) - len(broken)} of {len(rows)} claims hold")
    yield from (Item("BROKEN", f"{words}: {row.name} does not hold: {row.words}") for row in broken)


def second_opinion(case: Case) -> list[Item]:
    """The gate judged by a second tool."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        found = section_of(data, "second_opinion")
        if not found:
            yield Item("MISSING", "MISSING: the gate judged by a second tool: not in the proof file")
            return
        is_sure = bool(found.get("confirmed"))
        yield Item("HOLDS" if is_sure else "BROKEN", f"The gate, judged by a second tool: {found.get('said')}")

    return from_file(case, "prove", items)


def reference(case: Case) -> list[Item]:
    """The second specification in lockstep."""
    return from_file(
        case, "prove", lambda data: _argument(data, "reference", "Second specification in lockstep with the firmware")
    )


def mutants(case: Case) -> list[Item]:
    """Whether the proof notices damage."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        section = section_of(data, "mutants")
        if not section:
            yield Item("MISSING", "MISSING: mutants: not in the proof file")
            return
        alive = section.get("survivors") or section.get("survived") or section.get("alive") or []
        count = len(alive) if isinstance(alive, list) else int(alive)
        yield Item("BROKEN" if count else "HOLDS", f"Mutants: {figures(section)}; {count} survive unexplained")
        if isinstance(alive, list):
            yield from (Item("BROKEN", f"Mutant that nothing notices: {mutant}") for mutant in alive)

    return from_file(case, "prove", items)


def portable(case: Case) -> list[Item]:
    """Two interpreters agree on what was explored."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        section = section_of(data, "exhaustive")
        here, there = section.get("digest_cpython"), section.get("digest_micropython")
        count = int(section.get("digest_transitions") or 0)
        if not here or not there:
            yield Item(
                "MISSING", "MISSING: no MicroPython was installed where the proof ran; the two were not compared"
            )
            return
        words = f"First {count:,} transitions: digest {here} under CPython, {there} under MicroPython"
        yield Item("HOLDS" if here == there else "BROKEN", words)

    return from_file(case, "prove", items)


def witnesses(case: Case) -> list[Item]:
    """What the exploration visited, and what it did not."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        section = section_of(data, "exhaustive")
        seen = section.get("witnesses") or {}
        if not seen:
            yield Item("MISSING", "MISSING: the proof file holds no witnesses")
            return
        words = ", ".join(f"{seen[key]} {key}" for key in ("states", "transitions", "reasons", "lamps") if key in seen)
        missed, odd = section.get("unvisited") or [], section.get("unexpected") or []
        yield Item("BROKEN" if missed else "HOLDS", f"Witnessed: {words}; never: {', '.join(missed) or 'none'}")
        if odd:
            yield Item("BROKEN", f"Not foreseen: {', '.join(odd)}")

    return from_file(case, "prove", items)


def liveness(case: Case) -> list[Item]:
    """That it opens, and that every state leads back."""
    return from_file(case, "prove", lambda data: _argument(data, "liveness", "Liveness beside the invariants"))


def monitors(case: Case) -> list[Item]:
    """What the monitors saw in the scenarios."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        rows = [found for row in data.get("scenarios", []) for found in row.get("monitors", [])]
        tested = [found for found in rows if not found.get("vacuous")]
        broken = [found for found in tested if not found.get("held")]
        state: State = "BROKEN" if broken or not tested else "HOLDS"
        words = f"{len(tested) - len(broken)} of {len(tested)} invariants put to the test held"
        yield Item(state, f"Monitors over {len(data.get('scenarios', []))} scenarios: {words}")

    return from_file(case, "run", items)


def scenarios(case: Case) -> list[Item]:
    """Scenarios that came out as expected, those with flow among them."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        rows = data.get("scenarios", [])
        bad = [str(row.get("scenario")) for row in rows if row.get("problems")]
        flows = sum(1 for row in rows if row.get("got", {}).get("runs"))
        words = (
            f"{len(rows) - len(bad)} of {len(rows)} scenarios came out as expected; fuel and oxidizer ran in {flows}"
        )
        yield Item("BROKEN" if bad or not flows else "HOLDS", words + (f"; not: {', '.join(bad)}" if bad else ""))

    return from_file(case, "run", items)


def normal(case: Case) -> list[Item]:
    """Exposure at the nozzles without a fault."""

    def items(_data: dict[str, Any]) -> Iterator[Item]:
        rows = [row for row in case.rows() if row.get("fault") == NO_FAULT]
        if not rows:
            yield Item("MISSING", f"MISSING: no faultless sortie with hardware '{case.hardware}' in the campaign file")
            return
        yield from _exposure(rows, f"{len(rows)} sorties without a fault", NORMAL_BOUNDS_MS)
        yield from _part_flown(case, rows, lambda run: run.fault == NO_FAULT, "sorties without a fault")

    return from_file(case, "faults", items)


def faults(case: Case) -> list[Item]:
    """Exposure at the nozzles under single faults."""

    def items(_data: dict[str, Any]) -> Iterator[Item]:
        rows = [row for row in case.rows() if row.get("fault") != NO_FAULT]
        if not rows:
            yield Item(
                "MISSING",
                f"MISSING: no faults flown with the parts fitted here; made with oxlatch faults FILE --hardware "
                f"'{case.hardware}' --json",
            )
            return
        names = {str(row["fault"]) for row in rows}
        corners, phases = {row["corner"] for row in rows}, {row["phase"] for row in rows}
        words = f"{len(rows)} runs: faults {len(names)}, phases {len(phases)}, corners {len(corners)}"
        yield from _exposure(rows, f"{words}, hardware '{case.hardware}'", FAULT_BOUNDS_MS)
        yield from _part_flown(case, rows, lambda run: run.fault != NO_FAULT, "runs with a fault")

    return from_file(case, "faults", items)


def _part_flown(case: Case, rows: list[dict[str, Any]], counts: Callable[[Run], bool], words: str) -> Iterator[Item]:
    """What the full campaign flies with these parts and this file does not."""
    runs = [run for run in full_cases(len(case.installation.stages)) if counts(run) and run.hardware == case.hardware]
    if len(rows) < len(runs):
        yield Item("MISSING", f"MISSING: {len(runs) - len(rows):,} of the {len(runs):,} {words} of the full campaign")


def _exposure(rows: list[dict[str, Any]], words: str, bounds: tuple[float, float]) -> Iterator[Item]:
    for letter, key, within, bound in (
        ("F", "fuel_only_ms", "within", bounds[0]),
        ("O", "oxidizer_only_ms", "oxidizer_within", bounds[1]),
    ):
        over = [row for row in rows if not row[within]]
        open_ones = sorted({str(row["fault"]) for row in over if uncovered(str(row["fault"]), letter) is None})
        declared = sorted({str(row["fault"]) for row in over if uncovered(str(row["fault"]), letter) is not None})
        most = max((float(row[key]) for row in rows if row[within]), default=0.0)
        text = f"{words}: {letter} alone at most {most:.1f} ms in the {len(rows) - len(over)} runs within {bound:g} ms"
        yield Item("HOLDS", text)
        if declared:
            worst = max(float(row[key]) for row in over)
            yield Item(
                "DECLARED",
                f"NOT COVERED, {letter} alone over {bound:g} ms, up to {worst:.0f} ms: {', '.join(declared)}; "
                "why, and what would cover it, stands in part 8",
            )
        if open_ones:
            yield Item("BROKEN", f"{letter} alone over {bound:g} ms and declared nowhere: {', '.join(open_ones)}")


def plan(case: Case) -> list[Item]:
    """Limits of the plan."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        is_within = bool(data.get("within_limits"))
        gaps = data.get("not_measured") or []
        yield Item("HOLDS" if is_within else "BROKEN", "Plan: no limit exceeded" if is_within else "Plan: over a limit")
        if gaps:
            yield Item("MISSING", f"MISSING from the installation file: {'; '.join(gaps)}")

    return from_file(case, "plan", items)


def cards(case: Case) -> list[Item]:
    """Cards printed for this installation."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        rows = data.get("cards", [])
        yield Item("HOLDS" if rows else "MISSING", f"{len(rows)} cards printed; their digests stand in part 10")
        if data.get("draft"):
            yield Item("NOT DONE", "NOT DONE: the cards are drafts")

    return from_file(case, "cards", items)


def certificate(case: Case) -> list[Item]:
    """What is on the board."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        file = case.files["flash"]
        words = f"Board {data.get('board')}: firmware {file.firmware}, settings {data.get('settings')}, read back"
        yield Item("HOLDS" if file.holds else "BROKEN", "; ".join([words, *file.problems]))
        line = str(data.get("proof_line") or "NOT PROVED: the certificate names no proof")
        yield Item("HOLDS" if data.get("proof") else "BROKEN", line)

    return from_file(case, "flash", items)


def ticks(case: Case) -> list[Item]:
    """Time of a tick, where it was measured."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        where = str(data.get("measured_on") or "not stated where")
        yield Item("HOLDS" if case.files["ticks"].holds else "BROKEN", f"Tick, measured on {where}: {figures(data)}")
        if not data.get("is_board"):
            yield Item("MISSING", "MISSING: times measured on the board itself; the above is another computer")

    return from_file(case, "ticks", items)


def residual(case: Case) -> list[Item]:
    """What the branches hold, computed from the file."""
    volumes = [
        1e6 * branch_m3(stage.fuel_branch_bore, stage.fuel_branch_length, stage.nozzles)
        for stage in case.installation.stages
    ]
    words = ", ".join(f"stage {number} {volume:.1f} mL" for number, volume in enumerate(volumes, start=1))
    return [Item("HOLDS", f"All F branches of a stage hold: {words} (computed from bores and lengths of the file)")]


EXHIBITS: dict[str, Callable[[Case], list[Item]]] = {
    made.__name__: made
    for made in (
        symbolic, exhaustive, channels, second_opinion, reference, mutants, portable, witnesses, liveness,
        monitors, scenarios, normal, faults, plan, cards, certificate, ticks, residual,
    )
}  # fmt: skip
