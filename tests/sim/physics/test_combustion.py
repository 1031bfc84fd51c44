"""Relations of the oxygen balance and the charge, and their limits."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxlatch_sim.physics import combustion, nitrous
from oxlatch_sim.physics.validity import PhysicsRangeError

AIR_KG_S = 0.2
INTAKE_PA = 98_000.0


@settings(deadline=None)
@given(st.floats(0.001, 0.05), st.floats(275.0, 305.0))
def test_the_charge_closes_its_enthalpy_balance(flow: float, bottle: float) -> None:
    charge = combustion.mixed_charge_temperature_k(AIR_KG_S, 290.0, INTAKE_PA, flow, bottle)
    given_up = AIR_KG_S * 1005.0 * (290.0 - charge)
    gas = nitrous.state_at_pressure_temperature(INTAKE_PA, charge).enthalpy_j_kg
    assert given_up == pytest.approx(flow * (gas - nitrous.liquid_enthalpy_j_kg(bottle)), rel=1e-4)


@settings(deadline=None, max_examples=30)
@given(st.floats(0.001, 0.05))
def test_more_nitrous_is_colder_and_richer_in_oxygen(flow: float) -> None:
    less = combustion.boosted_charge(AIR_KG_S, 290.0, INTAKE_PA, flow, 293.0)
    more = combustion.boosted_charge(AIR_KG_S, 290.0, INTAKE_PA, 1.1 * flow, 293.0)
    assert more.temperature_k < less.temperature_k < 290.0
    assert more.oxygen_ratio > less.oxygen_ratio > 1.0


def test_no_nitrous_changes_nothing() -> None:
    charge = combustion.boosted_charge(AIR_KG_S, 290.0, INTAKE_PA, 0.0, 293.0)
    assert charge.temperature_k == pytest.approx(290.0, abs=1e-4)
    assert charge.air_kg_s == pytest.approx(AIR_KG_S, rel=1e-6)
    assert charge.oxygen_ratio == pytest.approx(1.0, rel=1e-6)


def test_a_flood_of_nitrous_is_refused() -> None:
    with pytest.raises(PhysicsRangeError, match="200 K"):
        combustion.mixed_charge_temperature_k(AIR_KG_S, 290.0, INTAKE_PA, 0.5, 293.0)


@given(st.floats(1.0e3, 1.0e5), st.floats(0.2, 0.35))
def test_energy_flow_turns_round_to_power(power: float, efficiency: float) -> None:
    flow = combustion.nitrous_flow_by_energy_kg_s(power, efficiency)
    assert flow * efficiency * combustion.heat_per_nitrous_j_kg() == pytest.approx(power, rel=1e-12)


@pytest.mark.parametrize("value", [math.nan, math.inf, -1.0, 1.0e12])
def test_combustion_figures_out_of_range_are_refused(value: float) -> None:
    for call in (
        lambda: combustion.stoichiometric_nitrous_ratio(value),
        lambda: combustion.stoichiometric_air_ratio(value),
        lambda: combustion.nitrous_flow_by_oxygen_kg_s(1.0e4, value, 12.5),
        lambda: combustion.nitrous_flow_by_oxygen_kg_s(1.0e4, 8.0e-8, value),
        lambda: combustion.nitrous_flow_by_energy_kg_s(1.0e4, value),
        lambda: combustion.heat_per_nitrous_j_kg(value),
        lambda: combustion.mixed_charge_temperature_k(AIR_KG_S, 290.0, INTAKE_PA, 0.01, value),
        lambda: combustion.compression_heating_k(290.0, 101_325.0, value),
    ):
        with pytest.raises(PhysicsRangeError):
            call()
