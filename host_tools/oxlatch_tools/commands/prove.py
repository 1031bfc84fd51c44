"""`oxlatch prove`: the controller's own source, proved several independent ways."""

import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from oxlatch_sim.identity import firmware_digest
from oxlatch_tools.ahead import Ahead
from oxlatch_tools.outcome import (
    BadInput,
    Outcome,
    bad_input_from,
    envelope,
    json_option,
    out_option,
    reporting,
    write_output,
)
from oxlatch_tools.proof_page import (
    alive_text,
    channels_text,
    exhaustive_text,
    explain_text,
    fitted_pairs_text,
    mutants_text,
    opening,
    opinion_text,
    outside_text,
    reference_text,
    symbolic_text,
    verdict_text,
    what_if_text,
)
from oxlatch_tools.serial.certificate import PROOF_FILE

STAGES_MAX = 3
SAMPLE_SHARE = 0.05

Update = Callable[..., None]


@click.command("prove")
@click.option("--stages", type=click.IntRange(1, STAGES_MAX), default=2, show_default=True, help="Stages to explore.")
@click.option("--workers", type=click.IntRange(1, 64), help="Processes to explore with; all cores when not given.")
@click.option("--mutants", is_flag=True, help="Also judge every mutant of the tick (long).")
@click.option("--mutant-sample", is_flag=True, help="Also judge the gate's mutants and one in twenty of the rest.")
@click.option("--lockstep", type=click.IntRange(1_000, 100_000_000), help="Ticks of lockstep with the reference.")
@click.option("--outside", is_flag=True, help="Also let spin check a reduced model (needs spin and gcc).")
@click.option("--fitted-pairs", is_flag=True, help="Also explore every pair of optional inputs, fitted or not.")
@click.option("--explain", "invariant", metavar="INVARIANT", help="Say why one invariant holds.")
@click.option("--what-if", "line", metavar="FILE:LINE", help="Show what becomes possible when that line is gone.")
@out_option
@json_option
@reporting("prove")
def command(
    stages: int,
    workers: int | None,
    mutants: bool,
    mutant_sample: bool,
    lockstep: int | None,
    outside: bool,
    fitted_pairs: bool,
    invariant: str | None,
    line: str | None,
    out_dir: Path,
    as_json: bool,
) -> Outcome:
    """Prove the invariants on the controller's own source, and say what is assumed.

    A broken claim is written to the output folder as a recording that `oxlatch replay` steps.
    """
    if invariant is not None:
        return explain_one(invariant)
    if line is not None:
        return what_if_one(line, out_dir)
    share = 1.0 if mutants else SAMPLE_SHARE if mutant_sample else None
    if outside:
        require_checker()
    asked = Asked(stages, workers or os.cpu_count() or 1, share, lockstep, outside, fitted_pairs)
    return prove_all(asked, out_dir, as_json)


def require_checker() -> None:
    """Raises BadInput when the outside check is asked for on a machine without its tools."""
    from oxlatch_sim.proof.outside_checker import missing_tools

    if missing := missing_tools():
        raise BadInput(f"--outside needs spin and gcc; not installed on this machine: {', '.join(missing)}")


def check_outside(out_dir: Path) -> tuple[dict[str, Any], list[str]]:
    """The reduced model by spin and by our explorer. Raises BadInput when spin or gcc does not work here."""
    from oxlatch_sim.proof.arguments import outside_section
    from oxlatch_sim.proof.outside_checker import CheckerError

    with bad_input_from(CheckerError):
        return outside_section(out_dir)


def explain_one(invariant: str) -> Outcome:
    """Why one invariant holds. Raises BadInput."""
    from oxlatch_sim.proof.symbolic_explain import explain

    try:
        found = explain(invariant)
    except KeyError as error:
        raise BadInput(f"--explain: {error.args[0]}") from error
    return Outcome("prove", True, {"explain": found}, firmware=firmware_digest(), text=explain_text(found))


def what_if_one(line: str, out_dir: Path) -> Outcome:
    """What one line prevents. Exit 0 when something becomes possible without it, 1 when nothing does."""
    from oxlatch_sim.proof.gate_examples import gate_examples
    from oxlatch_sim.proof.what_if import WhatIfError, what_if

    with bad_input_from(WhatIfError):
        found = what_if(line)
        examples = [vars(one) for one in gate_examples(line, out_dir, found.left)]
    shown = {**vars(found), "recording": None, "gate_examples": examples}
    if found.recording:
        shown["recording"] = str(write_output(out_dir, f"what-if-{found.claim}.jsonl", found.recording))
    is_needed = bool(found.claim or examples)
    return Outcome("prove", is_needed, shown, firmware=firmware_digest(), text=what_if_text(shown))


@dataclass
class Asked:
    """What to prove: `share` of the mutants or none, ticks of lockstep or the usual number."""

    stages: int
    processes: int
    share: float | None
    lockstep: int | None
    outside: bool
    fitted_pairs: bool


