"""What the server needs of anything a page can look at: a bench, a recording, a real controller."""

from typing import Any, Protocol

from oxlatch_tools.panel.messages import Message
from oxlatch_tools.panel.shown import Frame
from oxlatch_tools.panel.traces import Traces

NOTHING_NEW, IN_ITS_TURN, AT_ONCE = 0, 1, 2
"""How soon what has happened must be shown."""


class Session(Protocol):
    """One thing to look at. Nothing in it waits or does I/O for longer than a few milliseconds."""

    traces: Traces

    def hello(self) -> dict[str, Any]:
        """What a page must know once, before its first frame."""

    def take(self, message: Message, hand: int) -> None:
        """Do what a page asks; `hand` tells the pages apart. Errors: `MessageError`."""

    def leave(self, hand: int) -> None:
        """A page has gone: whatever its hand held down is released."""

    def alone(self, nobody: bool) -> None:
        """Whether nobody looks on."""

    def advance(self, elapsed_s: float) -> int:
        """Let real time pass; one of NOTHING_NEW, IN_ITS_TURN, AT_ONCE."""

    def frame(self) -> Frame:
        """Everything a page shows now."""
