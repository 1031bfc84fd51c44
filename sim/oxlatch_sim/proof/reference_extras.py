"""Extras a second time: the inputs beyond the core, from the sense table.

Most of them are looked at once in several ticks, in a phase that is a free choice. So each is run in every phase it could
have; a phase whose answer differs from the one given is struck out, and a verdict that no phase is left for is a difference.
"""

from collections.abc import Callable, Mapping
from typing import Any

from oxlatch import vocabulary as w
from oxlatch.settings import Settings
from oxlatch_sim.proof.reference_code import compiled, function
from oxlatch_sim.proof.reference_sense import load_sense_table
from oxlatch_sim.proof.reference_table import CONSTANTS, Resolver, load_table

Truth = bool | None  # None: nothing can be said now

STANDARD_DENSITY = 2844  # tens of pascals over tenths of kelvins, to 1/10000 of the standard at sea level
COLDEST_SATURATION_DK, SATURATION_STEP_DK, SATURATION_STEPS = 2632, 50, 10

_RAW = {"discretes": w.RAW_EXTRAS, "bottle_dk": w.RAW_BOTTLE_DK, "airspeed_mv": w.RAW_AIRSPEED_MV}
_FACTS = ("content_doubtful", "air_out_of_range", "outlet_out_of_range")


class Bit:
    """Comes after `on` adverse looks in a row, goes after `off` others."""

    def __init__(self, on: int, off: int, at_first: bool = False) -> None:
        self.on, self.off = on, off
        self.holds = at_first
        self._was: Truth = None
        self._looks = 0

    def look(self, adverse: Truth) -> None:
        """One look; None leaves everything as it is."""
        if adverse is None:
            return
        self._looks = self._looks + 1 if adverse is self._was else 1
        self._was = adverse
        if self._looks >= (self.on if adverse else self.off):
            self.holds = adverse

    def agrees(self, given: int) -> bool:
        """Whether the given verdict is this one's."""
        return self.holds == bool(given)


class Row:
    """The altitude row: denser air counts at once, thinner air row by row after as many looks each."""

    def __init__(self, looks: int) -> None:
        self.row = 0
        self._needed = looks
        self._thinner = 0

    def look(self, target: int) -> None:
        """One look; `target` is the row the air is in."""
        self._thinner = self._thinner + 1 if target > self.row else 0
        if target < self.row:
            self.row = target
        elif self._thinner > self._needed:
            self.row, self._thinner = self.row + 1, 0

    def agrees(self, given: int) -> bool:
        """Whether the given row is this one's."""
        return given == self.row


class Knock:
    """The second event within the window; how long it is then told is a free choice below the window's length."""

    def __init__(self, window: int) -> None:
        self._window = window
        self._before = 0
        self._event_ago = self._second_ago = 1 << 20

    def look(self, now: int) -> None:
        """One tick of the input."""
        self._event_ago += 1
        self._second_ago += 1
        if now and not self._before:
            if self._event_ago <= self._window:
                self._second_ago = 0
            self._event_ago = 0
        self._before = now

    def agrees(self, given: int) -> bool:
        """Told at the second event, not told long after one."""
        return given != 0 if self._second_ago == 0 else given == 0 or self._second_ago < self._window


class Phases:
    """One machine for every tick of a turn at which it could be looking."""

    def __init__(self, make: Callable[[], Any], turn: int) -> None:
        self.turn = turn
        self.left = {phase: make() for phase in range(turn)}

    def step(self, now: int, reading: Any, given: int) -> bool:
        """One tick: whether some phase is left that answers as given."""
        machine = self.left.get(now % self.turn)
        if machine is not None:
            machine.look(reading)
        gone = [phase for phase, one in self.left.items() if not one.agrees(given)]
        for phase in gone:
            del self.left[phase]
        return bool(self.left)


class Outlets:
    """Both outlets, each in every phase."""

    def __init__(self, on: int, off: int, turn: int, fitted: int) -> None:
        self.turn = turn
        self.fitted = fitted
        self.machines = [[Bit(on, off) for _ in range(turn)] for _ in range(fitted)]
        self.left = {(first, second) for first in range(turn) for second in range(turn if fitted == 2 else 1)}

    def step(self, now: int, cold: list[bool], given: int) -> bool:
        """As of `Phases`."""
        for machines, reading in zip(self.machines, cold, strict=True):
            machines[now % self.turn].look(reading)
        held = [[bool(one.holds) for one in machines] for machines in self.machines]
        self.left = {pair for pair in self.left if self._level(held, pair) == given}
        return bool(self.left)

    def _level(self, held: list[list[bool]], pair: tuple[int, int]) -> int:
        cold = sum(bits[phase] for bits, phase in zip(held, pair, strict=False))
        if self.fitted and cold == self.fitted:
            return w.OUTLETS_COLD
        return w.OUTLETS_ONE if cold else w.OUTLETS_WARM


