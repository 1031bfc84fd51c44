"""The recordings a page may open: those in one folder, and files named on the command line."""

import re
from collections import OrderedDict
from pathlib import Path

from oxlatch_sim.recording import Recording, RecordingError, parse_recording, read_recording
from oxlatch_sim.whole_file import write_whole
from oxlatch_tools.panel.recording_session import RecordedTicks

NAME = re.compile(r"[A-Za-z0-9_][A-Za-z0-9._-]{0,80}\.jsonl")
LARGEST_BYTES = 64 << 20
OPEN_AT_ONCE = 3
LISTED_MAX = 200


class LibraryError(ValueError):
    """No such recording, or one that cannot be used; the words say why."""


class Library:
    """Finds, opens and takes in recordings. The few last opened stay in memory."""

    def __init__(self, folder: Path, named: tuple[Path, ...] = ()) -> None:
        self.folder = folder
        self._named = {path.name: path for path in named}
        self._opened: OrderedDict[tuple[str, int, int], tuple[Recording, RecordedTicks]] = OrderedDict()

    def names(self) -> list[dict[str, int | str]]:
        """Name and size of every recording, newest first."""
        found = {path.name: path for path in self.folder.glob("*.jsonl") if NAME.fullmatch(path.name)}
        found.update(self._named)
        rows = [(path.stat(), name) for name, path in found.items() if path.is_file()]
        rows.sort(key=lambda row: (-row[0].st_mtime, row[1]))
        return [{"name": name, "bytes": stat.st_size} for stat, name in rows[:LISTED_MAX]]

    def path(self, name: str) -> Path:
        """Where a recording lies. Errors: `LibraryError`."""
        path = self._named.get(name)
        if path is None:
            if not NAME.fullmatch(name):
                raise LibraryError("a recording is named by letters, digits, . _ - and ends in .jsonl")
            path = self.folder / name
            if path.is_symlink() and path.resolve().parent != self.folder.resolve():
                raise LibraryError(f"{name} lies outside the folder of recordings")
        if not path.is_file():
            raise LibraryError(f"there is no recording {name} in {self.folder}")
        return path

    def open(self, name: str) -> tuple[Recording, RecordedTicks]:
        """A recording, read. Errors: `LibraryError`."""
        path = self.path(name)
        stat = path.stat()
        if stat.st_size > LARGEST_BYTES:
            raise LibraryError(f"{name} has {stat.st_size >> 20} MB; {LARGEST_BYTES >> 20} at most")
        key = (name, stat.st_mtime_ns, stat.st_size)
        if key not in self._opened:
            try:
                recording = read_recording(path)
            except RecordingError as error:
                raise LibraryError(str(error)) from error
            self._opened[key] = recording, RecordedTicks(recording)
            while len(self._opened) > OPEN_AT_ONCE:
                self._opened.popitem(last=False)
        self._opened.move_to_end(key)
        return self._opened[key]

    def take_in(self, name: str, data: bytes) -> str:
        """Keep an uploaded recording under a name that is not taken; the name. Errors: `LibraryError`."""
        if not NAME.fullmatch(name):
            raise LibraryError("a recording is named by letters, digits, . _ - and ends in .jsonl")
        try:
            parse_recording(data)
        except RecordingError as error:
            raise LibraryError(f"{name}: {error}") from error
        for number in range(100):
            free = name if not number else f"{name.removesuffix('.jsonl')}-{number}.jsonl"
            path = self.folder / free
            if not path.exists():
                write_whole(path, data)
                return free
            if path.read_bytes() == data:
                return free
        raise LibraryError(f"{name} and a hundred names like it are taken")
