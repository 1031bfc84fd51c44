"""Output files appear whole or not at all."""

import os
import tempfile
from pathlib import Path


def write_whole(path: Path, content: bytes | str) -> Path:
    """Write `content` to a temporary neighbour of `path`, then rename it into place.

    Creates the folder. Text is written as UTF-8. Raises OSError and leaves any earlier file untouched.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    data = content.encode("utf-8") if isinstance(content, str) else content
    handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
        os.chmod(temporary, 0o644)
        os.replace(temporary, path)
    except BaseException:
        os.unlink(temporary)
        raise
    return path
