"""The recording: JSON Lines, one object per line, the same for simulator, board and counterexample.

A header line, then a tick line whenever something changed (absent keys keep their last value, nested
objects replace whole), a boot line at every reset with a snapshot of the controller's state words, and
an end line whose CRC-32 covers every byte before it. A recording without a good end line still reads as
far as it goes. The JSON Schema beside this file describes every line.
"""

import json
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Any

from oxlatch import settings as record
from oxlatch.controller import STATE_WORDS
from oxlatch.vocabulary import RAW_COUNT, TICK_MS
from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.observation import LEVELS, RAW_NAMES, Scale, Scales, Tick, fitted_names, observe
from oxlatch_sim.whole_file import write_whole

FORMAT = 1
SOURCES = ("simulator", "controller", "counterexample")


class RecordingError(ValueError):
    """The file is no recording at all: its header cannot be used."""


def schema() -> dict[str, Any]:
    """The JSON Schema of one line."""
    text = resources.files("oxlatch_sim").joinpath("recording.schema.json").read_text("utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def make_header(
    settings: Any, source: str = "simulator", installation: str = "00000000", scales: Scales | None = None
) -> dict[str, Any]:
    """The header line for a controller with these settings.

    `installation` is the installation digest; `scales` turn sensor millivolts into the units of "in".
    """
    if source not in SOURCES:
        raise ValueError(f"source is {source!r}; allowed are {', '.join(SOURCES)}")
    return {
        "kind": "header",
        "format": FORMAT,
        "source": source,
        "installation": installation,
        "firmware": firmware_digest(),
        "tick_ms": TICK_MS,
        "stages": settings.stages,
        "fitted": fitted_names(settings.fitted),
        "settings": {row[0]: getattr(settings, row[0]) for row in record.FIELDS},
        "scales": {name: vars(scale) for name, scale in (scales or {}).items()},
        "raw_names": RAW_NAMES,
        "levels": LEVELS,
    }


def header_settings(header: Mapping[str, Any]) -> record.Settings:
    """The settings a header carries. Raises RecordingError when a field is missing or no integer."""
    settings = record.Settings()
    for name, *_rest in record.FIELDS:
        value = header["settings"].get(name)
        if not isinstance(value, int):
            raise RecordingError(f"header: settings field {name!r} is {value!r}; an integer is needed")
        setattr(settings, name, value)
    return settings


def header_scales(header: Mapping[str, Any]) -> dict[str, Scale]:
    """The sensor scales a header carries, empty when it carries none."""
    try:
        return {name: Scale(**scale) for name, scale in header.get("scales", {}).items()}
    except TypeError as error:
        raise RecordingError("header: each scale needs zero_mv, full_mv and full") from error


class Recorder:
    """Collects a recording in memory; `save` writes it whole."""

    def __init__(self, header: Mapping[str, Any]) -> None:
        self._scales = header_scales(header)
        self._bytes = bytearray()
        self._last: Tick = {}
        self._ticks = 0
        self._ended = False
        self._line(header)

    def _line(self, content: Mapping[str, Any]) -> None:
        self._bytes += json.dumps(content, separators=(",", ":")).encode() + b"\n"

    def boot(self, n: int, word: int) -> None:
        """A reset just before tick `n`; `word` is the raw boot sample."""
        self._line({"kind": "boot", "tick": n, "boot": word})

    def snapshot(self, n: int, words: list[int]) -> None:
        """The controller's state words (see `controller_words`) just before tick `n`."""
        self._line({"kind": "snapshot", "tick": n, "words": words})

    def tick(
        self, n: int, controller: Any, raw: list[int], nozzle: Mapping[str, list[float]] | None = None
    ) -> Tick:
        """Record tick `n`, which the controller has just stepped; return it whole."""
        tick = observe(n, controller, raw, self._scales, nozzle)
        self.tick_data(tick)
        return tick

    def tick_data(self, tick: Tick) -> None:
        """Record a tick that is already plain data."""
        last = self._last
        changed = {
            key: value for key, value in tick.items() if key != "tick" and last.get(key, self) != value
        }
        if changed:
            self._line({"kind": "tick", "tick": tick["tick"], **changed})
            self._last = {**last, **changed}
        self._ticks = tick["tick"] + 1

    def end(self, dropped: int = 0) -> bytes:
        """Close the recording and return its bytes."""
        if not self._ended:
            crc = f"{zlib.crc32(self._bytes):08x}"
            self._line({"kind": "end", "ticks": self._ticks, "dropped": dropped, "crc32": crc})
            self._ended = True
        return bytes(self._bytes)

    def save(self, path: Path) -> Path:
        """Close the recording and write it whole."""
        return write_whole(path, self.end())


def controller_words(controller: Any) -> list[int]:
    """The controller's state words."""
    words = [0] * STATE_WORDS
    controller.state_words(words)
    return words


