"""Command-line options shared by the bench commands."""

from collections.abc import Callable
from typing import Any

import click

from oxlatch_tools.serial.port import DESK


def port_option(required: bool) -> Callable[[Any], Any]:
    """The option --port."""
    return click.option(
        "--port",
        required=required,
        help=f"Port of the board, socket://host:port, or '{DESK}' for a controller without a board.",
    )
