"""The whole tick as one system, to turn a counterexample over verdicts into one over raw samples.

Proofs stay with the parts, which are smaller. Only a claim of the core that fails is asked again here, with
sense in front of it, so that its recording carries raw samples and replays.
"""

# mypy: disallow-untyped-defs=False

from __future__ import annotations

from oxlatch.controller import feed_back
from oxlatch_sim.proof.symbolic_case import Case
from oxlatch_sim.proof.symbolic_core import CORE
from oxlatch_sim.proof.symbolic_engine import Claim, Counterexample, Range, System
from oxlatch_sim.proof.symbolic_sense import SENSE


def take_driven(fed, out):
    """What sense is fed is what was driven in the tick before."""
    feed_back(fed, out)


def ranges(cell: str) -> Range:
    """Each part's own intervals."""
    return (SENSE if cell.partition(".")[0] in ("past", "extra", "fed", "sense") else CORE).ranges(cell)


WHOLE = System(
    name="whole tick",
    objects={**SENSE.objects, **CORE.objects},
    steps=(take_driven, *SENSE.steps, *CORE.steps),
    ranges=ranges,
    invariants=(*SENSE.invariants, *CORE.invariants),
    claims=CORE.claims,
    fresh=frozenset({"raw"}),
)


def with_samples(one: Claim, example: Counterexample) -> Counterexample | None:
    """A counterexample to the same claim of the core with raw samples; None when sense never gives such verdicts."""
    low, high = SENSE.ranges("sense.phase")
    for phase in range(low, high + 1):
        case = Case(WHOLE, {"core.state": example.cells["core.state"], "sense.phase": phase}, False)
        for claim, goal in case.goals:
            if claim.name == one.name:
                found = case.counterexample(claim, goal)
                if found is not None:
                    return found
    return None
