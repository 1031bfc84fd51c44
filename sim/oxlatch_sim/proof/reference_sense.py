"""From raw samples to verdicts a second time, by a small interpreter of the sense table.

Where the firmware counts samples, this remembers when a test last failed: a test has held for n samples when its
last failure is at least n ticks back. Latching levels end by their `until` tests. The few channels that are not a
ladder of thresholds (coils, proofs that stay up, chatter) are written out below from the same table's numbers.
"""

import tomllib
from collections import deque
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from oxlatch import vocabulary as w
from oxlatch.settings import Settings
from oxlatch_sim.proof.reference_code import compiled, function
from oxlatch_sim.proof.reference_table import CONSTANTS, Resolver, load_table

SENSE_PATH = Path(__file__).with_name("reference_sense.toml")
SLOPE_TICKS = 8
# Verdicts that both specifications define tick by tick. Left out are those whose sums and phases are free choices:
# falling, line_lost, block, leak_watch.
COMPARED = (
    *("master", "purge", "ack", "bench", "inject", "sel", "proof", "contact", "contact_stuck", "chatter"),
    *("throttle", "throttle_low_seen", "rpm", "supply", "supply_warn", "line", "fuel", "bus", "rail"),
    *("time", "late", "purge_held", "current", "missing", "stray", "short", "shut"),
)

_RAW = {
    "elapsed": w.RAW_ELAPSED,
    "throttle_mv": w.RAW_THROTTLE_MV,
    "rpm": w.RAW_RPM,
    "pulse_age": w.RAW_PULSE_AGE_MS,
    "supply_mv": w.RAW_SUPPLY_MV,
    "fuel_mv": w.RAW_FUEL_MV,
    "block_mv": w.RAW_BLOCK_MV,
    "bus_mv": w.RAW_BUS_MV,
    "rail_mv": w.RAW_RAIL_MV,
}


@cache
def load_sense_table(path: Path = SENSE_PATH) -> Mapping[str, Any]:
    """The sense table as read from its file."""
    with path.open("rb") as stream:
        return tomllib.load(stream)


class Held:
    """Whether a test has held for a number of samples in a row, the present one included."""

    def __init__(self, test: Callable[[Any, Any], bool], samples: int) -> None:
        self.test = test
        self.samples = samples
        self.failed_at = 0  # the tick of the last failure; before the first tick nothing has held

    def step(self, now: int, raw: Any, x: Any) -> bool:
        """Judge the sample of tick `now`."""
        if not self.test(raw, x):
            self.failed_at = now
        return now - self.failed_at >= self.samples


class Leaky(Held):
    """As Held, but a sample that fails takes one off the count; what is left is kept as a fact."""

    def __init__(self, test: Callable[[Any, Any], bool], samples: int, fact: str) -> None:
        super().__init__(test, samples)
        self.fact = fact

    def step(self, now: int, raw: Any, x: Any) -> bool:
        """Judge the sample of tick `now`."""
        left = getattr(x, self.fact)
        left = min(left + 1, self.samples) if self.test(raw, x) else max(left - 1, 0)
        setattr(x, self.fact, left)
        return left >= self.samples


class Level:
    """One level of a channel: when it begins, and when it ends if that is not the same thing."""

    def __init__(self, value: int, begins: Held | None, ends: list[Held] | None, yields: bool) -> None:
        self.value = value
        self.begins = begins
        self.ends = ends
        self.yields = yields  # ends when a stronger level holds
        self.latched = False

    def step(self, now: int, raw: Any, x: Any, stronger: bool) -> bool:
        """Whether the level holds in this tick."""
        if self.begins is None:
            return True
        holds = self.begins.step(now, raw, x)
        if self.ends is None:
            return holds
        ended = [end.step(now, raw, x) for end in self.ends]
        if any(ended) or (self.yields and stronger):
            self.latched = False
        elif holds:
            self.latched = True
        return self.latched


class Facts:
    """What a test may speak of beside the raw samples."""

    def __init__(self) -> None:
        self.pair_closed = self.pair_open = self.flowing = self.run_driven = self.purge_on = self.found = (
            self.rise_left
        ) = self.block_dry = 0
        self.opened_for = 1 << 20
        self.rpm_then = self.throttle_then = self.throttle_last = 0


