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
    "fuel_jammed_shut": Uncovered("O", "coil current flows, yet no fuel does", _NO_PROOF),
    "fuel_branch_plugged": Uncovered("O", "nothing looks at a nozzle", "filters, and flow checks on the bench"),
    "master_fuel_jammed_shut": Uncovered("O", "coil current flows, yet no fuel does", _NO_PROOF),
}


def uncovered(fault: str, fluid: str) -> Uncovered | None:
    """The declaration for a fault and the fluid that flows alone, or nothing."""
    found = UNCOVERED.get(fault.partition("@")[0])
    return found if found is not None and found.fluid == fluid else None
