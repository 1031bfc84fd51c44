"""The stepped plant agrees with its own equations integrated by scipy's solve_ivp and CoolProp without tables."""

from dataclasses import replace

import pytest

from oxlatch_sim.plant.continuous import Continuous, opening_and_release, stepped
from oxlatch_sim.plant.parameters import alpine_tug_parameters


def test_pressure_mass_and_exposure_agree_with_the_integrated_equations() -> None:
    parameters = alpine_tug_parameters(1)
    commands = opening_and_release(1, held_s=0.0)
    end_s = commands[-1].at_s + 0.11
    coarse, exact = stepped(parameters, commands, end_s), Continuous(parameters).run(commands, end_s)
    assert coarse.bottle_pa == pytest.approx(exact.bottle_pa, rel=0.005)
    assert coarse.oxidizer_kg == pytest.approx(exact.oxidizer_kg, rel=0.01)
    assert coarse.fuel_kg == pytest.approx(exact.fuel_kg, rel=0.01)
    assert coarse.fuel_only_ms == pytest.approx(exact.fuel_only_ms, abs=2.0)
    assert coarse.oxidizer_only_ms == pytest.approx(exact.oxidizer_only_ms, abs=2.0)


def test_the_agreement_would_notice_a_valve_ten_milliseconds_slower() -> None:
    parameters = alpine_tug_parameters(1)
    stage = parameters.stages[0]
    slow = replace(stage, fuel_valve=replace(stage.fuel_valve, coil_h=12.0 * stage.fuel_valve.coil_h))
    commands = opening_and_release(1, held_s=0.0)
    end_s = commands[-1].at_s + 0.11
    right, wrong = (stepped(replace(parameters, stages=(each,)), commands, end_s) for each in (stage, slow))
    assert abs(right.oxidizer_only_ms[0] - wrong.oxidizer_only_ms[0]) > 2.0
