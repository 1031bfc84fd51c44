"""What one aircraft is made of, as plain numbers in SI units.

The host builds `PlantParameters` from the installation file; `alpine_tug_parameters` is the invented demonstration
aircraft, consistent with the default settings of the controller. Values without a source are engineering judgement, to
be replaced by measurements of the real parts.
"""

from dataclasses import dataclass, field

NOMINAL_BOTTLE_K = 293.15
AIR_GAS_CONSTANT = 287.05
AMBIENT_PA = 101_325.0


@dataclass(frozen=True)
class BottleParameters:
    """One bottle, filled by mass."""

    volume_m3: float = 0.006671
    fill_kg: float = 4.536
    temperature_k: float = 298.15
    wall_j_k: float = 5500.0
    wall_to_fluid_w_k: float = 60.0
    wall_to_air_w_k: float = 1.5
    tube_share: float = 0.02
    """Share of the volume below which the liquid no longer covers the tube, in the attitude flown."""


@dataclass(frozen=True)
class FeedLineParameters:
    """The oxidizer line from the bottle's hand valve to the valve block."""

    length_m: float = 4.0
    bore_m: float = 0.0048
    loss_pa_s2_kg2: float = 4.4e7
    """Pressure loss per squared mass flow, liquid: 0.1 kg/s loses 4.4 bar."""
    lag_s: float = 0.008
    """Settling time of the pressure at the block: about one wave passage, length over sound speed."""
    refill_lag_s: float = 0.06
    heat_w_k: float = 0.1
    purge_hole_m2: float = 1.5e-6
    hand_valve_open: bool = True
    master_valve: "ValveParameters | None" = None
    """The valve at the bottle, where it is fitted; a default one when not stated."""


@dataclass(frozen=True)
class ValveParameters:
    """One normally-closed solenoid valve with its coil, clamp and current comparators."""

    coil_ohm: float
    coil_h: float
    pull_in_a: float
    """Current that lifts the plunger with no pressure across it."""
    pull_in_full_a: float
    """Current that lifts it against `full_differential_pa`."""
    full_differential_pa: float
    drop_out_a: float
    open_stroke_s: float
    close_stroke_s: float
    clamp_v: float
    hold_sense_a: float
    trip_sense_a: float
    flow_area_m2: float
    """Open area times discharge coefficient."""
    heat_j_k: float = 250.0
    """Heat capacity of coil and body."""
    cool_w_k: float = 1.5


def oxidizer_valve(flow_area_m2: float) -> ValveParameters:
    """A high-pressure valve with a slow clamp: opens in 22 ms at 13.8 V against 80 bar, shuts in 26 ms."""
    return ValveParameters(
        coil_ohm=1.15,
        coil_h=0.009,
        pull_in_a=2.52,
        pull_in_full_a=6.26,
        full_differential_pa=80.0e5,
        drop_out_a=1.91,
        open_stroke_s=0.0162,
        close_stroke_s=0.0136,
        clamp_v=0.8,
        hold_sense_a=2.3,
        trip_sense_a=26.0,
        flow_area_m2=flow_area_m2,
    )


def fuel_valve(flow_area_m2: float) -> ValveParameters:
    """A low-pressure valve with a fast clamp: opens in 12 ms at 13.8 V, shuts in 9 ms."""
    return ValveParameters(
        coil_ohm=4.2,
        coil_h=0.012,
        pull_in_a=1.0,
        pull_in_full_a=1.43,
        full_differential_pa=6.0e5,
        drop_out_a=0.38,
        open_stroke_s=0.0104,
        close_stroke_s=0.0083,
        clamp_v=40.0,
        hold_sense_a=0.46,
        trip_sense_a=7.2,
        flow_area_m2=flow_area_m2,
    )


def master_oxidizer_valve(flow_area_m2: float) -> ValveParameters:
    """A valve at the bottle with a coil for continuous duty: opens in 40 ms, shuts in 45 ms."""
    return ValveParameters(
        coil_ohm=5.5,
        coil_h=0.060,
        pull_in_a=0.527,
        pull_in_full_a=1.31,
        full_differential_pa=80.0e5,
        drop_out_a=0.40,
        open_stroke_s=0.032,
        close_stroke_s=0.032,
        clamp_v=0.8,
        hold_sense_a=0.48,
        trip_sense_a=5.5,
        flow_area_m2=flow_area_m2,
    )