@dataclass
class Recording:
    """A recording as read: its lines as they stood, and what is wrong with it."""

    header: dict[str, Any]
    lines: list[dict[str, Any]]
    complete: bool
    ticks_total: int
    problems: list[str] = field(default_factory=list)

    @property
    def settings(self) -> record.Settings:
        """The settings of the header."""
        return header_settings(self.header)

    def ticks(self) -> Iterator[Tick]:
        """Every tick in order, filled in: ticks without a line repeat the one before.

        A tick after a reset carries "boot", one after a snapshot carries "snapshot".
        """
        current: Tick = {}
        due = None
        extra: dict[str, Any] = {}
        for line in self.lines:
            n = line["tick"]
            if due is not None:
                for between in range(due, n):
                    yield {**current, **extra, "tick": between}
                    extra = {}
            if line["kind"] == "tick":
                current = {**current, **{key: value for key, value in line.items() if key != "kind"}}
                yield {**current, **extra}
                extra = {}
                due = n + 1
            else:
                extra[line["kind"]] = line["boot" if line["kind"] == "boot" else "words"]
                due = n if due is not None else None
        for between in range(due or 0, self.ticks_total):
            yield {**current, **extra, "tick": between}
            extra = {}


def read_recording(path: Path) -> Recording:
    """Read a recording file. Raises RecordingError (with the path) when it has no usable header."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise RecordingError(f"{path}: cannot be read ({error.strerror})") from error
    try:
        return parse_recording(data)
    except RecordingError as error:
        raise RecordingError(f"{path}: {error}") from error


def parse_recording(data: bytes) -> Recording:
    """Read a recording from its bytes; stop at the first line that cannot be used and say so."""
    rows = data.split(b"\n")
    header = _header(rows[0])
    found = Recording(header, [], complete=False, ticks_total=0)
    at = len(rows[0]) + 1
    for number, row in enumerate(rows[1:], start=2):
        if not row and at >= len(data):
            break
        line = _parse(row)
        fault = _line_fault(line, found) if isinstance(line, dict) else "is not a JSON object"
        if fault:
            found.problems.append(f"line {number}: {fault}; read up to tick {found.ticks_total - 1}")
            return found
        assert isinstance(line, dict)
        if line["kind"] == "end":
            _close(found, line, data, at, number)
            return found
        if line["kind"] == "tick":
            found.ticks_total = line["tick"] + 1
        found.lines.append(line)
        at += len(row) + 1
    found.problems.append(f"cut short: no end line after tick {found.ticks_total - 1}")
    return found


def _parse(row: bytes) -> Any:
    try:
        return json.loads(row)
    except ValueError:
        return None


def _header(row: bytes) -> dict[str, Any]:
    header = _parse(row)
    if not isinstance(header, dict) or header.get("kind") != "header":
        raise RecordingError("line 1: is not a recording header; the first line must have kind 'header'")
    if header.get("format") != FORMAT:
        raise RecordingError(f"line 1: format is {header.get('format')!r}; this version reads {FORMAT}")
    if header.get("tick_ms") != TICK_MS:
        raise RecordingError(f"line 1: tick_ms is {header.get('tick_ms')!r}; the controller's is {TICK_MS}")
    if not isinstance(header.get("settings"), dict):
        raise RecordingError("line 1: settings are missing; they must be an object of integers")
    header_settings(header)
    header_scales(header)
    return header


KEYS: dict[str, tuple[type, ...]] = {
    "raw": (list,),
    "in": (dict,),
    "verdict": (dict,),
    "state": (str,),
    "why": (list,),
    "first_cause": (str, type(None)),
    "class": (str,),
    "latch": (int,),
    "late": (int,),
    "cmd": (dict,),
    "out": (dict,),
    "nozzle": (dict,),
}
"""Keys of a tick line and the JSON types they take."""


def _line_fault(line: dict[str, Any], found: Recording) -> str:
    """What is wrong with the shape of one line, or nothing."""
    kind = line.get("kind")
    if kind == "end":
        good = isinstance(line.get("ticks"), int) and isinstance(line.get("crc32"), str)
        return "" if good else "end line without ticks and crc32"
    if kind not in ("tick", "boot", "snapshot"):
        return f"kind is {kind!r}; allowed are tick, boot, snapshot, end"
    n = line.get("tick")
    if not isinstance(n, int) or n < found.ticks_total:
        return f"tick is {n!r}; {found.ticks_total} or later is due"
    if kind == "boot":
        return "" if isinstance(line.get("boot"), int) else "boot line without its boot word"
    if kind == "snapshot":
        return "" if _are_integers(line.get("words")) else "snapshot whose words are not all integers"
    for key, types in KEYS.items():
        if key in line and not isinstance(line[key], types):
            return f"{key} has the wrong type"
    if "raw" in line and not (_are_integers(line["raw"]) and len(line["raw"]) == RAW_COUNT):
        return f"raw is not {RAW_COUNT} integers"
    return ""


def _are_integers(words: Any) -> bool:
    return isinstance(words, list) and all(isinstance(word, int) for word in words)


def _close(found: Recording, line: dict[str, Any], data: bytes, at: int, number: int) -> None:
    """Check the end line against the bytes before it."""
    crc = f"{zlib.crc32(data[:at]):08x}"
    after = data[at:].split(b"\n", 1)[1:]
    if line["crc32"] != crc:
        found.problems.append(
            f"line {number}: crc32 is {line['crc32']}, the bytes before it give {crc}: corrupted"
        )
    elif after and after[0]:
        found.problems.append(f"line {number}: more bytes follow the end line")
    else:
        found.complete = True
    if line["ticks"] < found.ticks_total:
        found.complete = False
        found.problems.append(f"line {number}: ends at tick {line['ticks'] - 1}, before the last tick line")
    elif found.complete:
        found.ticks_total = line["ticks"]
    if line.get("dropped"):
        found.problems.append(f"{line['dropped']} ticks were dropped while recording")
