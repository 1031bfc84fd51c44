"""The inputs beyond the core: discretes, bottle and air temperatures, barometer, purge outlets, airspeed.

Together they give one word of adverse extras, the altitude row and the state of the purge outlets. The
discretes are looked at in every tick, the slow quantities in turns of eight ticks.
"""

from oxlatch.vocabulary import (  # fmt: skip
    COIL_OX, COIL_PURGE, EX_FIRE, EX_KNOCK, EX_MIXTURE_RICH, EX_RETARD, EXTRA_AIR_BAD, EXTRA_AIRSPEED_BAD,
    EXTRA_BOTTLE_BAD, EXTRA_BOTTLE_RED, EXTRA_BOTTLE_WARM, EXTRA_CONTENT, EXTRA_FAST, EXTRA_FIRE,
    EXTRA_KNOCK, EXTRA_NO_RETARD,
    EXTRA_NOT_RICH, EXTRA_OUTLET_BAD, FIT_AIR, FIT_AIRSPEED, FIT_BOTTLE_TEMPERATURE, FIT_FIRE, FIT_KNOCK,
    FIT_MIXTURE, FIT_OUTLET_1, FIT_OUTLET_2, FIT_RETARD, OUTLETS_COLD, OUTLETS_ONE, OUTLETS_WARM,
    RAW_AIR_DK, RAW_AIRSPEED_MV, RAW_BARO_DAPA, RAW_BOTTLE_DK, RAW_EXTRAS, RAW_OUTLET_1_DK, RAW_OUTLET_2_DK,
    RAW_SUPPLY_MV,
)

FIT_DISCRETES = FIT_KNOCK | FIT_MIXTURE | FIT_RETARD | FIT_FIRE
FIT_OUTLETS = FIT_OUTLET_1 | FIT_OUTLET_2
FIT_EXTRAS = FIT_DISCRETES | FIT_OUTLETS | FIT_BOTTLE_TEMPERATURE | FIT_AIR | FIT_AIRSPEED

CONTACT_TICKS = 6  # equal samples for a permitting contact to count
FIRE_TICKS = 2

# what a temperature channel can read without being broken, tenths of a kelvin
SKIN_LEAST_DK = 2132  # -60 degC
SKIN_MOST_DK = 3732
OUTLET_LEAST_DK = 1732  # -100 degC, below anything the outlet can do
AIR_LEAST_DK = 2132
AIR_MOST_DK = 3332
BARO_LEAST_DAPA = 3000
BARO_MOST_DAPA = 11000

# The saturation table: first and last temperature, and its step.
SAT_FIRST_DK = 2632
SAT_LAST_DK = 3082
SAT_STEP_DK = 50

MATCH_UNKNOWN = 0
MATCH_GOOD = 1
MATCH_DOUBTFUL = 2

# Density ratio in 1/10000: p/T over the standard's at sea level, 101325 Pa and 288.15 K (ISO 2533).
DENSITY_SCALE = 2844

_BOTTLE = EXTRA_BOTTLE_BAD | EXTRA_BOTTLE_WARM | EXTRA_BOTTLE_RED | EXTRA_CONTENT
_AIRSPEED = EXTRA_FAST | EXTRA_AIRSPEED_BAD
_DISCRETES = EXTRA_KNOCK | EXTRA_NOT_RICH | EXTRA_NO_RETARD | EXTRA_FIRE


def extras_step(s, raw, c, v):
    """One tick of every extra that is fitted; what is not fitted is never adverse."""
    fitted = c.fitted
    if fitted & FIT_DISCRETES:
        discretes_step(s, raw, c)
    turn = s.phase
    if turn == 0:
        if fitted & FIT_BOTTLE_TEMPERATURE:
            bottle_step(s, raw, c)
    elif turn == 2:
        if fitted & FIT_AIR:
            air_step(s, raw, c)
    elif turn == 4:
        if fitted & FIT_OUTLETS:
            outlets_step(s, raw, c)
    elif turn == 6:
        if fitted & FIT_AIRSPEED:
            airspeed_step(s, raw, c)
    v.extras = s.extras
    v.row = s.row
    v.outlets = s.outlets


def discretes_step(s, raw, c):
    """Knock events, the two permitting contacts, fire."""
    x = raw[RAW_EXTRAS]
    fitted = c.fitted
    found = 0
    if fitted & FIT_KNOCK and knock_step(s, x & EX_KNOCK, c):
        found |= EXTRA_KNOCK
    if fitted & FIT_MIXTURE:
        if not x & EX_MIXTURE_RICH:
            s.rich_n = 0
        elif s.rich_n < CONTACT_TICKS:
            s.rich_n += 1
        if s.rich_n < CONTACT_TICKS:
            found |= EXTRA_NOT_RICH
    if fitted & FIT_RETARD:
        if not x & EX_RETARD:
            s.retard_n = 0
        elif s.retard_n < CONTACT_TICKS:
            s.retard_n += 1
        if s.retard_n < CONTACT_TICKS:
            found |= EXTRA_NO_RETARD
    if fitted & FIT_FIRE:
        if not x & EX_FIRE:
            s.fire_n = 0
        elif s.fire_n < FIRE_TICKS:
            s.fire_n += 1
        if s.fire_n >= FIRE_TICKS:
            found |= EXTRA_FIRE
    s.extras = (s.extras & ~_DISCRETES) | found


def knock_step(s, heard, c):
    """Whether a knock event begins in this tick while another is still within the window."""
    begins = heard and not s.knock_1
    s.knock_1 = heard
    second = begins and s.knock_left
    if begins:
        s.knock_left = c.knock_window_ticks
    elif s.knock_left:
        s.knock_left -= 1
    return 1 if second else 0


