"""Valve times out of a logged pressure trace beside its command.

Opening: from the command's edge until the pressure behind the valve has gone 10 % (first) and 90 % of the
way to its new level; closing likewise. The 10 % and 90 % marks are a choice, stated on the print; standards
for shifting times differ.
"""

from dataclasses import dataclass

FIRST, NEARLY = 0.10, 0.90


@dataclass(frozen=True)
class ValveTimes:
    """Seconds from the command to the first movement and to nearly all of it, for each edge found."""

    opening_first_s: list[float]
    opening_s: list[float]
    closing_first_s: list[float]
    closing_s: list[float]


def valve_times(times_s: list[float], command: list[float], pressure_pa: list[float]) -> ValveTimes:
    """Times of every opening and closing in a trace. `command` is 0 or 1.

    Raises ValueError when no whole edge is found, or the pressure does not answer one.
    """
    edges = [i for i in range(1, len(times_s)) if (command[i] > 0.5) != (command[i - 1] > 0.5)]
    if not edges:
        raise ValueError("the command column never changes; a trace needs at least one opening")
    found = ValveTimes([], [], [], [])
    for number, edge in enumerate(edges):
        end = edges[number + 1] if number + 1 < len(edges) else len(times_s)
        first, nearly = _answer(times_s, pressure_pa, edge, end)
        if command[edge] > 0.5:
            found.opening_first_s.append(first)
            found.opening_s.append(nearly)
        else:
            found.closing_first_s.append(first)
            found.closing_s.append(nearly)
    return found


def _answer(times_s: list[float], pressure_pa: list[float], edge: int, end: int) -> tuple[float, float]:
    before = pressure_pa[edge - 1]
    settled = pressure_pa[max(edge, end - max(1, (end - edge) // 5)) : end]
    level = sum(settled) / len(settled)
    swing = level - before
    if abs(swing) < 1e-6 * max(1.0, abs(before)):
        raise ValueError(f"at {times_s[edge]:.3f} s the command changes and the pressure does not answer")
    marks = []
    for share in (FIRST, NEARLY):
        at = next((i for i in range(edge, end) if (pressure_pa[i] - before) / swing >= share), None)
        if at is None:
            when = times_s[edge]
            raise ValueError(f"after the command at {when:.3f} s the pressure never gets {share:.0%} of the way")
        marks.append(_crossing(times_s, pressure_pa, at, before + share * swing) - times_s[edge])
    return marks[0], marks[1]


def _crossing(times_s: list[float], pressure_pa: list[float], at: int, level: float) -> float:
    low, high = pressure_pa[at - 1], pressure_pa[at]
    if high == low:
        return times_s[at]
    share = min(1.0, max(0.0, (level - low) / (high - low)))
    return times_s[at - 1] + share * (times_s[at] - times_s[at - 1])


def lead_lines(oxidizer: ValveTimes, fuel: ValveTimes) -> list[str]:
    """What the measured times say, as lines to add to the installation by hand."""
    lines = ["[oxidizer_valve]"]
    if oxidizer.opening_s:
        lines.append(f'opening = "{1000 * max(oxidizer.opening_s):.1f} ms"')
    if oxidizer.closing_s:
        lines.append(f'closing = "{1000 * max(oxidizer.closing_s):.1f} ms"')
    lines.append("[fuel_valve]")
    if fuel.opening_s:
        lines.append(f'opening = "{1000 * max(fuel.opening_s):.1f} ms"')
    if fuel.closing_s:
        lines.append(f'closing = "{1000 * max(fuel.closing_s):.1f} ms"')
    return lines
