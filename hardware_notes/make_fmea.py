"""Write fmea.md from the single-fault campaign, and with --full find the worst phase and corner of every fault again.

Without --full every fault is flown at its worst known phase and corner with every hardware option, about two minutes;
with it the whole campaign is flown first, some minutes more.
"""

import argparse
import os
from pathlib import Path

from oxlatch_sim.campaign import Aircraft, Row, full_cases, run
from oxlatch_sim.whole_file import write_whole
from oxlatch_sim.worst_known import FILE, as_text
from oxlatch_tools.aircraft import load_aircraft
from oxlatch_tools.fmea import cases, document, missing_input_cases
from oxlatch_tools.installation import example

OTHER = "valley_two_seater"
HERE = Path(__file__).resolve().parent
WORST = HERE.parent / "sim" / "oxlatch_sim" / FILE


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--full", action="store_true", help="fly the whole campaign and keep its worst cases first")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    options = parser.parse_args()
    aircraft = load_aircraft(None)
    campaign = Aircraft.of(aircraft.plant, aircraft.settings)
    if options.full:
        rows = fly(campaign, full_cases(len(campaign.stages), campaign.fitted), options.workers)
        write_whole(WORST, as_text(rows))
    rows = fly(campaign, cases(campaign.stages, campaign.fitted), options.workers)
    other = load_aircraft(example(OTHER))
    fleet = Aircraft.of(other.plant, other.settings)
    others = fly(fleet, missing_input_cases(campaign.fitted, fleet.stages, fleet.fitted), options.workers)
    page = document(rows, aircraft.name, aircraft.digest, others, other.name)
    print(write_whole(HERE / "fmea.md", page))


def fly(campaign: Aircraft, chosen: list, workers: int) -> list[Row]:
    return [row for some in run(campaign, chosen, workers) for row in some]


if __name__ == "__main__":
    main()
