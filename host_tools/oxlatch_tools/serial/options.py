"""What the bench commands share on the command line: the port, and what Ctrl-C says."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import click

from oxlatch_tools.outcome import BadInput
from oxlatch_tools.serial.port import DESK


def port_option(required: bool) -> Callable[[Any], Any]:
    """The option --port."""
    return click.option(
        "--port",
        required=required,
        help=f"Port of the board, socket://host:port, or '{DESK}' for a controller without a board.",
    )


@contextmanager
def stopped_by_hand(how_it_stands: str) -> Iterator[None]:
    """Let Ctrl-C end in one message that says how things stand. Raises BadInput."""
    try:
        yield
    except KeyboardInterrupt:
        raise BadInput(f"stopped by hand; {how_it_stands}") from None
