"""The campaign flies faults from phases of a healthy sortie and judges what reached the nozzles."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from oxlatch_sim.campaign import (
    FAULT_BOUNDS_MS,
    NO_FAULT,
    NORMAL_BOUNDS_MS,
    Aircraft,
    Case,
    Row,
    bench_for,
    blocks,
    fault_names,
    full_cases,
    patterns,
    recorded,
    run,
    run_block,
    worst_by_fault,
)
from oxlatch_sim.corners import (
    FACTORS,
    HARDWARE,
    NOMINAL,
    CornerError,
    all_corners,
    corner_plant,
    eighth_corners,
    hardware_plant,
    hardware_settings,
)
from oxlatch_sim.fault_catalogue import CATALOGUE
from oxlatch_sim.fault_flight import PHASES, FaultFlight
from oxlatch_sim.faults import FaultError
from oxlatch_sim.recording import parse_recording
from oxlatch_sim.remedies import UNCOVERED
from oxlatch_sim.worst_known import as_text, quick_cases, worst_known
from oxlatch_tools.installation import example, load_installation
from oxlatch_tools.installation_plant import plant_parameters
from oxlatch_tools.installation_settings import settings_of

BOTH = (1, 2, 3)


@pytest.fixture(scope="module")
def tug() -> Aircraft:
    installation = load_installation(example("alpine_tug"))
    return Aircraft.of(plant_parameters(installation), settings_of(installation))


def case(fault: str, phase: str, corner: str = NOMINAL, hardware: str = "recommended") -> Case:
    return Case(fault, phase, corner, hardware, BOTH)


@pytest.fixture(scope="module")
def some(tug: Aircraft) -> dict[tuple[str, str, str], Row]:
    cases = [case(NO_FAULT, phase) for phase in PHASES]
    cases += [case("ox_jammed_shut@2", "ready"), case("proof_stuck_off@1", "flowing"), case("bus_sags", "flowing")]
    cases += [case("fuel_stuck_open@1", "releasing"), case("code_hangs", "flowing"), case("bottle_inert", "ready")]
    cases += [case("fuel_stuck_open@1", "releasing", hardware="no master fuel")]
    cases += [case("hand_valve_shut", "rest"), case("ox_wire_chafed@1", "rest")]
    rows = [row for block in blocks(cases) for row in run_block(tug, block)]
    return {(row.fault, row.phase, row.hardware): row for row in rows}


@pytest.mark.parametrize("phase", PHASES)
def test_a_sortie_without_a_fault_stays_within_the_normal_bounds(
    some: dict[tuple[str, str, str], Row], phase: str
) -> None:
    row = some[NO_FAULT, phase, "recommended"]
    assert row.within and row.oxidizer_within
    assert (row.bound_ms, row.oxidizer_bound_ms) == NORMAL_BOUNDS_MS
    assert row.detected_by == "release"
    assert row.off_ms is not None


@pytest.mark.parametrize("corner", all_corners())
def test_a_healthy_aircraft_flies_every_corner_of_the_box_within_the_normal_bounds(tug: Aircraft, corner: str) -> None:
    row = run_block(tug, [case(NO_FAULT, "rest", corner)])[0]
    assert row.final_state in ("READY", "WAITING")
    assert row.detected_by == "release"
    assert row.within and row.oxidizer_within, row


def test_what_sees_a_fault_is_named_and_its_latch_kept(some: dict[tuple[str, str, str], Row]) -> None:
    assert some["ox_jammed_shut@2", "ready", "recommended"].detected_by == "O_NOT_PROVED"
    assert some["ox_jammed_shut@2", "ready", "recommended"].latch == 2
    assert some["bus_sags", "flowing", "recommended"].detected_by in ("BUS_SAGS", "BUS_FAILED")
    assert some["code_hangs", "flowing", "recommended"].detected_by.startswith("restart")
    assert some["hand_valve_shut", "rest", "recommended"].off_ms is None or (
        some["hand_valve_shut", "rest", "recommended"].detected_by != "release"
    )
    assert some["ox_wire_chafed@1", "rest", "recommended"].latch == 4


def test_off_follows_within_a_tenth_of_a_second_of_a_lost_proof(some: dict[tuple[str, str, str], Row]) -> None:
    off_ms = some["proof_stuck_off@1", "flowing", "recommended"].off_ms
    assert off_ms is not None and off_ms <= 100


def test_a_fuel_valve_stuck_open_is_bounded_by_the_master_valve_and_only_by_it(
    some: dict[tuple[str, str, str], Row],
) -> None:
    with_master = some["fuel_stuck_open@1", "releasing", "recommended"]
    without = some["fuel_stuck_open@1", "releasing", "no master fuel"]
    assert with_master.fuel_only_ms <= FAULT_BOUNDS_MS[0] and with_master.within
    assert without.fuel_only_ms > 500.0 and not without.within


def test_a_gas_that_does_not_burn_is_shown_as_over_the_bound(some: dict[tuple[str, str, str], Row]) -> None:
    row = some["bottle_inert", "ready", "recommended"]
    assert row.fuel_only_ms > 1000.0
    assert not row.within


def test_a_recorded_case_is_the_same_flight(tug: Aircraft, some: dict[tuple[str, str, str], Row]) -> None:
    row = some["proof_stuck_off@1", "flowing", "recommended"]
    finding, flight = recorded(tug, case("proof_stuck_off@1", "flowing"), "0123abcd")
    assert round(finding.fuel_only_ms, 2) == row.fuel_only_ms
    assert round(finding.oxidizer_only_ms, 2) == row.oxidizer_only_ms
    assert finding.off_ms == row.off_ms
    recording = parse_recording(flight.recorder.end())
    assert recording.complete and recording.header["installation"] == "0123abcd"


def test_the_order_of_cases_changes_no_row(tug: Aircraft) -> None:
    cases = [case("supply_noisy", "flowing"), case("bus_sags", "flowing"), case("rpm_noisy", "flowing")]
    forward = run_block(tug, cases)
    assert run_block(tug, cases[::-1]) == forward[::-1]


def test_two_workers_find_what_one_finds(tug: Aircraft) -> None:
    cases = [case("bus_sags", "flowing"), case("bus_sags", "flowing", "hot-low-weak-slowF-large")]
    alone = sorted((row for rows in run(tug, cases) for row in rows), key=lambda row: row.corner)
    together = sorted((row for rows in run(tug, cases, workers=2) for row in rows), key=lambda row: row.corner)
    assert alone == together and len(alone) == 2


def test_a_dask_cluster_finds_the_same(tug: Aircraft) -> None:
    distributed = pytest.importorskip("dask.distributed")
    cases = [case("bus_sags", "flowing")]
    with distributed.LocalCluster(n_workers=1, processes=False, dashboard_address=None) as cluster:
        found = [row for rows in run(tug, cases, dask=cluster.scheduler_address) for row in rows]
    assert found == run_block(tug, cases)


def test_no_scheduler_and_no_such_names_are_one_clear_error(tug: Aircraft, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("oxlatch_sim.campaign.DASK_TIMEOUT", "1s")
    with pytest.raises(ValueError, match=r"no Dask scheduler answers at 'tcp://127\.0\.0\.1:9'"):
        list(run(tug, [case("bus_sags", "flowing")], dask="tcp://127.0.0.1:9"))
    with pytest.raises(FaultError, match="nearest are bus_sags"):
        list(run(tug, [case("bus_sag", "flowing")]))
    with pytest.raises(CornerError, match="nearest are cold-low-weak-slowF-large"):
        list(run(tug, [case("bus_sags", "flowing", "cold-lo-weak-slowF-large")]))
    with pytest.raises(CornerError, match="no proof"):
        list(run(tug, [case("bus_sags", "flowing", hardware="no proofs")]))


def test_the_full_campaign_covers_every_fault_phase_corner_and_option(tug: Aircraft) -> None:
    cases = full_cases(3)
    faulty = [each for each in cases if each.fault != NO_FAULT]
    assert {each.fault.partition("@")[0] for each in faulty} == set(CATALOGUE)
    tug_faults = set(fault_names(3, every_stage=True, fitted=tug.fitted))
    assert {each.fault for each in full_cases(3, tug.fitted)} == tug_faults | {NO_FAULT}
    assert not {"engine_knocks", "airspeed_high"} & tug_faults and "mixture_leaned" in tug_faults
    bare = [each for each in full_cases(3, tug.fitted) if each.hardware == "no master oxidizer"]
    assert bare and not any(each.fault.startswith("master_ox") for each in bare)
    assert {each.phase for each in faulty} == set(PHASES)
    assert {each.hardware for each in faulty} == {option.name for option in HARDWARE}
    assert {each.corner for each in faulty} == set(eighth_corners())
    normal = [each for each in cases if each.fault == NO_FAULT]
    assert {each.corner for each in normal} == set(all_corners())
    assert {each.stages for each in normal} == set(patterns(3))
    assert len(set(cases)) == len(cases)


def test_the_fraction_of_corners_is_balanced() -> None:
    corners = [name.split("-") for name in eighth_corners()[1:]]
    assert len(corners) == len({tuple(words) for words in corners}) == 8
    for index, levels in enumerate(FACTORS):
        for level in levels:
            assert sum(words[index] == level for words in corners) == 4
    assert set(eighth_corners()) <= set(all_corners())


def test_a_corner_moves_what_its_name_says(tug: Aircraft) -> None:
    settings = tug.unpacked()
    cold = corner_plant("cold-low-weak-slowO-small", tug.plant, settings)
    hot = corner_plant("hot-full-strong-slowF-large", tug.plant, settings)
    assert cold.bottle.temperature_k < tug.plant.bottle.temperature_k < hot.bottle.temperature_k
    assert cold.bottle.fill_kg < hot.bottle.fill_kg == tug.plant.bottle.fill_kg
    assert cold.electrical.set_v < tug.plant.electrical.set_v < hot.electrical.set_v
    assert cold.stages[0].oxidizer_valve.open_stroke_s > hot.stages[0].oxidizer_valve.open_stroke_s
    assert cold.stages[0].fuel_valve.close_stroke_s < hot.stages[0].fuel_valve.close_stroke_s
    assert cold.stages[0].fuel_branch.volume_m3 < hot.stages[0].fuel_branch.volume_m3


def test_left_out_parts_are_left_out_of_plant_and_settings(tug: Aircraft) -> None:
    option = next(each for each in HARDWARE if each.name == "none")
    plant = hardware_plant(option, tug.plant)
    settings = hardware_settings(option, tug.unpacked())
    assert not plant.hardware.proof_switches and not plant.hardware.master_fuel
    assert settings.fitted != tug.settings["fitted"]  # type: ignore[attr-defined]


def test_the_quick_campaign_meets_every_fault_once() -> None:
    cases = [each for each in quick_cases(BOTH) if each.fault != NO_FAULT]
    assert sorted(each.fault for each in cases) == sorted(fault_names(3, every_stage=True))
    known = worst_known()
    assert all(phase in PHASES and corner in all_corners() for phase, corner in known.values())
    stale = set(known) - set(fault_names(3, every_stage=True))
    assert not stale


def test_the_worst_row_of_a_fault_is_kept_and_never_averaged(some: dict[tuple[str, str, str], Row]) -> None:
    row = some["bus_sags", "flowing", "recommended"]
    worse = replace(row, fuel_only_ms=30.0, phase="opening")
    worst = replace(row, fuel_only_ms=30.0, oxidizer_only_ms=200.0, phase="ready")
    assert worst_by_fault([row, worst, worse]) == {"bus_sags": worst}
    locked = replace(row, latch=4, phase="rest", oxidizer_only_ms=max(0.0, row.oxidizer_only_ms - 0.5))
    assert worst_by_fault([row, locked]) == {"bus_sags": locked}, "of two alike, the one that tells more"
    assert json.loads(as_text([row, worst, worse])) == {"bus_sags": ["ready", NOMINAL]}


def test_a_bottle_warmed_till_it_is_full_of_liquid_after_ready_still_flows_without_a_trip(tug: Aircraft) -> None:
    bench = bench_for(tug, case(NO_FAULT, "rest"))
    flight = FaultFlight(bench, BOTH)
    flight.to_phase("ready")
    bottle = bench.plant.bottle
    bottle.refill(bottle.vessel.mass_kg, 273.15 + 33.4)
    flight.wait(1.0)
    assert 68.0e5 < bench.plant.line.pressure_pa < 70.0e5
    flight.reset()
    flight.fly_on("ready", None)
    assert flight.finding().detected_by == "release"


def test_what_is_declared_as_uncovered_is_over_its_bound_in_the_generated_table_and_nothing_else_is() -> None:
    text = (Path(__file__).parents[2] / "hardware_notes" / "fmea.md").read_text("utf-8")
    by_words = {fault.words: name for name, fault in CATALOGUE.items()}
    over = {by_words[line.split(" | ")[1]] for line in text.splitlines() if " **over**" in line}
    assert over == set(UNCOVERED)
