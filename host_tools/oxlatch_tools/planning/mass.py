"""Mass and moments of the whole system, bottle full and empty, and what that does to the centre of gravity."""

from dataclasses import dataclass

from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.page import COMPUTED, Column, Finding, Table


@dataclass(frozen=True)
class Balance:
    """Mass and moment of the system alone, and the empty aircraft's centre of gravity with it."""

    mass_kg: float
    moment_kg_m: float
    aircraft_arm_m: float


def balance(installation: Installation, bottle_share: float) -> Balance:
    """With each bottle holding `bottle_share` of its charge, 0 to 1."""
    bottle, craft = installation.bottle, installation.aircraft
    bottles = bottle.count * (bottle.tare + bottle_share * bottle.charge)
    mass = bottles + sum(item.mass for item in installation.masses)
    moment = bottles * bottle.arm + sum(item.mass * item.arm for item in installation.masses)
    arm = (craft.empty_mass * craft.empty_arm + moment) / (craft.empty_mass + mass)
    return Balance(mass, moment, arm)


def mass_table(installation: Installation) -> Table:
    """Each part, then the sums full and empty."""
    bottle, craft = installation.bottle, installation.aircraft
    rows: list[tuple[str, float, float, float]] = [
        (item.name, item.mass, item.arm, item.mass * item.arm) for item in installation.masses
    ]
    tare = bottle.count * bottle.tare
    charge = bottle.count * bottle.charge
    rows.append((f"Bottle{'s' if bottle.count > 1 else ''}, empty", tare, bottle.arm, tare * bottle.arm))
    rows.append(("Nitrous, full", charge, bottle.arm, charge * bottle.arm))
    for name, share in (("System, full", 1.0), ("System, empty", 0.0)):
        found = balance(installation, share)
        rows.append((name, found.mass_kg, found.moment_kg_m / found.mass_kg, found.moment_kg_m))
    for name, share in (("Empty aircraft with it, full", 1.0), ("Empty aircraft with it, empty", 0.0)):
        found = balance(installation, share)
        total = craft.empty_mass + found.mass_kg
        rows.append((name, total, found.aircraft_arm_m, total * found.aircraft_arm_m))
    columns = (
        Column("part", "Part"),
        Column("mass", "Mass", "mass"),
        Column("arm", "Arm", "arm"),
        Column("moment", "Moment", "moment"),
    )
    note = (
        "Arms from the datum of the aircraft, aft positive. Pilot, fuel and load come on top; weigh the "
        "finished aircraft."
    )
    return Table("mass", "Mass and balance", columns, rows, "moment = mass·arm", COMPUTED, note)


def mass_findings(installation: Installation) -> list[Finding]:
    """The empty aircraft's centre of gravity against the limits, where the file states them."""
    craft = installation.aircraft
    found = []
    for share, name in ((1.0, "full"), (0.0, "empty")):
        arm = balance(installation, share).aircraft_arm_m
        below = craft.forward_limit is not None and arm < craft.forward_limit
        above = craft.aft_limit is not None and arm > craft.aft_limit
        if below or above:
            limit = craft.forward_limit if below else craft.aft_limit
            found.append(
                Finding(
                    "exceeded",
                    "bottle.arm",
                    f"with the bottle {name} the empty aircraft's centre of gravity is at {arm:.3f} m",
                    f"{'aft' if below else 'forward'} of {limit:.3f} m",
                    "Move the bottle, or reckon with the load that is always aboard.",
                )
            )
    return found
