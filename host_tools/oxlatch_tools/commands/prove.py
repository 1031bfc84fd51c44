"""`oxlatch prove`: the controller's own source, proved several independent ways."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.proof.report import abstraction, portable_digests, prove_exhaustive, settings_bounds
from oxlatch_tools.outcome import BadInput, Outcome, json_option, out_option, reporting
from oxlatch_tools.proof_page import channels_text, exhaustive_text, opening, verdict_text

STAGES_MAX = 3


@click.command("prove")
@click.option("--stages", type=click.IntRange(1, STAGES_MAX), default=2, show_default=True, help="Stages to explore.")
@click.option("--workers", type=click.IntRange(1, 64), help="Processes to explore with; all cores when not given.")
@out_option
@json_option
@reporting("prove")
def command(stages: int, workers: int | None, out_dir: Path, as_json: bool) -> Outcome:
    """Prove the invariants on the controller's own source, and say what is assumed.

    A broken claim is written to the output folder as a recording that `oxlatch replay` steps.
    """
    processes = workers or os.cpu_count() or 1
    problems: list[str] = []

    def tell(text: str) -> None:
        if not as_json:
            click.echo(text)

    tell(opening(firmware_digest(), stages))
    with bar(as_json, "exploring") as update:
        exhaustive, found_problems, _found = prove_exhaustive(stages, processes, out_dir, update)
    problems += found_problems
    digests, digest_problems = portable_digests(stages)
    exhaustive |= digests
    problems += digest_problems
    assumed = abstraction(stages)
    tell(exhaustive_text(exhaustive, assumed))
    channels, channel_problems = _channels(tell)
    problems += channel_problems
    tell(verdict_text(problems))
    return Outcome(
        "prove",
        ok=not problems,
        problems=problems,
        firmware=firmware_digest(),
        result={
            "symbolic": None,
            "exhaustive": exhaustive,
            "reference": None,
            "channels": channels,
            "mutants": None,
            "abstraction": assumed,
            "firmware": firmware_digest(),
            "settings_bounds": settings_bounds(),
        },
    )


def _channels(tell: Any) -> tuple[list[dict[str, Any]], list[str]]:
    from oxlatch_sim.proof.channels import explore_channels

    rows = [vars(row) for row in explore_channels()]
    tell(channels_text(rows))
    return rows, [f"channel {row['name']}: {row['broken']}" for row in rows if row["broken"]]


@contextmanager
def bar(quiet: bool, what: str) -> Iterator[Any]:
    """A progress bar for an exploration on a terminal, nothing elsewhere."""
    columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.fields[done]}"), TimeElapsedColumn())
    with Progress(*columns, transient=True, disable=quiet or not sys.stderr.isatty()) as progress:
        task = progress.add_task(what, total=None, done="")

        def update(known: int, expanded: int, transitions: int) -> None:
            progress.update(task, total=known, completed=expanded, done=f"{transitions:,} transitions")

        yield update


__all__ = ["BadInput", "command"]
