"""Fuel from tank to jet, volts from bus to coil."""

import pytest

from oxlatch_sim.physics import lines
from oxlatch_tools.planning.electrical import (
    coil_volts,
    electrical_page,
    loads,
    needed_volts,
    opens,
    release_s,
)
from oxlatch_tools.planning.fuel_supply import (
    RESERVE,
    carries,
    fuel_page,
    ladder,
    line_loss,
    need_m3_s,
    pump_pressure,
    vapour_margin,
)

LITRE_PER_HOUR = 1e-3 / 3600


def exceeded(page):
    return {finding.field: finding for finding in page.findings if finding.severity == "exceeded"}


def test_line_loss_is_that_of_the_physics(tug):
    flow = 140 * LITRE_PER_HOUR
    fuel = tug.fuel
    exact = lines.pipe_loss_pa(
        flow * fuel.density, fuel.density, 0.5e-3, fuel.line_length, fuel.line_bore, fuel.fittings_loss
    )
    assert line_loss(tug, flow) == pytest.approx(exact, rel=1e-9)


def test_the_ladder_only_falls_after_the_pump(tug):
    steps = ladder(tug, need_m3_s(tug, (2, 3)))
    assert steps.pump > steps.after_head > steps.after_filter > steps.at_block


def test_one_metre_of_head_is_0_07_bar(tug_with):
    raised = tug_with(('head = "-0.4 m"', 'head = "0.6 m"'))
    flow = need_m3_s(raised, (1,))
    difference = ladder(raised, flow).at_block - ladder(tug_with(), flow).at_block
    assert difference == pytest.approx(0.07e5, rel=0.02)


def test_a_half_blocked_filter_loses_four_times_as_much(tug):
    flow = tug.fuel.filter_flow
    steps = ladder(tug, flow)
    assert steps.after_head - steps.after_filter == pytest.approx(4 * tug.fuel.filter_loss)


def test_a_shared_pump_carries_engine_and_stages(tug, valley):
    assert need_m3_s(tug, ()) / LITRE_PER_HOUR == pytest.approx(95.4, abs=0.1)
    assert need_m3_s(valley, ()) == 0.0


def test_nothing_is_promised_beyond_the_pump_curve(tug):
    assert pump_pressure(tug, 281 * LITRE_PER_HOUR) == 0.0
    assert pump_pressure(tug, 150 * LITRE_PER_HOUR) == pytest.approx(1.01e5)


def test_stage_flow_above_pump_capacity_is_a_finding_with_field_and_change(tug_with):
    weak = tug_with(
        ('{ flow = "200 L/h", pressure = "0.92 bar" }', '{ flow = "160 L/h", pressure = "0.60 bar" }'),
        ('pressure = "0.66 bar"', 'pressure = "0.30 bar"'),
    )
    assert carries(weak, (1,)) and not carries(weak, (2, 3))
    finding = exceeded(fuel_page(weak, (2, 3)))["stages 2+3"]
    assert "136 L/h" in finding.found and "125 %" in finding.allowed and finding.change
    assert not exceeded(fuel_page(tug_with(), (2, 3)))
    assert RESERVE == 1.25


def test_fuel_that_would_boil_at_the_inlet_is_a_finding(tug_with):
    hot = tug_with(('vapour_pressure = "0.49 bar"', 'vapour_pressure = "0.95 bar"'))
    assert vapour_margin(hot) < 0
    assert "fuel.head" in exceeded(fuel_page(hot, (2, 3)))


def test_coils_add_up_and_the_master_valve_counts(tug, valley):
    found = loads(tug, (1, 2))
    assert found.oxidizer == pytest.approx(2 * 13.8 / 1.15)
    assert found.fuel == pytest.approx(2 * 13.8 / 4.2 + 13.8 / 4.8)
    assert loads(valley, (1,)).fuel == pytest.approx(27.6 / 15)


def test_a_hot_coil_needs_more_volts_and_gets_fewer_at_the_lowest_bus(tug):
    valve = tug.oxidizer_valve
    assert needed_volts(valve, 363.15) == pytest.approx(7.2 * (234.5 + 90) / (234.5 + 20))
    assert coil_volts(tug, valve, (1, 2, 3), 10.8, 363.15) < coil_volts(tug, valve, (1,), 10.8, 363.15) < 10.8


def test_a_bus_gate_too_low_for_a_hot_coil_is_a_finding(tug_with):
    low = tug_with(('lowest = "10.8 V"', 'lowest = "9.6 V"'))
    assert not opens(low, (2, 3))
    assert "stages 2+3" in exceeded(electrical_page(low, (2, 3)))


@pytest.mark.parametrize(
    ("pairs", "field"),
    [
        ((('alternator = "95 A"', 'alternator = "45 A"'),), "stages 2+3"),
        ((("wire_gauge = 14", "wire_gauge = 18"),), "O stage valve"),
        ((('feed_breaker = "70 A"', 'feed_breaker = "90 A"'),), "electrical.feed_breaker"),
        ((('closing = "9 ms"', 'closing = "30 ms"'),), "fuel_valve.closing"),
        ((("feed_gauge = 6", "feed_gauge = 16"),), "Feed: bus to run switch"),
    ],
)
def test_what_wiring_must_not_be_is_a_finding(tug_with, pairs, field):
    assert field in exceeded(electrical_page(tug_with(*pairs), (2, 3)))


def test_clamps_let_fuel_go_before_oxidizer(tug, valley):
    for item in (tug, valley):
        for temperature in (253.15, 293.15, 363.15):
            assert release_s(item, item.fuel_valve, temperature) < release_s(item, item.oxidizer_valve, temperature)


def test_a_plain_diode_on_the_fuel_coil_takes_longer(tug, tug_with):
    slow = tug_with(('clamp = "40 V"                     # fast', 'clamp = "0.8 V"'))
    assert release_s(slow, slow.fuel_valve, 293.15) > 3 * release_s(tug, tug.fuel_valve, 293.15)


def test_the_worked_rows_are_shown(tug_plan):
    rows = tug_plan.page("electrical").table("check").rows
    for row in rows:
        assert float(row[1]) == pytest.approx(float(row[2]), abs=0.005)
