"""The shapes of the results that a pack reads: what must be there, so that nothing is guessed at."""

from typing import Any

from pydantic import BaseModel, ValidationError

from oxlatch_sim.campaign import Row


class Campaign(BaseModel):
    """Result of `oxlatch faults`."""

    rows: list[Row]


class Monitored(BaseModel):
    """What one monitor saw."""

    id: str
    held: bool
    vacuous: bool


class Got(BaseModel):
    """What a scenario came to; per stage, in ms, how long a fluid flowed alone."""

    final_state: str | None
    first_cause: str | None
    runs: int
    fuel_only_ms: list[float]
    oxidizer_only_ms: list[float]


class Scenario(BaseModel):
    """One scenario."""

    scenario: str
    got: Got
    monitors: list[Monitored]
    recording: str
    problems: list[str]


class Played(BaseModel):
    """Result of `oxlatch run`."""

    scenarios: list[Scenario]


class Card(BaseModel):
    """One card and its files."""

    title: str
    files: list[str]


class Cards(BaseModel):
    """Result of `oxlatch cards`."""

    draft: bool
    cards: list[Card]


class Channel(BaseModel):
    """One sense channel explored alone."""

    name: str
    states: int
    broken: str


class Proof(BaseModel):
    """Result of `oxlatch prove`; its arguments are read as they come."""

    channels: list[Channel] | None = None
    abstraction: list[str]


class Host(BaseModel):
    """One host on the link."""

    host: str
    longest_us: float
    dropped: int
    broken: int


class Link(BaseModel):
    """What hosts on the link did."""

    digests_equal: bool
    longer_on_board_about_ms: float
    hosts: list[Host]


class Traces(BaseModel):
    """The sortie that the pictures are drawn from."""

    recording: str
    fuel_only_ms: float
    oxidizer_only_ms: float


class Replayed(BaseModel):
    """A recording stepped again."""

    compared: int
    mode: str


SHAPES: dict[str, type[BaseModel]] = {
    "faults": Campaign,
    "run": Played,
    "cards": Cards,
    "prove": Proof,
    "link": Link,
    "traces": Traces,
    "replay": Replayed,
}


def complaint(key: str, result: dict[str, Any]) -> str:
    """The first thing in a result that is not as its command prints it; empty when all is."""
    shape = SHAPES.get(key)
    if shape is None:
        return ""
    try:
        shape.model_validate(result)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(part) for part in first["loc"])
        return f"result.{where}: {first['msg']} ({error.error_count()} in all)"
    return ""