def prove_all(asked: Asked, out_dir: Path, as_json: bool) -> Outcome:
    """Every argument, the two of one process each ahead of the rest; each is told as it ends."""
    from oxlatch_sim.proof import arguments
    from oxlatch_sim.proof.report import abstraction, settings_bounds

    problems: list[str] = []

    def tell(text: str) -> None:
        if not as_json:
            click.echo(text)

    def take(found: arguments.Section, told: Callable[[dict[str, Any]], str]) -> dict[str, Any]:
        section, new = found
        problems.extend(new)
        tell(told(section))
        return section

    assumed = abstraction(asked.stages)
    tell(opening(firmware_digest(), asked.stages))
    with Ahead(arguments.symbolic_section, out_dir) as ahead, Ahead(arguments.second_opinion_section) as second:
        explored_section, found = explore_all(asked, out_dir, as_json)
        exhaustive = take(explored_section, lambda section: exhaustive_text(section, assumed))
        alive = take(arguments.alive_section(found), alive_text)
        channels = take(channel_rows(), lambda section: channels_text(section["rows"]))["rows"]
        steps = asked.lockstep or arguments.LOCKSTEP_STEPS
        reference = take(arguments.reference_section(steps, asked.processes), reference_text)
        with bar(as_json, "symbolic"):
            symbolic = take(ahead.answer(), symbolic_text)
        with bar(as_json, "second opinion"):
            opinion = take(second.answer(), opinion_text)
    checked = take(check_outside(out_dir), outside_text) if asked.outside else None
    pairs, judged = prove_more(asked, as_json, take)
    tell(verdict_text(problems, judged is None, checked is None, pairs is None))
    result = {
        "symbolic": symbolic,
        "exhaustive": exhaustive,
        "alive": alive,
        "channels": channels,
        "reference": reference,
        "second_opinion": opinion,
        "outside": checked,
        "fitted_pairs": pairs,
        "mutants": judged,
        "invariants": arguments.invariants_table(symbolic, exhaustive),
        "witnesses": exhaustive["witnesses"],
        "abstraction": assumed,
        "firmware": firmware_digest(),
        "settings_bounds": settings_bounds(),
    }
    result["digest"] = arguments.proof_digest(firmware_digest(), result)
    outcome = Outcome("prove", ok=not problems, problems=problems, firmware=firmware_digest(), result=result)
    kept = write_output(out_dir, PROOF_FILE.name, json.dumps(envelope(outcome), indent=1))
    tell(f"Proof {result['digest']}, kept in {kept} for certificate and evidence.")
    return outcome


def explore_all(asked: Asked, out_dir: Path, as_json: bool) -> tuple[tuple[dict[str, Any], list[str]], Any]:
    """The exhaustive section with the digests of both Pythons and its problems; and the exploration itself."""
    from oxlatch_sim.proof.report import portable_digests, prove_exhaustive

    with bar(as_json, "exploring") as update:
        section, problems, found = prove_exhaustive(asked.stages, asked.processes, out_dir, explored(update))
    digests, new = portable_digests(asked.stages)
    return (section | digests, problems + new), found


def prove_more(asked: Asked, as_json: bool, take: Callable[..., dict[str, Any]]) -> tuple[Any, Any]:
    """What is done only when asked for: combinations of what is fitted, mutants; None for what was not."""
    from oxlatch_sim.proof import arguments
    from oxlatch_sim.proof.explore_pairs import explore_pairs

    pairs = judged = None
    if asked.fitted_pairs:
        with bar(as_json, "fitted pairs") as update:
            pairs = take(explore_pairs(asked.processes, counted(update)), fitted_pairs_text)
    if asked.share is not None:
        with bar(as_json, "mutants") as update:
            judged = take(arguments.mutants_section(asked.share, asked.processes, counted(update)), mutants_text)
    return pairs, judged


def channel_rows() -> tuple[dict[str, Any], list[str]]:
    """Every sense channel alone."""
    from oxlatch_sim.proof.channels import explore_channels

    rows = [vars(row) for row in explore_channels()]
    return {"rows": rows}, [f"channel {row['name']}: {row['broken']}" for row in rows if row["broken"]]


@contextmanager
def bar(quiet: bool, what: str) -> Iterator[Update]:
    """A progress bar on a terminal, nothing elsewhere; the update takes done, total and words."""
    columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.fields[said]}"), TimeElapsedColumn())
    with Progress(*columns, transient=True, disable=quiet or not sys.stderr.isatty()) as progress:
        task = progress.add_task(what, total=None, said="")

        def update(done: int, total: int, said: str) -> None:
            progress.update(task, total=total, completed=done, said=said[:48])

        yield update


def counted(update: Update) -> Callable[[int, int, str], None]:
    """For arguments that count what is done."""
    return lambda done, total, said: update(done, total, said)


def explored(update: Update) -> Callable[[int, int, int], None]:
    """For the exploration, which finds its total as it goes."""
    return lambda known, done, transitions: update(done, known, f"{known:,} states, {transitions:,} transitions")
