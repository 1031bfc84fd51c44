"""The altitude table as the controller holds it: six rows of air density, each with the patterns it allows.

The controller knows pressure and temperature of the outside air and forms dry density from them. Along a fine scale of
density every pattern is asked whether it fits at every temperature that goes with it; rows are then laid so that each
allows only what fits in all of it, and as much as six rows can. Row 0 holds for the densest air and for a sensor that
has failed, and allows least.
"""

import math
from dataclasses import dataclass

from oxlatch.vocabulary import ROWS
from oxlatch_sim.physics import atmosphere
from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.air import Air
from oxlatch_tools.planning.altitude import pattern_bits, room, standing_refusals, strongest_of
from oxlatch_tools.planning.page import COMPUTED, Column, Table, pattern_name

SCALE = 10_000
"""Density is counted in 1/10000 of the standard's at sea level (ISO 2533)."""
STEP = 50
DENSEST, THINNEST = 13_000, 4_500
"""Beyond these nothing is reckoned: -40 C below sea level, and about 7,300 m."""
SENSOR_MARGIN = 0.006
"""Error of barometer and thermometer together, of the density: 0.2 % and 1 K; engineering judgement."""
TEMPERATURES_K = tuple(233.15 + 2.5 * step for step in range(37))
OFF_STANDARD_K = 35.0
"""Air further from the standard's temperature at its pressure is not reckoned with: judgement, printed."""
GAS_CONSTANT = 287.05
LEAST_PA, MOST_PA = 35_000.0, 108_000.0


@dataclass(frozen=True)
class Row:
    """Air thinner than `below` (1/10000 of standard density), down to the next row: patterns as a mask of switch bits.

    The first row begins with any density.
    """

    below: int
    mask: int


def density_rows(installation: Installation) -> tuple[Row, ...]:
    """The six rows, densest air first. PhysicsRangeError when a value lies outside what the models cover."""
    fine = _fine_masks(installation)
    powers = {pattern_bits(pattern): installation.pattern_power_w(pattern) for pattern in installation.patterns()}
    starts = _best_starts(fine, powers)
    ends = [*starts[1:], len(fine)]
    rows = []
    for start, end in zip(starts, ends, strict=True):
        mask = ~0
        for step in fine[start:end]:
            mask &= step
        rows.append(Row(math.floor((DENSEST - STEP * start) * (1.0 - SENSOR_MARGIN)), mask))
    return tuple(rows)


def _fine_masks(installation: Installation) -> list[int]:
    """Per step of density, densest first, the patterns that fit at every temperature that goes with it."""
    standing = standing_refusals(installation)
    masks = []
    before = 0
    for dense in range(DENSEST, THINNEST, -STEP):
        airs = [(air, _air(dense - STEP, air.temperature_k)) for air in _airs(dense)]
        if airs:
            before = ~0
            for air, thin in airs:
                allowed = room(installation, air, thin, standing).allowed
                before &= sum(1 << pattern_bits(pattern) for pattern in allowed)
        # Where no air of the earth has this density, what its denser neighbour allows is not widened.
        masks.append(before)
    return masks


def _air(density: int, temperature_k: float) -> Air:
    pressure = density / SCALE * atmosphere.SEA_LEVEL_DENSITY_KG_M3 * GAS_CONSTANT * temperature_k
    return Air(pressure, temperature_k)


def _airs(density: int) -> list[Air]:
    """Air of this density at every temperature within the stated distance of the standard's."""
    found = []
    for temperature_k in TEMPERATURES_K:
        air = _air(density, temperature_k)
        if LEAST_PA <= air.pressure_pa <= MOST_PA:
            standard_k = atmosphere.standard_temperature_k(air.pressure_altitude_m)
            if abs(temperature_k - standard_k) <= OFF_STANDARD_K:
                found.append(air)
    return found


def _best_starts(fine: list[int], powers: dict[int, float]) -> list[int]:
    """First fine step of each row, so that the sum of allowed power over all densities is greatest.

    Dynamic programming over the steps: the best way to cut the first `n` of them into `k` rows.
    """
    changes = [0, *(n for n in range(1, len(fine)) if fine[n] != fine[n - 1]), len(fine)]
    places = len(changes)
    worth: list[list[float]] = [[0.0] * places for _ in range(places)]
    for low in range(places - 1):
        mask = ~0
        for high in range(low + 1, places):
            mask &= fine[changes[high - 1]]
            allowed = sum(power for bits, power in powers.items() if mask >> bits & 1)
            worth[low][high] = allowed * (changes[high] - changes[low])
    best: list[list[tuple[float, list[int]]]] = [[(-1.0, [])] * places for _ in range(ROWS + 1)]
    best[0][0] = (0.0, [])
    for rows in range(1, ROWS + 1):
        for high in range(1, places):
            options = [
                (before + worth[low][high], [*cuts, changes[low]])
                for low in range(high)
                for before, cuts in [best[rows - 1][low]]
                if before >= 0.0
            ]
            if options:
                best[rows][high] = max(options)
    starts = max((best[rows][places - 1] for rows in range(1, ROWS + 1)), key=lambda option: option[0])[1]
    return _padded(starts, len(fine))


def _padded(starts: list[int], count: int) -> list[int]:
    """Six rows in any case: where fewer suffice, the last one is cut once more."""
    padded = list(starts)
    while len(padded) < ROWS:
        padded.append(padded[-1] + 1 if padded[-1] + ROWS < count else padded[-1])
        if padded[-1] == padded[-2]:
            widest = max(range(len(padded) - 1), key=lambda n: padded[n + 1] - padded[n])
            padded[-1:] = []
            padded.insert(widest + 1, padded[widest] + 1)
    return padded


def rows_table(installation: Installation) -> Table:
    """The rows as the page prints them."""
    names = {pattern_bits(pattern): pattern_name(pattern) for pattern in installation.patterns()}
    printed: list[tuple[str | float | None, ...]] = []
    for number, row in enumerate(density_rows(installation)):
        allowed = [name for bits, name in names.items() if row.mask >> bits & 1]
        strongest = strongest_of(installation, row.mask)
        altitude_m = None if number == 0 else _standard_altitude_m(row.below / SCALE)
        begin = "any, and any sensor fault" if number == 0 else f"under {row.below / SCALE:.3f}"
        best = pattern_name(strongest) if strongest else "none"
        printed.append((str(number), begin, altitude_m, best, ", ".join(allowed) or "none"))
    columns = (
        Column("row", "Row"),
        Column("density", "Air density over standard"),
        Column("altitude", "Standard altitude", "altitude"),
        Column("strongest", "Strongest"),
        Column("allowed", "Allowed"),
    )
    note = (
        "Packed into the record. Card and controller lay their tables differently; what either refuses is refused. "
        f"Air is taken to be within {OFF_STANDARD_K:.0f} K of the standard's temperature; {SENSOR_MARGIN:.1%} of "
        "density is allowed for the sensors (judgement)."
    )
    formula = "dry density from pressure and temperature; each row allows what fits in all of it"
    return Table("rows", "The altitude table of the controller", columns, printed, formula, COMPUTED, note)


def _standard_altitude_m(ratio: float) -> float:
    """Altitude of the standard troposphere at a density ratio, ISO 2533."""
    return float(288.15 / 0.0065 * (1.0 - ratio ** (1.0 / 4.2559)))
