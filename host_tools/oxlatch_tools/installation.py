"""One TOML file describes one aircraft: read, checked strictly, and named by an eight-digit digest.

Every quantity carries its unit in the text and is a float in SI units after reading (crank angles in degrees and
speeds of rotation in revolutions per minute excepted). All problems of a file are reported together.
"""

import difflib
import hashlib
import json
import tomllib
import types
import typing
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal, cast

from pydantic import BaseModel, Field, ValidationError

from oxlatch_tools import installation_aircraft as craft
from oxlatch_tools import installation_control as control
from oxlatch_tools import installation_system as system
from oxlatch_tools.installation_checks import contradictions
from oxlatch_tools.installation_lines import Location, line_at, lines_of
from oxlatch_tools.installation_quantities import Quantity

EXAMPLES = Path(__file__).parent / "installations"
_LARGEST_BYTES = 1_000_000


@dataclass(frozen=True)
class Problem:
    """One thing wrong with a file: where, what was found, what is allowed, and the line when it is known."""

    field: str
    found: str
    allowed: str
    line: int | None = None

    def __str__(self) -> str:
        where = f"line {self.line}, {self.field}" if self.line else self.field
        return f"{where}: {self.found}; allowed: {self.allowed}"


class InstallationError(ValueError):
    """The file cannot be used. `problems` lists everything that is wrong, not only the first."""

    def __init__(self, file: str, problems: list[Problem]):
        self.file = file
        self.problems = problems
        super().__init__("\n".join(f"{file}: {problem}" for problem in problems))


class Installation(craft.Section):
    """One aircraft with its boost system. See the section classes for each field's meaning."""

    format: Literal[1]
    aircraft: craft.Aircraft
    engine: craft.Engine
    ceiling: craft.Ceiling
    propeller: craft.Propeller
    takeoff: craft.TakeOff
    mission: craft.Mission
    airfields: Annotated[list[craft.Airfield], Field(min_length=1, max_length=12)]
    alternatives: Annotated[list[craft.Alternative], Field(max_length=6)] = Field(default_factory=list)
    masses: Annotated[list[craft.MassItem], Field(max_length=40)] = Field(default_factory=list)
    oxidizer: system.Oxidizer
    bottle: system.Bottle
    feed: system.Feed
    stages: Annotated[list[system.Stage], Field(min_length=1, max_length=4)]
    jets: system.Jets
    fuel: system.Fuel
    oxidizer_valve: system.Valve
    fuel_valve: system.Valve
    purge_valve: system.Valve
    master_fuel_valve: system.Valve | None = None
    master_oxidizer_valve: system.Valve | None = None
    electrical: system.Electrical
    sensors: control.Sensors
    limits: control.Limits
    timing: control.Timing
    tested: control.Tested

    @property
    def digest(self) -> str:
        """Eight hex digits over the canonical form: the same for the same values in any units, order or layout."""
        return hashlib.sha256(self.canonical().encode()).hexdigest()[:8]

    def canonical(self) -> str:
        """Canonical JSON: SI values to nine significant digits, keys sorted, display units left out."""
        tree = self.model_dump(mode="python")
        del tree["aircraft"]["units"]
        return json.dumps(_rounded(tree), sort_keys=True, separators=(",", ":"), ensure_ascii=True)

    @property
    def displacement_m3(self) -> float:
        """Swept volume of all cylinders."""
        engine = self.engine
        return engine.cylinders * 3.141592653589793 / 4 * engine.bore**2 * engine.stroke

    def patterns(self) -> list[tuple[int, ...]]:
        """Every non-empty set of stages, as ascending stage numbers from 1, in the order of the switch bits."""
        count = len(self.stages)
        return [tuple(n + 1 for n in range(count) if bits >> n & 1) for bits in range(1, 1 << count)]

    def pattern_power_w(self, pattern: tuple[int, ...]) -> float:
        """Sum of the powers of the stages of `pattern`."""
        return sum(self.stages[number - 1].power for number in pattern)

    def is_tested(self, pattern: tuple[int, ...]) -> bool:
        """Whether the file records a completed test of exactly this pattern."""
        return any(tuple(sorted(entry.stages)) == pattern for entry in self.tested.patterns)


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items() if item is not None}
    if isinstance(value, list | tuple):
        return [_rounded(item) for item in value]
    if isinstance(value, float):
        return f"{value + 0.0:.9g}"
    if isinstance(value, bool | int | str):
        return value
    return str(value)


def example(name: str) -> Path:
    """Path of a bundled example, "alpine_tug" or "valley_two_seater"."""
    return EXAMPLES / f"{name}.toml"


def load_installation(path: str | Path) -> Installation:
    """Read and check one file, or a bundled example by its name; InstallationError lists every problem."""
    file = str(path)
    by_name = example(file)
    try:
        with open(by_name if by_name.parent == EXAMPLES and by_name.exists() else path, "rb") as stream:
            data = stream.read(_LARGEST_BYTES + 1)
    except OSError as error:
        raise InstallationError(
            file, [Problem("file", error.strerror or "cannot be read", "a readable TOML file")]
        ) from error
    if len(data) > _LARGEST_BYTES:
        raise InstallationError(file, [Problem("file", "is too large", f"up to {_LARGEST_BYTES} bytes")])
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        found = f"byte {error.start} is not UTF-8"
        raise InstallationError(file, [Problem("file", found, "UTF-8 text in TOML")]) from error
    return parse_installation(text, file)


