"""Gate and sense by themselves against their halves of the reference.

The gate is given requests no sequencer would make, and must never drive what the interlock table forbids. Sense is given
raw samples that sit on and beside every threshold for times around every count, and must give the same verdicts.
"""

import random
from collections import deque
from typing import Any

from oxlatch import vocabulary as w
from oxlatch.controller import Controller, feed_back, gate_step, sense_step
from oxlatch.settings import FIELDS, Settings
from oxlatch_sim.proof.lockstep_outcome import HISTORY_TICKS, Mismatch, Outcome
from oxlatch_sim.proof.reference_code import row_names
from oxlatch_sim.proof.reference_extras import ExtrasReference
from oxlatch_sim.proof.reference_gate import Interlock
from oxlatch_sim.proof.reference_sense import COMPARED, SenseReference
from oxlatch_sim.proof.reference_table import load_table
from oxlatch_sim.proof.verdict_streams import quiet, small_settings

GATE_TICKS = 400
SENSE_TICKS = 1500
SLOW_HOLDS = (9, 16, 24, 40, 90)  # longer than a turn: what passes between two looks is nobody's business
HOLDS = (0, 1, 2, 3, 5, 8, 9, 16, 20)
# channel of the gate: levels to draw from, the sound ones more often
GATE_CHANNELS: dict[str, tuple[int, ...]] = {
    "contact": (w.CONTACT_CLOSED, w.CONTACT_CLOSED, w.CONTACT_CLOSED, w.CONTACT_OPEN, w.CONTACT_UNSURE),
    "throttle": (w.THROTTLE_FULL, w.THROTTLE_FULL, w.THROTTLE_HOLD, w.THROTTLE_DROP),
    "rpm": (w.RPM_WINDOW, w.RPM_WINDOW, w.RPM_HOLD, w.RPM_LOW, w.RPM_OVER, w.RPM_STOPPED),
    "supply": (w.SUPPLY_PERMIT, w.SUPPLY_PERMIT, w.SUPPLY_LEAVE, w.SUPPLY_CUT, w.SUPPLY_EMPTY, w.SUPPLY_HIGH),
    "bus": (w.BUS_PERMIT, w.BUS_PERMIT, w.BUS_LOW, w.BUS_CUT, w.BUS_SURGE, w.BUS_HARD),
    "fuel": (w.FUEL_PERMIT, w.FUEL_PERMIT, w.FUEL_FAIL, w.FUEL_OVER),
    "rail": (w.RAIL_LIVE, w.RAIL_LIVE, w.RAIL_DEAD, w.RAIL_WELDED),
    "time": (w.TIME_GOOD, w.TIME_GOOD, w.TIME_GOOD, w.TIME_LATE, w.TIME_HARD),
    "bench": (0, 0, 0, 1),
    "master": (0, 1),
    "proof": tuple(range(16)),
    "current": tuple(range(16)),
}


def _ask(core: Any, chance: random.Random, stages: int) -> None:
    """Any request at all, sensible or not."""
    core.ask_ox = chance.randrange(1 << stages)
    core.ask_fuel = chance.randrange(1 << stages)
    if chance.random() < 0.8:
        core.ask_fuel &= core.ask_ox
    run, flow = w.OUT_RUN, w.OUT_RUN | w.OUT_MASTER_FUEL
    core.ask_bits = chance.choice(
        (flow, flow, flow, run, flow | w.OUT_PURGE, run | w.OUT_PURGE, w.OUT_MASTER_FUEL, w.OUT_PURGE, 0)
    )
    core.ask_bits |= chance.choice((0, w.OUT_MASTER_OX))


def _change_gate_input(core: Any, v: Any, chance: random.Random, stages: int) -> None:
    choice = chance.random()
    if choice < 0.45:
        _ask(core, chance, stages)
    elif choice < 0.55:
        core.ask_fuel = 0
    elif choice < 0.65:
        core.ask_fuel, core.ask_bits = core.ask_ox, w.OUT_RUN | w.OUT_MASTER_FUEL
    elif choice < 0.7:
        v.bench, v.rpm = 1, w.RPM_STOPPED
    elif choice < 0.85:
        name = chance.choice(tuple(GATE_CHANNELS))
        setattr(v, name, chance.choice(GATE_CHANNELS[name]))
    else:
        quiet(v)
        v.contact, v.throttle, v.rail = w.CONTACT_CLOSED, w.THROTTLE_FULL, w.RAIL_LIVE
        v.proof = v.current = w.COIL_OX
        v.master = 1
        core.ask_ox = core.ask_fuel = (1 << stages) - 1
        core.ask_bits = w.OUT_RUN | w.OUT_MASTER_FUEL


