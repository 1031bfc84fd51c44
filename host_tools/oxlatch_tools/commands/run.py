"""`oxlatch run`: play scenarios, check what each expects and every invariant."""

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
from rich.progress import Progress

from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.monitor import Finding
from oxlatch_sim.scenario import Outcome as Played
from oxlatch_sim.scenario import Scenario, ScenarioError, bundled, find, load, play
from oxlatch_tools.aircraft import Aircraft, installation_option, load_aircraft
from oxlatch_tools.flown import finding_rows, write_flight
from oxlatch_tools.outcome import Outcome, bad_input_from, json_option, out_option, reporting


@click.command("run")
@click.argument("scenarios", nargs=-1, metavar="[SCENARIO]...")
@installation_option
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), help="Seed instead of the scenario's own.")
@click.option("--list", "only_list", is_flag=True, help="List the bundled scenarios and play none.")
@click.option("--picture/--no-picture", default=True, show_default=True, help="Draw a timeline of each.")
@out_option
@json_option
@reporting("run")
def command(
    scenarios: tuple[str, ...],
    installation_path: Path | None,
    seed: int | None,
    only_list: bool,
    picture: bool,
    out_dir: Path,
    as_json: bool,
) -> Outcome:
    """Play each SCENARIO, a file or the name of a bundled one; all bundled ones when none is named.

    The controller's own code flies on the virtual bench. Each scenario must come out as it expects and keep
    every invariant. The recording and a timeline picture of each go to the output folder.
    """
    if only_list:
        return listing()
    aircraft = load_aircraft(installation_path)
    with bad_input_from(ScenarioError):
        chosen = [load(find(name)) for name in scenarios] or [load(path) for path in bundled()]
    rows = []
    for scenario in watched(chosen, as_json):
        with bad_input_from(ScenarioError):
            played = play(scenario, aircraft.plant, aircraft.settings, seed, aircraft.digest)
        rows.append(judged(played, aircraft, out_dir, picture))
        if not as_json:
            click.echo(summary(rows[-1], scenario))
    problems = [f"{row['scenario']}: {problem}" for row in rows for problem in row["problems"]]
    good = sum(not row["problems"] for row in rows)
    return Outcome(
        "run",
        ok=not problems,
        result={"scenarios": rows},
        problems=problems,
        installation=aircraft.digest,
        firmware=firmware_digest(),
        text=f"\n{good} of {len(rows)} scenarios came out as expected.",
    )


def listing() -> Outcome:
    """The bundled scenarios by name and title."""
    with bad_input_from(ScenarioError):
        known = [load(path) for path in bundled()]
    text = "\n".join(f"{scenario.name:32} {scenario.title}" for scenario in known)
    names = [{"scenario": scenario.name, "title": scenario.title} for scenario in known]
    return Outcome("run", ok=True, result={"bundled": names}, firmware=firmware_digest(), text=text)


def watched(chosen: list[Scenario], as_json: bool) -> Iterator[Scenario]:
    """The scenarios one by one, with a progress bar where somebody can see it."""
    shown = sys.stderr.isatty() and not as_json and len(chosen) > 1
    with Progress(transient=True, disable=not shown) as progress:
        yield from progress.track(chosen, description="scenarios")


def judged(played: Played, aircraft: Aircraft, folder: Path, draws: bool) -> dict[str, Any]:
    """One played scenario as plain data, its files written."""
    scenario = played.scenario
    findings = played.flight.watch.findings()
    title = f"{aircraft.name}: {scenario.title}" if draws else None
    recording, picture = write_flight(played.flight, folder, scenario.name, title)
    return {
        "scenario": scenario.name,
        "expected": scenario.expect.model_dump(exclude_none=True, exclude_defaults=True),
        "got": {
            "final_state": played.final_state,
            "visits": [name for _at, name in played.states],
            "first_cause": played.first_cause,
            "latch": played.highest_latch,
            "runs": played.runs,
            "opened": {"ox": sorted(played.opened_ox), "fuel": sorted(played.opened_fuel)},
            "fuel_only_ms": played.fuel_only_ms,
            "oxidizer_only_ms": played.oxidizer_only_ms,
        },
        "monitors": finding_rows(findings),
        "recording": str(recording),
        "picture": str(picture) if picture else None,
        "problems": played.problems + [broken(found) for found in findings if not found.held],
    }


def broken(found: Finding) -> str:
    """A broken invariant in words."""
    return f"{found.id} broken at tick {found.first_tick}: {found.words}"


def summary(row: dict[str, Any], scenario: Scenario) -> str:
    """One scenario in three lines."""
    got = row["got"]
    tested = [found for found in row["monitors"] if not found["vacuous"]]
    held = sum(found["held"] for found in tested)
    cause = f", first cause {got['first_cause']}" if got["first_cause"] else ""
    return "\n".join(
        (
            f"{'as expected' if not row['problems'] else 'NOT AS EXPECTED':16}{row['scenario']}: {scenario.title}",
            f"{'':16}{' > '.join(collapsed(got['visits']))}{cause}",
            f"{'':16}{held} of {len(tested)} invariants put to the test held; {files(row)}",
        )
    )


def files(row: dict[str, Any]) -> str:
    """The files written for one scenario."""
    return ", ".join(row[name] for name in ("recording", "picture") if row[name])


def collapsed(visits: list[str]) -> list[str]:
    """States visited, cut in the middle when they are many."""
    return visits if len(visits) <= 14 else [*visits[:9], "...", *visits[-4:]]
