"""Lead and tail are computed from valves and branches, packed, printed, and compared with what the file states."""

from dataclasses import replace

import pytest

from oxlatch.vocabulary import TICK_MS
from oxlatch_tools.installation_settings import lead_and_tail, settings_of
from oxlatch_tools.planning.order import order_findings

LEAD, TAIL = 'lead = "30 ms"', 'tail = "5 ms"'


def fields(findings, severity):
    return [each.field for each in findings if each.severity == severity]


def test_left_out_lead_and_tail_are_computed_and_packed(valley):
    assert valley.timing.lead is None and valley.timing.tail is None
    order = lead_and_tail(valley)
    packed = settings_of(valley)
    assert packed.lead_ticks * TICK_MS == pytest.approx(1000 * order.lead_needed_s)
    assert packed.tail_ticks * TICK_MS == pytest.approx(1000 * order.tail_needed_s)
    assert order.lead_from == order.tail_from == "computed"


def test_a_stated_lead_and_tail_are_packed_as_they_stand(tug, tug_with):
    assert settings_of(tug).lead_ticks == 6 and settings_of(tug).tail_ticks == 1
    longer = tug_with((TAIL, 'tail = "22 ms"'))
    assert settings_of(longer).tail_ticks == 4
    assert lead_and_tail(longer).tail_from == "installation file"


def test_the_packed_tail_follows_a_slower_fuel_valve_when_left_out(tug_with):
    valve = 'closing = "9 ms"'
    slow = tug_with((TAIL, ""), (valve, 'closing = "45 ms"'))
    assert settings_of(slow).tail_ticks > settings_of(tug_with((TAIL, ""))).tail_ticks
    assert "timing.tail" not in fields(order_findings(slow, lead_and_tail(slow)), "exceeded")


def test_too_short_a_lead_or_tail_is_a_limit_exceeded_and_too_long_a_note(tug, tug_with):
    assert fields(order_findings(tug, lead_and_tail(tug)), "exceeded") == []
    assert fields(order_findings(tug, lead_and_tail(tug)), "note") == ["timing.lead"]
    short = tug_with((LEAD, 'lead = "5 ms"'), (TAIL, 'tail = "0 ms"'), ('stagger = "150 ms"', 'stagger = "20 ms"'))
    found = order_findings(short, lead_and_tail(short))
    assert fields(found, "exceeded") == ["timing.lead", "timing.tail", "timing.stagger"]


def test_the_page_prints_what_every_stage_needs_and_what_stays(tug_plan):
    page = tug_plan.page("stages")
    table = page.table("order")
    assert table.column("stage") == ["1", "2", "3"]
    for key in ("opening_high", "closing_high"):
        assert all(0.0 < value < 0.090 for value in table.column(key))
    assert all(low <= high for low, high in zip(table.column("closing_low"), table.column("closing_high"), strict=True))
    assert page.figure("residual").value == max(table.column("residual")) > 0.0
    assert "before fuel" in " ".join(page.answer_text("metric"))


def test_a_stage_that_does_not_open_is_told_in_words(tug_with):
    from oxlatch_tools.installation import InstallationError

    stuck = tug_with((LEAD, ""), ('opening = "22 ms"', 'opening = "200 ms"'))
    assert settings_of(stuck).lead_ticks >= 4
    never = tug_with((LEAD, ""), ('pull_in = "7.2 V"', 'pull_in = "13.7 V"'))
    with pytest.raises(InstallationError, match="does not begin within"):
        settings_of(never)


def test_a_stage_is_given_up_after_twice_the_slowest_healthy_proof(tug, tug_with):
    order = lead_and_tail(tug)
    slowest_ms = max(stage.proved_ms for stage in order.stages)
    assert settings_of(tug).lead_limit_ticks * TICK_MS == pytest.approx(2 * slowest_ms)
    slower = tug_with(('opening = "22 ms"', 'opening = "40 ms"'))
    assert settings_of(tug).lead_limit_ticks < settings_of(slower).lead_limit_ticks <= 16
    found = order_findings(slower, lead_and_tail(slower))
    assert "oxidizer_valve.opening" not in fields(found, "exceeded")
    times = tuple(replace(each, proof_ms=71.0) for each in order.stages[0].times)
    late = replace(order, stages=(replace(order.stages[0], times=times),))
    assert late.lead_limit_ticks == 16
    assert "oxidizer_valve.opening" in fields(order_findings(tug, late), "exceeded")
