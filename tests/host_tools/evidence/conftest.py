"""Small result files as the commands would print them for this very build."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from oxlatch_sim.identity import firmware_digest
from oxlatch_tools.build import build_digest
from oxlatch_tools.installation import Installation, example, load_installation

METHODS = ("symbolic", "exhaustive")
BOUNDS = {"bound_ms": 45.0, "oxidizer_bound_ms": 150.0}


def one_fault_row(fault: str, fuel_ms: float, oxidizer_ms: float, hardware: str = "recommended") -> dict[str, Any]:
    return {
        "fault": fault,
        "phase": "flowing",
        "corner": "nominal",
        "hardware": hardware,
        "stages": "1",
        "hazard_row": 2,
        "fuel_only_ms": fuel_ms,
        "oxidizer_only_ms": oxidizer_ms,
        "detected_by": "COIL_OPEN",
        "off_ms": 20,
        "latch": 2,
        "final_state": "TRIP",
        "within": fuel_ms <= BOUNDS["bound_ms"],
        "oxidizer_within": oxidizer_ms <= BOUNDS["oxidizer_bound_ms"],
        **BOUNDS,
    }


def proof_result() -> dict[str, Any]:
    names = [f"I{number}" for number in range(1, 18) if number not in (13, 14)]
    claims = [{"name": name, "words": "a claim", "holds": True} for name in names]
    return {
        "symbolic": {"claims": claims, "seconds": 12.5},
        "exhaustive": {
            "stages": 2,
            "states": 1234567,
            "transitions": 7654321,
            "complete": True,
            "digest": "cafe0123",
            "digest_cpython": "0a0b0c0d",
            "digest_micropython": "0a0b0c0d",
            "digest_transitions": 60000,
            "claims": claims,
            "witnesses": {"states": 12, "transitions": 40, "reasons": 70, "lamps": 20},
            "audit": {"trials": 40000, "misses": 0},
            "unvisited": [],
            "unexpected": [],
        },
        "reference": {"ticks": 200000, "differences": 0},
        "fitted_pairs": {"pairs": 220, "combinations": 9, "transitions": 4000000, "rows": [], "ok": True},
        "outside": {"tool": "a checker", "states_outside": 512, "same": True, "broken_outside": "", "bugs": []},
        "second_opinion": {"confirmed": True, "said": "Confirmed over all paths"},
        "liveness": {"claims": [{"name": "delivers", "words": "a push delivers", "holds": True}]},
        "channels": [{"name": "rpm", "lemma": "a lemma", "states": 321, "transitions": 900, "broken": ""}],
        "mutants": {"total": 512, "killed_by": {"reference": 400, "symbolic": 105}, "equivalent": 7, "survived": []},
        "abstraction": ["timers are one or two ticks long in the exploration"],
        "invariants": [
            {"id": name, "methods": list(METHODS), "assumptions": ["sense lemmas"]} for name in [*names, "I13", "I14"]
        ],
    }


def run_result() -> dict[str, Any]:
    monitors = [{"id": f"I{n}", "held": True, "first_tick": None, "vacuous": False} for n in range(1, 17) if n != 14]
    got = {
        "final_state": "WAITING",
        "runs": 1,
        "first_cause": None,
        "fuel_only_ms": [0.0, 0.0],
        "oxidizer_only_ms": [61.0, 12.0],
    }
    row = {"scenario": "full-sortie", "got": got, "monitors": monitors, "recording": "gone.jsonl", "problems": []}
    return {"scenarios": [row]}


def results() -> dict[str, dict[str, Any]]:
    rows = [
        one_fault_row("none", 0.0, 88.0),
        one_fault_row("bus_sags", 3.25, 17.5),
        one_fault_row("ox_stuck_open@1", 0.0, 900.0),
    ]
    return {
        "prove": proof_result(),
        "run": run_result(),
        "faults": {"runs": len(rows), "rows": rows},
        "plan": {"within_limits": True, "not_measured": []},
        "cards": {"draft": False, "cards": [{"title": "Limits", "files": ["gone/limits.pdf"]}]},
        "ticks": {"measured_on": "a test", "is_board": True, "worst_us": 9.5},
        "link": {
            "measured_on": "a test",
            "is_board": True,
            "ticks": 11000,
            "digests_equal": True,
            "longer_on_board_about_ms": 0.95,
            "hosts": [{"host": "silent", "longest_us": 1.0, "dropped": 0, "broken": 0}],
        },
        "traces": {"recording": "gone/traces.jsonl", "fuel_only_ms": 0.0, "oxidizer_only_ms": 88.0},
        "replay": {"compared": 11200, "mode": "stepped", "release_to_fuel_off_ms": 11.08},
    }


Writer = Callable[..., Path]


@pytest.fixture(autouse=True)
def _no_paper(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Most tests read the page; only those that ask for `paper` have the PDF drawn as well, which takes longest."""
    if "paper" not in request.fixturenames:
        monkeypatch.setattr("oxlatch_tools.commands.evidence.pdf_pack", lambda _document: b"%PDF")


@pytest.fixture
def paper() -> None:
    """Have the PDF drawn."""


@pytest.fixture(scope="session")
def tug() -> Installation:
    return load_installation(example("alpine_tug"))


@pytest.fixture
def fault_row() -> Callable[..., dict[str, Any]]:
    """Makes one row of a fault campaign: fault, ms of F alone, ms of O alone."""
    return one_fault_row


@pytest.fixture
def proof() -> dict[str, Any]:
    """The result of a proof in which everything holds."""
    return proof_result()


def write_files(
    folder: Path, installation: str, digests: dict[str, dict[str, str]], changed: dict[str, dict[str, Any] | None]
) -> Path:
    """Fresh result files, but for `changed` results (None leaves the file out) and `digests` in the envelope."""
    for name, result in (results() | changed).items():
        if result is None:
            continue
        tree = {
            "format": 1,
            "command": name,
            "ok": True,
            "exit": 0,
            "installation": None if name in ("prove", "ticks", "link") else installation,
            "firmware": firmware_digest(),
            "build": build_digest(),
            "problems": [],
            "result": result,
        } | digests.get(name, {})
        (folder / f"{name}.json").write_text(json.dumps(tree), encoding="utf-8")
    return folder


@pytest.fixture
def written(tmp_path: Path, tug: Installation) -> Writer:
    """Writes fresh result files, but for what a test changes: name=None leaves a file out."""

    def write(digests: dict[str, dict[str, str]] | None = None, **changed: dict[str, Any] | None) -> Path:
        return write_files(tmp_path, tug.digest, digests or {}, changed)

    return write


@pytest.fixture(scope="session")
def fresh_folder(tmp_path_factory: pytest.TempPathFactory, tug: Installation) -> Path:
    """A folder in which every result is of this build."""
    return write_files(tmp_path_factory.mktemp("fresh"), tug.digest, {}, {})