class ExtrasReference:
    """Runs the extras of the sense table. `differing` compares one tick of verdicts."""

    def __init__(self, settings: Settings, table: Mapping[str, Any] | None = None) -> None:
        self.table = table or load_sense_table()
        self.c: Any = settings
        self.now = 0
        self.flows = False
        self._resolver = Resolver(load_table(), settings)
        self._bits = [self._bit(row) for row in self.table["extra"] if self._fitted(row["fitted"])]
        rule = self.table["altitude"]
        looks = self._count(rule["looks"])
        self._row = Phases(lambda: Row(looks), rule["turn"])
        places = ((w.FIT_OUTLET_1, w.RAW_OUTLET_1_DK), (w.FIT_OUTLET_2, w.RAW_OUTLET_2_DK))
        self._outlet_samples = [index for bit, index in places if settings.fitted & bit]
        rule = self.table["outlets"]
        fitted = len(self._outlet_samples)
        self._outlets = Outlets(self._count(rule["on"]), self._count(rule["off"]), rule["turn"], fitted)
        self._knock = Phases(lambda: Knock(self.c.knock_window_ticks), 1)

    def _fitted(self, names: list[str]) -> bool:
        return any(self.c.fitted & CONSTANTS[name] for name in names)

    def _count(self, value: int | str) -> int:
        return int(getattr(self.c, value)) if isinstance(value, str) else value

    def _bit(self, row: Mapping[str, Any]) -> tuple[int, Callable[[Any, Any], Truth], Phases]:
        on, off = self._count(row["on"]) + row.get("more", 0), self._count(row["off"])
        phases = Phases(lambda: Bit(on, off, row.get("at_first", False)), row.get("turn", 1))
        places: dict[str, str | int] = {name: f"raw[{index}]" for name, index in _RAW.items()}
        places |= {name: f"x.{name}(raw)" for name in _FACTS}
        rule = self.table["temperature"]
        places |= {"TEMPERATURE_LEAST": rule["least_dk"], "TEMPERATURE_MOST": rule["most_dk"]}
        source = self._resolver.source(row["when"], places)
        return CONSTANTS[row["bit"]], compiled(function("test", "raw, x", [f"return {source}"]), "test"), phases

    # --- what a test may speak of

    def is_temperature(self, tenths: int) -> bool:
        """Whether a sensor may say so."""
        rule = self.table["temperature"]
        return bool(rule["least_dk"] <= tenths <= rule["most_dk"])

    def air_out_of_range(self, raw: Any) -> bool:
        """Pressure or temperature of the air that no place has."""
        rule = self.table["altitude"]
        pressure = rule["least_dapa"] <= raw[w.RAW_BARO_DAPA] <= rule["most_dapa"]
        return not (self.is_temperature(raw[w.RAW_AIR_DK]) and pressure)

    def outlet_out_of_range(self, raw: Any) -> bool:
        """A fitted outlet sensor that gives no temperature."""
        return any(not self.is_temperature(raw[index]) for index in self._outlet_samples)

    def content_doubtful(self, raw: Any) -> Truth:
        """Whether the pressure is too far from saturation both at the step below the temperature and at the step above."""
        above, pressure = raw[w.RAW_BOTTLE_DK] - COLDEST_SATURATION_DK, raw[w.RAW_SUPPLY_MV]
        step = above // SATURATION_STEP_DK
        if self.flows or not self.c.supply_permit_mv <= pressure <= self.c.sensor_high_mv:
            return None
        if not 0 <= step < SATURATION_STEPS - 1:
            return None
        low, high = getattr(self.c, f"sat_{step}_mv"), getattr(self.c, f"sat_{step + 1}_mv")
        return bool(pressure > high + self.c.match_mv or pressure < low - self.c.match_mv)

    def air_row(self, raw: Any) -> int:
        """The row of the altitude table the air is in: the number of densities it lies below."""
        if not self.c.fitted & w.FIT_AIR or self.air_out_of_range(raw):
            return 0
        density = raw[w.RAW_BARO_DAPA] * STANDARD_DENSITY // raw[w.RAW_AIR_DK]
        return sum(density < getattr(self.c, f"density_{number}") for number in range(1, w.ROWS))

    # --- one tick

    def differing(self, raw: Any, v: Any, oxidizer_flows: bool) -> dict[str, tuple[Any, Any]]:
        """Verdicts of the tick that are not what the table says in any phase left: name to (given, what was read).

        `oxidizer_flows` says whether an oxidizer or purge valve was driven one tick ago.
        """
        self.now += 1
        self.flows = oxidizer_flows
        found: dict[str, tuple[Any, Any]] = {}
        rest = v.extras
        for bit, test, phases in self._bits:
            rest &= ~bit
            reading = test(raw, self)
            if not phases.step(self.now, reading, v.extras & bit):
                found[f"extra {bit}"] = (v.extras & bit, reading)
        if self.c.fitted & w.FIT_KNOCK:
            rest &= ~w.EXTRA_KNOCK
            if not self._knock.step(self.now, raw[w.RAW_EXTRAS] & w.EX_KNOCK, v.extras & w.EXTRA_KNOCK):
                found["knock"] = (v.extras & w.EXTRA_KNOCK, raw[w.RAW_EXTRAS] & w.EX_KNOCK)
        if rest:
            found["extras not fitted"] = (rest, 0)
        row = self.air_row(raw)
        if not self._row.step(self.now, row, v.row):
            found["row"] = (v.row, row)
        cold = [
            self.is_temperature(raw[index]) and raw[index] <= self.c.outlet_cold_dk for index in self._outlet_samples
        ]
        if not self._outlets.step(self.now, cold, v.outlets):
            found["outlets"] = (v.outlets, cold)
        return found
