"""All cards of one plan, in the order they are used."""

from collections.abc import Callable

from oxlatch_tools.cards.card import Card
from oxlatch_tools.cards.cockpit import (
    afterflight,
    altitude_card,
    altitude_chart,
    emergency,
    placards,
    preflight,
    seconds_card,
)
from oxlatch_tools.cards.papers import bottle_book, jet_map, limits_page
from oxlatch_tools.cards.sheet import Origin
from oxlatch_tools.planning.plan import Plan, missing_figures
from oxlatch_tools.presentation import Units

MAKERS: dict[str, Callable[[Plan, Units], Card]] = {
    "placards": placards,
    "altitude": altitude_card,
    "altitude-chart": altitude_chart,
    "seconds": seconds_card,
    "preflight": preflight,
    "afterflight": afterflight,
    "emergency": emergency,
    "bottle-book": bottle_book,
    "jet-map": jet_map,
    "limits": limits_page,
}


def deck(plan: Plan, units: Units) -> list[Card]:
    """Every card."""
    return [make(plan, units) for make in MAKERS.values()]


def origin_of(plan: Plan, date: str, firmware: str) -> Origin:
    """What stands on every card. A card is a draft until the builder's own tested figures are in the file."""
    installation = plan.installation
    return Origin(
        aircraft=installation.aircraft.name,
        digest=installation.digest,
        date=date,
        firmware=firmware,
        is_draft=bool(missing_figures(installation)) or not plan.is_within_limits,
        is_example=installation.aircraft.example,
    )
