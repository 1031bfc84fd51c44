"""Parts that do not last: how often they are changed or tested, and how much of them a year uses."""

from dataclasses import dataclass

from oxlatch_tools.installation import Installation

JUDGEMENT = "judgement; the part's maker first"


@dataclass(frozen=True)
class Life:
    """One recurring part."""

    part: str
    every: str
    yearly: str
    origin: str


def lives(installation: Installation) -> list[Life]:
    """Every recurring part, with what the file's uses make of it in a year."""
    uses = installation.mission.uses_per_year
    purges = uses * installation.feed.purges_per_use
    minutes = uses * installation.mission.seconds_per_use / 60
    cycles = f"about {uses} openings, {minutes:.0f} min of flow"
    found = [
        Life("O valve seats and O-rings", "12 to 24 months", cycles, JUDGEMENT),
        Life("Purge valve seat", "12 to 24 months", f"about {purges} openings", JUDGEMENT),
        Life("F valve seats", "24 months", cycles, JUDGEMENT),
        Life("O and F filter elements", "12 months, and after any work on the lines", "", JUDGEMENT),
        Life(
            "Bottle relief or burst disc",
            "as its maker and the cylinder's rules say",
            "",
            "the maker; check the current text",
        ),
        Life(
            "Cylinder retest",
            "as stamped",
            "",
            "your country's rules, current text",
        ),
        Life("Hoses", "as their maker says, at most 5 years", "", JUDGEMENT),
        Life("Pressure sensors", "checked against a gauge every 12 months", "", JUDGEMENT),
        Life("Contact of the detent", "24 months, or when its travel has moved", f"about {uses} pushes", JUDGEMENT),
        Life("Contactor", "when a joint runs warm, at most 5 years", f"about {uses} makes and breaks", JUDGEMENT),
        Life("Coil clamps", "release times measured every 12 months", "", JUDGEMENT),
        Life("Check valves of the F branches", "12 months: hold fuel for an hour", "", JUDGEMENT),
    ]
    if "oxidizer proof" in installation.sensors.fitted:
        found.append(
            Life("Proof switches", "opening and closing pressure every 12 months", f"about {uses} cycles", JUDGEMENT)
        )
    return found
