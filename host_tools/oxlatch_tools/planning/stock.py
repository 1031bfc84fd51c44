"""What a bottle holds that can be used, and how fast stages and purge use it: the figures the controller counts with.

Counted, not measured: flows and vapour are taken at the temperature at which a bottle stands between uses. In one long
run it cools, flows less and leaves less vapour, so the count runs ahead of the use.
"""

from oxlatch_sim.physics.tables import property_tables
from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.flow import feed_of
from oxlatch_tools.planning.flux import liquid_flux, saturation_pa
from oxlatch_tools.planning.page import COMPUTED, Column, Table
from oxlatch_tools.planning.stage_flow import oxidizer_kg_s

RESERVE_S = 5.0
"""A start must find this much of its flow in the bottle."""


def start_share(installation: Installation) -> float:
    """Flow at the start temperature of the bottle over flow at the tune temperature; never less than 1."""
    start = liquid_flux(saturation_pa(installation.bottle.start_temperature))
    return max(1.0, start / liquid_flux(saturation_pa(installation.jets.tune_temperature)))


def stage_flow_kg_s(installation: Installation, number: int) -> float:
    """Oxidizer flow of one stage as it is counted."""
    return oxidizer_kg_s(installation, (number,)) * start_share(installation)


def purge_flow_kg_s(installation: Installation) -> float:
    """Oxidizer flow of the purge as it is counted."""
    return feed_of(installation).purge_m2 * liquid_flux(saturation_pa(installation.bottle.start_temperature))


def usable_kg(installation: Installation) -> float:
    """Liquid that one full filling gives: the charge less the vapour in the bottle and what no tube reaches.

    Vapour at the temperature at which a bottle stands between uses; more is left usable in a colder one.
    """
    bottle = installation.bottle
    saturation = property_tables().saturation
    left = (1.0 - bottle.tube_share) * saturation.vapour_density_kg_m3(bottle.start_temperature)
    left += bottle.tube_share * saturation.liquid_density_kg_m3(bottle.start_temperature)
    together = bottle.count if bottle.use == "together" else 1
    return together * max(bottle.charge - bottle.volume * left, 0.0)


def stock_table(installation: Installation) -> Table:
    """The figures of the count, in the units of the plan."""
    rows: list[tuple[str | float | None, ...]] = [
        ("full bottle, usable liquid", usable_kg(installation), None, None, None),
        ("purge", None, purge_flow_kg_s(installation), None, None),
    ]
    for number in range(1, len(installation.stages) + 1):
        flow = stage_flow_kg_s(installation, number)
        rows.append((f"stage {number}", None, flow, RESERVE_S * flow, usable_kg(installation) / flow))
    columns = (
        Column("what", "What is counted"),
        Column("mass", "Holds", "mass"),
        Column("flow", "Uses", "flow"),
        Column("need", "Needed for a start", "mass"),
        Column("seconds", "Seconds by the count, alone", "time"),
    )
    note = (
        "The controller counts; it does not weigh. One long run ends earlier by the count than by the liquid; only a "
        "refill entered by hand makes the budget whole again."
    )
    formula = "flow and vapour at the start temperature of the bottle; 5 s of flow for a start"
    return Table("stock", "The bottle budget of the controller", columns, rows, formula, COMPUTED, note)
