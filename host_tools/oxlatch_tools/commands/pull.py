"""`oxlatch pull`: fetch the journal from a board as a recording, with a debrief in words."""

from pathlib import Path
from typing import Any

import click

from oxlatch.settings import GOOD, Settings, unpack
from oxlatch_sim.flight import plant_scales
from oxlatch_tools.aircraft import Aircraft, installation_option, load_aircraft
from oxlatch_tools.outcome import BadInput, Outcome, bad_input_from, json_option, out_option, reporting, write_output
from oxlatch_tools.planning.stage_flow import oxidizer_kg_s
from oxlatch_tools.serial.client import Client, LinkError
from oxlatch_tools.serial.debrief import debrief
from oxlatch_tools.serial.desk import NoMicroPython
from oxlatch_tools.serial.journal_rows import recording_of, rows_of
from oxlatch_tools.serial.options import port_option, stopped_by_hand
from oxlatch_tools.serial.port import PortError, far_end, open_line


@click.command("pull")
@port_option(required=True)
@installation_option
@out_option
@json_option
@reporting("pull")
def command(port: str, installation_path: Path | None, out_dir: Path, as_json: bool) -> Outcome:
    """Fetch the journal of the controller at a port as a recording, and tell it in words.

    Only reads; allowed in every state. Pressures in bar and masses need the installation file the board was set
    up with; with another one they are left out, and that is said.
    """
    aircraft = load_aircraft(installation_path)
    with (
        bad_input_from(PortError, LinkError, NoMicroPython),
        stopped_by_hand("nothing was written"),
        far_end(port) as name,
    ):
        line = open_line(name)
        try:
            client = Client(line)
            client.connect(5.0)
            identity = client.identity()
            record = client.settings_record()
            records, dropped = client.journal()
        finally:
            line.close()
    with bad_input_from(ValueError):
        rows = rows_of(records)
    if not rows:
        raise BadInput(f"{port}: the journal is empty; nothing has happened since the controller was first started")
    settings, problems = settings_in(record)
    known = aircraft.digest == identity.get("installation")
    if not known:
        problems.append(
            f"the board is set up for installation {identity.get('installation')}, the file named is "
            f"{aircraft.digest}: pressures stay in millivolts and no masses are worked out"
        )
    scales = plant_scales(aircraft.plant) if known else {}
    told = debrief(rows, settings, scales, nominal_flows(aircraft) if known else None)
    recording = write_output(out_dir, "journal.jsonl", recording_of(rows, settings, identity, scales, dropped))
    text = "\n".join((*heading(identity, len(rows), dropped), "", *told.lines()))
    page = write_output(out_dir, "journal-debrief.txt", text)
    return Outcome(
        "pull",
        ok=True,
        result={
            "records": len(rows),
            "dropped": dropped,
            "recording": str(recording),
            "debrief": str(page),
            "story": told.story,
            "refusals": told.refusals,
            "openings_ms": told.openings_ms,
            "open_s": told.open_s,
        },
        problems=problems,
        installation=identity.get("installation"),
        firmware=identity.get("firmware"),
        text=f"{text}\nwritten to {recording} and {page}",
    )


def heading(identity: dict[str, str], records: int, dropped: int) -> list[str]:
    """Where the journal comes from."""
    absent = identity.get("not_fitted") or "nothing: every input is fitted"
    return [
        f"JOURNAL of the {identity.get('board')} controller, firmware {identity.get('firmware')}, "
        f"installation {identity.get('installation')}",
        f"{records} records, {dropped} lost before they could be stored",
        f"NOT FITTED: {absent}",
    ]


def settings_in(record: bytes) -> tuple[Any, list[str]]:
    """The settings of a record; defaults, and a problem, when the record is not good."""
    settings = Settings()
    if unpack(record, settings) == GOOD:
        return settings, []
    return Settings(), ["the board's settings record is not good; thresholds shown are the firmware's defaults"]


def nominal_flows(aircraft: Aircraft) -> dict[int, float]:
    """Nominal oxidizer flow of each stage in kg/s."""
    numbers = range(1, len(aircraft.plant.stages) + 1)
    return {number: oxidizer_kg_s(aircraft.installation, (number,)) for number in numbers}
