"""The interactive prompt of a board in maintenance, reached through mpremote as a program of its own.

Always with `resume`: without it mpremote resets the board softly, which leaves pins as they are.
"""

import json
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

TIMEOUT_S = 30
HASHED_AT_ONCE = 24
MICROPYTHON_MIN = (1, 28)
ANSWER = "oxlatch:"

LOOK = """
import sys, os, json
i = sys.implementation
free = 0
try:
    s = os.statvfs("")
    free = s[0] * s[3]
except OSError:
    pass
print("oxlatch:" + json.dumps({"name": i.name, "version": list(i.version[:3]), "mpy": getattr(i, "_mpy", 0) & 255,
    "platform": sys.platform, "machine": getattr(i, "_machine", ""), "free": free}))
"""

HASHES = """
import hashlib, json
from binascii import hexlify
def sha(name):
    try:
        f = open(name, "rb")
    except OSError:
        return ""
    h = hashlib.sha256()
    while True:
        d = f.read(512)
        if not d:
            break
        h.update(d)
    f.close()
    return hexlify(h.digest()).decode()
print("oxlatch:" + json.dumps({n: sha(n) for n in %s}))
"""

FOLDERS = """
import os
for n in %s:
    try:
        os.mkdir(n)
    except OSError:
        pass
print("oxlatch:1")
"""

RENAME = """
import os
for n in %s:
    try:
        os.rename(n + ".new", n)
    except OSError:
        os.remove(n)
        os.rename(n + ".new", n)
if hasattr(os, "sync"):
    os.sync()
print("oxlatch:1")
"""

REMOVE = """
import os
for n in %s:
    try:
        os.remove(n)
    except OSError:
        pass
print("oxlatch:1")
"""

RESTART = "from boot import here\nhere.restart(False)\n"


class PromptError(ValueError):
    """The prompt cannot be reached or does not do as asked. The message says what and what to do."""


@dataclass(frozen=True)
class Found:
    """What runs at the prompt."""

    version: tuple[int, ...]
    mpy: int
    platform: str
    machine: str
    free_bytes: int

    @property
    def board(self) -> str:
        """The board file it needs."""
        return "rp2" if self.platform == "rp2" else "desk"


class Prompt:
    """mpremote on one port."""

    def __init__(self, port: str) -> None:
        self.port = port

    def _run(self, *command: str) -> str:
        try:
            done = subprocess.run(
                [sys.executable, "-m", "mpremote", "connect", self.port, "resume", *command],
                capture_output=True,
                text=True,
                timeout=TIMEOUT_S,
                check=False,
            )
        except subprocess.TimeoutExpired as error:
            raise PromptError(
                f"port {self.port}: no answer from a MicroPython prompt in {TIMEOUT_S} s; if a controller runs there, "
                "fit the maintenance strap and reset it"
            ) from error
        if done.returncode:
            raise PromptError(f"port {self.port}: {explain(done.stderr + done.stdout)}")
        return done.stdout

    def _ask(self, script: str) -> Any:
        told = self._run("exec", script)
        at = told.rfind(ANSWER)
        if at < 0:
            raise PromptError(
                f"port {self.port}: the board answered {told.strip()[-80:]!r} where its findings were due"
            )
        return json.loads(told[at + len(ANSWER) :].strip().split("\n")[0])

    def look(self) -> Found:
        """What is there. Raises PromptError when it is no MicroPython, or too old."""
        told = self._ask(LOOK)
        version = tuple(told["version"])
        if told["name"] != "micropython":
            raise PromptError(f"port {self.port}: {told['name']} runs there; MicroPython is needed")
        if version[:2] < MICROPYTHON_MIN:
            raise PromptError(
                f"port {self.port}: MicroPython {'.'.join(map(str, version))} runs there; "
                f"{'.'.join(map(str, MICROPYTHON_MIN))} or newer is needed"
            )
        return Found(version, told["mpy"], told["platform"], told["machine"], told["free"])

    def hashes(self, names: list[str]) -> dict[str, str]:
        """SHA-256 of files on the board; empty for one that is not there."""
        found: dict[str, str] = {}
        for at in range(0, len(names), HASHED_AT_ONCE):
            found.update(self._ask(HASHES % json.dumps(names[at : at + HASHED_AT_ONCE])))
        return found

    def make_folders(self, names: list[str]) -> None:
        """Make folders that are not there."""
        self._ask(FOLDERS % json.dumps(names))

    def put(self, copies: list[tuple[Path, str]]) -> None:
        """Copy files to the board under the names given."""
        command: list[str] = []
        for source, name in copies:
            command += ["+", "cp", str(source), f":{name}"]
        self._run(*command[1:])

    def rename_new(self, names: list[str]) -> None:
        """Let each name.new take the place of its name."""
        self._ask(RENAME % json.dumps(names))

    def remove(self, names: list[str]) -> None:
        """Remove files, there or not."""
        self._ask(REMOVE % json.dumps(names))

    def restart(self) -> None:
        """Reset the board into its firmware; there is no answer."""
        self._run("exec", "--no-follow", RESTART)


def explain(text: str) -> str:
    """What went wrong, from what mpremote or the board said."""
    if "in use by another program" in text or "exclusively lock" in text:
        return "another program holds it; close that program and run the command again"
    if "could not enter raw repl" in text:
        return (
            "no MicroPython prompt answers. Either no MicroPython is on the board (see 'oxlatch flash --list'), or "
            "another program runs on it: fit the maintenance strap, reset, and run the command again"
        )
    if re.search(r"Errno 28\]|OSError: 28|ENOSPC", text):
        return "the board's file system is full; remove files of your own from it and run the command again"
    if "failed to access" in text or "no device found" in text or "No such file" in text:
        return "the port has gone; plug the cable in and run the command again"
    lines = [line for line in text.strip().split("\n") if line.strip()]
    return lines[-1] if lines else "mpremote failed and said nothing"
