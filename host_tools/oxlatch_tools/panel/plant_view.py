"""The plant as a page draws it: bottle, line with its fronts, valves, branches, fuel supply, exposure."""

from typing import Any

from oxlatch_sim.bench import Bench
from oxlatch_sim.plant.stage import Stage
from oxlatch_sim.plant.valve import Valve

PA_PER_BAR = 1.0e5
ZERO_C_K = 273.15
PHASES = ("liquid", "vapour", "air")


def plant_part(bench: Bench) -> dict[str, Any]:
    """Everything of the plant that is drawn; flows in g/s, pressures in bar, shares 0 to 1."""
    plant = bench.plant
    line, bottle, fuel = plant.line, plant.bottle, plant.fuel
    return {
        "bottle": {
            "bar": round(bottle.pressure_pa / PA_PER_BAR, 1),
            "c": round(bottle.temperature_k - ZERO_C_K, 1),
            "kg": round(bottle.vessel.mass_kg, 3),
            "liquid": round(bottle.vessel.liquid_share(), 3),
        },
        "hand_open": line.hand_open,
        "master_ox": None if plant.master_ox is None else _valve(plant.master_ox),
        "plugs": _plugs(bench),
        "line_bar": round(line.pressure_pa / PA_PER_BAR, 1),
        "line_c": round(line.temperature_k - ZERO_C_K, 1),
        "purge": {**_valve(plant.purge), "g_s": round(1000.0 * plant.purge_kg_s, 1), "plume": _plume(bench)},
        "fuel": {
            "bar": round(fuel.supply_pa / PA_PER_BAR, 3),
            "block_bar": round(fuel.block_pa / PA_PER_BAR, 3),
            "pump": fuel.pump_on,
            "fitted": fuel.master_fitted,
            "master": _valve(fuel.master),
        },
        "stages": [_stage(stage, line.pressure_pa) for stage in plant.stages],
        "rails": {
            "ox_v": round(plant.electrical.oxidizer_v, 1),
            "fuel_v": round(plant.electrical.fuel_v, 1),
        },
        "airspeed_m_s": round(plant.extras.airspeed_m_s, 1),
        "bus_set_v": round(plant.electrical.set_v, 2),
    }


def _valve(valve: Valve) -> dict[str, Any]:
    return {"open": round(max(valve.position, valve.leak), 2), "a": round(valve.current_a, 1), "held": valve.holds()}


def _stage(stage: Stage, feed_pa: float) -> dict[str, Any]:
    return {
        "ox": _valve(stage.oxidizer_valve),
        "fuel": _valve(stage.fuel_valve),
        "ox_bar": round(stage.oxidizer_branch.ratio * feed_pa / PA_PER_BAR, 1),
        "proof": stage.proof_wired(),
        "filled": round(stage.fuel_branch.filled, 2),
        "ox_g_s": round(1000.0 * stage.oxidizer_kg_s, 1),
        "fuel_g_s": round(1000.0 * stage.fuel_branch.out_kg_s, 2),
    }


def _plugs(bench: Bench) -> list[list[Any]]:
    """What stands in the feed line, from the block back to the bottle: phase and share of the line."""
    line = bench.plant.line
    if line.vessel is not None:
        liquid = line.vessel.liquid_share()
        return [["vapour", round(1.0 - liquid, 3)], ["liquid", round(liquid, 3)]]
    return [[PHASES[int(phase)], round(volume / line.volume_m3, 3)] for phase, volume in line.plugs]


def _plume(bench: Bench) -> str:
    """What comes out of the purge outlets, as an eye sees it."""
    plant = bench.plant
    if plant.purge_kg_s <= 0.0:
        return "none"
    phase = PHASES[plant.line.phase]
    return {"air": "air", "vapour": "spitting", "liquid": "steady"}[phase]


def exposure_part(bench: Bench) -> list[list[float]]:
    """Per stage in ms: fuel alone and oxidizer alone, in total, then the longest single episode of each."""
    return [
        [
            round(exposure.fuel_only_ms, 1),
            round(exposure.oxidizer_only_ms, 1),
            round(exposure.fuel_only_longest_ms, 1),
            round(exposure.oxidizer_only_longest_ms, 1),
        ]
        for exposure in (stage.exposure for stage in bench.plant.stages)
    ]


def trace_row(bench: Bench, sensed_bar: float | None, asked: int, out: int) -> list[float | int | None]:
    """One row of the strip charts."""
    plant = bench.plant
    electrical = plant.electrical
    row: list[float | int | None] = [
        bench.ticks,
        round(plant.bottle.pressure_pa / PA_PER_BAR, 2),
        round(plant.line.pressure_pa / PA_PER_BAR, 2),
        sensed_bar,
        round(plant.fuel.supply_pa / PA_PER_BAR, 3),
        round(plant.fuel.block_pa / PA_PER_BAR, 3),
        round(electrical.bus_v, 2),
        round(electrical.rail_v, 2),
        asked,
        out,
    ]
    row += [round(1000.0 * stage.oxidizer_kg_s, 1) for stage in plant.stages]
    row += [round(1000.0 * stage.fuel_branch.out_kg_s, 2) for stage in plant.stages]
    return row
