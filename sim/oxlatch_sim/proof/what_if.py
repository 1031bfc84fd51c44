"""What becomes possible when one line of the controller is gone: the shortest recording that breaks a claim.

The line's statement, or its part of a condition, is taken out of the running code; the exploration then looks for
the nearest broken claim. A line that another layer backs breaks none, and then the answer says which argument
notices its absence all the same.
"""

from dataclasses import dataclass, field

from oxlatch_sim.proof.explore import explore
from oxlatch_sim.proof.explore_claims import CLAIMS
from oxlatch_sim.proof.explore_path import breach_path, record_path
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.mutant_source import DROPPED, GONE, MODULES, Mutant, applied, mutants_of
from oxlatch_sim.proof.symbolic import system_of
from oxlatch_sim.proof.symbolic_prove import prove

STAGES = (1, 2)
CRASH = "crash"  # without the line the tick does not even run


class WhatIfError(ValueError):
    """The place cannot be taken out; the message says what is allowed."""


@dataclass
class WhatIf:
    """What was taken out, the claim that breaks first, its recording, and what else notices."""

    where: str
    gone: str
    left: str
    claim: str = ""
    words: str = ""
    lines: list[str] = field(default_factory=list)
    recording: bytes = b""
    gate_claims: list[str] = field(default_factory=list)


def what_if(place: str) -> WhatIf:
    """The consequences of one line, given as FILE:LINE. Raises WhatIfError for a place without a guard."""
    mutants = candidates(place)
    answers = {mutant: WhatIf(mutant.where, mutant.before, mutant.after) for mutant in mutants}
    for stages in STAGES:
        for mutant, answer in answers.items():
            with applied(mutant.module, mutant.text):
                _explore(answer, stages)
                if answer.claim or stages == STAGES[-1]:
                    _ask_gate(answer, mutant)
            if answer.claim:
                return answer
    return answers[mutants[0]]


def candidates(place: str) -> list[Mutant]:
    """The ways to take a line out, whole statements before parts of a condition."""
    file, _, number = place.partition(":")
    module = file.removesuffix(".py")
    if module not in MODULES or not number.isdigit():
        files = ", ".join(f"{name}.py" for name in MODULES)
        raise WhatIfError(f"{place!r} is no place in the tick; write FILE:LINE with FILE one of {files}")
    mutants = mutants_of(module)
    found = [one for one in mutants if one.line == int(number) and (one.kind in (GONE, DROPPED) or _is_open(one))]
    found.sort(key=lambda one: (one.kind != GONE, one.kind != DROPPED))
    if not found:
        lines = sorted({one.line for one in mutants if one.kind in (GONE, DROPPED)})
        raise WhatIfError(
            f"{place}: nothing on that line can be taken out; lines of {module}.py that can: {_ranges(lines)}"
        )
    return found


def _is_open(mutant: Mutant) -> bool:
    """Whether the mutant lets a condition always or never hold."""
    return mutant.kind == "condition" and ("if True" in mutant.after or "if False" in mutant.after)


def _ranges(lines: list[int]) -> str:
    parts: list[list[int]] = []
    for line in lines:
        if parts and line == parts[-1][1] + 1:
            parts[-1][1] = line
        else:
            parts.append([line, line])
    return ", ".join(str(low) if low == high else f"{low}-{high}" for low, high in parts)


def _explore(answer: WhatIf, stages: int) -> None:
    try:
        found = explore(Small(stages, reduced=True), way="columns", to_first_breach=True)
    except Exception as error:
        answer.claim, answer.words = CRASH, f"the tick fails: {error}"
        return
    if found.breaches:
        paths = [(name, breach_path(found, breach)) for name, breach in found.breaches.items()]
        name, path = min(paths, key=lambda pair: len(pair[1].letters))
        answer.recording, answer.lines = record_path(path)
        answer.claim, answer.words = name, dict(CLAIMS)[name]


def _ask_gate(answer: WhatIf, mutant: Mutant) -> None:
    """Claims about the gate alone that no longer hold, whatever stands behind it."""
    if mutant.module == "gate" and answer.claim != CRASH:
        outcomes = prove(system_of("gate"))
        answer.gate_claims = [one.claim.name for one in outcomes if not one.proved]
