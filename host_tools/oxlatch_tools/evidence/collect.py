"""The quick pieces of evidence made now: each command run as a person would, its JSON kept as a result file."""

import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from oxlatch_sim.whole_file import write_whole

TIMEOUT_S = 3600
Told = Callable[[str], None]


@dataclass(frozen=True)
class Piece:
    """One result file and the command line that prints it."""

    key: str
    words: str
    arguments: tuple[str, ...]


class CollectError(Exception):
    """A command gave no result; the message says which and why."""


def pieces(file: Path | None, hardware: str, out_dir: Path) -> tuple[Piece, ...]:
    """What is collected, quickest first. `hardware` is the campaign's name for the parts fitted."""
    named = (str(file),) if file is not None else ()
    option = ("--installation", str(file)) if file is not None else ()
    out = ("--out", str(out_dir))
    # The quick campaign knows the recommended parts only; without them every fault is tried from the push on.
    if hardware == "recommended":
        which: tuple[str, ...] = ("--quick",)
    else:
        phases = ("--phase", "opening", "--phase", "flowing", "--phase", "releasing")
        which = ("--hardware", hardware, "--corner", "nominal", *phases)
    return (
        Piece("plan", "planning", ("plan", *named, *out)),
        Piece("cards", "printing cards", ("cards", *named, *out)),
        Piece("run", "playing scenarios", ("run", *option, "--no-picture", *out)),
        Piece("faults", "flying faults", ("faults", *named, *which, *out)),
        Piece("prove", "proving", ("prove", *out)),
    )


def collect(piece: Piece, folder: Path) -> Path:
    """Run one command and keep what it printed. Raises CollectError when it printed no result.

    A command that finds something wrong (exit 1) is kept too: the pack must show it.
    """
    line = [sys.executable, "-m", "oxlatch_tools.cli", *piece.arguments, "--json"]
    try:
        ran = subprocess.run(line, capture_output=True, timeout=TIMEOUT_S, check=False)
    except subprocess.TimeoutExpired as error:
        raise CollectError(f"oxlatch {piece.arguments[0]} did not end within {TIMEOUT_S} s") from error
    if ran.returncode not in (0, 1) or not ran.stdout.lstrip().startswith(b"{"):
        said = (ran.stderr or ran.stdout).decode("utf-8", "replace").strip()[-400:]
        raise CollectError(f"oxlatch {' '.join(piece.arguments)} gave no result (exit {ran.returncode}): {said}")
    return write_whole(folder / f"{piece.key}.json", ran.stdout)
