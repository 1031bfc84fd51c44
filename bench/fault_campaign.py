"""The whole single-fault campaign on two cores: time, cost per run, memory, and what is over a bound."""

import resource
import time

from oxlatch_sim.campaign import Aircraft, Row, full_cases, run
from oxlatch_tools.aircraft import load_aircraft
from oxlatch_tools.fault_tables import findings, line_of, over_bounds

WORKERS = 2
WANTED_S = 600.0


def main() -> None:
    aircraft = load_aircraft(None)
    campaign = Aircraft.of(aircraft.plant, aircraft.settings)
    cases = full_cases(len(campaign.stages), campaign.fitted)
    started = time.perf_counter()
    rows: list[Row] = []
    first, first_s = 0, 0.0
    for some in run(campaign, cases, WORKERS):
        rows += some
        if not first and len(rows) >= len(cases) / 2:
            first, first_s = len(rows), time.perf_counter() - started
    whole_s = time.perf_counter() - started
    print(f"{len(rows)} runs in {whole_s:.0f} s on {WORKERS} workers (wanted under {WANTED_S:.0f})")
    second, second_s = len(rows) - first, whole_s - first_s
    print(f"per run {1000 * first_s / first:.1f} ms in the first half, {1000 * second_s / second:.1f} ms in the second")
    kib = max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    print(f"largest process {kib / 1024:.0f} MiB (wanted under 1024)")
    print("\n".join(over_bounds(rows)))
    for row in findings(rows, "recommended"):
        print("over a bound and not declared:", line_of(row))


if __name__ == "__main__":
    main()
