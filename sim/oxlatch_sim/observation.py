"""One controller tick as plain data: what a recording line, a monitor and a picture all read.

Levels, states and reasons keep the numbers and words of the firmware; engineering values need the
sensors' scales and are left out where a sensor has none.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from oxlatch import vocabulary
from oxlatch_sim.reason_words import REASONS

Tick = dict[str, Any]


def _named(prefix: str) -> dict[str, int]:
    return {
        name.removeprefix(prefix): value
        for name, value in vars(vocabulary).items()
        if name.startswith(prefix) and isinstance(value, int)
    }


def _levels(prefix: str) -> list[str]:
    """Names of the levels of one channel, lowest first; a reaction class such as FUEL_FIRST is no level."""
    classes = {name.replace("-", "_") for name in vocabulary.CLASS_NAMES}
    levels = {name: value for name, value in _named(prefix).items() if prefix + name not in classes}
    return sorted(levels, key=levels.__getitem__)


RAW_NAMES = [name.lower() for name in _levels("RAW_") if name != "COUNT"]
FITTED_BITS = {name: bit for name, bit in _named("FIT_").items() if name != "ALWAYS"}
LEVELS = {
    channel: _levels(channel.upper() + "_")
    for channel in (
        "contact",
        "throttle",
        "rpm",
        "supply",
        "line",
        "fuel",
        "block",
        "bus",
        "rail",
        "shut",
        "time",
    )
}
LAMP_WORDS = ("off", "on", "blink")


@dataclass(frozen=True)
class Scale:
    """A linear sensor: `full` at `full_mv`, zero at `zero_mv`; in the unit its channel's name ends with."""

    zero_mv: float
    full_mv: float
    full: float

    def value(self, millivolts: int) -> float:
        """The reading, rounded to about a thousandth of full scale."""
        digits = 1 if self.full >= 50.0 else 2 if self.full >= 5.0 else 3
        return round((millivolts - self.zero_mv) / (self.full_mv - self.zero_mv) * self.full, digits)

    def millivolts(self, value: float) -> int:
        """The raw sample that reads as `value`."""
        return round(self.zero_mv + value / self.full * (self.full_mv - self.zero_mv))


Scales = Mapping[str, Scale]

ANALOGUE = {
    "throttle_pct": vocabulary.RAW_THROTTLE_MV,
    "supply_bar": vocabulary.RAW_SUPPLY_MV,
    "fuel_bar": vocabulary.RAW_FUEL_MV,
    "block_bar": vocabulary.RAW_BLOCK_MV,
}
"""Channels that need a scale, and the raw sample each comes from."""

KELVIN_CHANNELS = {
    "bottle_c": vocabulary.RAW_BOTTLE_DK,
    "air_c": vocabulary.RAW_AIR_DK,
    "outlet_1_c": vocabulary.RAW_OUTLET_1_DK,
    "outlet_2_c": vocabulary.RAW_OUTLET_2_DK,
}
"""Temperature channels, in degrees Celsius, and the raw sample each comes from."""


def fitted_names(fitted: int) -> list[str]:
    """Names of the inputs in a `fitted` word."""
    return [name for name, bit in FITTED_BITS.items() if fitted & bit]


@cache
def reason_words(why0: int, why1: int, why2: int, why3: int) -> tuple[str, ...]:
    """Words of all standing reasons, in the order of the table."""
    standing = (why0, why1, why2, why3)
    return tuple(row[2] for row in REASONS if standing[row[0]] & row[1])


@cache
def lamps(word: int) -> dict[str, str]:
    """The packed lamp word as a name and off, on or blink per lamp."""
    end = "_SHIFT"
    shifts = {name: at for name, at in _named("LAMP_").items() if name.endswith(end)}
    shown = {name.removesuffix(end).lower(): LAMP_WORDS[(word >> at) & 3] for name, at in shifts.items()}
    shown["tone"] = LAMP_WORDS[1 if word & vocabulary.LAMP_TONE else 0]
    return shown


