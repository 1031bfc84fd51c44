"""What a pack still lacks, made now: each command run as a person would, its JSON kept as a result file.

What is there and of this very build is kept. `quick` makes do with less of the campaign and of the mutants; the
files say how much they hold, and so does the pack.
"""

import os
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from oxlatch_sim.corners import HARDWARE
from oxlatch_sim.whole_file import write_whole
from oxlatch_tools.evidence.case import DESK, Case
from oxlatch_tools.evidence.result_files import ResultFile

TIMEOUT_S = 4 * 3600
CLI = "oxlatch_tools.cli"
TRACES = "oxlatch_tools.evidence.stage_traces"
TIMES = "oxlatch_tools.evidence.board_times"


@dataclass(frozen=True)
class Piece:
    """One result file and the module with arguments that prints it; `is_there` when what is kept will do."""

    key: str
    words: str
    module: str
    arguments: tuple[str, ...]
    is_there: bool = False

    @property
    def line(self) -> str:
        """As a person would type it."""
        head = "oxlatch" if self.module == CLI else f"python -m {self.module}"
        return " ".join((head, *self.arguments, "--json" if self.module == CLI else "")).strip()


class CollectError(Exception):
    """A command gave no result; the message says which and why."""


def pieces(case: Case, file: Path | None, out_dir: Path, quick: bool) -> tuple[Piece, ...]:
    """Everything that can be made without a board, quickest first."""
    named = (str(file),) if file is not None else ()
    option = ("--installation", str(file)) if file is not None else ()
    out = ("--out", str(out_dir))
    workers = ("--workers", str(os.cpu_count() or 1))
    proof = ("--proof", str(out_dir / "prove.json"))
    recording = str(out_dir / "full-sortie-two-stages.jsonl")
    checker = ("--outside",) if shutil.which("spin") and shutil.which("gcc") else ()
    proof_of = ("--mutant-sample",) if quick else ("--mutants", "--fitted-pairs")
    found = (
        Piece("plan", "planning", CLI, ("plan", *named, *out)),
        Piece("cards", "printing cards", CLI, ("cards", *named, *out)),
        Piece("traces", "recording every stage", TRACES, (*named, "--hardware", case.hardware, "--json", *out)),
        Piece("ticks", "timing ticks", TIMES, ("ticks",)),
        Piece("link", "timing hosts on the link", TIMES, ("link",)),
        Piece("run", "playing scenarios", CLI, ("run", *option, "--no-picture", *out)),
        Piece("faults", "flying faults", CLI, ("faults", *named, *_part(case, quick), *workers, *out)),
        Piece("prove", "proving", CLI, ("prove", *proof_of, *checker, *out)),
        Piece("flash", "flashing the desk controller", CLI, ("flash", *named, "--port", "desk", *proof, *out)),
        Piece("replay", "replaying into the desk controller", CLI, ("replay", "--port", "desk", recording)),
    )
    return tuple(
        Piece(one.key, one.words, one.module, one.arguments, is_enough(case, one.key, quick)) for one in found
    )


def _part(case: Case, quick: bool) -> tuple[str, ...]:
    """The part of the campaign: all of it, or every fault once at its worst known moment.

    Worst moments are known for the recommended parts only; without them every fault is tried from the push on.
    """
    if not quick:
        return ()
    if case.hardware == HARDWARE[0].name:
        return ("--quick",)
    return ("--hardware", case.hardware, "--corner", "nominal", "--phase", "opening", "--phase", "flowing")


def is_enough(case: Case, key: str, quick: bool) -> bool:
    """Whether the file kept is of this build and holds all that is asked for."""
    file = case.files[key]
    if key in ("flash", "replay") and case.data("flash").get("board", DESK) != DESK:
        return True  # never put what a desk says in the place of what a board said, however old
    if file.freshness != "fresh":
        return False
    if key == "faults" and not quick:
        return len(file.data["rows"]) >= len(case.full_runs)
    if key == "prove":
        judged = file.data.get("mutants")
        return judged is not None and (quick or (_share(file) == 1.0 and bool(file.data.get("fitted_pairs"))))
    return True


def _share(file: ResultFile) -> float:
    return float((file.data.get("mutants") or {}).get("share", 1.0))


def collect(piece: Piece, folder: Path) -> float:
    """Run one command, keep what it printed, and say how many seconds it took.

    A command that finds something wrong (exit 1) is kept too: the pack must show it. Raises CollectError when no
    result was printed.
    """
    line = [sys.executable, "-m", piece.module, *piece.arguments, *(("--json",) if piece.module == CLI else ())]
    begin = time.monotonic()
    try:
        ran = subprocess.run(line, capture_output=True, timeout=TIMEOUT_S, stdin=subprocess.DEVNULL, check=False)
    except subprocess.TimeoutExpired as error:
        raise CollectError(f"{piece.line} did not end within {TIMEOUT_S} s") from error
    if ran.returncode not in (0, 1) or not ran.stdout.lstrip().startswith(b"{"):
        said = (ran.stderr or ran.stdout).decode("utf-8", "replace").strip()[-400:]
        raise CollectError(f"{piece.line} gave no result (exit {ran.returncode}): {said}")
    write_whole(folder / f"{piece.key}.json", ran.stdout)
    return time.monotonic() - begin
