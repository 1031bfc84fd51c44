"""Which build is this: a digest over firmware, simulator and tools as installed."""

import hashlib
from functools import cache
from importlib.util import find_spec
from pathlib import Path

PACKAGES = ("oxlatch", "oxlatch_sim", "oxlatch_tools")
FLASHED = "serial/device/"
"""Start files of the board, copied here from beside the firmware when a wheel is built; a flash reads them back."""


@cache
def build_digest() -> str:
    """Eight hex digits over every file of the three packages.

    SHA-256 over, per file in order of package and path: package, path and content, each followed by a zero byte; cut
    to the first eight digits. A tree and the wheel built from it give the same digits.
    """
    total = hashlib.sha256()
    for package in PACKAGES:
        for name, path in _files(package):
            total.update(package.encode() + b"\0" + name.encode() + b"\0" + path.read_bytes() + b"\0")
    return total.hexdigest()[:8]


def _files(package: str) -> list[tuple[str, Path]]:
    spec = find_spec(package)
    assert spec is not None and spec.origin is not None
    root = Path(spec.origin).parent
    found = ((path.relative_to(root).as_posix(), path) for path in root.rglob("*") if path.is_file())
    return sorted((name, path) for name, path in found if "__pycache__" not in name and not name.startswith(FLASHED))
