"""The exhaustive argument's speed: running code and columns, one to three stages to a fixpoint, fitted pairs."""

import os
import sys

from oxlatch_sim.proof.explore import explore
from oxlatch_sim.proof.explore_pairs import explore_pairs
from oxlatch_sim.proof.explore_result import Exploration
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.report import EXACT_STAGES

RUNNING_PART = 100_000  # transitions done by running the code, enough to measure its speed
RUNNING_FLOOR = 25_000  # transitions per second of one core
COLUMNS_AIM = 500_000  # transitions per second, all processes together
THREE_STAGES_AIM_S = 300.0
WORKERS = min(2, os.cpu_count() or 1)


def row(name: str, found: Exploration, aim: str) -> str:
    """One line of the table."""
    size = f"{len(found.order):>9,}{found.transitions:>13,}{found.depth:>6}{found.seconds:>8.1f}"
    return f"{name:44}{size}{found.rate:>12,.0f}  {aim:22}{found.digest}"


def main() -> int:
    missed = []
    print(f"{'':44}{'states':>9}{'transitions':>13}{'depth':>6}{'s':>8}{'per second':>12}  {'aim':22}digest")
    running = explore(Small(1), limit=RUNNING_PART)
    print(row("1 stage, running code, first levels, 1 core", running, f">= {RUNNING_FLOOR:,}/s"))
    missed += ["running code"] if running.rate < RUNNING_FLOOR else []
    same = explore(Small(1), limit=RUNNING_PART, way="columns")
    missed += ["one digest"] if same.digest != running.digest else []
    for stages in (1, 2, 3):
        is_whole = stages <= EXACT_STAGES
        found = explore(Small(stages, reduced=not is_whole), WORKERS, way="columns")
        name = f"{stages} stage{'s' if stages > 1 else ''}{'' if is_whole else ' reduced'}, columns, {WORKERS} cores"
        aim = f"<= {THREE_STAGES_AIM_S:.0f} s" if stages == 3 else f">= {COLUMNS_AIM:,}/s" if stages == 2 else ""
        print(row(name, found, aim), flush=True)
        late = stages == 3 and found.seconds > THREE_STAGES_AIM_S
        slow = stages == 2 and found.rate < COLUMNS_AIM
        if late or slow or not found.complete or found.breaches:
            missed.append(name)
    section, problems = explore_pairs(WORKERS)
    print(
        f"fitted pairs: {section['pairs']} pairs in {section['combinations']} combinations, "
        f"{section['transitions']:,} transitions, {section['seconds']:.1f} s; problems: {len(problems)}"
    )
    missed += problems
    print("missed: " + ", ".join(missed) if missed else "every aim met")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
