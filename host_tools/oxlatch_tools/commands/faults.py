"""`oxlatch faults`: every single fault, what it lets reach a nozzle, and what sees it."""

import sys
from pathlib import Path

import click
from rich.progress import Progress

from oxlatch_sim.campaign import Aircraft as CampaignAircraft
from oxlatch_sim.campaign import Case, Row, full_cases, recorded, run, worst_by_fault
from oxlatch_sim.corners import HARDWARE, CornerError, hardware_named
from oxlatch_sim.fault_flight import PHASES
from oxlatch_sim.faults import FaultError, parse_name
from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.worst_known import quick_cases
from oxlatch_tools.aircraft import Aircraft, load_aircraft
from oxlatch_tools.fault_tables import as_csv, exceeds, findings, grid_pages, line_of, order, summary
from oxlatch_tools.outcome import BadInput, Outcome, bad_input_from, json_option, out_option, reporting, write_output

RECORDINGS = 12
"""So many of the worst runs are flown again and recorded, unless all are asked for."""


@click.command("faults")
@click.argument("installation", required=False, type=click.Path(dir_okay=False, path_type=Path))
@click.option("--quick", is_flag=True, help="Every fault once, at its worst known phase and corner.")
@click.option(
    "--fault", "names", multiple=True, metavar="NAME", help="Only this fault, NAME or NAME@STAGE. Repeatable."
)
@click.option("--phase", "phases", multiple=True, type=click.Choice(PHASES), help="Only this phase. Repeatable.")
@click.option("--corner", "corners", multiple=True, metavar="NAME", help="Only this corner. Repeatable.")
@click.option("--hardware", "options", multiple=True, metavar="NAME", help="Only this hardware option. Repeatable.")
@click.option("--workers", type=click.IntRange(1, 256), default=1, show_default=True, help="Processes on this machine.")
@click.option("--dask", metavar="ADDRESS", help="Run on the Dask cluster whose scheduler answers here.")
@click.option("--record", is_flag=True, help="Record the worst run of every fault, not only of the worst ones.")
@out_option
@json_option
@reporting("faults")
def command(
    installation: Path | None,
    quick: bool,
    names: tuple[str, ...],
    phases: tuple[str, ...],
    corners: tuple[str, ...],
    options: tuple[str, ...],
    workers: int,
    dask: str | None,
    record: bool,
    out_dir: Path,
    as_json: bool,
) -> Outcome:
    """Begin every fault at every phase of a sortie, at corners of the tolerance box, with and without the
    recommended parts, and measure how long one fluid flows at a nozzle without the other.

    INSTALLATION is an installation file; the Alpine tug when none is named. Writes every run as CSV, the grid of
    fault against phase as pictures, and recordings of the worst runs. Exit 1 when a run with the recommended
    hardware exceeds a bound that is not declared as uncovered.
    """
    aircraft = load_aircraft(installation)
    campaign = CampaignAircraft.of(aircraft.plant, aircraft.settings)
    with bad_input_from(FaultError, CornerError, ValueError):
        cases = chosen(campaign, quick, names, phases, corners, options)
        rows = flown(campaign, cases, workers, dask, as_json)
    return reported(aircraft, campaign, rows, out_dir, record)


def chosen(
    campaign: CampaignAircraft,
    quick: bool,
    names: tuple[str, ...],
    phases: tuple[str, ...],
    corners: tuple[str, ...],
    options: tuple[str, ...],
) -> list[Case]:
    """The cases asked for. Errors: `FaultError`, `CornerError`, BadInput when nothing is left."""
    stages = campaign.stages
    for name in names:
        parse_name(name, len(stages))
    for option in options:
        hardware_named(option)
    cases = quick_cases(stages, fitted=campaign.fitted) if quick else full_cases(len(stages), campaign.fitted)
    if corners and not quick:
        asked = list(dict.fromkeys((case.fault, case.phase, case.hardware, case.stages) for case in cases))
        cases = [Case(fault, phase, corner, parts, own) for corner in corners for fault, phase, parts, own in asked]
    elif corners:
        cases = [case for case in cases if case.corner in corners]
    kept = [
        case
        for case in cases
        if (not names or case.fault in names or case.fault.partition("@")[0] in names)
        and (not phases or case.phase in phases)
        and (not options or case.hardware in options)
    ]
    if not kept:
        raise BadInput("no run is left with these choices; leave out --phase, --corner, --hardware or --quick")
    return kept


def flown(campaign: CampaignAircraft, cases: list[Case], workers: int, dask: str | None, as_json: bool) -> list[Row]:
    """All rows, in a fixed order, with a progress bar where somebody can see it."""
    rows: list[Row] = []
    with Progress(transient=True, disable=as_json or not sys.stderr.isatty()) as progress:
        task = progress.add_task("faults", total=len(cases))
        for some in run(campaign, cases, workers, dask):
            rows += some
            progress.advance(task, len(some))
    return sorted(rows, key=order)


def reported(aircraft: Aircraft, campaign: CampaignAircraft, rows: list[Row], out_dir: Path, record: bool) -> Outcome:
    """Files written, text and result."""
    main = HARDWARE[0].name if any(row.hardware == HARDWARE[0].name for row in rows) else rows[0].hardware
    folder = out_dir / "faults"
    files = [write_output(folder, "faults.csv", as_csv(rows))]
    for number, page in enumerate(grid_pages(rows, main, f"{aircraft.name}, single faults"), start=1):
        files.append(write_output(folder, f"grid-{number}.png", page))
    recordings = recorded_worst(aircraft, campaign, rows, main, folder, record)
    found = findings(rows, main)
    problems = [f"over a bound and not declared: {line_of(row)}" for row in found]
    text = summary(rows, main)
    text += f"\n\n{len(rows)} runs. Written: {', '.join(str(path) for path in files)}"
    text += f", {len(recordings)} recordings in {folder}"
    return Outcome(
        "faults",
        ok=not found,
        result={
            "runs": len(rows),
            "rows": [row.plain() for row in rows],
            "files": [str(path) for path in files],
            "recordings": recordings,
        },
        problems=problems,
        installation=aircraft.digest,
        firmware=firmware_digest(),
        text=text,
    )


def recorded_worst(
    aircraft: Aircraft, campaign: CampaignAircraft, rows: list[Row], hardware: str, folder: Path, everything: bool
) -> dict[str, str]:
    """Fly the worst run of each fault again and keep its recording; only the worst dozen unless all are wanted."""
    by_fault = worst_by_fault(row for row in rows if row.hardware == hardware)
    ranked = sorted(by_fault.values(), key=lambda row: (len(exceeds(row)), row.fuel_only_ms, row.oxidizer_only_ms))
    kept = {}
    for row in ranked[::-1][: len(ranked) if everything else RECORDINGS]:
        stages = tuple(int(stage) for stage in row.stages.split("+"))
        case = Case(row.fault, row.phase, row.corner, row.hardware, stages)
        _finding, flight = recorded(campaign, case, aircraft.digest)
        name = row.fault.replace("@", "-stage-") + ".jsonl"
        kept[row.fault] = str(write_output(folder, name, flight.recorder.end()))
    return kept
