"""Whether coils may be energised as long as the file asks of them."""

from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.page import Finding


def duty_findings(installation: Installation) -> list[Finding]:
    """Coils whose stated duty does not cover their use; that none is stated is said too."""
    found = []
    armed = installation.timing.armed
    master = installation.master_oxidizer_valve
    if master is not None and master.duty_on is not None and master.duty_on < armed:
        found.append(
            Finding(
                "exceeded",
                "master_oxidizer_valve.duty_on",
                f"{master.duty_on:g} s, but the coil is energised while armed, up to {armed:g} s",
                "a coil for continuous duty, or timing.armed or more",
            )
        )
    if installation.oxidizer_valve.duty_on is None and installation.fuel_valve.duty_on is None:
        found.append(
            Finding(
                "note",
                "oxidizer_valve.duty_on",
                "not given: coil heat is not counted, and starts are not limited by it",
                "the coil maker's longest time on, with duty_off",
            )
        )
    return found
