"""What each verdict of the extras guarantees about its samples, and that an extra which is not fitted says nothing."""

# mypy: disallow-untyped-defs=False

from __future__ import annotations

from oxlatch.sense_extras import CONTACT_TICKS, FIRE_TICKS, FIT_EXTRAS
from oxlatch.vocabulary import (
    EXTRA_AIR_BAD,
    EXTRA_AIRSPEED_BAD,
    EXTRA_BOTTLE_BAD,
    EXTRA_BOTTLE_RED,
    EXTRA_BOTTLE_WARM,
    EXTRA_CONTENT,
    EXTRA_FAST,
    EXTRA_FIRE,
    EXTRA_KNOCK,
    EXTRA_NO_RETARD,
    EXTRA_NOT_RICH,
    EXTRA_OUTLET_BAD,
    FIT_AIR,
    FIT_AIRSPEED,
    FIT_BOTTLE_TEMPERATURE,
    FIT_FIRE,
    FIT_KNOCK,
    FIT_MIXTURE,
    FIT_OUTLET_1,
    FIT_OUTLET_2,
    FIT_RETARD,
    OUTLETS_COLD,
    OUTLETS_ONE,
    OUTLETS_WARM,
    RAW_BOTTLE_G,
    ROWS,
)
from oxlatch_sim.proof.symbolic_engine import claim
from oxlatch_sim.proof.symbolic_sense_invariants import cut_off

BOTTLE = EXTRA_BOTTLE_BAD | EXTRA_BOTTLE_WARM | EXTRA_BOTTLE_RED | EXTRA_CONTENT


def says(word, bit):
    """Whether a bit is set, as 0 or 1."""
    return 1 if word & bit else 0


# --- strengthenings ---------------------------------------------------------------------------


def discrete_counts(sense, extra, c):
    """The counters of the discretes are runs of samples, cut off at their limits; the knock's is what is left of
    its window.
    """
    if c.fitted & FIT_KNOCK:
        left = c.knock_window_ticks - extra.knock_age + 1
        if sense.knock_1 != extra.knock or sense.knock_left != (left if extra.knock_age and left > 0 else 0):
            return False
    if c.fitted & FIT_MIXTURE and sense.rich_n != cut_off(extra.rich, CONTACT_TICKS):
        return False
    if c.fitted & FIT_RETARD and sense.retard_n != cut_off(extra.retard, CONTACT_TICKS):
        return False
    return not c.fitted & FIT_FIRE or sense.fire_n == cut_off(extra.fire, FIRE_TICKS)


def slow_counts(sense, extra, c):
    """The counters of bottle and outlets are runs of looks, cut off at their limits; a run of cold looks ends with one
    in range.
    """
    if (extra.cold_1 and extra.outlet_1_bad) or (extra.cold_2 and extra.outlet_2_bad):
        return False
    matched = sense.red_n == cut_off(extra.red, 2) and sense.match_n == cut_off(extra.doubt, c.match_turns)
    if c.fitted & FIT_BOTTLE_TEMPERATURE and not matched:
        return False
    if c.fitted & FIT_OUTLET_1 and sense.outlet_1_n != cut_off(extra.cold_1, c.outlet_turns):
        return False
    return not c.fitted & FIT_OUTLET_2 or sense.outlet_2_n == cut_off(extra.cold_2, c.outlet_turns)


def row_counts(sense, extra, c):
    """The row's counter is the run of looks since the row last changed that allowed a further one; each row that
    stands has been allowed for longer than its time.
    """
    if not c.fitted & FIT_AIR:
        return True
    if sense.row_n != extra.above or extra.above > c.row_turns or (extra.air_bad and extra.allowed):
        return False
    for i in range(1, ROWS):
        if sense.row >= i and extra.thin[i] <= c.row_turns:
            return False
        if sense.row == i - 1 and extra.above > extra.thin[i]:
            return False
    return sense.row <= extra.allowed


def bottle_finds(sense, extra, c):
    """What is remembered of the bottle is what the looks at it say."""
    return bottle_is_told(sense.extras, extra, c) if c.fitted & FIT_BOTTLE_TEMPERATURE else not sense.extras & BOTTLE


def bottle_is_told(word, extra, c):
    """Whether a word says of the bottle exactly what the looks at it said."""
    if says(word, EXTRA_BOTTLE_BAD) != extra.skin_bad or says(word, EXTRA_BOTTLE_WARM) != extra.skin_warm:
        return False
    return says(word, EXTRA_BOTTLE_RED) == (extra.red >= 2) and says(word, EXTRA_CONTENT) == (
        extra.doubt >= c.match_turns
    )


def air_finds(sense, extra, c):
    """What is remembered of air signal and airspeed is what the last looks say."""
    if says(sense.extras, EXTRA_AIR_BAD) != (extra.air_bad if c.fitted & FIT_AIR else 0):
        return False
    if not c.fitted & FIT_AIR and sense.row:
        return False
    if not c.fitted & FIT_AIRSPEED:
        return not sense.extras & (EXTRA_FAST | EXTRA_AIRSPEED_BAD)
    return says(sense.extras, EXTRA_FAST) == extra.fast and says(sense.extras, EXTRA_AIRSPEED_BAD) == extra.speed_bad


