"""From an installation to the plant the simulator runs.

What the file does not say is engineering judgement: strokes and currents of the coils come from its opening and closing
times, the rest from the defaults of `oxlatch_sim.plant.parameters`.
"""

import math

from oxlatch_sim.inputs import SAMPLED
from oxlatch_sim.plant import parameters as plant
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_control import PressureSensor
from oxlatch_tools.installation_system import Stage, Valve
from oxlatch_tools.planning.air import air_at
from oxlatch_tools.planning.flow import Feed, feed_of
from oxlatch_tools.planning.flux import valve_area
from oxlatch_tools.planning.stage_flow import fuel_kg_s, oxidizer_kg_s

SHORTEST_STROKE_S = 0.002
HOLD_OVER_DROP_OUT = 1.2
TRIP_OVER_COLD = 2.2
ATMOSPHERE_PA = plant.AMBIENT_PA


def plant_parameters(installation: Installation) -> plant.PlantParameters:
    """Everything the simulator needs, from the checked file."""
    ambient_k = installation.bottle.start_temperature
    feed = feed_of(installation)
    home = air_at(installation.airfields[0])
    return plant.PlantParameters(
        stages=tuple(_stage(installation, feed, number) for number in range(1, len(installation.stages) + 1)),
        bottle=_bottle(installation),
        line=_line(installation, feed),
        fuel=_fuel(installation),
        engine=_engine(installation),
        sensors=_sensors(installation),
        electrical=_electrical(installation),
        hardware=_hardware(installation),
        ambient_k=ambient_k,
        air_pa=home.pressure_pa,
        air_k=home.temperature_k,
    )


def _area_m2(bore_m: float) -> float:
    return math.pi / 4.0 * bore_m**2


def valve_parameters(valve: Valve, bus_v: float) -> plant.ValveParameters:
    """Coil currents and strokes that give the opening and closing times of the file at `bus_v`, cold coil."""
    tau_s = valve.inductance / valve.resistance
    full_a = bus_v / valve.resistance
    pull_in_a = valve.pull_in / valve.resistance
    drop_out_a = valve.drop_out / valve.resistance
    clamp_a = valve.clamp / valve.resistance
    rise_s = tau_s * math.log(full_a / (full_a - pull_in_a))
    release_s = tau_s * math.log((full_a + clamp_a) / (drop_out_a + clamp_a))
    return plant.ValveParameters(
        coil_ohm=valve.resistance,
        coil_h=valve.inductance,
        pull_in_a=valve.pull_in_free / valve.resistance,
        pull_in_full_a=pull_in_a,
        full_differential_pa=valve.highest_pressure,
        drop_out_a=drop_out_a,
        open_stroke_s=max(valve.opening - rise_s, SHORTEST_STROKE_S),
        close_stroke_s=max(valve.closing - release_s, SHORTEST_STROKE_S),
        clamp_v=valve.clamp,
        hold_sense_a=HOLD_OVER_DROP_OUT * drop_out_a,
        trip_sense_a=TRIP_OVER_COLD * full_a,
        flow_area_m2=valve.discharge * _area_m2(valve.bore),
    )


def _stage(installation: Installation, feed: Feed, number: int) -> plant.StageParameters:
    """One stage with the jets of the plan: as drilled and weighed, or as computed."""
    stage: Stage = installation.stages[number - 1]
    bus_v = installation.electrical.in_flight
    jets = feed.stages[number - 1]
    oxidizer_m2, fuel_m2 = valve_area(installation.oxidizer_valve), valve_area(installation.fuel_valve)
    oxidizer = oxidizer_kg_s(installation, (number,))
    petrol = fuel_kg_s(installation, (number,))
    return plant.StageParameters(
        power_w=stage.power,
        rated_oxidizer_kg_s=oxidizer,
        rated_fuel_kg_s=petrol,
        oxidizer_valve=valve_parameters(installation.oxidizer_valve, bus_v),
        fuel_valve=valve_parameters(installation.fuel_valve, bus_v),
        oxidizer_branch=plant.OxidizerBranchParameters(
            tube_m3=stage.nozzles * _area_m2(stage.oxidizer_branch_bore) * stage.oxidizer_branch_length,
            jet_area_m2=plant.series_jet_m2(jets.oxidizer_m2, oxidizer_m2),
        ),
        fuel_branch=plant.FuelBranchParameters(
            volume_m3=stage.nozzles * _area_m2(stage.fuel_branch_bore) * stage.fuel_branch_length,
            jet_area_m2=plant.series_jet_m2(jets.fuel_m2, fuel_m2),
            drain_share=stage.fuel_branch_empty,
        ),
    )


