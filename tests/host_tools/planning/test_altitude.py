"""Room below the ceiling, and the one table of card and controller."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oxlatch_sim.physics import atmosphere, combustion
from oxlatch_tools.installation import example, load_installation
from oxlatch_tools.planning.air import Air, lapses, oxygen_added, standard_air
from oxlatch_tools.planning.altitude import (
    COLUMNS_K,
    ROWS_M,
    altitude_table,
    pattern_bits,
    power_limit_w,
    room,
    standing_refusals,
    strongest_of,
    today,
)

TUG = load_installation(example("alpine_tug"))
TABLE = altitude_table(TUG)
STANDING = standing_refusals(TUG)

# Worked by hand from the larger of the two lapses: 205 kW base, ceiling 228 kW, whole kilowatts.
ROOM_KW = [(0, 23), (4000, 48), (8000, 71), (10000, 82), (12500, 94), (15000, 106)]


@pytest.mark.parametrize(("feet", "kilowatts"), ROOM_KW)
def test_room_below_the_ceiling_is_what_the_larger_lapse_leaves(feet, kilowatts):
    found = room(TUG, standard_air(feet * 0.3048))
    assert found.room_w / 1e3 == pytest.approx(kilowatts, abs=0.6)


@pytest.mark.parametrize(
    ("feet", "pattern"), [(0, (1,)), (4000, (1, 2)), (8000, (3,)), (10000, (1, 3)), (12500, (2, 3))]
)
def test_the_strongest_pattern_grows_with_altitude(feet, pattern):
    assert room(TUG, standard_air(feet * 0.3048)).strongest(TUG) == pattern


def test_the_larger_of_the_two_estimates_is_used():
    for air in (Air(75_000.0, 258.15), Air(75_000.0, 303.15), standard_air(0.0)):
        assert room(TUG, air).base_power_w == pytest.approx(TUG.engine.rated_power * max(lapses(air)))


@given(st.floats(ROWS_M[0], ROWS_M[-1] + 300), st.floats(COLUMNS_K[0], COLUMNS_K[-1] + 9.9))
def test_the_table_never_allows_what_the_exact_air_refuses(height, temperature):
    mask = TABLE.mask_at(height, temperature)
    exact = room(TUG, Air(atmosphere.standard_pressure_pa(height), temperature), standing=STANDING).allowed
    for pattern in TUG.patterns():
        if mask >> pattern_bits(pattern) & 1:
            assert pattern in exact


@pytest.mark.parametrize(("height", "temperature"), [(-400.0, 290.0), (5000.0, 290.0), (500.0, 250.0), (500.0, 324.0)])
def test_nothing_is_allowed_outside_the_table(height, temperature):
    assert TABLE.mask_at(height, temperature) == 0


def test_an_untested_pattern_is_in_no_cell():
    assert STANDING == {(1, 2, 3): "not tested"}
    assert all(not mask >> pattern_bits((1, 2, 3)) & 1 for row in TABLE.masks for mask in row)


def test_without_any_test_nothing_is_allowed(tug_with):
    text = "\n".join(line for line in example("alpine_tug").read_text().splitlines())
    untested = tug_with((text[text.index("[[tested.patterns]]") : text.index("# Weighed bench shots")], ""))
    assert today(untested, 1950.0, 101_325.0, 295.0).pattern is None


def test_the_oxygen_cap_takes_strong_patterns_away_in_thin_air(tug_with):
    capped = tug_with(('enrichment_cap = "80 %"', 'enrichment_cap = "30 %"'))
    assert room(TUG, standard_air(3048.0)).strongest(TUG) == (1, 3)
    assert room(capped, standard_air(3048.0)).strongest(capped) == (2,)


def test_a_pattern_beyond_fuel_supply_or_bus_is_refused_everywhere(tug_with):
    weak_pump = tug_with(
        ('{ flow = "200 L/h", pressure = "0.92 bar" }', '{ flow = "165 L/h", pressure = "0.40 bar" }'),
        ('{ flow = "280 L/h", pressure = "0.66 bar" }', '{ flow = "170 L/h", pressure = "0.30 bar" }'),
    )
    assert standing_refusals(weak_pump)[(2, 3)] == "more than the fuel supply carries"
    weak_bus = tug_with(('alternator = "95 A"', 'alternator = "50 A"'))
    assert standing_refusals(weak_bus)[(2, 3)] == "more than the bus carries"


def test_oxygen_added_is_that_of_the_physics():
    assert oxygen_added(0.04, 0.2) == pytest.approx(combustion.oxygen_enrichment(0.04, 0.2) - 1, rel=1e-4)


def test_the_limit_is_the_lowest_of_ceiling_propeller_mount_and_crank(tug_with):
    assert power_limit_w(TUG) == (228e3, "ceiling")
    assert power_limit_w(tug_with(('crank_torque = "900 N*m"', 'crank_torque = "800 N*m"')))[1] == "crank"


def test_today_is_the_table_and_the_card_is_the_table(tug_plan):
    answer = today(TUG, 1950.0, 101_325.0, 295.15)
    assert answer.pattern == strongest_of(TUG, TABLE.mask_at(answer.air.pressure_altitude_m, 295.15))
    assert answer.boosted_w <= answer.limit_w
    rows = tug_plan.page("altitude").table("card").rows
    assert len(rows) == len(TABLE.rows_m)
    assert rows[7][5] == "3"
