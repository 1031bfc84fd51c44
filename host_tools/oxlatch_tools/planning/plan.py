"""The whole plan: every page in order, with what they share computed once."""

from dataclasses import dataclass

from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_fitted import not_fitted
from oxlatch_tools.planning.altitude import altitude_page
from oxlatch_tools.planning.bottle import bottle_page
from oxlatch_tools.planning.ceiling import ceiling_page
from oxlatch_tools.planning.electrical import electrical_page
from oxlatch_tools.planning.endurance import Endurance, endurances, shown_pattern
from oxlatch_tools.planning.flow import Feed, feed_of
from oxlatch_tools.planning.fuel_supply import fuel_page
from oxlatch_tools.planning.jets import jets_page
from oxlatch_tools.planning.page import Finding, Page
from oxlatch_tools.planning.stage_flow import Pattern
from oxlatch_tools.planning.stages import stages_page
from oxlatch_tools.planning.takeoff import Departure, departures, takeoff_page
from oxlatch_tools.planning.why import why_page


@dataclass(frozen=True)
class Plan:
    """All pages and what cards and pictures draw from."""

    installation: Installation
    pages: list[Page]
    feed: Feed
    endurance: dict[Pattern, Endurance]
    departures: list[Departure]

    def page(self, key: str) -> Page:
        """The page of that key; KeyError when there is none."""
        for page in self.pages:
            if page.key == key:
                return page
        raise KeyError(key)

    def findings(self) -> list[tuple[Page, Finding]]:
        """Every finding with its page, exceeded limits first."""
        every = [(page, finding) for page in self.pages for finding in page.findings]
        return sorted(every, key=lambda item: item[1].severity != "exceeded")

    @property
    def is_within_limits(self) -> bool:
        """Whether no limit is exceeded."""
        return all(finding.severity != "exceeded" for _page, finding in self.findings())


def make_plan(installation: Installation) -> Plan:
    """Answer every question. PhysicsRangeError when a value lies outside what the models cover."""
    feed = feed_of(installation)
    lasting = endurances(installation, feed)
    leaving = departures(installation)
    shown = shown_pattern(installation)
    seconds = {pattern: item.seconds for pattern, item in lasting.items()}
    pages = [
        why_page(installation, leaving[0], lasting),
        ceiling_page(installation),
        stages_page(installation, feed, lasting),
        jets_page(installation, feed, shown),
        bottle_page(installation, feed, lasting),
        altitude_page(installation),
        fuel_page(installation, shown),
        electrical_page(installation, shown),
        takeoff_page(installation, leaving, seconds),
    ]
    return Plan(installation, pages, feed, lasting, leaving)


def missing_figures(installation: Installation) -> list[str]:
    """The builder's own tested figures that the file does not have yet. While any is missing, every card is a draft."""
    tested = installation.tested
    missing = []
    if tested.limits_signed is None:
        missing.append("who answers for the ceiling")
    if tested.valve_times is None:
        missing.append("measured opening and closing times of the valves")
    if tested.purge_time is None:
        missing.append("a purge watched to run steady")
    if not tested.patterns:
        missing.append("any tested pattern")
    for number in range(1, len(installation.stages) + 1):
        for fluid in ("oxidizer", "fuel"):
            if not any(shot.stage == number and shot.fluid == fluid for shot in tested.shots):
                missing.append(f"a weighed {fluid} shot of stage {number}")
    return missing


def reduced_claims(installation: Installation) -> list[str]:
    """What is not fitted and which claim is lost, one sentence each."""
    return [f"Not fitted: {item.part}. {item.lost}" for item in not_fitted(installation)]
