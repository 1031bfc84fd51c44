"""Where in a TOML text a value stands, so that a message can name the line.

The standard reader keeps no positions. The text has already been read without error when this is used, so a scan for
table headings and keys is enough.
"""

import re
import tomllib
from collections.abc import Sequence

_HEADING = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"^\s*([A-Za-z0-9_\-\"'. ]+?)\s*=")

Location = tuple[str | int, ...]


def lines_of(text: str) -> dict[Location, int]:
    """Line numbers, from 1, of every table and key; entries of arrays of tables carry their index."""
    found: dict[Location, int] = {}
    counts: dict[Location, int] = {}
    here: Location = ()
    closing: str | None = None
    for number, line in enumerate(text.splitlines(), start=1):
        if closing is not None:
            closing = None if closing in line else closing
            continue
        heading = _HEADING.match(line)
        if heading is not None:
            here = _enter(_split(heading.group(2)), heading.group(1) == "[[", counts)
            found.setdefault(here, number)
            continue
        key = _KEY.match(line)
        if key is not None:
            found.setdefault(here + _split(key.group(1)), number)
            closing = _opens_long_text(line)
    return found


def line_at(found: dict[Location, int], location: Sequence[str | int]) -> int | None:
    """The line of `location`, or of the nearest table around it; None when not even that is in the file."""
    for length in range(len(location), 0, -1):
        if tuple(location[:length]) in found:
            return found[tuple(location[:length])]
    return None


def _split(dotted: str) -> Location:
    try:
        table = tomllib.loads(f"{dotted} = 0")
    except tomllib.TOMLDecodeError:
        return (dotted,)
    parts: list[str | int] = []
    inner: object = table
    while isinstance(inner, dict):
        key, inner = next(iter(inner.items()))
        parts.append(key)
    return tuple(parts)


def _enter(name: Location, is_entry: bool, counts: dict[Location, int]) -> Location:
    """The location of a heading: each array of tables on the way contributes the index of its latest entry."""
    here: Location = ()
    for position, part in enumerate(name):
        here = here + (part,)
        if is_entry and position == len(name) - 1:
            counts[here] = counts.get(here, -1) + 1
        if here in counts:
            here = here + (counts[here],)
    return here


def _opens_long_text(line: str) -> str | None:
    for quotes in ('"""', "'''"):
        if line.count(quotes) % 2 == 1:
            return quotes
    return None
