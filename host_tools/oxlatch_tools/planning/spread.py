"""How evenly a stage reaches the cylinders: at the ports by bores and lines, ahead of a plenum by exhausts."""

from dataclasses import dataclass

from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.air import air_at, most_base_power_w
from oxlatch_tools.planning.altitude import power_limit_w
from oxlatch_tools.planning.flow import Feed
from oxlatch_tools.planning.page import COMPUTED, Column, Table

SMALLEST_BORE = 0.2e-3
ASSUMED_SHARE = 1.3  # of the worst cylinder behind a plenum, until exhaust temperatures are measured: judgement


@dataclass(frozen=True)
class CylinderShares:
    """Share of a stage that each cylinder gets, 1 when even; `is_measured` tells measured from assumed or computed."""

    shares: tuple[float, ...]
    is_measured: bool


def cylinder_shares(installation: Installation, feed: Feed, number: int) -> CylinderShares:
    """Port: the widest spread that bore tolerance and line lengths allow.

    Plenum: from exhaust temperatures, or assumed.
    """
    stage, count = installation.stages[number - 1], installation.engine.cylinders
    if stage.delivery == "plenum":
        for record in installation.tested.spreads:
            if record.stage == number:
                return CylinderShares(shares_from_exhaust(record.without_boost, record.with_boost), True)
        rest = (count - ASSUMED_SHARE) / (count - 1)
        return CylinderShares((ASSUMED_SHARE, *([rest] * (count - 1))), False)
    bore = feed.stages[number - 1].oxidizer_bore or SMALLEST_BORE
    spread = 2 * installation.jets.diameter_tolerance / bore + 0.1 * stage.branch_length_spread
    rest = (count - (1 + spread)) / (count - 1)
    return CylinderShares((1 + spread, *([rest] * (count - 1))), False)


def shares_from_exhaust(without_k: list[float], with_k: list[float]) -> tuple[float, ...]:
    """Each cylinder's change of exhaust temperature over the mean change: a first-order measure of its share.

    Even shares when the mean change is too small to divide by (under 5 K).
    """
    rises = [after - before for before, after in zip(without_k, with_k, strict=True)]
    mean = sum(rises) / len(rises)
    if abs(mean) < 5.0:
        return tuple(1.0 for _ in rises)
    return tuple(rise / mean for rise in rises)


def largest_plenum_w(installation: Installation, worst_share: float) -> float:
    """Largest plenum stage whose worst cylinder stays at its share of the limit, at the first field of the file."""
    room = power_limit_w(installation)[0] - most_base_power_w(installation, air_at(installation.airfields[0]))
    return max(room, 0.0) / worst_share


def spread_table(installation: Installation, feed: Feed) -> Table:
    rows = []
    count = installation.engine.cylinders
    for number, stage in enumerate(installation.stages, start=1):
        found = cylinder_shares(installation, feed, number)
        even = stage.power / count
        origin = (
            "exhaust temperatures"
            if found.is_measured
            else "assumed"
            if stage.delivery == "plenum"
            else "bores and lines"
        )
        largest = largest_plenum_w(installation, max(found.shares)) if stage.delivery == "plenum" else None
        rows.append(
            (
                stage.name,
                stage.delivery,
                even,
                even * min(found.shares),
                even * max(found.shares),
                origin,
                largest,
            )
        )
    columns = (
        Column("stage", "Stage"),
        Column("delivery", "Sprays at"),
        Column("even", "Per cylinder, even", "power"),
        Column("least", "Least", "power"),
        Column("most", "Most", "power"),
        Column("origin", "Spread from"),
        Column("largest", "Largest sensible ahead of plenum", "power"),
    )
    note = (
        "Ahead of a plenum, until exhaust temperatures are measured, the worst cylinder is taken to get "
        f"{ASSUMED_SHARE:g} times "
        "its share (judgement). A stage ahead of the plenum is kept small: common practice, no source."
    )
    return Table(
        "spread",
        "Between cylinders",
        columns,
        rows,
        "2·(tolerance / bore) + line spread; ΔT of one cylinder over the mean",
        COMPUTED,
        note,
    )