def run_gate_episode(number: int) -> Outcome:
    """The gate under arbitrary requests: nothing it drives may be forbidden by the interlock table."""
    chance = random.Random(number)
    settings: Any = small_settings(chance)
    controller: Any = Controller(settings)
    interlock = Interlock(settings)
    core, v, out = controller.core, controller.verdicts, controller.out
    quiet(v)
    outcome, hold = Outcome(episodes=1), 0
    before: deque[dict[str, Any]] = deque(maxlen=HISTORY_TICKS + 1)
    for tick in range(GATE_TICKS):
        if hold <= 0:
            _change_gate_input(core, v, chance, settings.stages)
            hold = chance.choice(HOLDS)
        hold -= 1
        gate_step(controller.gate, core, v, settings, out)
        asked = (core.ask_ox, core.ask_fuel, core.ask_bits)
        driven = (out.ox, out.fuel, out.bits)
        before.append({"tick": tick, "asked": asked, "driven": driven, **{n: getattr(v, n) for n in GATE_CHANNELS}})
        exceeded = interlock.exceeded(v, asked, driven)
        outcome.steps += 1
        if any(exceeded):
            found = Mismatch(tick, {"driven against the interlock table": (driven, exceeded)}, list(before), number)
            outcome.mismatches.append(found)
            break
    outcome.hits = dict(zip(row_names(load_table()), interlock.hits, strict=True))
    return outcome


def _raw_choices(c: Any) -> dict[int, list[int]]:
    """For each analogue sample, values on and beside every threshold that the settings give it."""

    def around(names: list[str]) -> list[int]:
        return [int(getattr(c, name)) + d for name in names for d in (-1, 0, 1)]

    millivolts = [field[0] for field in FIELDS if field[1] == "mV" and "sum" not in field[0]]
    ends = ["sensor_low_mv", "sensor_high_mv"]
    line = [name for name in millivolts if name.startswith(("line_", "supply_"))]
    return {
        w.RAW_THROTTLE_MV: around([n for n in millivolts if n.startswith("throttle_") and "chop" not in n] + ends),
        w.RAW_RPM: [*around(["rpm_cut", "rpm_min", "rpm_max"]), 0, 2500, 2600],
        w.RAW_PULSE_AGE_MS: [0, 10, *around(["pulse_age_ms"]), 10000],
        w.RAW_SUPPLY_MV: around(line + ends),
        w.RAW_FUEL_MV: around([n for n in millivolts if n.startswith("fuel_")] + ends),
        w.RAW_BLOCK_MV: around(["fuel_fail_mv"]),
        w.RAW_BUS_MV: around([n for n in millivolts if n.startswith("bus_")]),
        w.RAW_RAIL_MV: around(["rail_dead_mv", "rail_live_mv"]),
    }


def _slow_choices(c: Any) -> dict[int, list[int]]:
    """The same for what is looked at once in a turn; 0 and 60000 are no readings."""
    temperatures = [0, 60000, 2500, 2700, 2900, 2999, 3100]
    bottle = [int(getattr(c, name)) + d for name in ("bottle_top_dk", "bottle_red_dk") for d in (0, 1)]
    outlet = [*temperatures, c.outlet_cold_dk, c.outlet_cold_dk + 1]
    speed = [
        int(getattr(c, name)) + d for name in ("airspeed_top_mv", "sensor_high_mv", "sensor_low_mv") for d in (-1, 0, 1)
    ]
    return {
        w.RAW_BOTTLE_DK: [*temperatures, *bottle],
        w.RAW_BARO_DAPA: [0, 60000, 6000, 7000, 8000, 8500, 9000, 9500, 10132],
        w.RAW_AIR_DK: [0, 60000, 2500, 2700, 2881, 2950, 3100],
        w.RAW_OUTLET_1_DK: outlet,
        w.RAW_OUTLET_2_DK: outlet,
        w.RAW_AIRSPEED_MV: speed,
    }


