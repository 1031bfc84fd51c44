"""Every value that the drawings and tables show, computed from an installation, its settings and the board file."""

import ast
import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from notes.preferred import Divider, divider, e96, sense_milliohm
from oxlatch.boards import rp2_pins
from oxlatch.settings import FIELDS, Settings
from oxlatch.vocabulary import TICK_MS
from oxlatch_sim.plant.parameters import PlantParameters, ValveParameters
from oxlatch_tools.installation import Installation, example, load_installation
from oxlatch_tools.installation_plant import plant_parameters, valve_parameters
from oxlatch_tools.installation_settings import settings_of
from oxlatch_tools.installation_system import Valve
from oxlatch_tools.planning.electrical import COLD_K, coil_current, loads, release_s
from oxlatch_tools.presentation import number_text, quantity_text, unit_of

SENSE_V = 0.050
"""Across a sense resistor at the cold coil's current: little beside the bus, much beside an amplifier's offset. Judgement."""
SENSE_GAIN = 20.0
REFERENCE_V = rp2_pins.REFERENCE_MV / 1000.0
CONVERTER_V = 3.3
LOGIC_V = 3.3
RATING_SHARE = 1.5
"""Parts are rated this much above what they see. Judgement."""
ONE_SHOT_LOW_MS = 25
ONE_SHOT_HIGH_MS = 35
TIMING_FARAD = 1.0e-6
RAIL_FARAD = 10.0e-6
"""Capacitance of the longest coil rail with its suppression capacitors. Judgement."""
WETTING_A = 0.005
"""Current that keeps a contact clean. Judgement; ask the switch's maker."""
DUMMY_OVER_HOLD = 1.5


@dataclass(frozen=True)
class Coil:
    """One kind of coil with its driver."""

    key: str
    name: str
    letter: str
    count: int
    valve: Valve
    parameters: ValveParameters
    cold_a: float
    cold_release_s: float
    hot_release_s: float
    sense_ohm: float
    surge_v: float

    @property
    def hold_v(self) -> float:
        """Comparator level of "current above hold", behind the amplifier."""
        return self.parameters.hold_sense_a * self.sense_ohm * SENSE_GAIN

    @property
    def trip_v(self) -> float:
        """Comparator level of "current above trip", behind the amplifier."""
        return self.parameters.trip_sense_a * self.sense_ohm * SENSE_GAIN

    @property
    def hold_divider(self) -> Divider:
        """From the reference to the hold comparator."""
        return divider(self.hold_v / REFERENCE_V, 20e3)

    @property
    def trip_divider(self) -> Divider:
        """From the reference to the trip comparator."""
        return divider(self.trip_v / REFERENCE_V, 20e3)

    @property
    def drain_v(self) -> float:
        """Highest voltage at the driver: bus surge and clamp."""
        return self.surge_v + self.valve.clamp

    @property
    def clamp_j(self) -> float:
        """Energy of one switch-off, cold coil."""
        return 0.5 * self.valve.inductance * self.cold_a**2

    @property
    def dummy_ohm(self) -> float:
        """Resistor that stands in for the coil on the bench: enough current to count, far less heat."""
        return e96(self.cold_a * self.valve.resistance / (DUMMY_OVER_HOLD * self.parameters.hold_sense_a))