@dataclass(frozen=True)
class OxidizerBranchParameters:
    """From one oxidizer valve to its nozzles: a small pocket, the metering jets, then open tubes.

    The jets sit at the valve block, so the tubes hold flashed mixture at a few bar: from 2 to 3 bar at about half
    vapour by mass its density is 10 to 20 kg/m3, computed with CoolProp.
    """

    tube_m3: float
    jet_area_m2: float
    """Total jet area times effective coefficient on the choked equilibrium flux."""
    pocket_m3: float = 0.15e-6
    tube_density_kg_m3: float = 15.0


@dataclass(frozen=True)
class FuelBranchParameters:
    """The lines from one fuel valve to its nozzles."""

    volume_m3: float
    jet_area_m2: float
    settle_s: float = 0.003
    """Time constant with which the trapped pressure of a shut branch leaves through its jets."""
    drain_s: float = 60.0
    """Time in which a shut branch drains as far as it ever does."""
    drain_share: float = 0.02
    """Share of the volume that drains; check valves at the nozzles keep it small."""


@dataclass(frozen=True)
class StageParameters:
    """One stage: a pair of valves, their branches and what they deliver at nominal conditions."""

    power_w: float
    rated_oxidizer_kg_s: float
    rated_fuel_kg_s: float
    oxidizer_valve: ValveParameters
    fuel_valve: ValveParameters
    oxidizer_branch: OxidizerBranchParameters
    fuel_branch: FuelBranchParameters


@dataclass(frozen=True)
class FuelSupplyParameters:
    """Pump, regulator, master valve and the block between master and stage valves."""

    set_pa: float = 0.52e5
    density_kg_m3: float = 720.0
    droop_pa_s_kg: float = 0.2e6
    """Fall of the regulated pressure per kg/s drawn."""
    regulator_lag_s: float = 0.012
    pump_decay_s: float = 0.12
    block_m3_pa: float = 5.0e-13
    """Compliance of the block: 0.05 mL per bar."""
    master_valve: ValveParameters = field(default_factory=lambda: fuel_valve(20.0e-6))


@dataclass(frozen=True)
class EngineParameters:
    """Engine, propeller and governor."""

    power_w: float = 205_000.0
    rated_rpm: float = 2600.0
    idle_rpm: float = 800.0
    displacement_m3: float = 8.379e-3
    inertia_kg_m2: float = 2.2
    pulses_per_turn: float = 3.0
    pitch_rate_per_rpm_s: float = 0.03
    """Share of the rated load per rpm of error and second: a quick governor; a slow one flares on a large step."""
    fine_pitch_share: float = 0.9
    """Propeller load at the fine stop over the load at which rated power holds rated speed."""
    friction_w: float = 38_000.0


@dataclass(frozen=True)
class ThrottleParameters:
    """Lever travel in per cent; above 100 the lever is pressed into the detent."""

    rate_per_s: float = 500.0
    no_makes: float = 102.0
    nc_breaks: float = 101.0
    detent_travel: float = 103.0
    bounce_chance: float = 0.5


@dataclass(frozen=True)
class SensorParameters:
    """A ratiometric transducer: 500 to 4500 mV over 0 to `full_scale`."""

    full_scale: float
    lag_s: float
    noise_mv: float
    step_mv: float = 1.2207
    zero: float = 0.0
    """What the sensor shows as nothing: the outside air for a gauge sensor of an absolute pressure."""


@dataclass(frozen=True)
class SensorSet:
    """Every analogue channel the controller reads."""

    throttle: SensorParameters = SensorParameters(100.0, 0.004, 2.0)
    supply: SensorParameters = SensorParameters(100.0e5, 0.004, 2.5)
    fuel: SensorParameters = SensorParameters(1.6e5, 0.004, 2.5)
    block: SensorParameters = SensorParameters(1.6e5, 0.004, 2.5)
    airspeed: SensorParameters = SensorParameters(4.0e3, 0.05, 2.5)
    """Pitot less static pressure, Pa."""
    extras: tuple[str, ...] = ()
    """Inputs beyond the core that are fitted, named as in the installation file."""
    volts_noise_v: float = 0.01
    pulse_jitter: float = 0.002
    proof_on_pa: float = 12.0e5
    proof_off_pa: float = 8.0e5


