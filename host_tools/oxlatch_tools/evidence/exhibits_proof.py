"""What the proof file says for this build: one function an exhibit, its sections in, words with a standing out."""

from collections.abc import Iterator
from typing import Any

from oxlatch_tools.evidence.case import Case, Item, from_file
from oxlatch_tools.evidence.proof_reading import audit_words, claim_rows, failures, figures, section_of


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
    """One section of the proof: its claims, its figures, and every failure it lists; missing when it was not run."""
    section = section_of(data, name)
    if not section:
        yield Item("MISSING", f"MISSING: {words}: not in the proof file")
        return
    rows = claim_rows(section)
    broken = [row for row in rows if not row.holds]
    has_verdict, failed = failures(section)
    shown = f"{words}: {len(rows) - len(broken)} of {len(rows)} claims hold" if rows else words
    numbers = figures(section)
    words_shown = shown + (f"; {numbers}" if numbers else "")
    if broken or failed:
        yield Item("BROKEN", words_shown)
    elif rows or has_verdict:
        yield Item("HOLDS", words_shown)
    else:
        yield Item("MISSING", f"MISSING: {words_shown}: the proof file gives no verdict")
    yield from (Item("BROKEN", f"{words}: {row.name} does not hold: {row.words}") for row in broken)
    yield from (Item("BROKEN", f"{words}: {failure}") for failure in failed)


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


def fitted_pairs(case: Case) -> list[Item]:
    """Every pair of optional inputs, fitted or not, explored."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        found = section_of(data, "fitted_pairs")
        if not found:
            yield Item("MISSING", "MISSING: every pair of optional inputs, fitted or not: not in the proof file")
            return
        broken = [str(row.get("fitted")) for row in found.get("rows", []) if row.get("problems")]
        words = (
            f"Optional inputs: {found.get('pairs', 0)} pairs of fitted and not, in {found.get('combinations', 0)} "
            f"combinations, {found.get('transitions', 0):,} transitions"
        )
        is_whole = bool(found.get("ok")) and not broken
        yield Item("HOLDS" if is_whole else "BROKEN", words + ("" if is_whole else f"; broken: {', '.join(broken)}"))

    return from_file(case, "prove", items)


def outside(case: Case) -> list[Item]:
    """A general model checker over a reduced model."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        found = section_of(data, "outside")
        if not found:
            yield Item("MISSING", "MISSING: a reduced model judged by a general model checker: not in the proof file")
            return
        is_same = bool(found.get("same")) and not found.get("broken_outside") and not found.get("differing")
        words = f"A reduced model judged by {found.get('tool')}: {found.get('states_outside', 0):,} states"
        yield Item("HOLDS" if is_same else "BROKEN", words + (", as ours" if is_same else ", NOT as ours"))
        missed = [str(bug.get("words")) for bug in found.get("bugs", []) if not bug.get("same")]
        if missed:
            yield Item("BROKEN", f"Seeded bugs found by one of the two alone: {', '.join(missed)}")

    return from_file(case, "prove", items)


def reference(case: Case) -> list[Item]:
    """The second specification in lockstep."""
    return from_file(
        case, "prove", lambda data: _argument(data, "reference", "Second specification in lockstep with the firmware")
    )


def mutants(case: Case) -> list[Item]:
    """Whether the proof notices damage."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        yield from _argument(data, "mutants", "Mutants of the firmware")
        share = float(section_of(data, "mutants").get("share", 1.0))
        if share < 1.0:
            words = f"only those of the gate and {share:.0%} of the rest were judged"
            yield Item("MISSING", f"MISSING: all mutants; {words}")

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

    def items(data: dict[str, Any]) -> Iterator[Item]:
        name = "alive" if section_of(data, "alive") else "liveness"
        yield from _argument(data, name, "Liveness: a push delivers, every state recovers, nothing swings for ever")

    return from_file(case, "prove", items)
