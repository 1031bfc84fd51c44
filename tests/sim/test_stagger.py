"""Lead and tail from valve times and branch volumes put oxidizer first in and last out over the whole box."""

from dataclasses import replace

import pytest

from oxlatch.settings import Settings
from oxlatch_sim.plant.parameters import alpine_tug_parameters
from oxlatch_sim.stagger import stage_times, staggers


@pytest.fixture(scope="module")
def settings() -> Settings:
    return Settings()


def test_both_fluids_arrive_and_leave_in_order_over_the_box(settings: Settings) -> None:
    for found in staggers(alpine_tug_parameters(), settings):
        assert found.lead_ms >= 20.0 and found.lead_ms % 5.0 == 0.0 == found.tail_ms % 5.0
        for shortest, longest in (
            found.opening_oxidizer_only_ms(found.lead_ms, waits_for_proof=False),
            found.opening_oxidizer_only_ms(found.lead_ms, waits_for_proof=True),
            found.closing_oxidizer_only_ms(found.tail_ms),
        ):
            assert 0.0 <= shortest <= longest < 90.0


def test_a_longer_lead_is_oxidizer_alone_for_as_much_longer_unless_the_proof_decides(settings: Settings) -> None:
    found = staggers(alpine_tug_parameters(1), settings, ["nominal"])[0]
    bare = found.opening_oxidizer_only_ms(found.lead_ms, waits_for_proof=False)[1]
    assert found.opening_oxidizer_only_ms(found.lead_ms + 40.0, waits_for_proof=False)[1] == pytest.approx(bare + 40.0)
    assert found.opening_oxidizer_only_ms(5.0, waits_for_proof=True)[1] > 0.0
    assert found.closing_oxidizer_only_ms(15.0)[1] == pytest.approx(found.closing_oxidizer_only_ms(0.0)[1] + 15.0)
    assert found.both_flow_ms(found.lead_ms, waits_for_proof=True) >= found.times[0].oxidizer_half_on_ms


def test_the_residual_volume_is_that_of_the_largest_branch_of_the_box(settings: Settings) -> None:
    plant = alpine_tug_parameters(1)
    branch = plant.stages[0].fuel_branch
    nominal, boxed = (staggers(plant, settings, names)[0].residual_fuel_m3 for names in (["nominal"], None))
    assert nominal == pytest.approx(branch.drain_share * branch.volume_m3)
    assert boxed == pytest.approx(1.25 * nominal)


def test_a_slow_fuel_valve_asks_for_a_tail_and_a_slow_oxidizer_valve_for_a_lead(settings: Settings) -> None:
    plant = alpine_tug_parameters(1)
    stage = plant.stages[0]
    late_fuel = replace(stage, fuel_valve=replace(stage.fuel_valve, close_stroke_s=0.120))
    late_oxidizer = replace(stage, oxidizer_valve=replace(stage.oxidizer_valve, open_stroke_s=0.200))
    base, slow_fuel, slow_oxidizer = (
        staggers(replace(plant, stages=(each,)), settings, ["nominal"])[0] for each in (stage, late_fuel, late_oxidizer)
    )
    assert slow_fuel.tail_ms > base.tail_ms
    assert slow_fuel.fuel_margin_all_stop_ms < 0.0 < base.fuel_margin_all_stop_ms
    assert slow_oxidizer.lead_ms > base.lead_ms


def test_an_emptier_fuel_branch_makes_the_fuel_later(settings: Settings) -> None:
    plant = alpine_tug_parameters(1)
    stage = plant.stages[0]
    drained = replace(stage, fuel_branch=replace(stage.fuel_branch, drain_share=0.5))
    wet, dry = (stage_times(replace(plant, stages=(each,)), 0) for each in (stage, drained))
    volume_m3 = 0.48 * stage.fuel_branch.volume_m3
    valve_m3_s = stage.fuel_valve.flow_area_m2 * (2.0 * plant.fuel.set_pa / plant.fuel.density_kg_m3) ** 0.5
    assert dry.fuel_on_ms - wet.fuel_on_ms > 0.8 * 1000.0 * volume_m3 / valve_m3_s
    assert staggers(replace(plant, stages=(drained,)), settings, ["nominal"])[0].residual_fuel_m3 == pytest.approx(
        0.5 * stage.fuel_branch.volume_m3
    )


def test_a_fluid_that_never_comes_is_an_error(settings: Settings) -> None:
    plant = alpine_tug_parameters(1)
    weak = replace(plant, electrical=replace(plant.electrical, set_v=2.0))
    with pytest.raises(ValueError, match=r"stage oxidizer, .*, proof does not begin within 0\.4 s"):
        staggers(weak, settings, ["nominal"])
