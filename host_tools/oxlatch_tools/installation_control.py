"""What the installation file says of sensors, limits, timing and tests."""

import datetime
from typing import Annotated, Literal

from pydantic import Field

from oxlatch_tools.installation_aircraft import Fraction, Name, Section
from oxlatch_tools.installation_quantities import Quantity
from oxlatch_tools.installation_system import Absolute

StageNumber = Annotated[int, Field(ge=1, le=4)]
Duration = Annotated[float, Quantity("time", "s", 0.005, 3600)]

Fitted = Literal[
    "contact second pole",
    "throttle position",
    "oxidizer proof",
    "master fuel valve",
    "coil currents",
    "coil rail",
    "fuel pressure",
    "lockout memory",
    "bottle temperature",
    "air data",
    "knock",
    "purge outlet 1",
    "purge outlet 2",
    "master oxidizer valve",
    "mixture rich",
    "ignition retard",
    "fire",
    "airspeed",
    "bottle budget",
    "vent-down",
]


class PressureSensor(Section):
    """A ratiometric sensor, 0.5 V at nothing and 4.5 V at full scale."""

    full_scale: Annotated[float, Quantity("pressure", "bar", 0.2, 400)]
    reference: Literal["absolute", "gauge"]


class AirspeedSensor(Section):
    """A ratiometric sensor of the difference between pitot and static pressure, 0.5 V at none and 4.5 V at full."""

    full_scale: Annotated[float, Quantity("pressure", "mbar", 5, 200)]


class Sensors(Section):
    """What is wired to the controller beyond what always must be."""

    fitted: list[Fitted]
    supply: PressureSensor = Field(description="oxidizer line at the valve block")
    fuel: PressureSensor = Field(description="fuel supply and fuel block, alike")
    throttle_closed: Annotated[float, Quantity("voltage", "V", 0.3, 4.7)]
    throttle_open: Annotated[float, Quantity("voltage", "V", 0.3, 4.7)]
    airspeed: AirspeedSensor | None = Field(None, description='needed where "airspeed" is fitted')


class Limits(Section):
    """Pressures (absolute) and fractions at which the controller acts."""

    supply_empty: Absolute = Field(description="flow stops at once")
    supply_cut: Absolute = Field(description="flow stops after a few hundredths of a second")
    supply_leave: Absolute = Field(description="ready is left")
    supply_warn: Absolute
    supply_permit: Absolute = Field(description="needed to become ready")
    supply_top: Absolute = Field(description="highest to become ready")
    supply_over: Absolute = Field(description="ready is left")
    line_dead: Absolute = Field(description="a purge is broken off")
    line_weak: Absolute = Field(description="needed to begin a purge")
    line_lost: Absolute = Field(description="a purge is void")
    line_thin: Absolute = Field(description="a purge must end above this")
    line_trapped: Absolute = Field(description="liquid trapped between shut valves")
    fuel_band: Fraction = Field(description="either way of the set pressure to become ready")
    fuel_cut: Fraction = Field(description="below the set pressure: flow stops")
    fuel_fail: Fraction = Field(description="below the set pressure: flow stops at once")
    fuel_high: Fraction = Field(description="above the set pressure: refused")
    fuel_over: Fraction = Field(description="above the set pressure: flow stops")
    block_drop: Fraction = Field(description="part of the set pressure: a stage fuel valve leaks")
    block_climb: Fraction = Field(description="part of the set pressure: the master fuel valve leaks")
    throttle_full: Fraction
    throttle_drop: Fraction
    throttle_low: Fraction
    throttle_half: Fraction
    bottle_warm: Annotated[float, Quantity("temperature", "degC", 20, 49)] = Field(
        315.15, description="bottle temperature above which nothing becomes ready"
    )
    bottle_red: Annotated[float, Quantity("temperature", "degC", 25, 52)] = Field(
        323.15, description="bottle temperature that trips"
    )
    bottle_mismatch: Annotated[float, Quantity("pressure", "bar", 2, 30)] = Field(
        8e5, description="soaked pressure off the saturation pressure by more than this: doubtful content"
    )
    outlet_cold: Annotated[float, Quantity("temperature", "degC", -80, -10)] = Field(
        233.15, description="purge outlet at or below this: no air is left in the line"
    )


