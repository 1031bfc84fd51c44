"""Every fault of the catalogue disturbs something, heals again, and is named so that a person finds it."""

from dataclasses import replace

import pytest

from oxlatch.settings import Settings
from oxlatch.vocabulary import FIT_ALL
from oxlatch_sim.bench import Bench
from oxlatch_sim.fault_kinds import STAGE, Action, Change
from oxlatch_sim.faults import CATALOGUE, FaultError, apply, parse_name
from oxlatch_sim.inputs import INPUT_BITS, SAMPLED
from oxlatch_sim.plant.parameters import alpine_tug_parameters
from oxlatch_sim.remedies import NO_INPUT
from oxlatch_sim.routine import Routine


@pytest.fixture(scope="module")
def bench() -> Bench:
    """The Alpine tug with every input and part there is."""
    plant, settings = alpine_tug_parameters(3), Settings()
    settings.fitted = FIT_ALL
    sensors = replace(plant.sensors, extras=tuple(sorted(SAMPLED)))
    plant = replace(plant, sensors=sensors, hardware=replace(plant.hardware, master_oxidizer=True))
    made = Bench(plant, settings, 2)
    Routine(made, made.step).flowing([1, 2, 3])
    return made


@pytest.mark.parametrize("name", sorted(CATALOGUE))
def test_every_fault_can_begin_in_flow_and_changes_what_happens(bench: Bench, name: str) -> None:
    start = bench.snapshot()

    def future(with_fault: bool) -> tuple[object, ...]:
        bench.restore(start)
        if with_fault:
            apply(bench, name)
        for index in range(900):
            if index == 300:
                bench.release()
            if index == 500:
                bench.set_throttle(0.0)
                bench.set_switch("master", False)
                bench.set_switch("purge", True)
                bench.set_switch("ack", True)
                bench.select([])
            bench.step()
        raw = tuple(bench.raw)
        flows = [(stage.exposure.fuel_only_ms, stage.exposure.oxidizer_only_ms) for stage in bench.plant.stages]
        bench.set_switch("purge", False)
        bench.set_switch("ack", False)
        return raw, flows, bench.plant.bottle.vessel.mass_kg, bench.state_name, bench.board.lockout

    quiet = {"ox_coil_hot", "rail_sense_dead"}
    changed = future(True) != future(False)
    bench.restore(start)
    assert changed or name in quiet


def test_changes_heal_to_what_they_were(bench: Bench) -> None:
    start = bench.snapshot()
    for name, fault in CATALOGUE.items():
        if not all(isinstance(effect, Change) for effect in fault.effects):
            continue
        apply(bench, name)
        assert bench.disturbed
        apply(bench, name, on=False)
        assert not bench.disturbed, name
    bench.restore(start)


def test_a_fault_of_a_part_the_aircraft_does_not_have_is_refused() -> None:
    bare = Bench(alpine_tug_parameters(1), one_stage(), 2)
    with pytest.raises(FaultError, match="one of the knock, which this aircraft does not have"):
        apply(bare, "engine_knocks")


def one_stage() -> Settings:
    settings = Settings()
    settings.stages, settings.patterns = 1, 2
    return settings


def test_every_fault_has_a_hazard_row_and_words() -> None:
    for name, fault in CATALOGUE.items():
        assert fault.name == name
        assert 1 <= fault.row <= 70
        assert fault.words and fault.effects


def test_every_hazard_row_is_disturbed_or_says_why_not() -> None:
    disturbed = {fault.row for fault in CATALOGUE.values()}
    assert disturbed | set(NO_INPUT) == set(range(1, 71))
    assert not disturbed & set(NO_INPUT)


def test_sensors_and_contacts_fail_in_every_way() -> None:
    for prefix in ("supply", "fuel_pressure", "block_pressure", "throttle_position"):
        for way in ("open", "shorted", "frozen", "drifts_up", "drifts_down", "noisy", "late"):
            assert f"{prefix}_{way}" in CATALOGUE
    for prefix in ("detent_no", "detent_nc", "master", "purge_button", "ack", "selector", "proof"):
        for way in ("stuck_off", "stuck_on", "chatters", "late"):
            assert f"{prefix}_{way}" in CATALOGUE
    for prefix in ("bottle_temperature", "air_temperature", "barometer", "outlet_1", "outlet_2"):
        for way in ("open", "shorted", "frozen", "drifts_up", "drifts_down", "noisy", "late"):
            assert CATALOGUE[f"{prefix}_{way}"].needs in INPUT_BITS
    for prefix in ("knock_input", "mixture_contact", "retard_contact", "fire_input"):
        for way in ("stuck_off", "stuck_on", "chatters", "late"):
            assert CATALOGUE[f"{prefix}_{way}"].needs in INPUT_BITS


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("ox_jamed_shut", "nearest are ox_jammed_shut"),
        ("ox_jammed_shut@4", "allowed are 1 to 3"),
        ("bus_sags@1", "belongs to no stage"),
        ("ox_jammed_shut@x", "stage x does not exist"),
    ],
)
def test_a_wrong_name_is_answered_with_what_exists(name: str, words: str) -> None:
    with pytest.raises(FaultError, match=words):
        parse_name(name, 3)


def test_the_stage_of_a_fault_is_the_one_after_the_at_sign(bench: Bench) -> None:
    assert parse_name("ox_jammed_shut@3", 3)[1] == 2
    assert parse_name("ox_jammed_shut", 3) == (CATALOGUE["ox_jammed_shut"], 0)
    assert CATALOGUE["ox_jammed_shut"].part == STAGE
    start = bench.snapshot()
    bench.inject("ox_jammed_shut@3")
    assert [stage.oxidizer_valve.jam for stage in bench.plant.stages] == [0, 0, 1]
    bench.restore(start)
    assert isinstance(CATALOGUE["hand_valve_shut"].effects[0], Action)
