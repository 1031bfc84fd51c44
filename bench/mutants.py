"""Every mutant of the tick judged, with times; and what each argument notices by itself on a seeded share of them."""

import os
import sys
import time

from oxlatch_sim.proof.mutant_arguments import ARGUMENTS, Arguments
from oxlatch_sim.proof.mutant_source import MODULES
from oxlatch_sim.proof.mutants import chosen, judge_mutants

AIM_MINUTES = 30
ALONE = 60
SEED = 11


def main() -> int:
    mutants = chosen(MODULES)
    report = judge_mutants(mutants, os.cpu_count() or 1)
    row = report.row()
    print(f"{row['total']} mutants in {len(MODULES)} modules, {report.seconds / 60:.1f} min (aim {AIM_MINUTES} min)")
    for name, count in row["killed_by"].items():
        print(f"  {name:12}{count:6}")
    print(f"  {'explained':12}{row['equivalent']:6}   of these proved the same by the solver: {row['proved_the_same']}")
    print(f"  {'alive':12}{len(row['survived']):6}")
    for problem in report.problems():
        print(f"  {problem}")
    alone(ALONE)
    return 1 if report.problems() or report.seconds > AIM_MINUTES * 60 else 0


def alone(count: int) -> None:
    """How many of some mutants each argument notices without the others, and in what time."""
    arguments = Arguments()
    arguments.prepare()
    mutants = chosen(MODULES, count / len(chosen(MODULES)), seed=SEED)
    print(f"each argument alone on {len(mutants)} mutants:")
    for name in ARGUMENTS:
        began = time.process_time()
        noticed = sum(arguments.fate_of(mutant, (name,)) == name for mutant in mutants)
        seconds = (time.process_time() - began) / len(mutants)
        print(f"  {name:12}{noticed:6}   {seconds:7.2f} CPU s each")


if __name__ == "__main__":
    sys.exit(main())
