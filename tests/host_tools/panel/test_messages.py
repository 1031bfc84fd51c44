"""What a page may say, and what is dropped."""

import json
from typing import Any

import pytest

from oxlatch_tools.panel.deeds import Deed, Limits, read_deed
from oxlatch_tools.panel.messages import LONGEST, MessageError, read

LIMITS = Limits(3, (0.2, 5.0), (0.0, 19.0), frozenset({"mixture rich", "airspeed"}))


def deed_of(**message: Any) -> Deed | None:
    return read_deed(read(json.dumps(message)), LIMITS)


@pytest.mark.parametrize(
    ("message", "args"),
    [
        ({"do": "switch", "name": "master", "on": True}, ("master", True)),
        ({"do": "select", "stage": 3, "on": False}, (3, False)),
        ({"do": "throttle", "percent": 100}, (100.0,)),
        ({"do": "push", "on": True}, (True,)),
        ({"do": "fault", "name": "ox_jammed_shut@2", "on": True}, ("ox_jammed_shut@2", True)),
        ({"do": "bottle", "temperature_c": 12.5, "fill_kg": 3}, (12.5, 3.0)),
        ({"do": "altitude", "altitude_m": 1950}, (1950.0,)),
        ({"do": "heal"}, ()),
        ({"do": "switch", "name": "bench", "on": True}, ("bench", True)),
        ({"do": "contact", "name": "mixture rich", "on": False}, ("mixture rich", False)),
        ({"do": "airspeed", "airspeed_m_s": 40}, (40.0,)),
    ],
)
def test_a_deed_is_read_with_its_arguments(message: dict[str, Any], args: tuple[Any, ...]) -> None:
    assert deed_of(**message) == Deed(message["do"], args)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "master on",
        "[]",
        '"switch"',
        "{}",
        '{"do": 1}',
        '{"do": "switch"}',
        '{"do": "switch", "name": "master", "on": 1}',
        '{"do": "switch", "name": "master", "on": "true"}',
        '{"do": "switch", "name": "inject", "on": true}',
        '{"do": "switch", "name": "master", "on": true, "more": 1}',
        '{"do": "select", "stage": 4, "on": true}',
        '{"do": "select", "stage": true, "on": true}',
        '{"do": "select", "stage": 1.0, "on": true}',
        '{"do": "throttle", "percent": 101}',
        '{"do": "throttle", "percent": NaN}',
        '{"do": "throttle", "percent": Infinity}',
        '{"do": "fault", "name": "no_such_fault", "on": true}',
        '{"do": "fault", "name": "ox_jammed_shut@9", "on": true}',
        '{"do": "fault", "name": ["ox_jammed_shut"], "on": true}',
        '{"do": "bottle", "temperature_c": 90, "fill_kg": 3}',
        '{"do": "service", "level": 3}',
        '{"do": "contact", "name": "fire", "on": true}',
        '{"do": "airspeed", "airspeed_m_s": -1}',
        "[" * 400,
        '{"do": "heal", "x": "' + "y" * LONGEST + '"}',
    ],
)
def test_what_is_not_exactly_a_deed_is_refused_in_words(text: str) -> None:
    with pytest.raises(MessageError) as refused:
        read_deed(read(text), LIMITS)
    assert str(refused.value)


def test_a_message_about_something_else_is_no_deed() -> None:
    assert deed_of(do="pause") is None


def test_no_deed_reaches_the_inject_strap_or_a_valve() -> None:
    for name in ("inject", "ox", "fuel", "run"):
        with pytest.raises(MessageError):
            deed_of(do="switch", name=name, on=True)
