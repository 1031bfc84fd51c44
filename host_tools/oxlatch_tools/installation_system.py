"""What the installation file says of bottle, lines, valves, jets, fuel supply and wiring."""

from typing import Annotated, Literal

from pydantic import Field

from oxlatch_tools.installation_aircraft import Arm, Fraction, Name, Power, Section
from oxlatch_tools.installation_quantities import Quantity

Bore = Annotated[float, Quantity("length", "mm", 0.3, 30)]
JetBore = Annotated[float, Quantity("length", "mm", 0.2, 5)]
Length = Annotated[float, Quantity("length", "m", 0.01, 20)]
Temperature = Annotated[float, Quantity("temperature", "degC", -40, 60)]
Absolute = Annotated[float, Quantity("pressure", "bar", 1, 350)]
Coefficient = Annotated[float, Field(ge=0.2, le=1)]
Delay = Annotated[float, Quantity("time", "ms", 1, 200)]
Gauge = Annotated[int, Field(ge=4, le=24, multiple_of=2)]


class Oxidizer(Section):
    """How much nitrous a stage takes and how rich it is run."""

    per_power: Annotated[float, Quantity("consumption", "g/s/kW", 0.45, 0.8)] = Field(
        description="nitrous per added shaft power"
    )
    mixture: Annotated[float, Field(ge=4, le=10)] = Field(description="nitrous to fuel by mass")
    mixture_rich: Annotated[float, Field(ge=3, le=10)] = Field(description="richest mixture that is accepted")
    mixture_lean: Annotated[float, Field(ge=4, le=12)] = Field(description="leanest mixture that is accepted")


class Bottle(Section):
    """The bottle or bottles, all alike. Pressures are absolute."""

    count: Annotated[int, Field(ge=1, le=4)] = 1
    use: Literal["together", "in turn"] = "together"
    volume: Annotated[float, Quantity("volume", "L", 0.5, 60)] = Field(description="water volume of one bottle")
    charge: Annotated[float, Quantity("mass", "kg", 0.2, 45)] = Field(
        description="nitrous in one full bottle, by weight"
    )
    tare: Annotated[float, Quantity("mass", "kg", 0.3, 100)] = Field(description="one empty bottle with its valve")
    arm: Arm
    siphon: bool = Field(description="true when liquid is drawn in the attitude of use")
    tube_share: Fraction = Field(description="liquid share of the volume below which the tube is uncovered")
    wall_heat: Annotated[float, Quantity("heat_capacity", "J/K", 0, 60000)] = Field(
        description="heat capacity of one wall"
    )
    wall_conductance: Annotated[float, Quantity("conductance", "W/K", 0, 2000)] = Field(
        description="from one wall to its contents"
    )
    start_temperature: Temperature = Field(description="of the contents when the plan's seconds begin")
    lowest_temperature: Temperature
    highest_temperature: Temperature
    service_pressure: Absolute = Field(description="stamped on the bottle")
    relief_pressure: Absolute
    fill_limit: Annotated[float, Quantity("density", "kg/L", 0.4, 0.75)] = Field(
        description="highest charge per water volume that the rules allow for this bottle"
    )


class Feed(Section):
    """From the bottle to the valve block, and the purge at its far end."""

    bore: Bore
    length: Length
    fittings_loss: Annotated[float, Field(ge=0, le=100)] = Field(
        description="sum of loss coefficients of bottle valve, bends and fittings"
    )
    purge_jet: JetBore
    purge_discharge: Coefficient = 0.65
    purges_per_use: Annotated[int, Field(ge=1, le=5)] = 1


class Valve(Section):
    """One kind of solenoid valve with its coil and clamp."""

    bore: Bore
    discharge: Coefficient
    opening: Delay = Field(description="from coil on to open, at the bus in flight and highest_pressure")
    closing: Delay = Field(description="from coil off to shut, with its clamp")
    resistance: Annotated[float, Quantity("resistance", "ohm", 0.3, 200)] = Field(description="coil at 20 degC")
    inductance: Annotated[float, Quantity("inductance", "mH", 0.1, 500)]
    pull_in: Annotated[float, Quantity("voltage", "V", 2, 30)] = Field(
        description="opens above this against highest_pressure, cold coil"
    )
    pull_in_free: Annotated[float, Quantity("voltage", "V", 1, 30)] = Field(
        description="opens above this with no pressure across it, cold coil"
    )
    drop_out: Annotated[float, Quantity("voltage", "V", 0.3, 25)] = Field(description="shuts below this, cold coil")
    clamp: Annotated[float, Quantity("voltage", "V", 0.3, 100)] = Field(
        description="voltage of the clamp at switch-off"
    )
    highest_pressure: Annotated[float, Quantity("pressure", "bar", 0.2, 350)] = Field(
        description="highest pressure difference against which it opens"
    )
    wire_gauge: Gauge
    wire_length: Length = Field(description="out and back, from the run switch to the coil")
    duty_on: Annotated[float, Quantity("time", "s", 5, 3600)] | None = Field(
        None, description="longest time a cold coil may be energised; no limit is counted when absent"
    )
    duty_off: Annotated[float, Quantity("time", "s", 5, 3600)] | None = Field(
        None, description="time in which it is cold again after that"
    )


