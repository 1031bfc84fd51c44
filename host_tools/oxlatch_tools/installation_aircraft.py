"""What the installation file says of the aircraft, its engine and where it is used."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from oxlatch_tools.installation_quantities import Quantity

Name = Annotated[str, Field(min_length=1, max_length=40)]
Power = Annotated[float, Quantity("power", "kW", 0.5, 1000)]
Rotation = Annotated[float, Quantity("rotation", "rpm", 300, 10000)]
Mass = Annotated[float, Quantity("mass", "kg", 0, 5000)]
Arm = Annotated[float, Quantity("length", "m", -20, 20)]
Fraction = Annotated[float, Quantity("fraction", "%", 0, 100)]


class Section(BaseModel):
    """Base of every table of the file: no unknown keys, no silent conversions, nothing changed after reading."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class Aircraft(Section):
    """The aircraft as a whole."""

    name: Name
    example: bool = Field(False, description="true only for an invented aircraft; every page and card then says so")
    units: Literal["metric", "us"] = Field("metric", description="units of pages and cards; no part of the digest")
    empty_mass: Mass
    empty_arm: Arm = Field(description="centre of gravity of the empty aircraft, aft of the datum")
    forward_limit: Arm | None = Field(None, description="foremost allowed centre of gravity")
    aft_limit: Arm | None = Field(None, description="rearmost allowed centre of gravity")
    boost_airspeed_limit: Annotated[float, Quantity("speed", "kt", 20, 400)] = Field(
        description="indicated airspeed above which boost is not to be used"
    )


class Engine(Section):
    """The base engine, running full rich without boost."""

    cylinders: Annotated[int, Field(ge=1, le=18)]
    bore: Annotated[float, Quantity("length", "mm", 40, 250)]
    stroke: Annotated[float, Quantity("length", "mm", 30, 250)]
    compression_ratio: Annotated[float, Field(ge=5, le=16)]
    rated_power: Power
    rated_speed: Rotation
    volumetric_efficiency: Fraction
    manifold_loss: Fraction = Field(description="loss of pressure from outside air to manifold, full throttle")
    consumption: Annotated[float, Quantity("consumption", "g/kWh", 150, 600)] = Field(
        description="fuel per shaft work, full rich at full throttle"
    )
    air_fuel_ratio: Annotated[float, Field(ge=9, le=16)] = Field(description="by mass, full rich")
    octane: Annotated[float, Field(ge=80, le=130)] = Field(description="octane number of the leanest batch in use")
    spark_advance: Annotated[float, Quantity("angle", "deg", 5, 50)]
    ignition: Literal["fixed", "retarding"] = Field(description="whether the ignition can be retarded with boost")
    boost_speed_cut: Rotation = Field(description="below this speed flow stops")
    boost_speed_low: Rotation = Field(description="lowest speed at which a push is accepted")
    boost_speed_high: Rotation = Field(description="highest speed; above it flow stops")


class Ceiling(Section):
    """The builder's own power limit and what it rests on."""

    power: Power = Field(description="highest shaft power to be used, chosen and answered for by the builder")
    chosen_fraction: Fraction = Field(description="part of the trade's rule of thumb that the builder allows")
    evidence: str = Field(min_length=1, max_length=400, description="what the ceiling rests on")
    propeller_power: Power | None = Field(None, description="limit of the propeller")
    mount_torque: Annotated[float, Quantity("torque", "N*m", 10, 20000)] | None = None
    crank_torque: Annotated[float, Quantity("torque", "N*m", 10, 20000)] | None = None
    peak_pressure: Annotated[float, Quantity("pressure", "bar", 20, 300)] | None = None
    enrichment_cap: Fraction = Field(description="highest oxygen added by boost, as part of the oxygen in the air")


class Propeller(Section):
    """What the take-off page needs of the propeller."""

    kind: Literal["constant-speed", "fixed-pitch"]
    diameter: Annotated[float, Quantity("length", "m", 0.5, 5)]
    efficiency: Fraction = Field(description="best efficiency; the static end comes from the disc")


class TakeOff(Section):
    """Data of the aircraft for the take-off page, from its own handbook or tests."""

    mass: Mass = Field(description="take-off mass without tow")
    tow_mass: Mass = Field(description="mass of what is towed; 0 kg for none")
    tow_drag_ratio: Annotated[float, Field(ge=5, le=80)] = Field(30.0, description="lift to drag of what is towed")
    wing_area: Annotated[float, Quantity("area", "m2", 2, 100)]
    lift_ground: Annotated[float, Field(ge=0, le=3)] = Field(description="lift coefficient while rolling")
    lift_climb: Annotated[float, Field(ge=0.2, le=3)] = Field(
        description="lift coefficient at lift-off and in the climb"
    )
    drag_ground: Annotated[float, Field(ge=0.01, le=0.5)] = Field(description="drag coefficient while rolling")
    drag_climb: Annotated[float, Field(ge=0.02, le=0.6)] = Field(description="drag coefficient in the climb")
    handbook_roll: Annotated[float, Quantity("length", "m", 30, 3000)] | None = Field(
        None,
        description="ground roll of the handbook: no tow, no wind, level, hard surface, standard day at sea level",
    )


class Airfield(Section):
    """One strip: where it lies and what it is like."""

    name: Name
    elevation: Annotated[float, Quantity("length", "m", -400, 5000)]
    length: Annotated[float, Quantity("length", "m", 100, 6000)]
    slope: Annotated[float, Quantity("fraction", "%", -20, 20)] = Field(description="uphill is positive")
    surface: Literal["hard", "short grass", "long grass", "soft ground", "wet grass", "snow"]
    temperature: Annotated[float, Quantity("temperature", "degC", -40, 50)] = Field(
        description="outside air on the day the plan is made for"
    )
    dew_point: Annotated[float, Quantity("temperature", "degC", -60, 35)]
    pressure: Annotated[float, Quantity("pressure", "hPa", 900, 1080)] = Field(description="altimeter setting")
    headwind: Annotated[float, Quantity("speed", "kt", -20, 40)]
    obstacle: Annotated[float, Quantity("length", "m", 0, 100)] = Field(description="height to clear")


class Mission(Section):
    """How often and how long boost is wanted."""

    uses_per_year: Annotated[int, Field(ge=1, le=5000)]
    seconds_per_use: Annotated[float, Quantity("time", "s", 2, 120)]


class Alternative(Section):
    """Another way to the same end, weighed on the first page."""

    name: Name
    kind: Literal["less load", "other propeller", "forced induction", "other"]
    mass: Annotated[float, Quantity("mass", "kg", -500, 500)] = Field(
        description="mass added; less than 0 for load left"
    )
    power: Annotated[float, Quantity("power", "kW", -100, 500)] = Field(
        description="shaft power gained at the home strip"
    )
    failure: str = Field(min_length=1, max_length=200, description="what happens when it fails")


class MassItem(Section):
    """One part of the system for mass and balance."""

    name: Name
    mass: Annotated[float, Quantity("mass", "kg", 0, 100)]
    arm: Arm