class Facts:
    """One installation with everything derived from it."""

    def __init__(self, name: str = "alpine_tug") -> None:
        self.installation: Installation = load_installation(example(name))
        self.settings = settings_of(self.installation)
        self.plant: PlantParameters = plant_parameters(self.installation)
        self.stages = len(self.installation.stages)

    @property
    def origin(self) -> str:
        """Where the values of a drawing come from."""
        craft = self.installation.aircraft
        kind = " (invented example)" if craft.example else ""
        return (
            f"{craft.name}{kind}, installation {self.installation.digest}. Values computed from it; "
            "a draft, to be verified on your own parts."
        )

    def setting(self, name: str) -> int:
        """One field of the settings record."""
        return int(getattr(self.settings, name))

    def ticks_ms(self, name: str) -> int:
        """A field of ticks in milliseconds."""
        return TICK_MS * self.setting(name)

    def text(self, value: float | None, kind: str) -> str:
        """A value in the units of the installation's own print-outs."""
        return quantity_text(value, kind, self.installation.aircraft.units)

    def short(self, value: float, kind: str) -> str:
        """As `text`, without noughts that say nothing."""
        number, unit = (
            number_text(value, kind, self.installation.aircraft.units),
            unit_of(kind, self.installation.aircraft.units),
        )
        if "." in number:
            number = number.rstrip("0").rstrip(".")
        return f"{number} {unit}"

    def coil(self, key: str) -> Coil:
        """The coil of that key: oxidizer, fuel, purge, master_fuel."""
        return next(coil for coil in self.coils() if coil.key == key)

    def coils(self) -> list[Coil]:
        """Every kind of coil."""
        rows: list[tuple[str, str, str, int, Valve | None]] = [
            ("oxidizer", "O stage valve", "O", self.stages, self.installation.oxidizer_valve),
            ("fuel", "F stage valve", "F", self.stages, self.installation.fuel_valve),
            ("purge", "Purge valve", "O", 1, self.installation.purge_valve),
            ("master_fuel", "F master valve", "F", 1, self.installation.master_fuel_valve),
        ]
        return [self._coil(key, name, letter, count, valve) for key, name, letter, count, valve in rows if valve]

    def _coil(self, key: str, name: str, letter: str, count: int, valve: Valve) -> Coil:
        electrical = self.installation.electrical
        cold = coil_current(self.installation, valve)
        return Coil(
            key,
            name,
            letter,
            count,
            valve,
            valve_parameters(valve, electrical.in_flight),
            cold,
            release_s(self.installation, valve, COLD_K),
            release_s(self.installation, valve, electrical.coil_hot),
            sense_milliohm(1e3 * SENSE_V / cold) / 1e3,
            electrical.surge,
        )

    # --- rails -----------------------------------------------------------------------------------
    @property
    def every_coil_a(self) -> float:
        """All stages at once, cold coils."""
        return loads(self.installation, tuple(range(1, self.stages + 1))).total

    @property
    def fuel_rail_a(self) -> float:
        """Every F coil at once, cold."""
        return loads(self.installation, tuple(range(1, self.stages + 1))).fuel

    @property
    def oxidizer_rail_a(self) -> float:
        """Every O coil at once, cold."""
        return loads(self.installation, tuple(range(1, self.stages + 1))).oxidizer

    @property
    def one_shot_ms(self) -> float:
        """Width of the one-shot."""
        return 1e3 * self.plant.electrical.one_shot_s

    @property
    def off_delay_ms(self) -> float:
        """Off-delay of the oxidizer rail."""
        return 1e3 * self.plant.electrical.oxidizer_hold_s

    @property
    def fuel_rail_ms(self) -> float:
        """Time for which the fuel rail outlives the contact."""
        return 1e3 * self.plant.electrical.fuel_hold_s

    @property
    def bus_divider(self) -> Divider:
        """From the bus to the supervisor's reference."""
        return divider(REFERENCE_V / self.installation.electrical.hard, 50e3)

    @property
    def bleeder_ohm(self) -> float:
        """Bleeder of the rail: dead, by the settings, before a welded run switch would be found; E96, next below."""
        spare_s = (self.ticks_ms("rail_weld_ticks") - ONE_SHOT_HIGH_MS) / 1e3
        ratio = self.installation.electrical.surge / (self.setting("rail_dead_mv") / 1e3)
        return e96(0.9 * spare_s / math.log(ratio) / RAIL_FARAD)

    # --- sensors ---------------------------------------------------------------------------------
    @property
    def sensor_divider(self) -> Divider:
        """From a 5 V sensor to the converter."""
        return divider(CONVERTER_V / (rp2_pins.SENSOR_FULL_MV / 1e3), 15e3)

    @property
    def volts_divider(self) -> Divider:
        """From bus and rail to the converter."""
        return divider(CONVERTER_V / (rp2_pins.VOLTS_FULL_MV / 1e3), 100e3)

    @property
    def wetting_ohm(self) -> float:
        """Pull-down that draws the wetting current of a contact at the bus gate."""
        return e96(self.installation.electrical.permit / WETTING_A)

    def supply_bar(self, millivolts: float) -> float:
        """Line pressure, absolute, at a signal."""
        sensor = self.installation.sensors.supply
        offset = 0.0 if sensor.reference == "absolute" else 101_325.0
        return ((millivolts - 500.0) / 4000.0 * sensor.full_scale + offset) / 1e5

    def fuel_bar(self, millivolts: float) -> float:
        """Fuel pressure above the outside air at a signal."""
        sensor = self.installation.sensors.fuel
        offset = 0.0 if sensor.reference == "gauge" else -101_325.0
        return ((millivolts - 500.0) / 4000.0 * sensor.full_scale + offset) / 1e5

    def throttle_share(self, millivolts: float) -> float:
        """Throttle travel at a signal, 0 to 1."""
        sensors = self.installation.sensors
        return (millivolts / 1e3 - sensors.throttle_closed) / (sensors.throttle_open - sensors.throttle_closed)

    @property
    def pulses_per_turn(self) -> float:
        """Ignition pulses of a four-stroke per turn of the crankshaft: half its cylinders."""
        return self.installation.engine.cylinders / 2

    def pulse_hz(self, rpm: float) -> float:
        """Frequency of the ignition pulses."""
        return rpm * self.pulses_per_turn / 60.0


@lru_cache(maxsize=1)
def tug() -> Facts:
    """The Alpine tug."""
    return Facts("alpine_tug")


def defaults() -> Settings:
    """The settings record as it comes."""
    return Settings()


def board_constant(name: str) -> int:
    """A whole-number constant of the board file, which only a board can import. Errors: KeyError."""
    for node in ast.parse(Path(rp2_pins.__file__).with_name("rp2.py").read_text()).body:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and node.targets[0].id == name:
            return int(ast.literal_eval(node.value))
    raise KeyError(name)


UNITS = {field[0]: field[1] for field in FIELDS}
