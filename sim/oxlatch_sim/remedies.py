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


_DRAINS = (
    "the master oxidizer valve shuts at once and the feed line drains through the stage; without that valve the bottle "
    "flows until the pilot shuts it"
)
_SHORTER = "a shorter feed line, or a dump valve on it"
_GAS = "no sensor tells one gas from another in flow"
_WEIGH = (
    "the bottle's weight and label before it is fitted; bottle temperature finds only a gas more than 8 bar, and up to "
    "a 5 K step of the table more, off saturation, and only after a minute armed and idle"
)
_NO_PROOF = "a pressure switch after the fuel valve"

UNCOVERED = {
    "bottle_inert": Uncovered("F", _GAS, _WEIGH),
    "bottle_foreign_gas": Uncovered("F", _GAS, _WEIGH),
    "ox_jammed_open": Uncovered("O", _DRAINS, _SHORTER),
    "ox_stuck_open": Uncovered("O", _DRAINS, _SHORTER),
    "ox_leaks": Uncovered("O", _DRAINS, _SHORTER),
    "ox_wire_chafed": Uncovered("O", "the coil is fed past run switch and driver; " + _DRAINS, _SHORTER),
    "ox_slow_to_close": Uncovered("O", "told, not stopped, up to 300 ms", "a faster or sounder valve"),
    "fuel_jammed_shut": Uncovered(
        "O", "coil current flows, yet no fuel does, and the block's pressure does not show so small a flow", _NO_PROOF
    ),
    "master_fuel_jammed_shut": Uncovered(
        "O", "the empty block is seen in three looks; slow valves and large tubes take the rest", _NO_PROOF
    ),
}
"""With all recommended hardware, the master oxidizer valve included; less of it leaves more, as the grid shows."""


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