class RawStream:
    """Changes raw samples tick by tick; every sample keeps its value for a while of its own."""

    def __init__(self, settings: Settings, chance: random.Random) -> None:
        self.chance = chance
        self.choices = _raw_choices(settings)
        self.raw = [0] * w.RAW_COUNT
        self.raw[w.RAW_ELAPSED] = 1
        self.slow = _slow_choices(settings)
        self.left = dict.fromkeys((*self.choices, *self.slow), 0)
        self.switch_left = [0] * 16

    def step(self) -> list[int]:
        """The samples of the next tick."""
        chance, raw = self.chance, self.raw
        for index, values in self.choices.items():
            self.left[index] -= 1
            if self.left[index] <= 0:
                raw[index] = chance.choice(values)
                self.left[index] = chance.choice((1, 1, 2, 3, 5, 6, 8, 12, 20))
        for index, values in self.slow.items():
            self.left[index] -= 1
            if self.left[index] <= 0:
                raw[index] = chance.choice(values)
                self.left[index] = chance.choice(SLOW_HOLDS)
        if chance.random() < 0.08:
            raw[w.RAW_EXTRAS] ^= 1 << chance.randrange(4)
        for bit in range(16):
            self.switch_left[bit] -= 1
            if self.switch_left[bit] <= 0:
                raw[w.RAW_SWITCHES] ^= 1 << bit
                self.switch_left[bit] = chance.choice((1, 2, 3, 5, 6, 7, 12, 30))
        if chance.random() < 0.1:
            raw[w.RAW_CURRENTS] ^= 1 << chance.randrange(11)
        choice = chance.random()
        if choice < 0.5:
            raw[w.RAW_SHORTS] = 1 << chance.randrange(11) if choice < 0.05 else 0
        raw[w.RAW_ELAPSED] = chance.choice((1, 1, 1, 1, 1, 2, 3, 4)) if chance.random() < 0.1 else 1
        return raw


class _Driven:
    """What was driven, as sense is told of it."""

    def __init__(self) -> None:
        self.ox = self.fuel = self.bits = 0

    def change(self, chance: random.Random, stages: int) -> None:
        """Anything that may have been driven."""
        self.ox = self.fuel = self.bits = 0
        choice = chance.random()
        if choice < 0.6:
            self.ox = chance.randrange(1 << stages)
            self.fuel = self.ox & chance.randrange(1 << stages)
            self.bits = w.OUT_RUN | (w.OUT_MASTER_FUEL if self.fuel else 0)
        elif choice < 0.8:
            self.bits = w.OUT_RUN | w.OUT_PURGE
        self.bits |= chance.choice((0, w.OUT_MASTER_OX))


def run_sense_episode(number: int) -> Outcome:
    """Sense against the sense table: the same verdicts on every channel that both define tick by tick."""
    chance = random.Random(number)
    settings: Any = small_settings(chance)
    controller: Any = Controller(settings)
    reference, extras = SenseReference(settings), ExtrasReference(settings)
    stream, driven, hold = RawStream(settings, chance), _Driven(), 0
    outcome = Outcome(episodes=1)
    before: deque[dict[str, Any]] = deque(maxlen=HISTORY_TICKS + 1)
    for tick in range(SENSE_TICKS):
        raw = stream.step()
        sense_step(controller.sense, raw, settings, controller.verdicts)
        v = reference.step(raw, driven.ox, driven.fuel, driven.bits)
        before.append({"tick": tick, "raw": tuple(raw), "driven": (driven.ox, driven.fuel, driven.bits)})
        outcome.steps += 1
        differs = {
            name: (getattr(controller.verdicts, name), getattr(v, name))
            for name in COMPARED
            if getattr(controller.verdicts, name) != getattr(v, name)
        }
        differs |= extras.differing(raw, controller.verdicts, bool(driven.ox or driven.bits & w.OUT_PURGE))
        if differs:
            outcome.mismatches.append(Mismatch(tick, differs, list(before), number))
            break
        hold -= 1
        if hold <= 0:
            driven.change(chance, settings.stages)
            hold = chance.choice((1, 3, 5, 20, 40))
        feed_back(controller.sense, driven)
    return outcome
