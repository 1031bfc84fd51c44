"""The four arguments as one result: plain data with stable keys for machines, the same data for the page.

Each section is a function that runs one argument and answers a dictionary; `Problems` collects in sentences
what does not hold. What every section assumes stands in `abstraction`, in the same list as what was shown.
"""

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import oxlatch
from oxlatch.settings import FIELDS
from oxlatch_sim import __file__ as package_file
from oxlatch_sim.proof.explore import Exploration, Progress, explore
from oxlatch_sim.proof.explore_audit import Auditor
from oxlatch_sim.proof.explore_claims import CLAIMS
from oxlatch_sim.proof.explore_core import Space
from oxlatch_sim.proof.explore_core import explore as explore_portable
from oxlatch_sim.proof.explore_path import breach_path, record_path
from oxlatch_sim.proof.explore_small import FREE_ALWAYS, SLOW, WAIT_WORDS, Small
from oxlatch_sim.proof.explore_witness import witnesses
from oxlatch_sim.proof.explore_words import NOTES
from oxlatch_sim.whole_file import write_whole

EXACT_STAGES = 2
"""Up to this many stages the words that only add a wait are kept exact, and every deviation is tried on its own."""
AUDIT_TRIALS = 40_000
SHARED_TRANSITIONS = 30_000
"""How much of the exploration is done twice: on columns, and by running the code."""
PORTABLE_TRANSITIONS = 60_000
PORTABLE_HEAP = "512M"
PORTABLE_TIMEOUT_S = 600


def prove_exhaustive(
    stages: int, workers: int, out_dir: Path | None = None, progress: Progress | None = None
) -> tuple[dict[str, Any], list[str], Exploration]:
    """Explore to a fixpoint, audit the alphabet, count witnesses; counterexamples go to `out_dir`.

    Returns the section, its problems in sentences, and the exploration itself.
    """
    small = Small(stages, reduced=stages > EXACT_STAGES)
    found = explore(small, workers, progress=progress, way="columns")
    audit = Auditor(found).run(AUDIT_TRIALS)
    seen = witnesses(found)
    words = dict(CLAIMS)
    problems = [f"{name} is broken: {words.get(name, 'a claim')}" for name in found.breaches]
    counterexamples: dict[str, dict[str, Any]] = {}
    for name, breach in found.breaches.items():
        data, lines = record_path(breach_path(found, breach))
        counterexamples[name] = {"lines": lines, "recording": None}
        if out_dir is not None:
            path = write_whole(out_dir / f"counterexample-{name}.jsonl", data)
            counterexamples[name]["recording"] = str(path)
    if not found.complete:
        problems.append("the exploration ended before every state was expanded")
    problems += [f"without a witness: {name}" for name in seen.unvisited]
    problems += [f"not foreseen: {name}" for name in seen.unexpected]
    problems += [f"the alphabet misses an input of state {miss['state']}" for miss in audit.misses[:3]]
    problems += [f"{name} is broken by a random vector of the audit" for name in sorted(set(audit.breaches))]
    shared, new = explored_twice(small)
    problems += new
    section = {
        "stages": stages,
        "states": len(found.order),
        "unique": len(set(found.order)),
        "transitions": found.transitions,
        "depth": found.depth,
        "seconds": round(found.seconds, 2),
        "states_per_s": round(len(found.order) / found.seconds),
        "transitions_per_s": round(found.rate),
        "workers": workers,
        "complete": found.complete,
        "digest": found.digest,
        "shared": shared,
        "by_state": found.count_by_state(),
        "claims": [{"name": name, "words": text, "holds": name not in found.breaches} for name, text in CLAIMS],
        "unvisited": seen.unvisited,
        "unexpected": seen.unexpected,
        "witnesses": {
            "states": sum(1 for count in found.count_by_state().values() if count),
            "transitions": len(found.seen.edges),
            "reasons": len(seen.reasons),
            "lamps": len(seen.lamps),
            "never": seen.never,
        },
        "audit": {"trials": audit.trials, "misses": len(audit.misses)},
        "counterexamples": counterexamples,
    }
    return section, problems, found


