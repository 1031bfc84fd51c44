"""The plant as a whole: what the controller samples is what the parts do, in long and in short steps."""

import pytest

from oxlatch.vocabulary import COIL_FUEL, COIL_OX, COIL_PURGE, OUT_MASTER_FUEL, OUT_PURGE, OUT_RUN
from oxlatch_sim.physics.validity import PhysicsRangeError
from oxlatch_sim.plant.bottle import LIQUID, VAPOUR
from oxlatch_sim.plant.parameters import alpine_tug_parameters
from oxlatch_sim.plant.plant import Plant
from oxlatch_sim.plant.sensors import SLOW


@pytest.fixture
def plant() -> Plant:
    made = Plant(alpine_tug_parameters(2), 1, LIQUID)
    made.electrical.master = True
    made.engine.start(2600.0)
    made.throttle.place(103.0)
    return made


def drive(plant: Plant, ticks: int, ox: int, fuel: int, bits: int) -> None:
    for _ in range(ticks):
        plant.drive(ox, fuel, bits)
        if bits & OUT_RUN:
            plant.electrical.kick()
        plant.advance()


def test_flow_pulls_the_line_down_at_once_and_the_bottle_slowly(plant: Plant) -> None:
    start = plant.line.pressure_pa
    drive(plant, 12, 3, 0, OUT_RUN)
    assert start - plant.line.pressure_pa > 0.3e5
    dip = plant.bottle.pressure_pa
    assert start - dip < 0.2e5
    drive(plant, 1000, 3, 3, OUT_RUN | OUT_MASTER_FUEL)
    assert dip - plant.bottle.pressure_pa > 0.5e5


def test_coil_and_proof_words_follow_the_parts_to_the_last_change(plant: Plant) -> None:
    assert plant.currents == plant.proofs == 0
    drive(plant, 20, 3, 0, OUT_RUN)
    assert plant.currents & COIL_OX == 3 and plant.proofs == 3
    drive(plant, 20, 3, 3, OUT_RUN | OUT_MASTER_FUEL)
    assert plant.currents & COIL_FUEL == 3 << 4
    drive(plant, 60, 0, 0, 0)
    assert plant.currents == plant.proofs == 0


def test_a_slow_proof_switch_falls_in_the_end(plant: Plant) -> None:
    drive(plant, 40, 3, 0, OUT_RUN)
    plant.stages[0].proof_fault = SLOW
    plant.wake()
    drive(plant, 12, 0, 0, OUT_RUN)
    assert plant.proofs == 1
    drive(plant, 60, 0, 0, 0)
    assert plant.proofs == 0


def test_fuel_drivers_obey_oxidizer_current_and_proof_in_hardware(plant: Plant) -> None:
    drive(plant, 40, 0, 3, OUT_RUN | OUT_MASTER_FUEL)
    assert not any(stage.fuel_valve.commanded for stage in plant.stages)
    drive(plant, 40, 3, 3, OUT_RUN | OUT_MASTER_FUEL)
    assert all(stage.fuel_valve.commanded for stage in plant.stages)
    plant.stages[0].oxidizer_valve.coil_open = True
    plant.wake()
    drive(plant, 4, 3, 3, OUT_RUN | OUT_MASTER_FUEL)
    assert [stage.fuel_valve.commanded for stage in plant.stages] == [False, True]


def test_the_purge_draws_through_the_block_and_shows_its_current(plant: Plant) -> None:
    plant.line.vent()
    plant.throttle.place(0.0)
    drive(plant, 300, 0, 0, 0)
    mass = plant.bottle.vessel.mass_kg
    drive(plant, 600, 0, 0, OUT_RUN | OUT_PURGE)
    assert plant.currents == COIL_PURGE
    assert plant.line.oxidizer_share == 1.0
    assert mass - plant.bottle.vessel.mass_kg > 0.05
    assert plant.outlet.temperature_k < 190.0
    drive(plant, 100, 0, 0, 0)
    assert plant.purge_kg_s == 0.0


def test_an_uncovered_tube_sends_vapour_and_less_of_it(plant: Plant) -> None:
    drive(plant, 60, 3, 3, OUT_RUN | OUT_MASTER_FUEL)
    liquid = plant.stages[0].oxidizer_kg_s
    plant.bottle.tube_share = 1.1
    drive(plant, 600, 3, 3, OUT_RUN | OUT_MASTER_FUEL)
    assert plant.line.phase == VAPOUR
    assert plant.stages[0].oxidizer_kg_s < 0.75 * liquid


def test_long_steps_at_rest_end_where_short_steps_do() -> None:
    ends = []
    for fine in (False, True):
        plant = Plant(alpine_tug_parameters(2), 1, LIQUID)
        plant.electrical.master = True
        plant.engine.start(2600.0)
        plant.throttle.place(103.0)
        for _ in range(600):
            plant.drive(3, 3, OUT_RUN | OUT_MASTER_FUEL)
            plant.electrical.kick()
            if fine:
                plant.wake()
            plant.advance()
        ends.append((plant.bottle.vessel.mass_kg, plant.line.pressure_pa, plant.fuel.block_pa))
    for coarse, short in zip(*ends, strict=True):
        assert coarse == pytest.approx(short, rel=1e-4)


def test_the_simulation_never_goes_on_from_a_nan(plant: Plant) -> None:
    drive(plant, 10, 0, 0, 0)
    plant.fuel.block_pa = float("nan")
    with pytest.raises(PhysicsRangeError, match="fuel block nan Pa"):
        drive(plant, 2, 0, 0, 0)
