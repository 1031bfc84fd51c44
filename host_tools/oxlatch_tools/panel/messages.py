"""What a page may say: one JSON object with a deed and its arguments, checked before anything is done.

Whatever does not fit exactly is a `MessageError`; the caller drops it and counts it.
"""

import json
import math
from collections.abc import Mapping
from typing import Any

Message = Mapping[str, Any]
LONGEST = 512
"""Characters of the longest message; all deeds fit in a third of it."""
TICKS_MAX = 1 << 40


class MessageError(ValueError):
    """A message that no page of ours sends, or one that the model cannot follow; the words say why."""


def read(text: str) -> dict[str, Any]:
    """The message in a text. Errors: `MessageError`."""
    if len(text) > LONGEST:
        raise MessageError(f"message of {len(text)} characters; {LONGEST} at most")
    try:
        message = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise MessageError("message is not JSON") from error
    if not isinstance(message, dict) or not isinstance(message.get("do"), str):
        raise MessageError("message names no deed")
    return message


def only(message: Message, *keys: str) -> None:
    """No key but "do" and these, and all of these."""
    if set(message) != {"do", *keys}:
        raise MessageError(f"{message['do']} takes {', '.join(keys) or 'nothing'}")


def flag(message: Message, key: str) -> bool:
    """A true or false."""
    value = message.get(key)
    if not isinstance(value, bool):
        raise MessageError(f"{key} must be true or false")
    return value


def whole(message: Message, key: str, low: int, high: int) -> int:
    """A whole number from low to high."""
    value = message.get(key)
    if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
        raise MessageError(f"{key} must be a whole number from {low} to {high}")
    return value


def number(message: Message, key: str, low: float, high: float) -> float:
    """A number from low to high."""
    value = message.get(key)
    if not isinstance(value, (int, float)) or isinstance(value, bool) or not math.isfinite(value):
        raise MessageError(f"{key} must be a number")
    if not low <= value <= high:
        raise MessageError(f"{key} must lie between {low:g} and {high:g}")
    return float(value)


def one_of(message: Message, key: str, allowed: tuple[Any, ...]) -> Any:
    """One of the allowed values, of the very same type."""
    value = message.get(key)
    for choice in allowed:
        if value == choice and isinstance(value, bool) == isinstance(choice, bool):
            return choice
    raise MessageError(f"{key} must be one of {', '.join(map(str, allowed))}")
