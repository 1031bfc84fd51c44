"""The gate's pure function under contract, for a second and unrelated tool.

crosshair runs `one_stage` symbolically and looks for arguments that satisfy the preconditions and break the
postcondition. "Confirmed over all paths" means that it has followed every path and found none.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from dataclasses import dataclass

from oxlatch.gate import BARRED, DRY_MAX, DRY_SHIFT, ON_SHIFT, STAGE_FUEL, STAGE_OX, gate_stage

WORD_MAX = STAGE_OX | STAGE_FUEL | BARRED << ON_SHIFT | DRY_MAX << DRY_SHIFT
CONFIRMED = "Confirmed over all paths"
TARGET = "oxlatch_sim.proof.gate_contract.one_stage"


def keeps_its_promise(
    ask_ox: bool, ask_fuel: bool, pushed: bool, fuel_ok: bool, word: int, lead_ticks: int, dry: bool, new: int
) -> bool:
    """Fuel only behind oxidizer that has led, asked and permitted; opening only when pushed; the word in range.

    Oxidizer without fuel is counted by `dry`, 1 off the bench, and never beyond its bound.
    """
    on_n = (word >> ON_SHIFT) & 31
    if new & STAGE_FUEL:
        allowed = new & STAGE_OX and ask_ox and ask_fuel and fuel_ok
        return bool(allowed) and lead_ticks <= on_n != BARRED and 0 <= new <= WORD_MAX
    if new & STAGE_OX:
        if not ask_ox or not (pushed or on_n):
            return False
        return new >> DRY_SHIFT == (word >> DRY_SHIFT) + dry <= DRY_MAX
    return 0 <= new <= WORD_MAX


def one_stage(ask_ox: bool, ask_fuel: bool, pushed: bool, fuel_ok: bool, word: int, lead_ticks: int, dry: bool) -> int:
    """One stage of the gate.

    pre: 0 <= word <= WORD_MAX
    pre: 1 <= lead_ticks <= 15
    post: keeps_its_promise(ask_ox, ask_fuel, pushed, fuel_ok, word, lead_ticks, dry, __return__)
    """
    return gate_stage(ask_ox, ask_fuel, pushed, fuel_ok, word, lead_ticks, dry)


@dataclass(frozen=True)
class SecondOpinion:
    """What the second tool said."""

    confirmed: bool
    said: str
    seconds: float


def second_opinion(limit_s: float = 300.0, target: str = TARGET) -> SecondOpinion:
    """Run crosshair on the contract in a process of its own; not confirmed unless it says so."""
    began = time.perf_counter()
    command = [
        sys.executable,
        "-m",
        "crosshair",
        "check",
        "--report_all",
        "--per_condition_timeout",
        str(limit_s),
        target,
    ]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run(command, capture_output=True, text=True, env=environment, timeout=4 * limit_s, check=False)
    said = (done.stdout + done.stderr).strip()
    lines = [line for line in said.splitlines() if ": " in line]
    confirmed = bool(lines) and all(CONFIRMED in line for line in lines)
    return SecondOpinion(confirmed, said, time.perf_counter() - began)
