"""Counterexamples of the gate alone, asked by an arbitrary sequencer, when one line of it is gone."""

from dataclasses import dataclass
from pathlib import Path

from oxlatch_sim.proof.mutant_source import applied
from oxlatch_sim.proof.symbolic import system_of
from oxlatch_sim.proof.symbolic_prove import prove
from oxlatch_sim.proof.symbolic_words import describe, record
from oxlatch_sim.proof.translate_source import NotInSubset
from oxlatch_sim.proof.what_if import candidates


@dataclass
class Example:
    """One broken claim of the gate, told in words, and its recording."""

    claim: str
    words: str
    steps: list[str]
    recording: str


def gate_examples(place: str, out_dir: Path, left: str = "") -> list[Example]:
    """Every claim of the gate that breaks without the line, with the tick that breaks it; [] for other files.

    `left` says what is left of the line, where it can be taken out in several ways.
    """
    mutant = next(one for one in candidates(place) if left in ("", one.after))
    if mutant.module != "gate":
        return []
    found = []
    system = system_of("gate")
    with applied(mutant.module, mutant.text):
        try:
            outcomes = prove(system)
        except NotInSubset:  # a name that is set nowhere else: the tick does not even run
            return []
        for outcome in outcomes:
            example = outcome.counterexample
            if outcome.proved or example is None:
                continue
            name = "".join(part if part.isalnum() else "-" for part in outcome.claim.name)
            path = record(system, outcome.claim, example).save(out_dir / f"what-if-{name}.jsonl")
            steps = describe(system, outcome.claim, example)
            found.append(Example(outcome.claim.name, outcome.claim.words, steps, str(path)))
    return found
