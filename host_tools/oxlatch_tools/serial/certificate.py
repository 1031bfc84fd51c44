"""The certificate of a flashed board: what is on it, what is not fitted, and which proof covers exactly that."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from oxlatch_tools.serial.flash import Flashed

PROOF_FILE = Path("out") / "prove.json"
FILES = "FILES ON THE BOARD"

METHODS: dict[str, tuple[str, Callable[[Any], bool]]] = {
    "symbolic": ("symbolic", lambda told: bool(told["claims"]) and all(row["proved"] for row in told["claims"])),
    "exhaustive": ("exhaustive", lambda told: bool(told["claims"]) and all(row["holds"] for row in told["claims"])),
    "alive": ("alive", lambda told: told["ok"] is True),
    "channels": ("channels", lambda told: bool(told) and not any(row["broken"] for row in told)),
    "reference": ("reference", lambda told: told["ok"] is True and told["steps"] > 0),
    "second_opinion": ("second opinion", lambda told: told["confirmed"] is True),
}
"""Every argument a whole proof consists of, by its key: its name, and whether what is told of it holds."""


@dataclass(frozen=True)
class Proof:
    """The proof of a firmware, or why there is none. `covers` says what the proof consists of."""

    digest: str
    why_not: str
    covers: str = ""

    @property
    def line(self) -> str:
        """The line of the certificate."""
        if not self.digest:
            return f"NOT PROVED: {self.why_not}"
        return f"PROVED: proof {self.digest} of the source these files were made from: {self.covers}"


def find_proof(path: Path, firmware: str, settings: str) -> Proof:
    """The proof in the JSON that `oxlatch prove --json` prints, if it is one of this firmware and these settings.

    A proof over every valid settings record names no settings; one for a single record must name this one.
    """
    try:
        told = json.loads(path.read_text("utf-8"))
    except OSError:
        return Proof("", f"no proof at {path}; 'oxlatch prove --json > {path}' makes one")
    except ValueError:
        return Proof("", f"{path} is not the JSON of 'oxlatch prove'")
    if not isinstance(told, dict) or told.get("command") != "prove" or not isinstance(told.get("result"), dict):
        return Proof("", f"{path} is not the JSON of 'oxlatch prove'")
    if not told.get("ok"):
        return Proof("", f"the proof in {path} does not hold")
    if told.get("firmware") != firmware:
        return Proof("", f"the proof in {path} is of firmware {told.get('firmware')}, this is {firmware}")
    named = told["result"].get("settings")
    if named not in (None, settings):
        return Proof("", f"the proof in {path} is for settings {named}, these are {settings}")
    digest = told["result"].get("digest")
    if not isinstance(digest, str) or not digest:
        return Proof("", f"the proof in {path} names no digest")
    missing, broken = lacking(told["result"])
    if missing:
        return Proof("", f"the proof in {path} is not whole; not run: {', '.join(missing)}")
    if broken:
        return Proof("", f"the proof in {path} does not hold: {', '.join(broken)}")
    return Proof(digest, "", f"{', '.join(name for name, _ in METHODS.values())}; {stages_explored(told['result'])}")


def lacking(result: dict[str, Any]) -> tuple[list[str], list[str]]:
    """Names of the arguments that were not run, and of those that do not hold or cannot be read."""
    missing, broken = [], []
    for key, (name, holds) in METHODS.items():
        told = result.get(key)
        if not told:
            missing.append(name)
            continue
        try:
            is_good = holds(told)
        except (KeyError, TypeError):
            is_good = False
        if not is_good:
            broken.append(name)
    return missing, broken


def stages_explored(result: dict[str, Any]) -> str:
    """How far the exploration went."""
    return f"explored with {result['exhaustive'].get('stages')} stages, the other arguments with any number"


def certificate_lines(done: Flashed, proof: Proof) -> list[str]:
    """The certificate, one line each, all in the same type."""
    absent = ", ".join(done.not_fitted) or "nothing: every input is fitted"
    lines = [
        "CERTIFICATE OF WHAT IS ON THIS BOARD",
        f"board         {done.board}, MicroPython {done.micropython}",
        f"firmware      {done.firmware}, {len(done.files)} files, each read back and equal by SHA-256",
        f"made by       {done.compiler}; numbers in place of their names, what no board uses left out",
        f"settings      {done.settings}",
        f"installation  {done.installation}",
        f"NOT FITTED    {absent}",
        proof.line,
        f"state         {done.state} after restart",
    ]
    lines += [f"PROBLEM       {problem}" for problem in done.problems]
    return [*lines, FILES, *(f"{digest}  {name}" for name, digest in sorted(done.files.items()))]
