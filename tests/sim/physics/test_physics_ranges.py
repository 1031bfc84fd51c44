"""Outside its validity range every function refuses, naming quantity, value and range."""

import math
from collections.abc import Callable

import pytest

from oxlatch_sim.physics import nitrous, orifice, tables, validity

CALLS: dict[str, Callable[[float], object]] = {
    "saturation pressure": nitrous.saturation_pressure_pa,
    "saturation temperature": nitrous.saturation_temperature_k,
    "density and temperature": lambda x: nitrous.state_at_density_temperature(x, 293.0),
    "density and energy": lambda x: nitrous.state_at_density_energy(600.0, x),
    "pressure and entropy": lambda x: nitrous.state_at_pressure_entropy(x, 1000.0),
    "hole": orifice.area_m2,
    "choked liquid": orifice.critical_flow_saturated_liquid,
    "choked vapour": orifice.critical_flow_saturated_vapour,
    "table at": lambda x: tables.property_tables().saturation.at(x),
    "table pressure": lambda x: tables.property_tables().saturation.pressure_pa(x),
    "table temperature": lambda x: tables.property_tables().saturation.temperature_k(x),
    "table flux": lambda x: tables.property_tables().flux.liquid_kg_m2_s(x),
    "table compressed flux": lambda x: tables.property_tables().flux.compressed_kg_m2_s(300.0, x),
    "table bottle density": lambda x: tables.property_tables().bottle(x, 2.0e5, 290.0),
    "table bottle energy": lambda x: tables.property_tables().bottle(600.0, x, 290.0),
}


@pytest.mark.parametrize("name", CALLS)
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, -1.0e9, 1.0e9])
def test_nothing_continues_on_a_value_out_of_range(name: str, value: float) -> None:
    with pytest.raises(validity.PhysicsRangeError):
        CALLS[name](value)


def test_the_message_names_quantity_value_and_range() -> None:
    with pytest.raises(validity.PhysicsRangeError) as caught:
        nitrous.saturation_pressure_pa(320.0)
    assert str(caught.value) == "nitrous saturation temperature is 320 K, allowed is 182.33 to 309.5 K"


def test_the_error_is_a_value_error() -> None:
    assert issubclass(validity.PhysicsRangeError, ValueError)


def test_a_refusal_leaves_later_states_right() -> None:
    before = nitrous.pressure_at_density_pa(680.0, 323.15)
    with pytest.raises(validity.PhysicsRangeError):
        nitrous.state_at_pressure_entropy(5.0e6, -9.0e4)
    assert nitrous.pressure_at_density_pa(680.0, 323.15) == before


@pytest.mark.parametrize("check", [validity.require_positive, validity.require_not_negative])
@pytest.mark.parametrize("value", [math.nan, math.inf, -1.0])
def test_open_ranges_refuse_too(check: Callable[[str, float], float], value: float) -> None:
    with pytest.raises(validity.PhysicsRangeError):
        check("length", value)


def test_zero_is_not_positive_and_not_negative() -> None:
    with pytest.raises(validity.PhysicsRangeError):
        validity.require_positive("length", 0.0)
    assert validity.require_not_negative("length", 0.0) == 0.0