class Verdicts:
    """The verdicts of the last tick, named as the firmware names them."""

    def __init__(self) -> None:
        self.boot = self.service = self.current = self.missing = self.stray = self.short = self.chatter = 0
        self.shut = w.SHUT_CLEAN


class SenseReference:
    """Runs the sense table. `step` takes raw samples and what was driven in the tick before."""

    def __init__(self, settings: Settings, table: Mapping[str, Any] | None = None) -> None:
        self.table = table or load_sense_table()
        self.c: Any = settings
        self.v: Any = Verdicts()
        self.now = 0
        self.facts = Facts()
        self._resolver = Resolver(load_table(), settings)
        self._past: deque[tuple[int, int]] = deque([(0, 0)] * SLOPE_TICKS, maxlen=SLOPE_TICKS)
        self._channels = [self._channel(row) for row in self.table["channel"]]
        self._switches = [self._switch(row) for row in self.table["switch"]]
        self._coil_ticks: dict[int, list[int]] = {1 << n: [0, 1 << 20, 0, 0] for n in range(11)}
        self._lingering = self._linger_for = self._ox_driven = 0
        self._shorts_before = 0
        self._last_ox = 0
        self._bucket = 0
        self._dry_looks = 0
        self._contact_before = 0

    # --- preparation

    def _test(self, text: str) -> Callable[[Any, Any], bool]:
        places: dict[str, str | int] = {name: f"raw[{index}]" for name, index in _RAW.items()}
        places |= {name: f"x.{name}" for name in vars(self.facts)}
        source = self._resolver.source(text, places)
        return compiled(function("test", "raw, x", [f"return {source}"]), "test")

    def _samples(self, value: int | str) -> int:
        return int(getattr(self.c, value)) if isinstance(value, str) else value

    def _held(self, row: Mapping[str, Any]) -> Held:
        test, samples = self._test(row["when"]), self._samples(row["for"]) + row.get("more", 0)
        return Leaky(test, samples, row["leaks"]) if "leaks" in row else Held(test, samples)

    def _channel(self, row: Mapping[str, Any]) -> tuple[str, list[Level]]:
        rows = row["level"]
        if "fitted" in row and not self.c.fitted & CONSTANTS[row["fitted"]]:
            absent = row["unfitted"]
            rows = absent if isinstance(absent, list) else [{"level": absent}]
        levels = []
        for level in rows:
            value = CONSTANTS[level["level"]] if isinstance(level["level"], str) else level["level"]
            begins = self._held(level) if "when" in level else None
            until = level.get("until")
            ends = None if until is None else [self._held(end) for end in until if "when" in end]
            yields = any(end.get("stronger") for end in until or ())
            levels.append(Level(value, begins, ends, yields))
        return row["verdict"], levels

    def _switch(self, row: Mapping[str, Any]) -> tuple[str, list[tuple[int, int, Level]]]:
        count = w.STAGES_MAX if "shift" in row else 1
        first = CONSTANTS[row["shift"]] if "shift" in row else CONSTANTS[row["bits"]].bit_length() - 1
        if "fitted" in row and not self.c.fitted & CONSTANTS[row["fitted"]]:
            count = 0
        bits = []
        for number in range(count):
            mask = 1 << (first + number)
            on = Held(_switch_is(mask, True), row["on"])
            off = Held(_switch_is(mask, False), row["off"])
            bits.append((mask, 1 << number, Level(1, on, [off], False)))
        return row["verdict"], bits

    # --- one tick

    def step(self, raw: Any, ox: int, fuel: int, bits: int) -> Any:
        """Judge one tick of raw samples; return the verdicts. `ox`, `fuel`, `bits` were driven one tick ago."""
        self.now += 1
        x, v, now = self.facts, self.v, self.now
        self._read_facts(raw, ox, bits)
        self._look_at_block(raw, fuel)
        for name, switches in self._switches:
            word = 0
            for _mask, bit, level in switches:
                if level.step(now, raw, x, False):
                    word |= bit
            setattr(v, name, word)
        x.purge_on = v.purge
        for name, levels in self._channels:
            found = None
            for level in levels:
                x.found = int(found is not None)
                if level.step(now, raw, x, found is not None) and found is None:
                    found = level.value
            setattr(v, name, found)
        if x.block_dry:
            v.fuel = w.FUEL_FAIL
        self._past.append((raw[w.RAW_RPM], raw[w.RAW_THROTTLE_MV]))
        self._coils(raw, ox, fuel, bits)
        self._proofs(ox)
        self._chatter()
        v.boot, v.service = raw[w.RAW_BOOT], raw[w.RAW_SERVICE]
        return v

    def _read_facts(self, raw: Any, ox: int, bits: int) -> None:
        x = self.facts
        switches = raw[w.RAW_SWITCHES]
        made = switches & w.SW_DETENT_NO != 0
        broken = switches & w.SW_DETENT_NC == 0
        if not self.c.fitted & w.FIT_DETENT_NC:
            broken = made
        x.pair_closed, x.pair_open = int(made and broken), int(not made and not broken)
        x.flowing, x.run_driven = int(ox != 0), int(bits & w.OUT_RUN != 0)
        x.opened_for = 0 if ox & ~self._last_ox else x.opened_for + 1
        self._last_ox = ox
        x.rpm_then, x.throttle_then = self._past[0]
        x.throttle_last = self._past[-1][1]

    def _look_at_block(self, raw: Any, fuel: int) -> None:
        rule = self.table["block_dry"]
        if self.now % rule["every"] == 1:
            dry = fuel and raw[w.RAW_BLOCK_MV] < self.c.fuel_fail_mv
            self._dry_looks = self._dry_looks + 1 if dry else 0
        fitted = self.c.fitted & w.FIT_MASTER_FUEL
        self.facts.block_dry = int(bool(fitted) and self._dry_looks >= rule["looks"])

    def _coils(self, raw: Any, ox: int, fuel: int, bits: int) -> None:
        v = self.v
        if not self.c.fitted & w.FIT_CURRENTS:
            v.current = v.missing = v.stray = v.short = 0
            return
        driven = ox | fuel << w.COIL_FUEL_SHIFT
        driven |= w.COIL_MASTER_OX if bits & w.OUT_MASTER_OX else 0
        driven |= (w.COIL_PURGE if bits & w.OUT_PURGE else 0) | (w.COIL_MASTER_FUEL if bits & w.OUT_MASTER_FUEL else 0)
        currents, shorts = raw[w.RAW_CURRENTS], raw[w.RAW_SHORTS]
        c = self.table["coils"]
        v.missing = v.stray = 0
        v.short = shorts & self._shorts_before
        self._shorts_before = shorts
        for coil, ticks in self._coil_ticks.items():
            on, flows = driven & coil != 0, currents & coil != 0
            ticks[0] = ticks[0] + 1 if on else 0
            ticks[1] = 0 if on else ticks[1] + 1
            ticks[2] = 0 if flows else ticks[2] + 1
            ticks[3] = ticks[3] + 1 if flows else 0
            if ticks[0] > c["missing_after"] and ticks[2] >= c["samples"]:
                v.missing |= coil
            if ticks[1] > c["stray_after"] and ticks[3] >= c["samples"]:
                v.stray |= coil
            if ticks[3] >= c["samples"]:
                v.current |= coil
            if ticks[2] >= c["samples"]:
                v.current &= ~coil

    def _proofs(self, ox: int) -> None:
        """How long proofs have stood without their oxidizer, shut before or never opened: one count for all stages."""
        watched = self._lingering | self._ox_driven | (w.COIL_OX if self.v.master else 0)
        self._lingering = watched & ~ox & self.v.proof
        self._ox_driven = ox
        self._linger_for = self._linger_for + 1 if self._lingering else 0
        if self._linger_for > self.c.shut_stuck_ticks:
            self.v.shut = w.SHUT_STUCK
        else:
            self.v.shut = w.SHUT_SLOW if self._linger_for > self.c.shut_slow_ticks else w.SHUT_CLEAN

    def _chatter(self) -> None:
        """A bucket that every closing and opening of the pair fills and every other tick drains."""
        made = self.facts.pair_closed
        if made != self._contact_before:
            full = self.c.chatter_limit_ticks + self.c.chatter_cost_ticks
            self._bucket = min(self._bucket + self.c.chatter_cost_ticks, full)
        else:
            self._bucket = max(self._bucket - 1, 0)
        self._contact_before = made
        self.v.chatter = int(self._bucket > self.c.chatter_limit_ticks)


def _switch_is(mask: int, on: bool) -> Any:
    """A test of the switch word: whether the bit is on, or off."""
    return lambda raw, _x: bool(raw[w.RAW_SWITCHES] & mask) == on
