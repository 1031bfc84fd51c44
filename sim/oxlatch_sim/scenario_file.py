"""Scenario files: TOML with units, checked strictly, one message for the first thing that is wrong.

title      words for people
stages     how many stages of the aircraft take part
duration   how long after `begin` it lasts
[start]    what the aircraft is like and where the story begins
[[event]]  at a time, one thing that pilot, aircraft or fault does; times never go backwards
[settings] fields of the settings record that differ from the installation's
[expect]   what must come of it
"""

import re
import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Any, Literal

import pint
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from oxlatch.settings import FIELDS
from oxlatch.vocabulary import STATE_NAMES
from oxlatch_sim.faults import FaultError, parse_name
from oxlatch_sim.inputs import INPUT_BITS
from oxlatch_sim.reason_names import reasons_by_name

BUNDLED = Path(__file__).parent / "scenarios"
LONGEST_S = 1800.0
TABLES = ("start", "event", "settings", "expect")
BOUNDS = {name: (low, high) for name, _unit, low, high, _default in FIELDS}


class ScenarioError(ValueError):
    """A scenario file that cannot be played: which file, where, what was found, what is allowed."""


@lru_cache(maxsize=1)
def _units() -> Any:
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def _quantity(unit: str, low: float, high: float, example: str) -> BeforeValidator:
    """Reads text such as "3.5 s" into a float in `unit`."""

    def read(value: object) -> float:
        allowed = f"{low:g} to {high:g} {unit}, for instance {example!r}"
        if not isinstance(value, str):
            raise ValueError(f"allowed is text with a unit, {allowed}")
        try:
            found = float(_units().Quantity(value).to(unit).magnitude)
        except Exception as error:
            raise ValueError(f"allowed is {allowed}") from error
        if not low <= found <= high:
            raise ValueError(f"allowed is {allowed}")
        return found

    return BeforeValidator(read)


Time = Annotated[float, _quantity("s", 0.0, LONGEST_S, "3.5 s")]
Travel = Annotated[float, _quantity("percent", 0.0, 100.0, "60 %")]
Kelvin = Annotated[float, _quantity("K", 233.15, 335.15, "20 degC")]
Mass = Annotated[float, _quantity("kg", 0.05, 60.0, "4.5 kg")]
Pascals = Annotated[float, _quantity("Pa", 20_000.0, 120_000.0, "795 hPa")]
Speed = Annotated[float, _quantity("m/s", 0.0, 150.0, "80 kt")]
Volts = Annotated[float, _quantity("V", 0.0, 36.0, "14 V")]
OnOff = Literal["on", "off"]
Stages = list[Annotated[int, Field(ge=1, le=4)]]


def _reason(name: str) -> str:
    if name not in reasons_by_name():
        raise ValueError("allowed are the names in the table of reasons, such as 'PURGE_NEEDED'")
    return name


def _state(name: str) -> str:
    if name not in STATE_NAMES:
        raise ValueError(f"allowed are {', '.join(STATE_NAMES)}")
    return name


def _input(name: str) -> str:
    if name not in INPUT_BITS:
        raise ValueError(f"allowed are {', '.join(INPUT_BITS)}")
    return name


Reason = Annotated[str, BeforeValidator(_reason)]
State = Annotated[str, BeforeValidator(_state)]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class Start(_Strict):
    """The aircraft at the beginning. `begin`: power-up, or after the usual routine up to armed, ready or flowing."""

    begin: Literal["power-up", "armed", "ready", "flowing"] = "power-up"
    select: Stages = []
    engine: Literal["stopped", "idle"] = "idle"
    line: Literal["air", "vapour", "liquid"] = "air"
    hand_valve: Literal["open", "shut"] = "open"
    bottle_temperature: Kelvin | None = None
    bottle_fill: Mass | None = None
    bus: Volts | None = None
    outside_pressure: Pascals | None = None
    outside_temperature: Kelvin | None = None


