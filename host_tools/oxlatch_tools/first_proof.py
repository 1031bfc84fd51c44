"""The first proof of the demonstration: one stage, explored to a fixpoint in a few seconds."""

import sys
import textwrap
from typing import Any

from rich.progress import Progress

from oxlatch_sim.proof.explore import Exploration, explore
from oxlatch_sim.proof.explore_small import Small

STAGES = 1
ASSUMED = (
    "Assumed: one stage; timers shortened to one or two ticks, which keeps every order of events and no duration; "
    "verdicts taken as free, so the sense channels are not part of it; what happens behind the output pins is not "
    "part of it. `oxlatch prove` goes further and says how far."
)


def first_proof(quiet: bool) -> Exploration:
    """Explore every state that the running code can reach with one stage."""
    shown = sys.stderr.isatty() and not quiet
    with Progress(transient=True, disable=not shown) as bar:
        task = bar.add_task("exploring", total=None)

        def progress(known: int, expanded: int, _transitions: int) -> None:
            bar.update(task, total=known, completed=expanded)

        return explore(Small(STAGES), progress=progress, way="columns")


def proof_problems(found: Exploration) -> list[str]:
    """What keeps the proof from holding, in sentences."""
    problems = [f"the claim {claim} is broken" for claim in found.breaches]
    if not found.complete:
        problems.append("the exploration ended before every state was expanded")
    return problems


def proof_row(found: Exploration) -> dict[str, Any]:
    """The proof as plain data for the envelope."""
    return {
        "stages": STAGES,
        "states": len(found.order),
        "transitions": found.transitions,
        "complete": found.complete,
        "digest": found.digest,
        "breaches": sorted(found.breaches),
        "seconds": round(found.seconds, 1),
        "assumed": ASSUMED,
    }


def proof_text(found: Exploration, width: int) -> str:
    """The proof in sentences, with what it assumes."""
    changes = sum(before != after for before, after in found.seen.edges)
    verdict = "; ".join(proof_problems(found)) or "no claim is ever broken"
    text = (
        f"The first proof: the same code, stepped from each of the {len(found.order):,} states it can reach after "
        f"a reset, on every combination of verdicts it can tell apart there: {found.transitions:,} ticks, "
        f"{changes} different changes of state, {found.seconds:.0f} s. "
        f"Result: {verdict}."
    )
    return "\n".join(textwrap.fill(part, width) for part in (text, ASSUMED))
