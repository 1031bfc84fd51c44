"""What no part of the recommended hardware covers, and which part would: declared, printed, never hidden.

Each entry says why the fault's exposure may exceed a bound with the recommended hardware fitted, and what would remove
it. `fluid` is the one that flows alone: F or O. A fault that exceeds a bound and stands not here is a finding.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Uncovered:
    """Why a fault may exceed a bound, and what would remove it."""

    fluid: str
    why: str
    remedy: str


_STUCK = "a second oxidizer valve at the bottle; until then the pilot shuts the bottle by hand"
_TRIED = "the stage is tried for the whole lead limit and then shuts, slowest where valves and tubes are slowest"
_SHORTER = "a shorter lead limit in the settings, or faster oxidizer valves"
_NO_PROOF = "a pressure switch after the fuel valve"

UNCOVERED = {
    "bottle_inert": Uncovered(
        "F",
        "no sensor tells one gas from another",
        "bottle temperature beside its pressure, and the bottle's weight and label before it is fitted",
    ),
    "ox_jammed_open": Uncovered("O", "one oxidizer valve per stage, and it does not shut", _STUCK),
    "ox_stuck_open": Uncovered("O", "one oxidizer valve per stage, and it does not shut", _STUCK),
    "ox_leaks": Uncovered("O", "one oxidizer valve per stage, and it does not shut", _STUCK),
    "ox_wire_chafed": Uncovered("O", "the coil is fed past run switch and driver", _STUCK),
    "ox_slow_to_close": Uncovered("O", "told, not stopped, up to 300 ms", _STUCK),
    "ox_driver_shorted": Uncovered(
        "O", "the coil is fed until the off-delay of the oxidizer rail has run out", "a shorter off-delay of that rail"
    ),
    "proof_stuck_off": Uncovered("O", _TRIED, _SHORTER),
    "proof_late": Uncovered("O", _TRIED, _SHORTER),
    "fuel_jammed_shut": Uncovered("O", "coil current flows, yet no fuel does", _NO_PROOF),
    "fuel_branch_plugged": Uncovered("O", "nothing looks at a nozzle", "filters, and flow checks on the bench"),
    "master_fuel_jammed_shut": Uncovered("O", "coil current flows, yet no fuel does", _NO_PROOF),
}


NO_INPUT = {
    32: "outputs at start-up: shown by the reset test of the bench, not by a flight",
    37: "purge gas near people or a static port: no sensor",
    44: "crossed hoses: found by the dry-run map only",
    55: "quick re-push: a scenario",
    60: "backfire: no input is fitted",
    64: "ground handling: engine stopped, nothing can open",
    65: "crash: parts shut without power, no action",
    66: "host tool on the ground: the same request as row 42",
    68: "journal full: no effect on the tick",
    69: "lamp failed: lamp current is not sensed",
    70: "effect on the base engine: wiring, by design",
}
"""Hazard rows that no fault of the catalogue disturbs, and why."""


def uncovered(fault: str, fluid: str) -> Uncovered | None:
    """The declaration for a fault and the fluid that flows alone, or nothing."""
    found = UNCOVERED.get(fault.partition("@")[0])
    return found if found is not None and found.fluid == fluid else None