def parse_installation(text: str, file: str = "installation") -> Installation:
    """As load_installation, from a text already in memory."""
    try:
        tree = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InstallationError(file, [Problem("file", f"is not TOML: {error}", "TOML 1.0")]) from error
    except RecursionError as error:
        raise InstallationError(file, [Problem("file", "is nested too deeply", "tables two deep")]) from error
    where = lines_of(text)
    try:
        installation = Installation.model_validate(tree)
    except ValidationError as error:
        problems = [_problem(cast(dict[str, Any], item), where) for item in error.errors(include_url=False)]
        raise InstallationError(file, problems) from error
    found = [
        Problem(name_of(location), what, allowed, line_at(where, location))
        for location, what, allowed in contradictions(installation)
    ]
    if found:
        raise InstallationError(file, found)
    return installation


def name_of(location: Location) -> str:
    """A location in words: stages[2].power, counted from 1."""
    name = ""
    for part in location:
        name += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if name else part
    return name


def _problem(item: dict[str, Any], where: dict[Location, int]) -> Problem:
    location: Location = tuple(item["loc"])
    line = line_at(where, location)
    name = name_of(location)
    if item["type"] == "extra_forbidden":
        return Problem(name, "is not a known key", _keys_like(location), line)
    if item["type"] == "missing":
        return Problem(name, "is missing", _allowed_at(location), line)
    found = f"{_shown(item['input'])} {_complaint(item)}"
    allowed = item.get("ctx", {}).get("allowed") or _allowed_at(location)
    return Problem(name, found, allowed, line)


def _complaint(item: dict[str, Any]) -> str:
    if item["type"] == "quantity":
        return str(item["ctx"]["what"])
    words = str(item["msg"])
    return "is refused: " + words[0].lower() + words[1:]


def _shown(value: Any) -> str:
    text = json.dumps(value, default=str, ensure_ascii=False)
    return text if len(text) <= 60 else text[:57] + "..."


def _model_at(location: Location) -> tuple[type[BaseModel], Location]:
    """The deepest section class on the way to `location`, and what is left of the location."""
    model: type[BaseModel] = Installation
    rest = location
    while rest:
        inner = model.model_fields.get(str(rest[0]))
        section = _section_in(inner.annotation) if inner is not None else None
        if section is None or len(rest) == 1:
            return model, rest
        model, rest = section, rest[1:]
        if rest and isinstance(rest[0], int):
            rest = rest[1:]
    return model, rest


def _section_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in typing.get_args(annotation):
        found = _section_in(inner)
        if found is not None:
            return found
    return None


def _keys_like(location: Location) -> str:
    model, _rest = _model_at(location)
    known = list(model.model_fields)
    close = difflib.get_close_matches(str(location[-1]), known, n=1)
    return f"{close[0]} (perhaps meant)" if close else ", ".join(known)


def _allowed_at(location: Location) -> str:
    model, rest = _model_at(location)
    field = model.model_fields.get(str(rest[0])) if rest else None
    if field is None:
        return "see the schema"
    section = _section_in(field.annotation)
    if section is not None and len(rest) == 1:
        return "a table with " + ", ".join(section.model_fields)
    allowed = _words_of(field.annotation, list(field.metadata))
    return f"{allowed} ({field.description})" if field.description else allowed


def _words_of(annotation: Any, metadata: list[Any]) -> str:
    """What a plain field may hold, in words."""
    for mark in metadata:
        if isinstance(mark, Quantity):
            return mark.allowed()
    if typing.get_origin(annotation) is Annotated:
        inner, *marks = typing.get_args(annotation)
        return _words_of(inner, [m for mark in marks for m in getattr(mark, "metadata", [mark])])
    if typing.get_origin(annotation) is Literal:
        return ", ".join(json.dumps(choice) for choice in typing.get_args(annotation))
    if typing.get_origin(annotation) in (typing.Union, types.UnionType):
        return " or ".join(_words_of(inner, []) for inner in typing.get_args(annotation) if inner is not type(None))
    if typing.get_origin(annotation) is list:
        return "a list of " + _words_of(typing.get_args(annotation)[0], []) + _range_of(metadata, " entries")
    names = {int: "a whole number", float: "a number", str: "a text", bool: "true or false"}
    return names.get(annotation, getattr(annotation, "__name__", "a value")) + _range_of(metadata, "")


def _range_of(metadata: list[Any], unit: str) -> str:
    words = {
        "ge": "from",
        "le": "to",
        "min_length": "at least",
        "max_length": "at most",
        "multiple_of": "in steps of",
    }
    parts = [f"{word} {getattr(mark, key):g}" for key, word in words.items() for mark in metadata if hasattr(mark, key)]
    return " " + ", ".join(parts) + unit if parts else ""
