"""What the samples of the extras were: the proof's own memory, beside that of the firmware.

The discretes are looked at in every tick, each slow quantity in one tick of eight; its runs count looks.
Written from the meaning of the inputs, in the firmware's subset.
"""

# mypy: disallow-untyped-defs=False

from __future__ import annotations

from oxlatch.sense_extras import (
    AIR_LEAST_DK,
    AIR_MOST_DK,
    BARO_LEAST_DAPA,
    BARO_MOST_DAPA,
    DENSITY_SCALE,
    OUTLET_LEAST_DK,
    SAT_FIRST_DK,
    SAT_LAST_DK,
    SAT_STEP_DK,
    SKIN_LEAST_DK,
    SKIN_MOST_DK,
)
from oxlatch.vocabulary import (
    COIL_OX,
    COIL_PURGE,
    EX_FIRE,
    EX_KNOCK,
    EX_MIXTURE_RICH,
    EX_RETARD,
    RAW_AIR_DK,
    RAW_AIRSPEED_MV,
    RAW_BARO_DAPA,
    RAW_BOTTLE_DK,
    RAW_EXTRAS,
    RAW_OUTLET_1_DK,
    RAW_OUTLET_2_DK,
    RAW_SUPPLY_MV,
    ROWS,
)
from oxlatch_sim.proof.symbolic_past import longer

SAT_STEPS = 9  # steps of the saturation table

EXTRA_RUNS = (
    "knock_age",  # ticks since the last knock began, 0 when none has
    "rich",
    "retard",
    "fire",
    "red",  # looks at an overheated bottle
    "doubt",  # looks at a still line, those that say nothing left out, whose pressure does not belong to the bottle
    "above",  # looks at air that allows a further row, since the row last changed
    "cold_1",  # looks at a cold outlet
    "cold_2",
)
EXTRA_FLAGS = (
    "knock",  # heard in this tick
    "second",  # a knock began in this tick, and another within the window before it
    # what the last look saw
    "skin_bad",
    "skin_warm",
    "air_bad",
    "outlet_1_bad",
    "outlet_2_bad",
    "fast",
    "speed_bad",
)


class ExtraPast:
    """Runs of samples or looks, and what the last look at each slow quantity saw."""

    def __init__(self) -> None:
        for name in EXTRA_RUNS + EXTRA_FLAGS:
            setattr(self, name, 0)
        self.allowed = 0  # the row that the last look at the air allows
        self.row_before = 0
        self.thin = [0] * ROWS  # looks in a row that allowed at least this row


def extras_before(extra, sense):
    """Keep the row that the tick may change."""
    extra.row_before = sense.row


def extras_past(extra, raw, c, sense, fed):
    """All runs, after the tick that saw the same samples."""
    x = raw[RAW_EXTRAS]
    knock_past(extra, x & EX_KNOCK, c)
    extra.rich = longer(extra.rich, x & EX_MIXTURE_RICH)
    extra.retard = longer(extra.retard, x & EX_RETARD)
    extra.fire = longer(extra.fire, x & EX_FIRE)
    if sense.phase == 0:
        bottle_past(extra, raw[RAW_BOTTLE_DK], raw[RAW_SUPPLY_MV], c, fed)
    elif sense.phase == 2:
        air_past(extra, raw[RAW_BARO_DAPA], raw[RAW_AIR_DK], c)
    elif sense.phase == 4:
        outlets_past(extra, raw[RAW_OUTLET_1_DK], raw[RAW_OUTLET_2_DK], c)
    elif sense.phase == 6:
        x = raw[RAW_AIRSPEED_MV]
        extra.speed_bad = 0 if c.sensor_low_mv <= x <= c.sensor_high_mv else 1
        extra.fast = 1 if x > c.airspeed_top_mv and not extra.speed_bad else 0


def knock_past(extra, heard, c):
    """A knock begins where it is heard and was not in the tick before."""
    extra.second = 0
    if not heard or extra.knock:
        if extra.knock_age:
            extra.knock_age = longer(extra.knock_age, 1)
    else:
        if 0 < extra.knock_age <= c.knock_window_ticks:
            extra.second = 1
        extra.knock_age = 1
    extra.knock = heard


def bottle_past(extra, x, supply_mv, c, fed):
    """One look at the bottle's skin."""
    inside = SKIN_LEAST_DK <= x <= SKIN_MOST_DK
    extra.skin_bad = 0 if inside else 1
    extra.skin_warm = 1 if inside and x > c.bottle_top_dk else 0
    extra.red = longer(extra.red, inside and x > c.bottle_red_dk)
    still = not fed.driven & (COIL_OX | COIL_PURGE)
    if still and c.supply_permit_mv <= supply_mv <= c.sensor_high_mv and SAT_FIRST_DK <= x < SAT_LAST_DK:
        extra.doubt = longer(extra.doubt, not belongs(x, supply_mv, c))


def belongs(x, supply_mv, c):
    """Whether a pressure lies between those of the table's two steps around a temperature, give or take the allowance."""
    for i in range(SAT_STEPS):
        if x < SAT_FIRST_DK + (i + 1) * SAT_STEP_DK:
            return supply_mv + c.match_mv >= saturation(i, c) and supply_mv <= saturation(i + 1, c) + c.match_mv
    return True


def saturation(step, c):
    """The saturation pressure at a step of the table."""
    if step < 5:
        if step < 2:
            return c.sat_1_mv if step else c.sat_0_mv
        if step == 2:
            return c.sat_2_mv
        return c.sat_3_mv if step == 3 else c.sat_4_mv
    if step < 7:
        return c.sat_5_mv if step == 5 else c.sat_6_mv
    if step == 7:
        return c.sat_7_mv
    return c.sat_8_mv if step == 8 else c.sat_9_mv


def air_past(extra, p, t, c):
    """One look at the air: the row its density allows, and for how many looks each row has been allowed."""
    extra.air_bad = 0
    extra.allowed = 0
    if p < BARO_LEAST_DAPA or p > BARO_MOST_DAPA or t < AIR_LEAST_DK or t > AIR_MOST_DK:
        extra.air_bad = 1
    else:
        density = p * DENSITY_SCALE // t
        extra.allowed = 1 if density < c.density_1 else 0
        extra.allowed += 1 if density < c.density_2 else 0
        extra.allowed += 1 if density < c.density_3 else 0
        extra.allowed += 1 if density < c.density_4 else 0
        extra.allowed += 1 if density < c.density_5 else 0
    for i in range(ROWS):
        extra.thin[i] = longer(extra.thin[i], extra.allowed >= i)
    extra.above = longer(extra.above, extra.allowed > extra.row_before)
    if extra.above > c.row_turns:
        extra.above = 0


def outlets_past(extra, first, second, c):
    """One look at the purge outlets."""
    extra.cold_1 = longer(extra.cold_1, OUTLET_LEAST_DK <= first <= c.outlet_cold_dk)
    extra.cold_2 = longer(extra.cold_2, OUTLET_LEAST_DK <= second <= c.outlet_cold_dk)
    extra.outlet_1_bad = 0 if OUTLET_LEAST_DK <= first <= SKIN_MOST_DK else 1
    extra.outlet_2_bad = 0 if OUTLET_LEAST_DK <= second <= SKIN_MOST_DK else 1
