"""How every command ends: one envelope for machines, one message for bad input, one exit code.

A command module reads

    @click.command("run")
    @json_option
    @reporting("run")
    def command(as_json: bool) -> Outcome: ...

`reporting` prints what the command returns and leaves with its exit code: 0 when what the command
checks holds, 1 when it does not, 2 when the input is bad. `--json` prints the envelope and nothing else
on standard output.
"""

import functools
import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

import click

from oxlatch_sim.whole_file import write_whole
from oxlatch_tools.build import build_digest

FORMAT = 1
HOLDS, DOES_NOT_HOLD, BAD_INPUT = 0, 1, 2


class BadInput(Exception):
    """The input cannot be used. The message names what, where, what was found and what is allowed."""


@dataclass
class Outcome:
    """What a command found.

    `text` is what people read; a command that printed as it went leaves it empty. `problems` are
    sentences; `result` is plain data that json can write.
    """

    command: str
    ok: bool
    result: dict[str, Any] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    installation: str | None = None
    firmware: str | None = None
    text: str = ""

    @property
    def exit(self) -> int:
        """0 when what the command checks holds, else 1."""
        return HOLDS if self.ok else DOES_NOT_HOLD


def envelope(outcome: Outcome, code: int | None = None) -> dict[str, Any]:
    """The one JSON shape of every command."""
    return {
        "format": FORMAT,
        "command": outcome.command,
        "ok": outcome.ok,
        "exit": outcome.exit if code is None else code,
        "installation": outcome.installation,
        "firmware": outcome.firmware,
        "build": build_digest(),
        "problems": outcome.problems,
        "result": outcome.result,
    }


def emit(outcome: Outcome, as_json: bool) -> NoReturn:
    """Print the outcome and leave with its exit code."""
    if as_json:
        click.echo(json.dumps(envelope(outcome), indent=1))
    else:
        if outcome.text:
            click.echo(outcome.text)
        for problem in outcome.problems:
            click.echo(problem, err=True)
    sys.exit(outcome.exit)


def refuse(command: str, message: str, as_json: bool) -> NoReturn:
    """Report bad input: the message alone, or the envelope that carries it; exit 2."""
    if as_json:
        found = Outcome(command, ok=False, problems=[message])
        click.echo(json.dumps(envelope(found, BAD_INPUT), indent=1))
    else:
        click.echo(f"oxlatch {command}: {message}", err=True)
    sys.exit(BAD_INPUT)


@contextmanager
def bad_input_from(*kinds: type[Exception]) -> Iterator[None]:
    """Turn the named exceptions of the layers below into BadInput with the same message."""
    try:
        yield
    except kinds as error:
        raise BadInput(str(error)) from error


json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON object for machines.")
out_option = click.option(
    "--out",
    "out_dir",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("out"),
    show_default=True,
    help="Folder for the files written.",
)


def reporting(name: str) -> Callable[[Callable[..., Outcome]], Callable[..., None]]:
    """Wrap a command body that takes `as_json` and returns an Outcome or raises BadInput."""

    def wrap(body: Callable[..., Outcome]) -> Callable[..., None]:
        @functools.wraps(body)
        def run(*args: Any, **kwargs: Any) -> None:
            as_json = bool(kwargs["as_json"])
            try:
                outcome = body(*args, **kwargs)
            except BadInput as error:
                refuse(name, str(error), as_json)
            emit(outcome, as_json)

        return run

    return wrap


def write_output(folder: Path, name: str, content: bytes | str) -> Path:
    """Write one output file whole; an unusable folder is bad input."""
    try:
        return write_whole(folder / name, content)
    except OSError as error:
        message = f"{folder / name}: cannot be written ({error.strerror}); name another folder with --out"
        raise BadInput(message) from error