class Stage(Section):
    """One stage: what it adds and how it is sprayed. Stages are listed in ascending power."""

    name: Name
    power: Power = Field(description="shaft power added")
    delivery: Literal["port", "plenum"]
    nozzles: Annotated[int, Field(ge=1, le=18)]
    oxidizer_jet: JetBore | None = Field(None, description="as drilled; computed when absent")
    fuel_jet: JetBore | None = Field(None, description="as drilled; computed when absent")
    oxidizer_branch_bore: Bore = Field(description="one line from stage valve to nozzle")
    oxidizer_branch_length: Length
    fuel_branch_bore: Bore
    fuel_branch_length: Length
    fuel_branch_empty: Fraction = Field(description="part of the fuel branch found empty at a start")
    branch_length_spread: Fraction = Field(description="largest difference in branch length, as part of the length")


class Jets(Section):
    """Coefficients and tolerances of the jets, until weighed shots replace them."""

    tune_temperature: Temperature = Field(description="of the bottle at which the jets give the target mixture")
    oxidizer_discharge: Coefficient = Field(0.65, description="on choked equilibrium flow")
    oxidizer_discharge_low: Coefficient = 0.58
    oxidizer_discharge_high: Coefficient = 1.0
    fuel_discharge: Coefficient = 0.75
    fuel_discharge_spread: Fraction = Field(description="either way")
    diameter_tolerance: Annotated[float, Quantity("length", "mm", 0, 0.2)] = Field(description="either way")
    at_hand: list[JetBore] = Field(default_factory=list, description="jets at hand, typed in by the builder")


class PumpPoint(Section):
    """One point of the pump curve at the lowest bus voltage."""

    flow: Annotated[float, Quantity("volume_flow", "L/h", 0, 2000)]
    pressure: Annotated[float, Quantity("pressure", "bar", 0, 20)]


class Fuel(Section):
    """Fuel and its supply. Pressures are above that of the outside air, jets see them above the manifold's."""

    density: Annotated[float, Quantity("density", "kg/m3", 600, 900)]
    vapour_pressure: Annotated[float, Quantity("pressure", "bar", 0.05, 1.5)] = Field(
        description="absolute, of the hottest fuel that is used"
    )
    set_pressure: Annotated[float, Quantity("pressure", "bar", 0.1, 10)]
    manifold_referenced: bool
    shared_with_engine: bool = Field(description="true when one pump feeds engine and stages")
    pump: Annotated[list[PumpPoint], Field(min_length=2, max_length=12)]
    line_bore: Bore
    line_length: Length
    fittings_loss: Annotated[float, Field(ge=0, le=100)] = Field(
        description="sum of loss coefficients of bends and fittings"
    )
    filter_loss: Annotated[float, Quantity("pressure", "bar", 0, 2)] = Field(description="clean, at filter_flow")
    filter_flow: Annotated[float, Quantity("volume_flow", "L/h", 1, 2000)]
    head: Annotated[float, Quantity("length", "m", -3, 3)] = Field(
        description="height of the unusable level above the valve block, nose-up; less than 0 when below"
    )


class Electrical(Section):
    """Bus, alternator and the gates on bus voltage."""

    nominal: Annotated[float, Quantity("voltage", "V", 10, 32)]
    in_flight: Annotated[float, Quantity("voltage", "V", 10, 32)] = Field(description="bus with the alternator on")
    lowest: Annotated[float, Quantity("voltage", "V", 5, 30)] = Field(description="below this flow stops")
    hard: Annotated[float, Quantity("voltage", "V", 5, 30)] = Field(description="below this the run switch drops")
    permit: Annotated[float, Quantity("voltage", "V", 5, 30)] = Field(description="needed to become ready")
    surge: Annotated[float, Quantity("voltage", "V", 5, 36)]
    alternator: Annotated[float, Quantity("current", "A", 5, 400)] = Field(description="at boost engine speed")
    base_load: Annotated[float, Quantity("current", "A", 0, 300)]
    contact_loss: Annotated[float, Quantity("voltage", "V", 0, 2)] = Field(description="over run switch and drivers")
    coil_hot: Annotated[float, Quantity("temperature", "degC", 20, 180)]
    wire_rating: Literal[105, 150, 200] = Field(description="insulation of the wires, degrees Celsius")
    feed_gauge: Gauge
    feed_length: Length = Field(description="bus to run switch, out and back")
    feed_breaker: Annotated[float, Quantity("current", "A", 1, 200)]
    wire_ambient: Temperature