class Timing(Section):
    """Times the builder sets from bench measurements."""

    lead: Annotated[float, Quantity("time", "ms", 5, 75)] | None = Field(
        None, description="oxidizer before fuel; computed when absent"
    )
    tail: Annotated[float, Quantity("time", "ms", 0, 40)] | None = Field(
        None, description="oxidizer after fuel; computed when absent"
    )
    stagger: Annotated[float, Quantity("time", "ms", 5, 1000)] = Field(description="from stage to stage")
    gap: Annotated[float, Quantity("time", "ms", 5, 10000)] = Field(description="from flow to flow")
    longest_run: Annotated[float, Quantity("time", "s", 1, 120)]
    warn_before: Annotated[float, Quantity("time", "s", 0, 60)] = Field(description="tone before the longest run ends")
    purge: Annotated[float, Quantity("time", "s", 0.1, 8)] = Field(description="shortest purge")
    purge_valid: Annotated[float, Quantity("time", "min", 0.1, 40)]
    purge_valid_after_run: Annotated[float, Quantity("time", "min", 0.1, 40)]
    armed: Annotated[float, Quantity("time", "min", 0.1, 30)]
    armed_warn: Annotated[float, Quantity("time", "min", 0.1, 30)]
    soaked: Annotated[float, Quantity("time", "min", 0.1, 10)] = Field(
        60.0, description="valves shut for so long before the bottle's pressure is compared with its temperature"
    )
    thinner_air: Annotated[float, Quantity("time", "s", 0.1, 60)] = Field(
        2.0, description="thinner air must last this long before a row of the altitude table is left for the next"
    )
    vent: Annotated[float, Quantity("time", "s", 8, 120)] = Field(60.0, description="longest vent-down of the line")
    bench: Annotated[float, Quantity("time", "min", 0.1, 20)] = Field(600.0, description="a bench mode ends after this")


class TestedPattern(Section):
    """One switch pattern that was run on this engine, on the ground, to the end of the test card."""

    __test__ = False

    stages: Annotated[list[StageNumber], Field(min_length=1, max_length=4)]
    date: datetime.date
    note: str = Field("", max_length=200)


class Shot(Section):
    """One weighed bench shot of one stage."""

    stage: StageNumber
    fluid: Literal["oxidizer", "fuel"]
    duration: Annotated[float, Quantity("time", "s", 5, 300)]
    mass: Annotated[float, Quantity("mass", "kg", 0.001, 50)]
    temperature: Annotated[float, Quantity("temperature", "degC", -40, 50)]
    pressure: Annotated[float, Quantity("pressure", "bar", 0.05, 150)] = Field(
        description="before the jets: absolute for oxidizer, across the jets for fuel"
    )


class CylinderSpread(Section):
    """Exhaust temperatures of one run with a plenum stage, one value a cylinder."""

    stage: StageNumber
    without_boost: list[Annotated[float, Quantity("temperature", "degC", 200, 1200)]]
    with_boost: list[Annotated[float, Quantity("temperature", "degC", 200, 1200)]]


class Tested(Section):
    """The builder's own figures. Without them every card is a draft and no pattern can be armed."""

    valve_times: datetime.date | None = Field(None, description="when opening and closing times were measured")
    purge_time: datetime.date | None = Field(None, description="when the purge was watched to run steady")
    limits_signed: Name | None = Field(None, description="who answers for the ceiling")
    patterns: list[TestedPattern] = Field(default_factory=list)
    shots: list[Shot] = Field(default_factory=list)
    spreads: list[CylinderSpread] = Field(default_factory=list)
