"""The altitude table of the controller allows only what fits, keeps to six rows, and prints them."""

import random

from oxlatch.vocabulary import ROWS
from oxlatch_sim.physics import atmosphere
from oxlatch_tools.planning.air import Air
from oxlatch_tools.planning.altitude import altitude_page, pattern_bits, room
from oxlatch_tools.planning.rows import OFF_STANDARD_K, SCALE, density_rows, rows_table
from oxlatch_tools.planning.stock import stock_table, usable_kg


def mask_in(rows, ratio):
    mask = rows[0].mask
    for row in rows[1:]:
        if ratio * SCALE < row.below:
            mask = row.mask
    return mask


def test_what_a_row_allows_fits_in_every_air_of_that_density(tug, valley):
    chosen = random.Random(5)
    allowed = 0
    for installation in (tug, valley):
        rows = density_rows(installation)
        assert len(rows) == ROWS
        for _ in range(400):
            altitude_m = chosen.uniform(-300.0, 6500.0)
            standard_k = atmosphere.standard_temperature_k(altitude_m)
            temperature_k = max(233.15, standard_k + chosen.uniform(-OFF_STANDARD_K, OFF_STANDARD_K))
            air = Air(atmosphere.standard_pressure_pa(altitude_m), temperature_k)
            mask = mask_in(rows, air.density_kg_m3 / atmosphere.SEA_LEVEL_DENSITY_KG_M3)
            fits = {pattern_bits(pattern) for pattern in room(installation, air).allowed}
            let_through = {bits for bits in range(1 << len(installation.stages)) if mask >> bits & 1}
            assert let_through <= fits, (altitude_m, temperature_k)
            allowed += bool(let_through)
    assert allowed > 300


def test_rows_go_to_thinner_air_and_the_first_allows_least(tug, valley):
    for installation in (tug, valley):
        rows = density_rows(installation)
        assert [row.below for row in rows] == sorted((row.below for row in rows), reverse=True)
        assert len({row.below for row in rows}) == ROWS
        assert all(rows[0].mask & ~row.mask == 0 for row in rows)


def test_the_page_prints_the_rows_only_where_air_is_measured(tug, valley):
    keys = [[table.key for table in altitude_page(each).tables] for each in (tug, valley)]
    assert "rows" in keys[0] and "rows" not in keys[1]
    table = rows_table(tug)
    assert table.column("row") == [str(row) for row in range(ROWS)]
    assert table.column("strongest")[0] == "none"


def test_the_count_of_a_bottle_leaves_out_what_cannot_be_drawn_and_is_printed(tug, tug_plan, valley_plan):
    assert 0.6 * tug.bottle.charge < usable_kg(tug) < 0.75 * tug.bottle.charge
    table = stock_table(tug)
    assert table.column("mass")[0] == usable_kg(tug)
    assert all(seconds > 50.0 for seconds in table.column("seconds")[2:])
    assert "stock" in [each.key for each in tug_plan.page("bottle").tables]
    assert "stock" not in [each.key for each in valley_plan.page("bottle").tables]


def test_coils_without_a_duty_are_a_note_and_a_short_one_on_the_master_valve_exceeds(tug_with, valley_plan):
    from oxlatch_tools.planning.duty import duty_findings

    assert [each.severity for each in duty_findings(valley_plan.installation)] == ["note"]
    marked = 'wire_length = "8 m"\n'
    short = tug_with((marked, marked + 'duty_on = "60 s"\nduty_off = "60 s"\n'))
    assert [(each.severity, each.field) for each in duty_findings(short)] == [
        ("exceeded", "master_oxidizer_valve.duty_on")
    ]
