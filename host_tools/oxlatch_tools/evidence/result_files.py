"""The machine-readable results a pack rests on: read, and judged against the build they must belong to.

A result file is the envelope that a command prints with --json. It counts only when the digests recorded in it
are those of this firmware and this installation.
"""

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from oxlatch_tools.evidence.shapes import complaint

Freshness = Literal["fresh", "stale", "missing"]
LARGEST_BYTES = 200_000_000


@dataclass(frozen=True)
class Kind:
    """One file: what it holds, which command prints it, and whether it belongs to one installation."""

    key: str
    words: str
    command: str
    makes: str
    is_of_installation: bool

    @property
    def file(self) -> str:
        """Its name in the folder of results."""
        return f"{self.key}.json"


HERE = "python -m oxlatch_tools.evidence"
KINDS = (
    Kind("prove", "Proof on the controller's own source", "prove", "oxlatch prove --json", False),
    Kind("run", "Scenarios on the virtual bench", "run", "oxlatch run --installation FILE --json", True),
    Kind("faults", "Single-fault campaign on the virtual bench", "faults", "oxlatch faults FILE --json", True),
    Kind("traces", "Recorded sortie of every stage", "traces", f"{HERE}.stage_traces FILE --json", True),
    Kind("plan", "Plan with its limits", "plan", "oxlatch plan FILE --json", True),
    Kind("cards", "Cards printed", "cards", "oxlatch cards FILE --json", True),
    Kind("flash", "Certificate of the flashed board", "flash", "oxlatch flash FILE --port PORT --json", True),
    Kind("replay", "A recording stepped again", "replay", "oxlatch replay --port PORT RECORDING --json", True),
    Kind("ticks", "Time of a tick", "ticks", f"{HERE}.board_times ticks", False),
    Kind("link", "Hosts on the serial link", "link", f"{HERE}.board_times link", False),
)


@dataclass(frozen=True)
class Build:
    """What every result must have been made with."""

    firmware: str
    installation: str
    digest: str
    """Of firmware, simulator and tools together."""


@dataclass(frozen=True)
class ResultFile:
    """One file as found. `why` says in words what is wrong with it; `data` is its result, empty when missing."""

    kind: Kind
    freshness: Freshness
    why: str
    holds: bool
    problems: tuple[str, ...]
    data: dict[str, Any]
    firmware: str = ""
    installation: str = ""
    digest: str = ""


class ResultFileError(ValueError):
    """A file is there but is not what the command prints. The message names file, finding and remedy."""


def read_all(folder: Path, build: Build) -> dict[str, ResultFile]:
    """Every kind, found or not. Raises ResultFileError naming every file that cannot be used."""
    found: dict[str, ResultFile] = {}
    problems: list[str] = []
    for kind in KINDS:
        try:
            found[kind.key] = read_result(folder / kind.file, kind, build)
        except ResultFileError as error:
            problems.append(str(error))
    if problems:
        raise ResultFileError("\n".join(problems))
    return found


def read_result(path: Path, kind: Kind, build: Build) -> ResultFile:
    """One file. Raises ResultFileError."""
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return ResultFile(kind, "missing", f"MISSING: no {path}; made with {kind.makes} > {path}", False, (), {})
    except OSError as error:
        raise ResultFileError(f"{path}: cannot be read ({error.strerror})") from error
    envelope = _envelope(content, path, kind)
    firmware, installation = str(envelope.get("firmware")), str(envelope.get("installation"))
    parts = differences(kind, Build(firmware, installation, str(envelope.get("build"))), build)
    problems = envelope.get("problems")
    return ResultFile(
        kind,
        "stale" if parts else "fresh",
        "STALE: " + "; ".join(parts) if parts else "",
        bool(envelope["ok"]),
        tuple(str(problem) for problem in problems) if isinstance(problems, list) else (),
        envelope["result"],
        firmware,
        installation if kind.is_of_installation else "",
        hashlib.sha256(content).hexdigest()[:8],
    )


def _envelope(content: bytes, path: Path, kind: Kind) -> dict[str, Any]:
    remedy = f"allowed: what '{kind.makes}' prints"
    if len(content) > LARGEST_BYTES:
        raise ResultFileError(f"{path}: {len(content)} bytes; allowed: up to {LARGEST_BYTES}")
    try:
        tree = json.loads(content)
    except (ValueError, RecursionError) as error:
        raise ResultFileError(f"{path}: not JSON ({error}); {remedy}") from error
    if not isinstance(tree, dict) or tree.get("command") != kind.command:
        named = tree.get("command") if isinstance(tree, dict) else None
        raise ResultFileError(f"{path}: command is {named!r}; {remedy}")
    if tree.get("exit") == 2:
        raise ResultFileError(f"{path}: the command refused its input: {tree.get('problems')}; {remedy}")
    if not isinstance(tree.get("result"), dict) or not isinstance(tree.get("ok"), bool):
        raise ResultFileError(f"{path}: holds no result; {remedy}")
    if tree["result"].get("dry_run") is True:
        raise ResultFileError(f"{path}: is of a dry run, which wrote nothing; {remedy}")
    wrong = complaint(kind.key, tree["result"])
    if wrong:
        raise ResultFileError(f"{path}: {wrong}; {remedy}")
    return tree


def differences(kind: Kind, made: Build, build: Build) -> list[str]:
    """In words, what the file was made with when that is another build."""
    found = []
    if made.firmware != build.firmware:
        found.append(f"made for firmware {made.firmware}, this build is {build.firmware}")
    if kind.is_of_installation and made.installation != build.installation:
        found.append(f"made for installation {made.installation}, this one is {build.installation}")
    if made.digest != build.digest:
        found.append(f"made by build {made.digest} of simulator and tools, this is {build.digest}")
    return found
