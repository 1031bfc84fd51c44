"""`oxlatch prove`: the controller's own source, proved several independent ways."""

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from oxlatch_sim.identity import firmware_digest
from oxlatch_tools import proof_page as page
from oxlatch_tools.outcome import BadInput, Outcome, bad_input_from, json_option, out_option, reporting, write_output

STAGES_MAX = 3
REFERENCE_STEPS = 60_000
Tell = Callable[[str], None]


@click.command("prove")
@click.option("--stages", type=click.IntRange(1, STAGES_MAX), default=2, show_default=True, help="Stages to explore.")
@click.option("--workers", type=click.IntRange(1, 64), help="Processes to use; all cores when not given.")
@click.option("--mutants", is_flag=True, help="Also change the tick in every small way and see each change noticed.")
@click.option("--explain", "invariant", metavar="INVARIANT", help="Tell in words why one invariant holds, and stop.")
@click.option("--what-if", "place", metavar="FILE:LINE", help="Take one line out, show what becomes possible, and stop.")
@out_option
@json_option
@reporting("prove")
def command(
    stages: int,
    workers: int | None,
    mutants: bool,
    invariant: str | None,
    place: str | None,
    out_dir: Path,
    as_json: bool,
) -> Outcome:
    """Prove the invariants on the controller's own source, and say what is assumed.

    A broken claim is written to the output folder as a recording that `oxlatch replay` steps.
    """
    if invariant:
        return explained(invariant)
    if place:
        return without(place, out_dir)
    processes = workers or os.cpu_count() or 1

    def tell(text: str) -> None:
        if not as_json:
            click.echo(text)

    return whole(stages, processes, mutants, out_dir, tell, as_json)


def whole(stages: int, processes: int, mutants: bool, out_dir: Path, tell: Tell, quiet: bool) -> Outcome:
    """Every argument in turn."""
    from oxlatch_sim.proof.report import abstraction, settings_bounds

    problems: list[str] = []
    tell(page.opening(firmware_digest(), stages))
    symbolic, found = _symbolic(tell, quiet)
    problems += found
    assumed = abstraction(stages)
    exhaustive, found = _exhaustive(stages, processes, out_dir, tell, quiet, assumed)
    problems += found
    channels, found = _channels(tell)
    problems += found
    reference, found = _reference(tell, quiet)
    problems += found
    mutated = None
    if mutants:
        mutated, found = _mutants(processes, tell, quiet)
        problems += found
    tell(page.verdict_text(problems))
    return Outcome(
        "prove",
        ok=not problems,
        problems=problems if quiet else [],
        firmware=firmware_digest(),
        result={
            "symbolic": symbolic,
            "exhaustive": exhaustive,
            "reference": reference,
            "channels": channels,
            "mutants": mutated,
            "abstraction": assumed,
            "firmware": firmware_digest(),
            "settings_bounds": settings_bounds(),
            "invariants": page.invariants(symbolic, exhaustive, channels),
            "witnesses": exhaustive["witnesses"],
        },
    )


def _symbolic(tell: Tell, quiet: bool) -> tuple[dict[str, Any], list[str]]:
    from oxlatch_sim.proof.symbolic import prove_symbolic

    with bar(quiet, "proving") as update:
        section = prove_symbolic(lambda done, total, what: update(total, done, what))
    tell(page.symbolic_text(section))
    problems = [f"not proved: {row['name']}" for row in section["claims"] if not row["proved"]]
    if section["translator_differing"]:
        problems.append(f"the translation differs from the running code: {section['translator_differing']}")
    return section, problems


def _exhaustive(
    stages: int, processes: int, out_dir: Path, tell: Tell, quiet: bool, assumed: list[str]
) -> tuple[dict[str, Any], list[str]]:
    from oxlatch_sim.proof.report import alive_section, portable_digests, prove_exhaustive

    with bar(quiet, "exploring") as update:
        section, problems, found = prove_exhaustive(
            stages, processes, out_dir, lambda known, done, steps: update(known, done, f"{steps:,} transitions")
        )
    alive, alive_problems = alive_section(found)
    digests, digest_problems = portable_digests(stages)
    section |= digests | {"alive": alive}
    tell(page.exhaustive_text(section, assumed))
    return section, problems + alive_problems + digest_problems


def _channels(tell: Tell) -> tuple[list[dict[str, Any]], list[str]]:
    from oxlatch_sim.proof.channels import explore_channels

    rows = [vars(row) for row in explore_channels()]
    tell(page.channels_text(rows))
    return rows, [f"channel {row['name']}: {row['broken']}" for row in rows if row["broken"]]


def _reference(tell: Tell, quiet: bool) -> tuple[dict[str, Any], list[str]]:
    from oxlatch_sim.proof.report import prove_reference

    with bar(quiet, "in lockstep") as update:
        section, problems = prove_reference(
            REFERENCE_STEPS, lambda done: update(REFERENCE_STEPS, done, f"{done:,} ticks")
        )
    tell(page.reference_text(section))
    return section, problems


def _mutants(processes: int, tell: Tell, quiet: bool) -> tuple[dict[str, Any], list[str]]:
    from oxlatch_sim.proof.mutant_source import MODULES
    from oxlatch_sim.proof.mutants import chosen, judge_mutants

    with bar(quiet, "changing") as update:
        report = judge_mutants(
            chosen(MODULES), processes, lambda done, total, one: update(total, done, f"{one.where} {one.fate}")
        )
    tell(page.mutants_text(report.row()))
    return report.row(), [f"survived: {one.where} {one.before} -> {one.after}" for one in report.survivors]


def explained(invariant: str) -> Outcome:
    """Why one invariant holds."""
    from oxlatch_sim.proof.symbolic_explain import explain

    try:
        found = explain(invariant)
    except KeyError as error:
        raise BadInput(str(error.args[0])) from error
    return Outcome("prove", ok=True, firmware=firmware_digest(), result={"explain": found}, text=page.explain_text(found))


def without(place: str, out_dir: Path) -> Outcome:
    """What becomes possible without one line."""
    from oxlatch_sim.proof.what_if import WhatIfError, what_if

    with bad_input_from(WhatIfError):
        found = what_if(place)
    recording = None
    if found.recording:
        name = f"what-if-{place.replace(':', '-').replace('.py', '')}.jsonl"
        recording = str(write_output(out_dir, name, found.recording))
    row = {name: value for name, value in vars(found).items() if name != "recording"} | {"recording": recording}
    return Outcome("prove", ok=True, firmware=firmware_digest(), result={"what_if": row}, text=page.what_if_text(row))


@contextmanager
def bar(quiet: bool, what: str) -> Iterator[Callable[[int, int, str], None]]:
    """A progress bar on a terminal, nothing elsewhere."""
    columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.fields[done]}"), TimeElapsedColumn())
    with Progress(*columns, transient=True, disable=quiet or not sys.stderr.isatty()) as progress:
        task = progress.add_task(what, total=None, done="")

        def update(total: int, done: int, text: str) -> None:
            progress.update(task, total=total, completed=done, done=text)

        yield update