def _bottle(installation: Installation) -> plant.BottleParameters:
    """Bottles used together count as one; used in turn, only the first one stands in the simulator."""
    bottle = installation.bottle
    together = bottle.count if bottle.use == "together" else 1
    return plant.BottleParameters(
        volume_m3=together * bottle.volume,
        fill_kg=together * bottle.charge,
        temperature_k=bottle.start_temperature,
        wall_j_k=max(together * bottle.wall_heat, 1.0),
        wall_to_fluid_w_k=together * bottle.wall_conductance,
        tube_share=bottle.tube_share if bottle.siphon else 1.1,
    )


def _line(installation: Installation, planned: Feed) -> plant.FeedLineParameters:
    feed = installation.feed
    return plant.FeedLineParameters(
        length_m=feed.length,
        bore_m=feed.bore,
        loss_pa_s2_kg2=planned.loss,
        purge_hole_m2=planned.purge_m2,
        master_valve=None
        if installation.master_oxidizer_valve is None
        else valve_parameters(installation.master_oxidizer_valve, installation.electrical.in_flight),
    )


def _fuel(installation: Installation) -> plant.FuelSupplyParameters:
    fuel = installation.fuel
    master = installation.master_fuel_valve or installation.fuel_valve
    total_kg_s = fuel_kg_s(installation, tuple(range(1, len(installation.stages) + 1)))
    # The regulator is taken to give up 3 % of its pressure at the flow of all stages.
    return plant.FuelSupplyParameters(
        set_pa=fuel.set_pressure,
        density_kg_m3=fuel.density,
        droop_pa_s_kg=0.03 * fuel.set_pressure / total_kg_s,
        master_valve=valve_parameters(master, installation.electrical.in_flight),
    )


def _engine(installation: Installation) -> plant.EngineParameters:
    engine = installation.engine
    return plant.EngineParameters(
        power_w=engine.rated_power,
        rated_rpm=engine.rated_speed,
        displacement_m3=installation.displacement_m3,
        pulses_per_turn=engine.cylinders / 2.0,
        inertia_kg_m2=1.07e-5 * engine.rated_power,
        friction_w=0.185 * engine.rated_power,
    )


def _pressure_sensor(sensor: PressureSensor, is_absolute: bool) -> plant.SensorParameters:
    zero = {(True, "gauge"): ATMOSPHERE_PA, (False, "absolute"): -ATMOSPHERE_PA}.get(
        (is_absolute, sensor.reference), 0.0
    )
    return plant.SensorParameters(sensor.full_scale, 0.004, 2.5, zero=zero)


def _sensors(installation: Installation) -> plant.SensorSet:
    sensors = installation.sensors
    fuel = _pressure_sensor(sensors.fuel, False)
    airspeed = plant.SensorSet().airspeed
    if sensors.airspeed is not None:
        airspeed = plant.SensorParameters(sensors.airspeed.full_scale, airspeed.lag_s, airspeed.noise_mv)
    return plant.SensorSet(
        supply=_pressure_sensor(sensors.supply, True),
        fuel=fuel,
        block=fuel,
        airspeed=airspeed,
        extras=tuple(name for name in sensors.fitted if name in SAMPLED),
    )


def _electrical(installation: Installation) -> plant.ElectricalParameters:
    electrical = installation.electrical
    return plant.ElectricalParameters(
        set_v=electrical.in_flight,
        battery_v=electrical.in_flight * 12.3 / 14.0,
        comparator_v=electrical.hard,
        source_ohm=0.012 * (electrical.nominal / 14.0) ** 2,
        wire_ohm=electrical.contact_loss / 40.0,
    )


def _hardware(installation: Installation) -> plant.HardwareParameters:
    fitted = set(installation.sensors.fitted)
    return plant.HardwareParameters(
        proof_switches="oxidizer proof" in fitted,
        master_fuel="master fuel valve" in fitted,
        hardware_and="coil currents" in fitted,
        master_oxidizer="master oxidizer valve" in fitted,
    )
