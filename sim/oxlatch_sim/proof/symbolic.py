"""The symbolic argument as a whole: check the translator, then prove every claim."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from oxlatch_sim.proof.symbolic_core import CORE
from oxlatch_sim.proof.symbolic_engine import Claim, Counterexample, System, cases
from oxlatch_sim.proof.symbolic_gate import GATE_ALONE
from oxlatch_sim.proof.symbolic_prove import Outcome, prove
from oxlatch_sim.proof.symbolic_sense import SENSE
from oxlatch_sim.proof.symbolic_words import describe, record
from oxlatch_sim.proof.translate_check import ROWS, check_translation

SYSTEMS: tuple[System, ...] = (GATE_ALONE, CORE, SENSE)
CHECKED_TICKS = 100_000

EVERY_SYSTEM = (
    "every settings record within the field table that satisfies the cross-field rules, constant since the reset",
    "one tick after the other from the state after a reset, for any number of ticks",
)

Progress = Callable[[int, int, str], None]  # done, total, what is being done


def system_of(name: str) -> System:
    """The system with this name; KeyError when there is none."""
    return {system.name: system for system in SYSTEMS}[name]


def prove_symbolic(progress: Progress | None = None, checked_ticks: int = CHECKED_TICKS) -> dict[str, Any]:
    """Prove every claim of every system and check the translator.

    Keys: "claims" (name, invariant, words, system, proved, seconds, assumptions, counterexample), "proved",
    "translator_checked", "translator_differing", "strengthenings" (name, words), "seconds". A counterexample
    is {"words", "cells"} or None. Seconds are processor time.
    """
    blocks = -(-checked_ticks // ROWS)
    total = blocks + sum(1 + len(list(cases(system))) for system in SYSTEMS)
    done = 0

    def told(what: object) -> None:
        nonlocal done
        done += 1
        if progress is not None:
            progress(done, total, f"{what} ticks compared" if isinstance(what, int) else str(what))

    began = time.process_time()
    claims = [_row(system, outcome) for system in SYSTEMS for outcome in prove(system, told)]
    agreement = check_translation(checked_ticks, told=told)
    strengthenings = [
        {"name": one.name, "system": system.name, "words": one.words} for system in SYSTEMS for one in system.invariants
    ]
    return {
        "claims": claims,
        "proved": all(row["proved"] for row in claims) and not agreement.differing,
        "translator_checked": agreement.checked,
        "translator_differing": agreement.differing,
        "translator_decisions": {"all": agreement.decisions, "both_ways": agreement.decided_both_ways},
        "strengthenings": strengthenings,
        "seconds": round(time.process_time() - began, 2),
    }


def _row(system: System, outcome: Outcome) -> dict[str, Any]:
    return {
        "name": outcome.claim.name,
        "invariant": outcome.claim.invariant,
        "words": outcome.claim.words,
        "system": system.name,
        "proved": outcome.proved,
        "seconds": round(outcome.seconds, 3),
        "assumptions": [*EVERY_SYSTEM, *system.assumptions],
        "counterexample": _told(system, outcome),
    }


def _told(system: System, outcome: Outcome) -> dict[str, Any] | None:
    example = outcome.counterexample
    if example is None:
        return None
    words = describe(system, outcome.claim, example)
    return {"words": words, "at_start": example.at_start, "cells": dict(example.cells)}


def save_counterexample(row: dict[str, Any], path: Path) -> Path:
    """Write the counterexample of a claim, as a row of `prove_symbolic`, as a recording; whole or not at all."""
    system = system_of(row["system"])
    told = row["counterexample"]
    (one,) = {one.name: one for one in [*system.invariants, *system.claims] if one.name == row["name"]}.values() or (
        Claim(row["name"], row["invariant"], row["words"], lambda: True),
    )
    return record(system, one, Counterexample(row["system"], row["name"], told["at_start"], told["cells"])).save(path)