def explored_twice(small: Small) -> tuple[dict[str, Any], list[str]]:
    """The first levels on columns and by running the code: transitions and both digests, which must be one."""
    columns, running = (explore(small, limit=SHARED_TRANSITIONS, way=way) for way in ("columns", "running"))
    row = {"transitions": running.transitions, "digest_columns": columns.digest, "digest_running": running.digest}
    same = (columns.order, columns.parents, columns.digest) == (running.order, running.parents, running.digest)
    return row, [] if same else ["on columns the exploration is another than by running the code"]


def portable_digests(stages: int, limit: int = PORTABLE_TRANSITIONS) -> tuple[dict[str, Any], list[str]]:
    """The digest of the first transitions under this interpreter and under MicroPython, where there is one."""
    here = explore_portable(Space(Small(stages)), limit)
    row: dict[str, Any] = {
        "digest_cpython": here["digest"],
        "digest_micropython": None,
        "digest_transitions": here["transitions"],
    }
    board = micropython_path()
    if board is None:
        return row, []
    there = run_micropython(board, stages, limit)
    row["digest_micropython"] = there["digest"]
    same = there == here
    return row, [] if same else [f"MicroPython explores otherwise: {there} instead of {here}"]


def micropython_path() -> str | None:
    """The MicroPython beside this interpreter or on the path; none when it is not installed."""
    beside = Path(sys.executable).parent / "micropython"
    return str(beside) if beside.exists() else shutil.which("micropython")


def run_micropython(board: str, stages: int, limit: int) -> dict[str, Any]:
    """Run the portable exploration under MicroPython."""
    assert oxlatch.__file__ is not None
    roots = [str(Path(name).parents[1]) for name in (oxlatch.__file__, package_file)]
    script = Path(package_file).parent / "proof" / "explore_core.py"
    ran = subprocess.run(
        [board, "-X", f"heapsize={PORTABLE_HEAP}", str(script), str(stages), str(limit)],
        env={"MICROPYPATH": ":".join(dict.fromkeys(roots))},
        capture_output=True,
        text=True,
        timeout=PORTABLE_TIMEOUT_S,
    )
    if ran.returncode:
        raise RuntimeError(f"MicroPython ended with {ran.returncode}: {ran.stderr.strip()[-300:]}")
    answer: dict[str, Any] = json.loads(ran.stdout.strip().splitlines()[-1].replace("'", '"'))
    return answer


def abstraction(stages: int) -> list[str]:
    """What the exhaustive argument takes for granted, in sentences."""
    small = Small(stages)
    is_whole = stages <= EXACT_STAGES
    ticks = [name for name, *_ in FIELDS if name.endswith("_ticks") and getattr(small.c, name) <= 2]
    free = [*FREE_ALWAYS, *(() if is_whole else WAIT_WORDS)]
    alone = ", and every single deviation on its own" if is_whole else ""
    return [
        f"{stages} stage{'s' if stages > 1 else ''}; every input and valve fitted; one set of small settings",
        f"{len(ticks)} timers are one or two ticks long: every order of events stays, durations do not",
        f"slow clocks ({', '.join(SLOW)}) may end at any tick",
        f"inputs at each tick that reads them, though the code remembers them: {', '.join(free)}",
        *([] if is_whole else ["the coil currents of open stages are lost together"]),
        "verdicts are free: any verdict may follow any other; what sense guarantees is left to the channels",
        f"verdicts are tried only where the state reads them, once per effect{alone}; random whole vectors check that",
        *(f"merged: {note}" for note in NOTES),
        "the start-up finding is one of none, locked (3), locked (4), settings bad; the others act alike",
        "the code is evaluated as translated from its source; the first levels are explored by running it too",
        "what happens behind the output pins is not part of it",
    ]


def settings_bounds() -> dict[str, list[int]]:
    """The field table's bounds, over which the symbolic argument holds."""
    return {name: [low, high] for name, _unit, low, high, _default in FIELDS}
