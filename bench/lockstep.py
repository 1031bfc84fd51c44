"""The controller beside its second specification: ticks compared, differences, ticks per second, use of every row."""

import argparse
import os
import sys
import time

from oxlatch_sim.proof.lockstep import run_many

STEPS = 10_000_000  # ticks of the whole core; gate and sense alone are compared for a tenth of that each besides
LEAST_HITS = 1_000  # of every row of the cause-and-effect table
SEED = 11


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=STEPS, help=f"ticks of the core (default {STEPS:,})")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    options = parser.parse_args()
    began = time.perf_counter()
    found = run_many(options.steps, options.workers, SEED)
    seconds = time.perf_counter() - began
    wanted = LEAST_HITS * options.steps // STEPS
    few = [name for name, hits in found.hits.items() if hits < wanted]
    print(f"{'hits':>12}  row of the cause-and-effect table, least used first")
    for hits, name in found.rarest(len(found.hits)):
        print(f"{hits:>12,}  {name}")
    print(f"\n{found.steps:,} ticks compared in {found.episodes:,} episodes, {len(found.mismatches)} differences")
    print(f"{found.steps / seconds:,.0f} ticks/s with {options.workers} workers, {seconds:,.0f} s")
    print(f"{len(found.hits)} rows, {len(few)} used fewer than {wanted:,} times")
    for one in found.mismatches[:2]:
        print(one.words())
    return 1 if few or found.mismatches else 0


if __name__ == "__main__":
    sys.exit(main())
