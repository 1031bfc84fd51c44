"""Which firmware is this: a digest over its source."""

import hashlib
from functools import cache
from pathlib import Path

import oxlatch


@cache
def firmware_digest() -> str:
    """Eight hex digits over the bytes of every .py file of the firmware package.

    SHA-256 over, per file in order of its path inside the package: the path, a zero byte, the content, a
    zero byte; cut to the first eight digits. The same source gives the same digits on every machine.
    """
    assert oxlatch.__file__ is not None
    root = Path(oxlatch.__file__).parent
    names = sorted(path.relative_to(root).as_posix() for path in root.rglob("*.py"))
    total = hashlib.sha256()
    for name in names:
        total.update(name.encode() + b"\0" + (root / name).read_bytes() + b"\0")
    return total.hexdigest()[:8]
