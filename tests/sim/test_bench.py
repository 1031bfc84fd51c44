"""The closed loop: the controller's own code flies the plant, deterministically, and resets like the real one."""

import pytest

from oxlatch.settings import Settings
from oxlatch.vocabulary import BOOT_LOCKED_L4, BOOT_LOST_ARMED, BOOT_STORE_UNREADABLE, HELD, RUN, TRIP, WAKE
from oxlatch_sim.bench import Bench, boot_word
from oxlatch_sim.plant.parameters import alpine_tug_parameters
from oxlatch_sim.routine import Routine, RoutineError


def flowing(stages: int = 2, seed: int = 1) -> Bench:
    settings = Settings()
    settings.stages = stages
    settings.patterns &= (1 << (1 << stages)) - 1
    bench = Bench(alpine_tug_parameters(stages), settings, seed)
    Routine(bench, bench.step).flowing(range(1, stages + 1))
    return bench


def test_a_push_makes_both_fluids_of_every_stage_flow_near_their_rating() -> None:
    bench = flowing(3)
    assert bench.controller.core.state == RUN
    for stage in bench.plant.stages:
        assert stage.oxidizer_kg_s == pytest.approx(stage.parameters.rated_oxidizer_kg_s, rel=0.15)
        assert stage.fuel_branch.out_kg_s == pytest.approx(stage.parameters.rated_fuel_kg_s, rel=0.05)
        assert stage.exposure.fuel_only_ms == 0.0
        assert stage.exposure.oxidizer_only_longest_ms < 90.0


def test_the_same_seed_gives_the_same_run_and_another_seed_another() -> None:
    first, again, other = flowing(seed=5), flowing(seed=5), flowing(seed=6)
    assert first.ticks == again.ticks
    assert first.raw == again.raw
    assert first.snapshot()["words"] == again.snapshot()["words"]
    assert first.raw != other.raw


def test_a_restored_snapshot_relives_the_same_future() -> None:
    bench = flowing()
    token = bench.snapshot()
    bench.inject("supply_noisy")
    bench.run_ticks(100)
    bench.release()
    bench.run_ticks(300)
    future = (bench.snapshot()["words"], bench.raw, bench.nozzle(), bench.plant.bottle.vessel.mass_kg)
    bench.restore(token)
    assert bench.controller.core.state == RUN
    bench.inject("supply_noisy")
    bench.run_ticks(100)
    bench.release()
    bench.run_ticks(300)
    assert future == (bench.snapshot()["words"], bench.raw, bench.nozzle(), bench.plant.bottle.vessel.mass_kg)


def test_a_power_loss_drops_every_output_and_comes_back_held() -> None:
    bench = flowing()
    bench.inject("power_glitch")
    bench.step()
    assert bench.board.oxidizer == bench.board.fuel == bench.board.bits == 0
    assert bench.controller.core.state in (WAKE, RUN)
    bench.run_ticks(400)
    assert bench.controller.core.state == HELD
    bench.run_ticks(200)
    assert not any(stage.oxidizer_kg_s for stage in bench.plant.stages)


def test_hung_code_lets_go_of_every_coil_and_the_watchdog_restarts_it() -> None:
    bench = flowing()
    bench.inject("code_hangs")
    bench.run_ticks(7)
    assert bench.board.oxidizer, "hung code still asks"
    assert bench.plant.electrical.oxidizer_v == 0.0, "and the one-shot has let go"
    bench.run_ticks(500)
    assert bench.board.boot
    assert bench.controller.core.state == TRIP


def test_a_lockout_survives_the_reset() -> None:
    bench = flowing()
    bench.inject("ox_jammed_open@1")
    bench.release()
    bench.run_ticks(300)
    assert bench.controller.core.latch == 4
    assert bench.board.lockout == 4
    bench.reset()
    bench.run_ticks(400)
    assert bench.controller.core.state == TRIP
    assert bench.board.boot & BOOT_LOCKED_L4


def test_the_boot_word_says_what_the_lockout_memory_holds() -> None:
    assert boot_word(0, False) == 0
    assert boot_word(1, False) == BOOT_LOST_ARMED
    assert boot_word(4, False) == BOOT_LOCKED_L4
    assert boot_word(-1, False) == BOOT_STORE_UNREADABLE


def test_settings_for_another_number_of_stages_are_refused() -> None:
    with pytest.raises(ValueError, match="3 stages, the plant has 2"):
        Bench(alpine_tug_parameters(2), Settings())


def test_a_routine_that_cannot_go_on_says_what_stands_in_the_way() -> None:
    settings = Settings()
    bench = Bench(alpine_tug_parameters(3), settings)
    bench.inject("master_stuck_off")
    with pytest.raises(RoutineError, match="WAITING did not come about within 30 s; state is REST"):
        Routine(bench, bench.step).ready([1])


def test_halving_the_plant_step_changes_no_exposure_by_more_than_a_millisecond() -> None:
    from dataclasses import replace

    found = []
    for step_s in (0.001, 0.0005):
        settings = Settings()
        bench = Bench(replace(alpine_tug_parameters(3), step_s=step_s), settings, 4)
        routine = Routine(bench, bench.step)
        routine.flowing([1, 2, 3])
        bench.release()
        bench.run_ticks(200)
        found.append([(s.exposure.fuel_only_ms, s.exposure.oxidizer_only_ms) for s in bench.plant.stages])
    for coarse, fine in zip(*found, strict=True):
        assert coarse == pytest.approx(fine, abs=1.0)