def outlets_find(sense, extra, c):
    """What is remembered of the outlets is what the looks at those fitted say."""
    first = c.fitted & FIT_OUTLET_1
    second = c.fitted & FIT_OUTLET_2
    bad = (first and extra.outlet_1_bad) or (second and extra.outlet_2_bad)
    if says(sense.extras, EXTRA_OUTLET_BAD) != (1 if bad else 0):
        return False
    return sense.outlets == outlets_level(extra, first, second, c)


def outlets_level(extra, first, second, c):
    """Cold when every fitted outlet has been cold for its looks, one when only one of two has."""
    cold_1 = first and extra.cold_1 >= c.outlet_turns
    cold_2 = second and extra.cold_2 >= c.outlet_turns
    if (cold_1 or not first) and (cold_2 or not second) and (first or second):
        return OUTLETS_COLD
    return OUTLETS_ONE if cold_1 or cold_2 else OUTLETS_WARM


def extras_are_handed_on(sense, v, c):
    """Where any extra is fitted the verdicts are what is remembered; where none is, they say all is well."""
    if c.fitted & FIT_EXTRAS:
        return v.extras == sense.extras and v.row == sense.row and v.outlets == sense.outlets
    return not (v.extras or v.row or v.outlets)


# --- lemmas -----------------------------------------------------------------------------------


def knock_verdict(extra, v, c):
    """Knock is told exactly in a tick in which one begins within the window after another began."""
    return not c.fitted & FIT_KNOCK or says(v.extras, EXTRA_KNOCK) == extra.second


def fire_verdict(extra, v, c):
    """Fire is told exactly while the last two samples say so."""
    return not c.fitted & FIT_FIRE or says(v.extras, EXTRA_FIRE) == (extra.fire >= 2)


def rich_verdict(extra, v, c):
    """The mixture counts as rich exactly while the last six samples say so."""
    return not c.fitted & FIT_MIXTURE or says(v.extras, EXTRA_NOT_RICH) == (extra.rich < 6)


def retard_verdict(extra, v, c):
    """The retard counts as confirmed exactly while the last six samples say so."""
    return not c.fitted & FIT_RETARD or says(v.extras, EXTRA_NO_RETARD) == (extra.retard < 6)


def bottle_verdicts(extra, v, c):
    """Out of range and warm by the last look, overheated by the last two, content doubtful after the whole time of
    looks whose pressure does not belong to the temperature, with none between them whose does.
    """
    return not c.fitted & FIT_BOTTLE_TEMPERATURE or bottle_is_told(v.extras, extra, c)


def row_is_earned(extra, v, c):
    """A row stands only while each of the last `row_turns` looks, and one more, allowed it; denser air than the row
    allows drops it at that look.
    """
    for i in range(1, ROWS):
        if v.row >= i and extra.thin[i] <= c.row_turns:
            return False
    return v.row <= extra.allowed or not c.fitted & FIT_AIR


def row_rises_in_time(extra, v, sense, c):
    """The row rises by one at a time, and always does after its time of looks that allow a further one."""
    if not c.fitted & FIT_AIR:
        return True
    if v.row > extra.row_before + 1:
        return False
    return sense.row_n <= c.row_turns and (v.row == extra.row_before or not sense.row_n)


def bad_air_gives_row_0(extra, v, c):
    """A bad air signal is told by its look and gives the row that allows least."""
    if not c.fitted & FIT_AIR:
        return True
    return says(v.extras, EXTRA_AIR_BAD) == extra.air_bad and not (extra.air_bad and v.row)


def outlets_verdict(extra, v, c):
    """The outlets are cold only after each fitted one has been cold for its looks; a broken sensor is never cold."""
    first = c.fitted & FIT_OUTLET_1
    second = c.fitted & FIT_OUTLET_2
    bad = (first and extra.outlet_1_bad) or (second and extra.outlet_2_bad)
    if v.outlets != outlets_level(extra, first, second, c) or (bad and v.outlets == OUTLETS_COLD):
        return False
    return says(v.extras, EXTRA_OUTLET_BAD) == (1 if bad else 0)


def airspeed_verdict(extra, v, c):
    """Airspeed is too high, or its signal bad, exactly by the last look."""
    if not c.fitted & FIT_AIRSPEED:
        return True
    return says(v.extras, EXTRA_FAST) == extra.fast and says(v.extras, EXTRA_AIRSPEED_BAD) == extra.speed_bad


def bottle_content_is_handed_on(raw, v):
    """What the store remembers of the bottle is handed on as it is."""
    return v.bottle_g == raw[RAW_BOTTLE_G]


# --- what is not fitted -----------------------------------------------------------------------


def no_bottle_temperature(v, c):
    """Without a bottle temperature nothing is said of it."""
    return c.fitted & FIT_BOTTLE_TEMPERATURE or not v.extras & BOTTLE


def no_air(v, c):
    """Without barometer and outside air no signal is bad and the row is that of the densest air."""
    return c.fitted & FIT_AIR or not (v.extras & EXTRA_AIR_BAD or v.row)


