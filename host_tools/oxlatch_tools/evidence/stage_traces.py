"""One sortie of every stage together without a fault, recorded: what the pictures of the pack are drawn from.

`python -m oxlatch_tools.evidence.stage_traces FILE --out FOLDER` writes the recording and prints the result file.
"""

from pathlib import Path

import click

from oxlatch_sim.campaign import NO_FAULT, Case, recorded
from oxlatch_sim.campaign import Aircraft as CampaignAircraft
from oxlatch_sim.corners import HARDWARE, NOMINAL
from oxlatch_sim.fault_flight import PHASES
from oxlatch_sim.identity import firmware_digest
from oxlatch_tools.aircraft import load_aircraft
from oxlatch_tools.outcome import Outcome, json_option, out_option, reporting, write_output

NAME = "stage-traces.jsonl"


@click.command("traces")
@click.argument("file", required=False, type=click.Path(dir_okay=False, path_type=Path))
@click.option("--hardware", default=HARDWARE[0].name, show_default=True, help="The campaign's name of what is fitted.")
@out_option
@json_option
@reporting("traces")
def main(file: Path | None, hardware: str, out_dir: Path, as_json: bool) -> Outcome:
    """Fly and record every stage of FILE together, every pattern allowed, nominal values."""
    aircraft = load_aircraft(file)
    campaign = CampaignAircraft.of(aircraft.plant, aircraft.settings)
    case = Case(NO_FAULT, PHASES[0], NOMINAL, hardware, campaign.stages)
    finding, flight = recorded(campaign, case, aircraft.digest)
    path = write_output(out_dir, NAME, flight.recorder.end())
    result = {
        "recording": str(path),
        "stages": list(campaign.stages),
        "hardware": hardware,
        "final_state": finding.final_state,
        "fuel_only_ms": round(finding.fuel_only_ms, 2),
        "oxidizer_only_ms": round(finding.oxidizer_only_ms, 2),
    }
    return Outcome(
        "traces", True, result, installation=aircraft.digest, firmware=firmware_digest(), text=f"recorded {path}"
    )


if __name__ == "__main__":
    main()