@dataclass(frozen=True)
class ElectricalParameters:
    """Bus, run switch and hardware interlocks."""

    set_v: float = 14.0
    source_ohm: float = 0.012
    battery_v: float = 12.3
    battery_ohm: float = 0.03
    wire_ohm: float = 0.01
    bus_lag_s: float = 0.01
    one_shot_s: float = 0.030
    oxidizer_hold_s: float = 0.100
    fuel_hold_s: float = 0.005
    rail_decay_s: float = 0.004
    comparator_v: float = 9.5
    coil_temperature_k: float = 293.15


@dataclass(frozen=True)
class HardwareParameters:
    """Which of the recommended parts are fitted; each left out removes a barrier."""

    proof_switches: bool = True
    master_fuel: bool = True
    fast_fuel_clamps: bool = True
    hardware_and: bool = True
    master_oxidizer: bool = False
    """A valve at the bottle, open while armed, fed through the master pole alone."""


@dataclass(frozen=True)
class PlantParameters:
    """Everything the simulator needs to know about one aircraft."""

    stages: tuple[StageParameters, ...]
    bottle: BottleParameters = BottleParameters()
    line: FeedLineParameters = FeedLineParameters()
    fuel: FuelSupplyParameters = FuelSupplyParameters()
    engine: EngineParameters = EngineParameters()
    throttle: ThrottleParameters = ThrottleParameters()
    sensors: SensorSet = SensorSet()
    electrical: ElectricalParameters = ElectricalParameters()
    hardware: HardwareParameters = HardwareParameters()
    ambient_k: float = 298.15
    ambient_pa: float = AMBIENT_PA
    air_pa: float = AMBIENT_PA
    air_k: float = 288.15
    """Outside air as the aircraft's own sensors meet it."""
    step_s: float = 0.001


NOMINAL_FLUX_KG_M2_S = 29_124.0
"""Choked equilibrium flux of saturated liquid at 20 C, coefficient 1; computed with CoolProp."""
OXIDIZER_KG_J = 0.672e-6
"""Oxidizer per joule of added shaft work: inside the computed band 0.51 to 0.69 g/s per kW."""
MIXTURE_RATIO = 7.0


def stage_parameters(
    power_w: float, oxidizer_tube_m3: float, fuel_branch_m3: float, supply: FuelSupplyParameters
) -> StageParameters:
    """A stage whose jets pass its rated flows at 20 C bottle temperature and set fuel pressure."""
    oxidizer = OXIDIZER_KG_J * power_w
    fuel = oxidizer / MIXTURE_RATIO
    valve_m2 = 3.17e-6
    fuel_valve_m2 = 2.2e-6
    jet_m2 = series_jet_m2(oxidizer / NOMINAL_FLUX_KG_M2_S, valve_m2)
    fuel_jet_m2 = series_jet_m2(fuel / (2.0 * supply.density_kg_m3 * supply.set_pa) ** 0.5, fuel_valve_m2)
    return StageParameters(
        power_w=power_w,
        rated_oxidizer_kg_s=oxidizer,
        rated_fuel_kg_s=fuel,
        oxidizer_valve=oxidizer_valve(valve_m2),
        fuel_valve=fuel_valve(fuel_valve_m2),
        oxidizer_branch=OxidizerBranchParameters(oxidizer_tube_m3, jet_m2),
        fuel_branch=FuelBranchParameters(fuel_branch_m3, fuel_jet_m2),
    )


def series_jet_m2(wanted_m2: float, valve_m2: float) -> float:
    """Jet area that with the valve in series passes what `wanted_m2` alone would.

    Errors: ValueError when the valve alone passes less than that.
    """
    if wanted_m2 >= valve_m2:
        raise ValueError(f"a valve of {valve_m2:g} m2 cannot pass the flow of a jet of {wanted_m2:g} m2")
    return float((wanted_m2**-2 - valve_m2**-2) ** -0.5)


def alpine_tug_parameters(stages: int = 3) -> PlantParameters:
    """The invented glider tug: 18, 30 and 55 kW; the first `stages` of them, 1 to 3."""
    if not 1 <= stages <= 3:
        raise ValueError(f"the Alpine tug has 1 to 3 stages, not {stages}")
    supply = FuelSupplyParameters()
    pairs = (
        stage_parameters(18_000.0, 5.3e-6, 2.4e-6, supply),
        stage_parameters(30_000.0, 9.4e-6, 2.4e-6, supply),
        stage_parameters(55_000.0, 14.7e-6, 3.4e-6, supply),
    )
    return PlantParameters(stages=pairs[:stages], fuel=supply)
