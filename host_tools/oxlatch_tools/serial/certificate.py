"""The certificate of a flashed board: what is on it, what is not fitted, and which proof covers exactly that."""

import json
from dataclasses import dataclass
from pathlib import Path

from oxlatch_tools.serial.flash import Flashed

PROOF_FILE = Path("out") / "prove.json"


@dataclass(frozen=True)
class Proof:
    """The proof of a firmware, or why there is none."""

    digest: str
    why_not: str

    @property
    def line(self) -> str:
        """The line of the certificate."""
        return f"PROVED: proof {self.digest} of these files" if self.digest else f"NOT PROVED: {self.why_not}"


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
    return Proof(digest, "")


def certificate_lines(done: Flashed, proof: Proof) -> list[str]:
    """The certificate, one line each, all in the same type."""
    absent = ", ".join(done.not_fitted) or "nothing: every input is fitted"
    lines = [
        "CERTIFICATE OF WHAT IS ON THIS BOARD",
        f"board         {done.board}, MicroPython {done.micropython}",
        f"firmware      {done.firmware}, {len(done.files)} files, each read back and equal by SHA-256",
        f"settings      {done.settings}",
        f"installation  {done.installation}",
        f"NOT FITTED    {absent}",
        proof.line,
        f"state         {done.state} after restart",
    ]
    lines += [f"PROBLEM       {problem}" for problem in done.problems]
    return lines
