"""Branches fill before they spray, empty when shut, and the exposure of a stage counts what is left alone."""

import pytest

from oxlatch_sim.plant.branch import FuelBranch, OxidizerBranch
from oxlatch_sim.plant.exposure import Exposure
from oxlatch_sim.plant.fuel import FuelSupply
from oxlatch_sim.plant.parameters import FuelBranchParameters, FuelSupplyParameters, OxidizerBranchParameters

FLUX, DENSITY = 29_124.0, 785.0
JET = 1.0e-6


def test_oxidizer_settles_at_valve_and_jets_in_series() -> None:
    branch = OxidizerBranch(OxidizerBranchParameters(5e-6, JET))
    for _ in range(400):
        branch.step(1e-3, 3e-6, FLUX, DENSITY)
    series = (JET**-2 + 3e-6**-2) ** -0.5
    assert branch.settled
    assert branch.out_kg_s == pytest.approx(series * FLUX, rel=1e-3)


def test_oxidizer_outlasts_its_valve_by_the_time_its_tubes_take_to_empty() -> None:
    parameters = OxidizerBranchParameters(20e-6, JET)
    branch = OxidizerBranch(parameters)
    for _ in range(400):
        branch.step(1e-3, 3e-6, FLUX, DENSITY)
    full = branch.out_kg_s
    for _ in range(round(branch.tube_s * 1000)):
        branch.step(1e-3, 0.0, FLUX, DENSITY)
    assert 0.3 < branch.out_kg_s / full < 0.7
    for _ in range(200):
        branch.step(1e-3, 0.0, FLUX, DENSITY)
    assert branch.out_kg_s == 0.0 and branch.settled


def test_fuel_sprays_only_once_its_branch_is_full() -> None:
    branch = FuelBranch(FuelBranchParameters(2e-6, 2e-7, drain_share=1.0), 720.0)
    sprayed_at = None
    for count in range(400):
        branch.step(1e-3, 2e-6, 5e4, 0.0)
        if branch.out_kg_s > 0.0:
            sprayed_at = count + branch.edge
            break
    filling = 2e-6 * 720.0 / (2e-6 * (2 * 720.0 * 5e4) ** 0.5)
    assert sprayed_at == pytest.approx(filling * 1000.0, abs=0.01)


def test_a_shut_fuel_branch_drains_slowly_and_below_the_threshold() -> None:
    branch = FuelBranch(FuelBranchParameters(2e-6, 2e-7, drain_share=0.5, drain_s=20.0), 720.0)
    for _ in range(400):
        branch.step(1e-3, 2e-6, 5e4, 0.0)
    full = branch.out_kg_s
    for _ in range(60):
        branch.step(1e-3, 0.0, 5e4, 0.0)
    assert 0.0 < branch.out_kg_s < 0.05 * full
    for _ in range(6000):
        branch.hold(5e-3, 0.0, 5e4, 0.0)
    assert branch.filled == pytest.approx(0.5)
    assert branch.out_kg_s == 0.0


def test_the_block_keeps_its_pressure_when_shut_and_falls_when_a_stage_valve_leaks() -> None:
    supply = FuelSupply(FuelSupplyParameters(), True, 293.15)
    before = supply.block_pa
    for _ in range(200):
        supply.step(5e-3, 0.0)
    assert supply.block_pa == before
    for _ in range(200):
        supply.step(5e-3, 1e-5)
    assert supply.block_pa < 0.8 * before


def test_fuel_pressure_is_gone_soon_after_the_pump_stops_in_flow() -> None:
    supply = FuelSupply(FuelSupplyParameters(), False, 293.15)
    supply.pump_on = False
    for _ in range(300):
        supply.step(1e-3, 5e-3)
    assert supply.supply_pa < 0.12 * FuelSupplyParameters().set_pa
    assert supply.block_pa == supply.supply_pa


def test_exposure_places_crossings_inside_the_step() -> None:
    exposure = Exposure(1.0, 1.0)
    exposure.step(0.001, 0.0, 1.0, 0.25)  # fuel branch full after a quarter of the step
    exposure.step(0.001, 0.0, 1.0, 0.0)
    exposure.step(0.001, 0.1, 1.0, 0.0)  # oxidizer passes 5 % half-way
    assert exposure.fuel_only_ms == pytest.approx(0.75 + 1.0 + 0.5)
    assert exposure.oxidizer_only_ms == 0.0


def test_exposure_keeps_the_longest_episode_beside_the_total() -> None:
    exposure = Exposure(1.0, 1.0)
    for oxidizer, steps in ((1.0, 5), (0.0, 5), (1.0, 3), (0.0, 1)):
        for _ in range(steps):
            exposure.step(0.001, oxidizer, 0.0, 0.0)
    assert exposure.oxidizer_only_ms == pytest.approx(4.95 + 0.95 + 2.95 + 0.95, abs=0.01)
    assert exposure.oxidizer_only_longest_ms == pytest.approx(4.95 + 0.95, abs=0.01)


def test_nothing_flowing_and_both_flowing_are_no_exposure() -> None:
    exposure = Exposure(1.0, 1.0)
    exposure.step(0.001, 0.0, 0.0, 0.0)
    exposure.step(0.001, 1.0, 1.0, 0.05)
    exposure.step(0.001, 1.0, 1.0, 0.0)
    assert exposure.fuel_only_ms == 0.0
    assert exposure.oxidizer_only_ms == pytest.approx(0.0, abs=1e-9)