def bottle_step(s, raw, c):
    """Bottle temperature: out of range, warm, overheated for two turns, or not belonging to the soaked pressure.

    Samples taken while oxidizer moves, or while the pressure says nothing, neither add to the doubt nor end it.
    """
    x = raw[RAW_BOTTLE_DK]
    found = 0
    match = MATCH_UNKNOWN
    if x < SKIN_LEAST_DK or x > SKIN_MOST_DK:
        found = EXTRA_BOTTLE_BAD
        s.red_n = 0
    else:
        if x > c.bottle_top_dk:
            found = EXTRA_BOTTLE_WARM
        if x <= c.bottle_red_dk:
            s.red_n = 0
        else:
            s.red_n = 2 if s.red_n else 1
            if s.red_n > 1:
                found |= EXTRA_BOTTLE_RED
        if not s.driven & (COIL_OX | COIL_PURGE):
            match = content_match(x, raw[RAW_SUPPLY_MV], c)
    if match == MATCH_GOOD:
        s.match_n = 0
    elif match == MATCH_DOUBTFUL and s.match_n < c.match_turns:
        s.match_n += 1
    if s.match_n >= c.match_turns:
        found |= EXTRA_CONTENT
    s.extras = (s.extras & ~_BOTTLE) | found


def content_match(x, supply_mv, c):
    """Whether a line pressure that permits a start is the saturation pressure at temperature `x`.

    Below that, off the sensor's range, outside the table, and towards the critical point, where pressure depends
    on the fill, it says nothing.
    """
    if supply_mv < c.supply_permit_mv or supply_mv > c.sensor_high_mv or x < SAT_FIRST_DK or x >= SAT_LAST_DK:
        return MATCH_UNKNOWN
    if supply_mv + c.match_mv < saturation_mv(x, c):
        return MATCH_DOUBTFUL
    return MATCH_DOUBTFUL if supply_mv > saturation_mv(x + SAT_STEP_DK, c) + c.match_mv else MATCH_GOOD


def saturation_mv(x, c):
    """Saturation pressure at the last step of the table that is not above temperature `x`."""
    if x < 2882:
        if x < 2682:
            return c.sat_0_mv
        if x < 2732:
            return c.sat_1_mv
        if x < 2782:
            return c.sat_2_mv
        return c.sat_3_mv if x < 2832 else c.sat_4_mv
    if x < 2932:
        return c.sat_5_mv
    if x < 2982:
        return c.sat_6_mv
    if x < 3032:
        return c.sat_7_mv
    return c.sat_8_mv if x < SAT_LAST_DK else c.sat_9_mv


def air_step(s, raw, c):
    """The altitude row: denser air counts at once, thinner air after some turns, one row at a time."""
    p = raw[RAW_BARO_DAPA]
    t = raw[RAW_AIR_DK]
    s.extras &= ~EXTRA_AIR_BAD
    if p < BARO_LEAST_DAPA or p > BARO_MOST_DAPA or t < AIR_LEAST_DK or t > AIR_MOST_DK:
        s.extras |= EXTRA_AIR_BAD
        row = 0
    else:
        row = density_row(p * DENSITY_SCALE // t, c)
    if row <= s.row:
        s.row = row
        s.row_n = 0
    elif s.row_n < c.row_turns:
        s.row_n += 1
    else:
        s.row += 1
        s.row_n = 0


def density_row(density, c):
    """The last row of the altitude table that begins above this density."""
    if density >= c.density_1:
        return 0
    if density >= c.density_2:
        return 1
    if density >= c.density_3:
        return 2
    if density >= c.density_4:
        return 3
    return 4 if density >= c.density_5 else 5


def outlets_step(s, raw, c):
    """Whether every fitted purge outlet has been cold for long enough; a broken sensor is never cold."""
    wanted = 0
    cold = 0
    bad = 0
    if c.fitted & FIT_OUTLET_1:
        wanted = 1
        x = raw[RAW_OUTLET_1_DK]
        s.outlet_1_n = outlet_turns(s.outlet_1_n, x, c)
        if s.outlet_1_n >= c.outlet_turns:
            cold = 1
        if x < OUTLET_LEAST_DK or x > SKIN_MOST_DK:
            bad = EXTRA_OUTLET_BAD
    if c.fitted & FIT_OUTLET_2:
        wanted += 1
        x = raw[RAW_OUTLET_2_DK]
        s.outlet_2_n = outlet_turns(s.outlet_2_n, x, c)
        if s.outlet_2_n >= c.outlet_turns:
            cold += 1
        if x < OUTLET_LEAST_DK or x > SKIN_MOST_DK:
            bad = EXTRA_OUTLET_BAD
    if cold == wanted:
        s.outlets = OUTLETS_COLD
    else:
        s.outlets = OUTLETS_ONE if cold else OUTLETS_WARM
    s.extras = (s.extras & ~EXTRA_OUTLET_BAD) | bad


def outlet_turns(n, x, c):
    """Turns in a row that one outlet has been cold, saturating."""
    if x < OUTLET_LEAST_DK or x > c.outlet_cold_dk:
        return 0
    return n + 1 if n < c.outlet_turns else n


def airspeed_step(s, raw, c):
    """Airspeed above the chosen limit, or a sensor out of its range."""
    x = raw[RAW_AIRSPEED_MV]
    found = 0
    if x < c.sensor_low_mv or x > c.sensor_high_mv:
        found = EXTRA_AIRSPEED_BAD
    elif x > c.airspeed_top_mv:
        found = EXTRA_FAST
    s.extras = (s.extras & ~_AIRSPEED) | found
