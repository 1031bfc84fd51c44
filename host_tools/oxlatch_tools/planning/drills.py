"""Standard drills near a bore: metric sizes and the numbered sizes of the inch system, to 3 mm.

Metric: steps 0.02, 0.05, 0.08, 0.10 in each tenth below 1 mm, every 0.05 mm above (ISO 235 small sizes). Numbered: the
inch series 80 to 31 as in general machinists' tables, 92 to 81 from memory. They are sizes of tools anyone sells, and
nothing else.
"""

from dataclasses import dataclass

NUMBERED_INCH = dict(
    zip(
        range(92, 30, -1),
        (
            *(0.0079, 0.0083, 0.0087, 0.0091, 0.0095, 0.0100, 0.0105, 0.0110, 0.0115, 0.0120, 0.0125, 0.0130),
            *(0.0135, 0.0145, 0.0160, 0.0180, 0.0200, 0.0210, 0.0225, 0.0240, 0.0250, 0.0260),
            *(0.0280, 0.0292, 0.0310, 0.0320, 0.0330, 0.0350, 0.0360, 0.0370, 0.0380, 0.0390),
            *(0.0400, 0.0410, 0.0420, 0.0430, 0.0465, 0.0520, 0.0550, 0.0595, 0.0635, 0.0670),
            *(0.0700, 0.0730, 0.0760, 0.0785, 0.0810, 0.0820, 0.0860, 0.0890, 0.0935, 0.0960),
            *(0.0980, 0.0995, 0.1015, 0.1040, 0.1065, 0.1100, 0.1110, 0.1130, 0.1160, 0.1200),
        ),
        strict=True,
    )
)
_TENTHS = (0.0, 0.02, 0.05, 0.08)


@dataclass(frozen=True)
class Drill:
    """One tool: its name and bore, m."""

    name: str
    bore: float


def metric_drills() -> list[Drill]:
    """0.20 to 3.00 mm."""
    below = [0.1 * tenth + part for tenth in range(2, 10) for part in _TENTHS]
    above = [0.05 * step for step in range(20, 61)]
    return [Drill(f"{size:.2f} mm", size / 1e3) for size in (*below, *above)]


def numbered_drills() -> list[Drill]:
    """Numbers 92 to 31."""
    return [Drill(f"No. {number}", inch * 0.0254) for number, inch in NUMBERED_INCH.items()]


def nearest(bore: float, drills: list[Drill]) -> Drill:
    """The drill whose bore is nearest."""
    return min(drills, key=lambda drill: abs(drill.bore - bore))


def flow_error(bore: float, drill: Drill) -> float:
    """Change of flow that the drill's bore brings: area alone."""
    return (drill.bore / bore) ** 2 - 1
