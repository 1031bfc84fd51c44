"""`oxlatch evidence`: one pack of every claim, what shows it, what it assumes, and what is not covered."""

import sys
from pathlib import Path
from typing import Any

import click
from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

from oxlatch_sim.identity import firmware_digest
from oxlatch_tools.build import build_digest
from oxlatch_tools.commands.commission import FOLDER, stand
from oxlatch_tools.commands.plan import printed_date, read_installation, slug
from oxlatch_tools.commissioning.programme import programme
from oxlatch_tools.commissioning.results import Kept, ResultError, Standing, read_history
from oxlatch_tools.evidence.argument import Argued, invariant_rows, not_current
from oxlatch_tools.evidence.case import Case
from oxlatch_tools.evidence.collect import CollectError, Piece, collect, pieces
from oxlatch_tools.evidence.html_page import html_page
from oxlatch_tools.evidence.pdf_pack import pdf_pack
from oxlatch_tools.evidence.report import make_document, standing_of_pack
from oxlatch_tools.evidence.result_files import Build, ResultFileError, read_all
from oxlatch_tools.installation import Installation
from oxlatch_tools.outcome import BadInput, Outcome, bad_input_from, json_option, out_option, reporting, write_output

FULLY = ("HOLDS", "DECLARED")


@click.command("evidence")
@click.argument("file", required=False, type=click.Path(dir_okay=False, path_type=Path))
@FOLDER
@click.option("--collect", "does_collect", is_flag=True, help="First make what is missing or of another build (long).")
@click.option("--quick", is_flag=True, help="Collect a part of faults and mutants only; the pack says so (minutes).")
@click.option("--draft", is_flag=True, help="Print results of another build too, marked, differences on page one.")
@click.option("--date", "date_text", help="Date printed, YYYY-MM-DD; today's when not given.")
@out_option
@json_option
@reporting("evidence")
def command(
    file: Path | None,
    folder: Path,
    does_collect: bool,
    quick: bool,
    draft: bool,
    date_text: str | None,
    out_dir: Path,
    as_json: bool,
) -> Outcome:
    """Collect the evidence for the installation in FILE, the Alpine tug when none is named.

    Reads the results that other commands printed with --json from the output folder and the bench results kept by
    `oxlatch commission`. With --collect it first runs whatever of these is missing or of another build, as a person
    would, and keeps it there; only a board, a bench, gas and an engine it cannot supply. Writes one HTML page and one
    PDF. Results of another build are refused with the list of what differs. Exit 1 when any claim is not supported by
    everything it should rest on.
    """
    if quick and not does_collect:
        raise BadInput("--quick is given alone; allowed: together with --collect")
    date = printed_date(date_text)
    installation = read_installation(file)
    build = Build(firmware_digest(), installation.digest, build_digest())
    bench, history = stand(installation, folder), kept_results(installation, folder)
    case = read_case(installation, build, bench, history, out_dir)
    failed: list[str] = []
    took: dict[str, float] = {}
    if does_collect:
        failed, took = collected(pieces(case, file, out_dir, quick), out_dir, as_json)
        build_digest.cache_clear()
        if build_digest() != build.digest:
            raise BadInput("the installed files have changed while results were made; allowed: one frozen build")
        case = read_case(installation, build, bench, history, out_dir)
    changed = not_current(case)
    if changed and not draft:
        raise BadInput("\n".join((*failed, refusal(case, changed))))
    return printed(case, date, out_dir, failed, changed, took, as_json)


def read_case(
    installation: Installation, build: Build, bench: list[Standing], history: dict[str, list[Kept]], folder: Path
) -> Case:
    """The case as the folder of results has it now. Raises BadInput."""
    with bad_input_from(ResultFileError):
        return Case(installation, build, read_all(folder, build), bench, history)


def kept_results(installation: Installation, folder: Path) -> dict[str, list[Kept]]:
    """Every bench result kept, also those that were repeated since. Raises BadInput."""
    with bad_input_from(ResultError):
        return read_history(folder, programme(installation))


