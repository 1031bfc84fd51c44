"""Inputs beyond the core in the plant: what is fitted is sampled, fails as named; the master valve does its work."""

from dataclasses import replace
from itertools import pairwise

import pytest

from oxlatch import vocabulary as v
from oxlatch.settings import Settings
from oxlatch_sim.bench import Bench
from oxlatch_sim.inputs import SAMPLED
from oxlatch_sim.plant.parameters import alpine_tug_parameters
from oxlatch_sim.plant.plant import Plant
from oxlatch_sim.routine import Routine


def aircraft(*names: str, master: bool = False) -> Bench:
    plant, settings = alpine_tug_parameters(1), Settings()
    settings.stages, settings.patterns = 1, 2
    settings.fitted = v.FIT_ALL & ~v.FIT_BUDGET if master else settings.fitted
    sensors = replace(plant.sensors, extras=names)
    plant = replace(plant, sensors=sensors, hardware=replace(plant.hardware, master_oxidizer=master))
    return Bench(plant, settings, 3)


def sampled(bench: Bench, ticks: int) -> list[int]:
    for _ in range(ticks):
        bench.board.sample(bench.raw)
        bench.plant.advance()
    return bench.raw


def test_what_is_not_fitted_samples_nothing() -> None:
    raw = sampled(aircraft(), 20)
    assert raw[v.RAW_EXTRAS :] == [0] * (v.RAW_COUNT - v.RAW_EXTRAS)


def test_what_is_fitted_samples_the_plant_in_the_units_of_the_raw_list() -> None:
    bench = aircraft(*sorted(SAMPLED))
    bench.plant.extras.airspeed_m_s = 46.3
    raw = sampled(bench, 400)
    assert raw[v.RAW_BOTTLE_DK] == pytest.approx(2981.5, abs=6)
    assert raw[v.RAW_AIR_DK] == pytest.approx(2881.5, abs=6)
    assert raw[v.RAW_BARO_DAPA] == pytest.approx(10_132.5, abs=8)
    assert raw[v.RAW_AIRSPEED_MV] == pytest.approx(500 + 1313, abs=15)
    assert raw[v.RAW_EXTRAS] == v.EX_MIXTURE_RICH | v.EX_RETARD


def test_a_detonating_engine_gives_single_events_and_fire_a_lasting_one() -> None:
    bench = aircraft("knock", "fire")
    bench.plant.extras.knocking = bench.plant.extras.fire = True
    words = [sampled(bench, 1)[v.RAW_EXTRAS] for _ in range(120)]
    events = [before < after for before, after in pairwise(words)]
    assert 8 <= sum(events) <= 11
    assert all(word & v.EX_FIRE for word in words)


def test_only_a_purge_makes_the_outlets_cold_and_a_dead_one_stays_warm() -> None:
    bench = aircraft("purge outlet 1", "purge outlet 2")
    bench.plant.extras.second_outlet_dead = True
    Routine(bench, bench.step).armed([1])
    assert bench.raw[v.RAW_OUTLET_1_DK] > 2900
    bench.set_switch("purge", True)
    bench.run_ticks(600)
    assert bench.raw[v.RAW_OUTLET_1_DK] < 2332 < bench.raw[v.RAW_OUTLET_2_DK]


def test_the_master_valve_joins_bottle_and_line_while_armed_and_only_then() -> None:
    bench = aircraft("mixture rich", "ignition retard", master=True)
    plant = bench.plant
    assert plant.master_ox is not None
    Routine(bench, bench.step).wait(2.0)
    assert bench.controller.core.state == v.REST
    assert not plant.line.connected and plant.line.pressure_pa < 2.0e5
    bench.set_switch("master", True)
    bench.run_ticks(200)
    assert bench.controller.core.state == v.WAITING
    assert plant.line.connected and plant.line.pressure_pa > 50.0e5
    assert plant.currents & v.COIL_MASTER_OX
    bench.set_switch("master", False)
    bench.run_ticks(30)
    assert not plant.line.connected and not plant.currents & v.COIL_MASTER_OX


def test_the_hand_valve_and_the_master_valve_must_both_be_open() -> None:
    plant = Plant(alpine_tug_parameters(1))
    line = plant.line
    assert line.connected
    line.set_master(False)
    line.shut_hand_valve()
    line.set_master(True)
    assert not line.connected
    line.open_hand_valve()
    assert line.connected
    line.set_master(False)
    assert line.hand_open and not line.connected


def test_a_stuck_stage_valve_drains_the_line_alone_where_the_master_valve_shuts() -> None:
    drawn = []
    for master in (True, False):
        bench = aircraft(*sorted(SAMPLED), master=master)
        routine = Routine(bench, bench.step)
        routine.flowing([1])
        bench.inject("ox_jammed_open")
        bench.release()
        before = bench.plant.bottle.vessel.mass_kg
        bench.run_ticks(2400)
        assert bench.controller.core.latch == 4
        drawn.append(before - bench.plant.bottle.vessel.mass_kg)
    assert drawn[0] < 0.02 < 0.1 < drawn[1]


def test_another_gas_shows_another_pressure_at_the_same_temperature() -> None:
    plant = Plant(alpine_tug_parameters(1))
    right_pa = plant.bottle.pressure_pa
    plant.bottle.foreign_share = 0.78
    plant.bottle.tick(0.0, 0.005)
    assert plant.bottle.pressure_pa == pytest.approx(0.78 * right_pa, rel=1e-3)