class Event(_Strict):
    """One thing at one time."""

    at: Time
    master: OnOff | None = None
    purge: OnOff | None = None
    ack: OnOff | None = None
    bench: OnOff | None = None
    """The bench key."""
    select: Stages | None = None
    throttle: Travel | None = None
    over: Time | None = None
    detent: Literal["push", "release"] | None = None
    engine: Literal["idle", "quits"] | None = None
    bottle: Literal["shut", "replace", "open"] | None = None
    bottle_temperature: Kelvin | None = None
    outside_pressure: Pascals | None = None
    outside_temperature: Kelvin | None = None
    airspeed: Speed | None = None
    fault: str | None = None
    heal: str | None = None
    service: Literal["on", "off", "sign-off"] | None = None

    def actions(self) -> list[str]:
        """Names of what this event does."""
        given = self.model_dump(exclude_none=True)
        return [name for name in given if name not in ("at", "over")]


class Opened(_Strict):
    """Stages whose valves were driven at any time."""

    ox: Stages = []
    fuel: Stages = []


class Expect(_Strict):
    """What must come of it. Whatever is left out is not looked at; the invariants always are."""

    final_state: State
    visits: list[State] = []
    """States entered in this order, others in between allowed."""
    never_visits: list[State] = []
    first_cause: Reason | None = None
    reasons: list[Reason] = []
    """Each of these stood at some time."""
    never_reasons: list[Reason] = []
    opened: Opened | None = None
    runs: Annotated[int, Field(ge=0, le=100)] | None = None
    latch: Annotated[int, Field(ge=0, le=4)] | None = None
    lockout: Annotated[int, Field(ge=-1, le=4)] | None = None
    all_off_after: Time | None = None
    """No stage valve is driven after this time."""
    fuel_only_ms: Annotated[float, Field(ge=0)] = 10.0
    """Largest fuel-only exposure of any stage, in total."""
    oxidizer_only_ms: Annotated[float, Field(ge=0)] = 90.0
    """Largest single oxidizer-only exposure of any stage."""


class Scenario(_Strict):
    """One scenario. `name` is the file's name without its ending."""

    title: Annotated[str, Field(min_length=1, max_length=120)]
    stages: Annotated[int, Field(ge=1, le=4)]
    duration: Time
    seed: Annotated[int, Field(ge=0, lt=2**31)] = 0
    start: Start = Start()
    fit: list[Annotated[str, BeforeValidator(_input)]] = []
    """Inputs fitted for this scenario whether the installation has them or not."""
    without: list[Annotated[str, BeforeValidator(_input)]] = []
    """Inputs left out for this scenario though the installation has them."""
    settings: dict[str, int] = {}
    event: list[Event] = []
    expect: Expect
    name: str = ""


def bundled() -> list[Path]:
    """Paths of the scenarios that come with the package, by name."""
    return sorted(BUNDLED.glob("*.toml"))


def find(name: str) -> Path:
    """The path of a scenario: a file, or the name of a bundled one. Errors: `ScenarioError`."""
    path = Path(name)
    if path.suffix == ".toml" or path.exists():
        return path
    inside = BUNDLED / f"{name}.toml"
    if inside.exists():
        return inside
    raise ScenarioError(f"scenario {name!r} is neither a file nor one of {', '.join(p.stem for p in bundled())}")


def load(path: Path) -> Scenario:
    """Read and check one scenario file. Errors: `ScenarioError`, one message."""
    try:
        text = path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ScenarioError(f"{path}: cannot be read: {error}") from error
    return parse(text, str(path), path.stem)


def parse(text: str, file: str, name: str) -> Scenario:
    """Check the text of a scenario; `file` is what messages call it."""
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ScenarioError(f"{file}: is not TOML: {error}") from error
    try:
        scenario = Scenario.model_validate({**content, "name": name} if "name" not in content else content)
    except ValidationError as error:
        raise ScenarioError(_first(error, file, text)) from error
    problem = _contradiction(scenario)
    if problem:
        key, found, allowed = problem
        raise ScenarioError(_message(file, text, key, found, allowed))
    return scenario