def refusal(case: Case, changed: list[str]) -> str:
    """Why no pack is made."""
    build = case.build
    lines = "\n".join(f"  {words}" for words in changed)
    return (
        f"results are of another build than firmware {build.firmware}, installation {build.installation}, build "
        f"{build.digest}:\n{lines}\n"
        "allowed: results made again with this build (--collect makes what needs no bench), or --draft to print them "
        "marked"
    )


def collected(wanted: tuple[Piece, ...], folder: Path, as_json: bool) -> tuple[list[str], dict[str, float]]:
    """Run what is wanted one after the other: what gave no result, in sentences, and seconds by file."""
    failed: list[str] = []
    took: dict[str, float] = {}
    columns = (SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn())
    with Progress(*columns, transient=True, disable=as_json or not sys.stderr.isatty()) as progress:
        for number, piece in enumerate(wanted, start=1):
            said = "kept, of this build"
            task = progress.add_task(f"{number} of {len(wanted)}: {piece.words}", total=None)
            if not piece.is_there:
                try:
                    took[piece.key] = round(collect(piece, folder), 1)
                    said = f"{took[piece.key]:.1f} s"
                except (CollectError, OSError) as error:
                    failed.append(str(error))
                    said = "NO RESULT"
            progress.remove_task(task)
            if not as_json:
                progress.console.print(f"{piece.words:36}{said}", highlight=False)
    return failed, took


def printed(
    case: Case,
    date: str,
    out_dir: Path,
    failed: list[str],
    changed: list[str],
    took: dict[str, float],
    as_json: bool,
) -> Outcome:
    """Write both files and tell where the case stands."""
    document, argued = make_document(case, date)
    name = slug(case.installation.aircraft.name)
    page = write_output(out_dir, f"evidence-{name}.html", html_page(document))
    pack = write_output(out_dir, f"evidence-{name}.pdf", pdf_pack(document))
    state = standing_of_pack(argued)
    unshown = [f"{one.claim.key}: {one.in_words}" for one in argued if one.state not in FULLY]
    return Outcome(
        "evidence",
        ok=state in FULLY and not failed,
        result={
            "standing": state,
            "draft": bool(changed),
            "differences": changed,
            "seconds_to_collect": took,
            "claims": [claim_row(one) for one in argued],
            "invariants": [invariant_data(row) for row in invariant_rows(case)],
            "not_fitted": [vars(part) for part in case.unfitted],
            "files": {"page": str(page), "pack": str(pack)},
        },
        problems=failed + (unshown if as_json else []),
        installation=case.build.installation,
        firmware=case.build.firmware,
        text=told(case.installation, argued, case, [str(page), str(pack)]),
    )


def claim_row(one: Argued) -> dict[str, Any]:
    """One claim for machines."""
    return {
        "claim": one.claim.key,
        "plane": one.claim.plane,
        "words": one.claim.words,
        "standing": one.state,
        "weakened_by": [part.part for part in one.lost],
        "evidence": [{"standing": item.state, "words": item.words} for item in one.items],
        "assumes": list(one.claim.assumes),
    }


def invariant_data(row: Any) -> dict[str, Any]:
    """One invariant for machines."""
    return {
        "id": row.id,
        "words": row.words,
        "shown": row.shown_by.state,
        "shown_by": row.shown_by.words,
        "watched": row.watched.words,
        "assumes": list(row.assumes),
    }


def told(installation: Installation, argued: list[Argued], case: Case, files: list[str]) -> str:
    """A readable summary for the terminal."""
    build = case.build
    lines = [
        f"Evidence for {installation.aircraft.name}, installation {build.installation}, firmware {build.firmware}",
        "",
        *(f"{one.claim.key:4}{one.claim.plane:9}{one.in_words}" for one in argued),
        "",
        *(f"NOT FITTED: {part.part}. {part.lost}" for part in case.unfitted),
        *(file.why for file in case.files.values() if file.why),
        "",
        *files,
    ]
    return "\n".join(lines)
