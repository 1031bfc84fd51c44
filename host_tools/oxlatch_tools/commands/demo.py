"""`oxlatch demo`: one sortie on the virtual bench, told as it happens."""

import textwrap
import time
from pathlib import Path

import click

from oxlatch_sim.altitude_row import patterns_in
from oxlatch_sim.bench import Bench
from oxlatch_sim.flight import Flight
from oxlatch_sim.identity import firmware_digest
from oxlatch_tools.aircraft import Aircraft, installation_option, load_aircraft
from oxlatch_tools.first_proof import first_proof, proof_problems, proof_row, proof_text
from oxlatch_tools.flown import finding_rows, findings_text, write_flight
from oxlatch_tools.installation_fitted import not_fitted
from oxlatch_tools.outcome import Outcome, bad_input_from, json_option, out_option, reporting
from oxlatch_tools.sortie import Line, Sortie, StoryError, stages_to_fly

WIDTH = 110
CAUTION = (
    "A simulation: numbers come from a model, not from your aircraft. Engine maker, gas supplier, local rules and "
    "licensed practice come first."
)


@click.command("demo")
@installation_option
@out_option
@json_option
@reporting("demo")
def command(installation_path: Path | None, out_dir: Path, as_json: bool) -> Outcome:
    """Fly one sortie with the controller's own code, then show the first proof.

    The sortie is told line by line as it happens; its recording and a timeline picture go to the output folder.
    """
    started = time.monotonic()
    aircraft = load_aircraft(installation_path)
    with bad_input_from(StoryError):
        allowed = patterns_in(aircraft.settings, aircraft.plant.air_pa, aircraft.plant.air_k)
        stages = stages_to_fly(allowed, aircraft.settings.stages)

    def tell(text: str = "") -> None:
        if not as_json:
            click.echo(text)

    tell(opening(aircraft))
    flight = Flight(Bench(aircraft.plant, aircraft.settings), aircraft.digest)
    lines: list[Line] = []
    problems: list[str] = []
    try:
        for line in Sortie(flight, stages).lines():
            lines.append(line)
            tell(shown(line))
    except StoryError as error:
        problems.append(str(error))
    findings = flight.watch.findings()
    problems += [f"{found.id} broken at tick {found.first_tick}" for found in findings if not found.held]
    tell("\n" + findings_text(findings))
    recording, picture = write_flight(flight, out_dir, "demo", f"{aircraft.name}: demonstration sortie")
    tell(f"Recording {recording}, picture {picture}.\n")
    proof = first_proof(as_json)
    problems += proof_problems(proof)
    tell(proof_text(proof, WIDTH))
    return Outcome(
        "demo",
        ok=not problems,
        problems=problems,
        installation=aircraft.digest,
        firmware=firmware_digest(),
        result={
            "lines": [vars(line) for line in lines],
            "monitors": finding_rows(findings),
            "recording": str(recording),
            "picture": str(picture),
            "proof": proof_row(proof),
            "seconds": round(time.monotonic() - started, 1),
        },
    )


def opening(aircraft: Aircraft) -> str:
    """What flies, with which firmware, what is not fitted, and a caution."""
    missing = not_fitted(aircraft.installation)
    parts = "; ".join(f"{item.part}: {item.lost}" for item in missing) if missing else "nothing"
    first = f"{aircraft.name}, installation {aircraft.digest}, firmware {firmware_digest()}. {CAUTION}"
    return "\n".join([textwrap.fill(first, WIDTH), textwrap.fill(f"Not fitted: {parts}", WIDTH), ""])


def shown(line: Line) -> str:
    """One line of the story in columns, its words wrapped under themselves."""
    head = f"{line.time_s:6.2f} s  {line.state:9}{line.lamp:16}"
    return textwrap.fill(head + line.words, WIDTH, subsequent_indent=" " * len(head))