def _contradiction(scenario: Scenario) -> tuple[tuple[str | int, ...], object, str] | None:
    """Where, what and what is allowed, for the first rule between keys that is broken."""
    for name, value in scenario.settings.items():
        low, high = BOUNDS.get(name, (0, -1))
        if high < low:
            return ("settings", name), name, "the name of a settings field"
        if not low <= value <= high:
            return ("settings", name), value, f"{low} to {high}"
    before = 0.0
    for index, event in enumerate(scenario.event):
        where = ("event", index)
        if event.at < before:
            return (*where, "at"), f"{event.at:g} s", f"{before:g} s or later: events stand in order of time"
        before = event.at
        found = _event_problem(event, scenario.stages)
        if found:
            return (*where, found[0]), found[1], found[2]
    if before > scenario.duration:
        return ("duration",), f"{scenario.duration:g} s", f"{before:g} s or more, the time of the last event"
    return _stage_problem(scenario)


def _event_problem(event: Event, stages: int) -> tuple[str, object, str] | None:
    if len(event.actions()) != 1:
        return "at", ", ".join(event.actions()) or "no action", "exactly one action per event"
    if event.over is not None and event.throttle is None:
        return "over", f"{event.over:g} s", "only beside throttle"
    for key in ("fault", "heal"):
        name = getattr(event, key)
        if name is not None:
            try:
                parse_name(name, stages)
            except FaultError as error:
                return key, name, f"a fault of the catalogue ({error})"
    return None


def _stage_problem(scenario: Scenario) -> tuple[tuple[str | int, ...], object, str] | None:
    lists: list[tuple[tuple[str | int, ...], list[int] | None]] = [(("start", "select"), scenario.start.select)]
    lists += [(("event", index, "select"), event.select) for index, event in enumerate(scenario.event)]
    if scenario.expect.opened is not None:
        lists += [(("expect", "opened"), scenario.expect.opened.ox + scenario.expect.opened.fuel)]
    for key, numbers in lists:
        for number in numbers or []:
            if number > scenario.stages:
                return key, f"stage {number}", f"1 to {scenario.stages}"
    return None


def _first(error: ValidationError, file: str, text: str) -> str:
    found_problems = error.errors(include_url=False)
    # A key that should not be there explains one that is missing.
    problem = min(found_problems, key=lambda each: each["type"] != "extra_forbidden")
    key = tuple(part for part in problem["loc"] if part not in ("function-before[read()]",))
    found = problem.get("input")
    if problem["type"] == "extra_forbidden":
        return _message(file, text, key, f"key {key[-1]!r}", f"one of {', '.join(_allowed_keys(key))}")
    if problem["type"] == "missing":
        return _message(file, text, key[:-1], "nothing", f"the key {key[-1]!r} is needed")
    allowed = str(problem.get("ctx", {}).get("error", problem["msg"])).removeprefix("allowed is ")
    return _message(file, text, key, repr(found), allowed.removeprefix("allowed are "))


def _allowed_keys(key: tuple[str | int, ...]) -> list[str]:
    models: dict[str | int, type[BaseModel]] = {"start": Start, "event": Event, "expect": Expect, "opened": Opened}
    model: type[BaseModel] = Scenario
    for part in key[:-1]:
        model = models.get(part, model)
    return [name for name in model.model_fields if name != "name"]


def _message(file: str, text: str, key: tuple[str | int, ...], found: object, allowed: str) -> str:
    shown = ".".join(f"[{part + 1}]" if isinstance(part, int) else str(part) for part in key).replace(".[", "[")
    line = _line_of(text, key)
    where = f"line {line}, {shown}" if line else shown or "file"
    return f"{file}: {where}: found {found}; allowed: {allowed}"


def _line_of(text: str, key: tuple[str | int, ...]) -> int | None:
    """Line of a key, or of the table it belongs to."""
    if not key:
        return None
    table = str(key[0]) if len(key) > 1 or key[0] in TABLES else ""
    entry = next((part for part in key if isinstance(part, int)), 0)
    last = str(key[-1])
    here, seen, at = "", -1, None
    for number, line in enumerate(text.splitlines(), start=1):
        heading = re.match(r"\s*\[+\s*([\w.]+)\s*\]+", line)
        if heading:
            here = heading.group(1)
            seen += here == "event"
        inside = here == table and (table != "event" or seen == entry)
        if inside and heading:
            at = number
        if inside and re.match(rf"\s*{re.escape(last)}\s*=", line):
            return number
    return at
