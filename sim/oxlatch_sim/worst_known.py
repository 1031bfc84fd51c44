"""The worst phase and corner of every fault that a full campaign found with the recommended hardware, kept as data."""

import json
from importlib import resources

from oxlatch.vocabulary import FIT_ALL
from oxlatch_sim.campaign import NO_FAULT, Case, Row, fault_names, patterns, worst_by_fault
from oxlatch_sim.corners import HARDWARE, NOMINAL, hardware_fitted, hardware_named
from oxlatch_sim.fault_flight import PHASES

FILE = "worst_known.json"
UNKNOWN = ("flowing", NOMINAL)
"""Where a fault is tried that no campaign has met yet."""


def worst_known() -> dict[str, tuple[str, str]]:
    """Phase and corner per fault."""
    text = resources.files("oxlatch_sim").joinpath(FILE).read_text("utf-8")
    return {name: (phase, corner) for name, (phase, corner) in json.loads(text).items()}


def quick_cases(
    stages: tuple[int, ...], hardware: str = HARDWARE[0].name, fitted: int = FIT_ALL
) -> list[Case]:
    """Every fault the aircraft can have once, at its worst known phase and corner; every pattern without a fault."""
    known = worst_known()
    cases = [Case(NO_FAULT, PHASES[0], NOMINAL, hardware, pattern) for pattern in patterns(len(stages))]
    for name in fault_names(len(stages), True, hardware_fitted(hardware_named(hardware), fitted)):
        phase, corner = known.get(name, UNKNOWN)
        cases.append(Case(name, phase, corner, hardware, stages))
    return cases


def as_text(rows: list[Row]) -> str:
    """The file's contents from the rows of a full campaign."""
    worst = worst_by_fault(row for row in rows if row.hardware == HARDWARE[0].name and row.fault != NO_FAULT)
    lines = [f"  {json.dumps(name)}: {json.dumps([row.phase, row.corner])}" for name, row in sorted(worst.items())]
    return "{\n" + ",\n".join(lines) + "\n}\n"