@cache
def _bits(ox: int, fuel: int, bits: int) -> dict[str, int]:
    return {
        "ox": ox,
        "fuel": fuel,
        "master_fuel": int(bits & vocabulary.OUT_MASTER_FUEL != 0),
        "purge": int(bits & vocabulary.OUT_PURGE != 0),
        "run": int(bits & vocabulary.OUT_RUN != 0),
        "master_ox": int(bits & vocabulary.OUT_MASTER_OX != 0),
    }


@cache
def driven(ox: int, fuel: int, bits: int, lamp_word: int, text: int) -> dict[str, Any]:
    """The outputs of one tick, after the gate."""
    shown = REASONS[text][2] if text >= 0 else None
    return {**_bits(ox, fuel, bits), "lamps": lamps(lamp_word), "text": shown}


def readings(verdicts: Any, raw: list[int], scales: Scales) -> dict[str, Any]:
    """Debounced inputs and engineering values behind the verdicts of one tick."""
    shown: dict[str, Any] = {
        "master": verdicts.master,
        "detent": LEVELS["contact"][verdicts.contact],
        "purge": verdicts.purge,
        "ack": verdicts.ack,
        "sel": verdicts.sel,
        "proof": verdicts.proof,
    }
    for channel, scale in scales.items():
        shown[channel] = scale.value(raw[ANALOGUE[channel]])
    shown["rpm"] = raw[vocabulary.RAW_RPM]
    shown["pulse_age_ms"] = raw[vocabulary.RAW_PULSE_AGE_MS]
    shown["bus_v"] = round(raw[vocabulary.RAW_BUS_MV] / 1000, 2)
    shown["rail_v"] = round(raw[vocabulary.RAW_RAIL_MV] / 1000, 2)
    shown["currents"] = raw[vocabulary.RAW_CURRENTS]
    shown["shorts"] = raw[vocabulary.RAW_SHORTS]
    shown.update(extra_readings(raw))
    return shown


def extra_readings(raw: list[int]) -> dict[str, float]:
    """Temperatures, air and bottle content behind the extras; a channel that samples nothing is left out."""
    shown: dict[str, float] = {}
    for name, index in KELVIN_CHANNELS.items():
        if raw[index]:
            shown[name] = round(raw[index] / 10 - 273.15, 1)
    if raw[vocabulary.RAW_BARO_DAPA]:
        shown["air_kpa"] = raw[vocabulary.RAW_BARO_DAPA] / 100
    if raw[vocabulary.RAW_BOTTLE_G]:
        shown["bottle_found_kg"] = raw[vocabulary.RAW_BOTTLE_G] / 1000
    if raw[vocabulary.RAW_EXTRAS]:
        shown["extras"] = raw[vocabulary.RAW_EXTRAS]
    return shown


def observe(
    n: int, controller: Any, raw: list[int], scales: Scales, nozzle: Mapping[str, list[float]] | None = None
) -> Tick:
    """Tick `n` of a controller that has just stepped on `raw`, as plain data.

    `nozzle` holds the plant's flows per stage in g/s, where there is a plant.
    """
    core, verdicts, out = controller.core, controller.verdicts, controller.out
    tick: Tick = {
        "tick": n,
        "raw": list(raw),
        "in": readings(verdicts, raw, scales),
        "verdict": dict(vars(verdicts)),
        "state": vocabulary.STATE_NAMES[core.state],
        "why": list(reason_words(core.why0, core.why1, core.why2, core.why3)),
        "first_cause": first_cause(core),
        "class": vocabulary.CLASS_NAMES[core.reaction],
        "latch": core.latch,
        "late": verdicts.late,
        "cmd": {**_bits(core.ask_ox, core.ask_fuel, core.ask_bits), "latched": core.latched},
        "out": driven(out.ox, out.fuel, out.bits, out.lamps, out.text),
    }
    if nozzle is not None:
        tick["nozzle"] = dict(nozzle)
    return tick


def first_cause(core: Any) -> str | None:
    """Words of the reason that took the controller into TRIP, or none."""
    words = reason_words(core.cause0, core.cause1, 0, 0)
    return words[0] if words and core.state == vocabulary.TRIP else None