def no_knock(v, c):
    """Without a knock input none is heard."""
    return c.fitted & FIT_KNOCK or not v.extras & EXTRA_KNOCK


def no_outlet_1(extra, v, c):
    """Without the first outlet its sample says nothing: the second decides alone."""
    if c.fitted & FIT_OUTLET_1:
        return True
    cold = c.fitted & FIT_OUTLET_2 and extra.cold_2 >= c.outlet_turns
    if says(v.extras, EXTRA_OUTLET_BAD) != (extra.outlet_2_bad if c.fitted & FIT_OUTLET_2 else 0):
        return False
    return v.outlets == (OUTLETS_COLD if cold else OUTLETS_WARM)


def no_outlet_2(extra, v, c):
    """Without the second outlet its sample says nothing: the first decides alone."""
    if c.fitted & FIT_OUTLET_2:
        return True
    cold = c.fitted & FIT_OUTLET_1 and extra.cold_1 >= c.outlet_turns
    if says(v.extras, EXTRA_OUTLET_BAD) != (extra.outlet_1_bad if c.fitted & FIT_OUTLET_1 else 0):
        return False
    return v.outlets == (OUTLETS_COLD if cold else OUTLETS_WARM)


def no_mixture(v, c):
    """Without a mixture contact none is missed."""
    return c.fitted & FIT_MIXTURE or not v.extras & EXTRA_NOT_RICH


def no_retard(v, c):
    """Without a retard contact none is missed."""
    return c.fitted & FIT_RETARD or not v.extras & EXTRA_NO_RETARD


def no_fire(v, c):
    """Without a fire input none is seen."""
    return c.fitted & FIT_FIRE or not v.extras & EXTRA_FIRE


def no_airspeed(v, c):
    """Without an airspeed input none is too high, and no signal bad."""
    return c.fitted & FIT_AIRSPEED or not v.extras & (EXTRA_FAST | EXTRA_AIRSPEED_BAD)


def discretes_not_fitted(sense, c):
    """A discrete that is not fitted is never remembered as adverse."""
    if not c.fitted & FIT_KNOCK and sense.extras & EXTRA_KNOCK:
        return False
    if not c.fitted & FIT_MIXTURE and sense.extras & EXTRA_NOT_RICH:
        return False
    if not c.fitted & FIT_RETARD and sense.extras & EXTRA_NO_RETARD:
        return False
    return c.fitted & FIT_FIRE or not sense.extras & EXTRA_FIRE


def every_extra_is_well(v, c):
    """With every extra fitted all is well, in the thinnest row and with cold outlets."""
    return c.fitted & FIT_EXTRAS == FIT_EXTRAS and not v.extras and v.row == ROWS - 1 and v.outlets == OUTLETS_COLD


def every_extra_is_adverse(v):
    """Every extra that can be is adverse at once."""
    return v.extras & (EXTRA_KNOCK | EXTRA_FIRE | EXTRA_CONTENT | EXTRA_FAST) == (
        EXTRA_KNOCK | EXTRA_FIRE | EXTRA_CONTENT | EXTRA_FAST
    )


EXTRA_WITNESSES = (
    claim("sense: every extra is well", "witness", every_extra_is_well),
    claim("sense: every extra is adverse", "witness", every_extra_is_adverse),
)

EXTRA_STRENGTHENINGS = (
    claim("sense.discrete counts", "", discrete_counts),
    claim("sense.discretes not fitted", "", discretes_not_fitted),
    claim("sense.slow counts", "", slow_counts),
    claim("sense.row counts", "", row_counts),
    claim("sense.bottle finds", "", bottle_finds),
    claim("sense.air finds", "", air_finds),
    claim("sense.outlets find", "", outlets_find),
    claim("sense.extras handed on", "", extras_are_handed_on),
)

EXTRA_CLAIMS = (
    claim("sense: knock", "lemma", knock_verdict),
    claim("sense: fire", "lemma", fire_verdict),
    claim("sense: mixture", "lemma", rich_verdict),
    claim("sense: retard", "lemma", retard_verdict),
    claim("sense: bottle", "lemma", bottle_verdicts),
    claim("sense: row is earned", "lemma", row_is_earned),
    claim("sense: row rises in time", "lemma", row_rises_in_time),
    claim("sense: bad air gives row 0", "lemma", bad_air_gives_row_0),
    claim("sense: outlets", "lemma", outlets_verdict),
    claim("sense: airspeed", "lemma", airspeed_verdict),
    claim("sense: bottle content", "exact", bottle_content_is_handed_on),
    claim("sense: no bottle temperature", "unfitted", no_bottle_temperature),
    claim("sense: no air", "unfitted", no_air),
    claim("sense: no knock", "unfitted", no_knock),
    claim("sense: no outlet 1", "unfitted", no_outlet_1),
    claim("sense: no outlet 2", "unfitted", no_outlet_2),
    claim("sense: no mixture", "unfitted", no_mixture),
    claim("sense: no retard", "unfitted", no_retard),
    claim("sense: no fire", "unfitted", no_fire),
    claim("sense: no airspeed", "unfitted", no_airspeed),
)
