"""The arguments beside the exhaustive one, each as a section with stable keys and its problems in sentences."""

import json
import zlib
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from oxlatch_sim.proof.explore import Exploration
from oxlatch_sim.whole_file import write_whole

LOCKSTEP_STEPS = 200_000
TELLS = Callable[[int, int, str], None]  # done, total, what is being done

Section = tuple[dict[str, Any], list[str]]


def symbolic_section(out_dir: Path, progress: TELLS | None = None) -> Section:
    """Every claim by induction over bit-vectors; counterexamples are written to `out_dir`."""
    from oxlatch_sim.proof.symbolic import prove_symbolic, save_counterexample

    section = prove_symbolic(progress)
    problems = []
    for row in section["claims"]:
        if row["proved"]:
            continue
        problems.append(f"symbolic: {row['name']} is not proved: {row['words']}")
        if row["counterexample"]:
            out_dir.mkdir(parents=True, exist_ok=True)
            name = "".join(part if part.isalnum() else "-" for part in row["name"])
            path = save_counterexample(row, out_dir / f"counterexample-{name}.jsonl")
            row["recording"] = str(path)
    if section["translator_differing"]:
        problems.append(f"symbolic: {section['translator_differing']} of the compared ticks differ from running code")
    return section, problems


def reference_section(steps: int, workers: int) -> Section:
    """Lockstep of the running code with the second specification; a run of the usual length must use all its rows."""
    from oxlatch_sim.proof.lockstep import run_many

    found = run_many(steps, workers)
    rarest = found.rarest(3)
    unused = [name for name, hits in found.hits.items() if not hits]
    missed = unused if steps >= LOCKSTEP_STEPS else []
    section = {
        "steps": found.steps,
        "episodes": found.episodes,
        "mismatches": len(found.mismatches),
        "rows": len(found.hits),
        "rows_never_used": unused,
        "rarest": [[name, hits] for hits, name in rarest],
        "first_mismatch": found.mismatches[0].words() if found.mismatches else None,
        "ok": not found.mismatches and not missed,
    }
    problems = [f"reference: {one.words()}" for one in found.mismatches[:2]]
    problems += [f"reference: no tick of {found.steps:,} used the row {name}" for name in missed]
    return section, problems


def alive_section(found: Exploration) -> Section:
    """A push delivers, every state recovers, nothing swings."""
    from oxlatch_sim.proof.explore_alive import RECOVERY, prove_alive

    alive = prove_alive(found)
    return {**asdict(alive), "recovery": RECOVERY, "ok": not alive.problems}, alive.problems


def second_opinion_section() -> Section:
    """The gate's pure function judged by a second, unrelated tool."""
    from oxlatch_sim.proof.gate_contract import second_opinion

    found = second_opinion()
    problems = [] if found.confirmed else [f"second opinion on the gate: {found.said or 'it said nothing'}"]
    return asdict(found), problems


def outside_section(out_dir: Path) -> Section:
    """The reduced model by a general model checker and by our explorer; its text is written to `out_dir`."""
    from oxlatch_sim.proof.outside_checker import check_outside
    from oxlatch_sim.proof.promela import promela
    from oxlatch_sim.proof.reduced_model import reduced, relation

    section, problems = check_outside()
    path = write_whole(out_dir / "reduced-model.pml", promela(relation(reduced())))
    return {**section, "model": str(path)}, problems


def mutants_section(share: float, workers: int, progress: TELLS | None = None) -> Section:
    """Every mutant of the gate and a seeded share of the rest (all of them when `share` is 1)."""
    from oxlatch_sim.proof.mutant_source import MODULES
    from oxlatch_sim.proof.mutants import chosen, judge_mutants

    mutants = chosen(MODULES, share, whole=("gate",))

    def told(done: int, total: int, one: Any) -> None:
        if progress is not None:
            progress(done, total, f"{one.where} {one.fate}")

    report = judge_mutants(mutants, workers, told)
    return {**report.row(), "share": share}, report.problems()


def proof_digest(firmware: str, sections: dict[str, Any]) -> str:
    """8 hex digits over what was asked and answered, times left out: the same proof of the same code has the same."""
    symbolic = [[row["name"], row["proved"]] for row in sections["symbolic"]["claims"]]
    channels = [[row["name"], row["broken"] or ""] for row in sections["channels"]]
    exhaustive = sections["exhaustive"]
    said = [
        firmware,
        symbolic,
        [exhaustive["stages"], exhaustive["digest"], [[row["name"], row["holds"]] for row in exhaustive["claims"]]],
        channels,
        [sections["reference"]["steps"], sections["reference"]["mismatches"]],
        sections["second_opinion"]["confirmed"],
    ]
    return f"{zlib.crc32(json.dumps(said).encode()):08x}"


def invariants_table(symbolic: dict[str, Any] | None, exhaustive: dict[str, Any]) -> list[dict[str, Any]]:
    """Which method shows which invariant, and under what assumptions."""
    table: dict[str, dict[str, Any]] = {}
    for row in (symbolic or {}).get("claims", []):
        for one in str(row["invariant"]).replace(",", " ").split():
            entry = table.setdefault(one, {"id": one, "methods": [], "assumptions": [], "holds": True})
            if "symbolic" not in entry["methods"]:
                entry["methods"].append("symbolic")
                entry["assumptions"] += row["assumptions"]
            entry["holds"] = entry["holds"] and row["proved"]
    for row in exhaustive["claims"]:
        if not row["name"].startswith("I"):
            continue
        entry = table.setdefault(row["name"], {"id": row["name"], "methods": [], "assumptions": [], "holds": True})
        entry["methods"].append("exhaustive")
        entry["holds"] = entry["holds"] and row["holds"]
    for name, tests in (("I13", "tests of the store"), ("I14", "tests and measurements of loop and link")):
        entry = {"id": name, "methods": [tests], "assumptions": ["a test, no proof"], "holds": None}
        table.setdefault(name, entry)
    return sorted(table.values(), key=lambda entry: (len(entry["id"]), entry["id"]))
