"""Recorded runs that tell a changed controller from the real one: the cheapest argument against a mutant.

Three sets, made once from the unchanged code with fixed seeds and kept in memory: the core and gate on streams of
verdicts under many small settings, sense on streams of raw samples around its thresholds, and the whole
controller on the raw samples of the bundled scenarios. A run is kept only while it still shows something new.
"""

import random
from array import array
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from oxlatch import vocabulary as k
from oxlatch.controller import Controller, Outputs
from oxlatch.gate import GateState, gate_step
from oxlatch.sense import VERDICT_NAMES, SenseState, Verdicts, sense_step
from oxlatch.settings import Settings
from oxlatch_sim.proof.channels import small_settings as small_sense
from oxlatch_sim.proof.explore_audit import domains
from oxlatch_sim.proof.explore_inputs import GOOD
from oxlatch_sim.proof.lockstep import core_tick
from oxlatch_sim.proof.verdict_streams import VerdictStream, small_settings

CORE_EPISODES = 60
CORE_TICKS = 900
SENSE_TICKS = 6_000
WHOLE_TICKS = 4_000
GATE_EPISODES = 54
GATE_TICKS = 500
GATE_CHANGE = 0.12
GATE_VERDICTS = (
    "contact", "throttle", "master", "time", "bus", "rpm", "supply", "fuel", "bench", "proof", "current",
)  # fmt: skip
FLAGS = range(k.FIT_DETENT_NC.bit_length() - 1, k.FIT_LOCKOUT_MEMORY.bit_length())
HOLDS = (1, 1, 2, 2, 3, 4, 5, 7, 9, 13, 30)


def shown(controller: Controller) -> tuple[int, ...]:
    """What a tick shows to the outside: state, reasons, requests, latch, outputs, lamps, text."""
    core, out = controller.core, controller.out
    return (
        core.state, core.why0, core.why1, core.why2, core.why3, core.reaction, core.ask_ox, core.ask_fuel,
        core.ask_bits, core.latch, core.cause0, core.cause1, core.store, core.inject,
        out.ox, out.fuel, out.bits, out.lamps, out.text,
    )  # fmt: skip


@dataclass
class CoreRun:
    """Settings, the verdicts of every tick, and what the unchanged controller showed."""

    settings: Settings
    verdicts: list[tuple[int, ...]]
    expected: list[tuple[int, ...]]

    def differs(self) -> bool:
        """Whether the controller as it is now shows anything else."""
        controller = Controller(self.settings)
        held = vars(controller.verdicts)
        for verdicts, expected in zip(self.verdicts, self.expected, strict=True):
            held.update(zip(VERDICT_NAMES, verdicts))
            core_tick(controller)
            if shown(controller) != expected:
                return True
        return False


def settings_for(seed: int) -> Settings:
    """Small random settings; in most of them one input, each in its turn, is not fitted."""
    settings = small_settings(random.Random(seed))
    turn = seed % (len(FLAGS) + 2)
    left_out = (1 << FLAGS[turn]) if turn < len(FLAGS) else k.FIT_RPM * (turn - len(FLAGS))
    settings.fitted = 0xFFFF ^ left_out
    if seed % 7 == 0:
        settings.tail_ticks = 0
    return settings


def core_runs() -> list[CoreRun]:
    """Streams under random small settings; a run that shows no new change of state or reason is left out."""
    runs = []
    known: set[tuple[int, ...]] = set()
    for seed in range(CORE_EPISODES):
        settings = settings_for(seed)
        controller = Controller(settings)
        stream = VerdictStream(settings, seed, controller.verdicts)
        run = CoreRun(settings, [], [])
        fresh = 0
        for _ in range(CORE_TICKS):
            before = controller.core.state
            out = controller.out
            stream.step(before, controller.core.why2, out.ox, out.fuel, out.bits)
            run.verdicts.append(tuple(getattr(controller.verdicts, name) for name in VERDICT_NAMES))
            core_tick(controller)
            run.expected.append(shown(controller))
            core = controller.core
            for sight in ((before, core.state, core.latch), (core.state, core.why0, core.why1, core.why2)):
                if sight not in known:
                    known.add(sight)
                    fresh += 1
        if fresh:
            runs.append(run)
    return runs


class Asks:
    """What a gate is asked; any sequencer may stand behind it."""

    def __init__(self) -> None:
        self.ask_ox = self.ask_fuel = self.ask_bits = 0


@dataclass
class GateRun:
    """Settings, what was asked and seen in every tick, and what the unchanged gate drove."""

    settings: Settings
    rows: list[tuple[tuple[int, int, int], Verdicts]]
    expected: list[tuple[int, int, int]] = field(default_factory=list)

    def differs(self) -> bool:
        """Whether the gate as it is now drives anything else."""
        return any(driven != expected for driven, expected in zip(self.drive(), self.expected, strict=True))

    def drive(self) -> Iterator[tuple[int, int, int]]:
        """What is driven tick by tick."""
        gate, asks, out = GateState(), Asks(), Outputs()
        for (asks.ask_ox, asks.ask_fuel, asks.ask_bits), v in self.rows:
            gate_step(gate, asks, v, self.settings, out)
            yield out.ox, out.fuel, out.bits


def gate_runs() -> list[GateRun]:
    """Requests and verdicts held for a few ticks each, with nothing sensible behind the requests."""
    runs = []
    for seed in range(GATE_EPISODES):
        rng = random.Random(seed)
        settings = settings_for(seed)
        levels = domains(settings.stages)
        run = GateRun(settings, [])
        asks, v = (0, 0, 0), Verdicts()
        for _ in range(GATE_TICKS):
            if rng.random() < GATE_CHANGE:
                ox = rng.choice((0, 15, 15, rng.randrange(16)))
                asks = ox, rng.choice((ox, ox, rng.randrange(16))), rng.choice((0, k.OUT_RUN, 5, 5, 5, rng.randrange(8)))
            if rng.random() < GATE_CHANGE:
                v = Verdicts()
                vars(v).update(GOOD, contact=k.CONTACT_CLOSED, proof=15, current=15)
                for name in rng.sample(GATE_VERDICTS, rng.choice((0, 0, 1, 1, 2))):
                    setattr(v, name, rng.choice(levels[name]))
            run.rows.append((asks, v))
        run.expected = list(run.drive())
        runs.append(run)
    return runs


@dataclass
class SenseRun:
    """Settings, raw samples and commands of every tick, and the verdicts of the unchanged code."""

    settings: Settings
    rows: list[tuple[list[int], int, int]]
    expected: list[tuple[int, ...]]

    def differs(self) -> bool:
        """Whether sense as it is now says anything else."""
        return self._run(lambda at, verdicts: verdicts != self.expected[at])

    def record(self) -> None:
        """Keep what sense says now."""
        self.expected.clear()
        self._run(lambda _at, verdicts: self.expected.append(verdicts))

    def _run(self, judge: Callable[[int, tuple[int, ...]], bool | None]) -> bool:
        s, v = SenseState(), Verdicts()
        held = vars(v)
        for at, (raw, driven, bits) in enumerate(self.rows):
            s.driven = driven
            s.driven_bits = bits
            sense_step(s, raw, self.settings, v)
            if judge(at, tuple(held.values())):
                return True
        return False


def sense_runs() -> list[SenseRun]:
    """Raw samples held for a few ticks each, on both sides of every threshold."""
    runs = []
    for seed, changes in enumerate((
        {},
        {"fitted": 0xFFFF & ~(k.FIT_DETENT_NC | k.FIT_RAIL)},
        {"fitted": 0xFFFF & ~(k.FIT_THROTTLE | k.FIT_PROOF | k.FIT_MASTER_FUEL)},
        {"fitted": 0xFFFF & ~(k.FIT_CURRENTS | k.FIT_FUEL_PRESSURE)},
        {"chatter_limit_ticks": 4, "chatter_cost_ticks": 2, "shut_slow_ticks": 4, "shut_stuck_ticks": 9},
        {"leak_watch_ticks": 40, "supply_fall_sum_mv": 2000, "line_fall_sum_mv": 9000},
    )):  # fmt: skip
        settings = small_sense({"leak_watch_ticks": 60, "shut_slow_ticks": 2, **changes})
        runs.append(SenseRun(settings, _raw_rows(settings, seed), []))
    runs += [SenseRun(Settings(), _trend_rows(seed), []) for seed in (1, 2)]
    for run in runs:
        run.record()
    return runs


def _trend_rows(seed: int) -> list[tuple[list[int], int, int]]:
    """Line pressure that wanders over seconds while valves stay as they are; everything else at rest."""
    rng = random.Random(seed)
    raw = [0] * k.RAW_COUNT
    raw[k.RAW_ELAPSED] = 1
    raw[k.RAW_SWITCHES] = k.SW_DETENT_NC
    raw[k.RAW_BUS_MV] = 13500
    rows = []
    for driven, ticks in ((1, 2500), (0, 4500), (k.COIL_PURGE, 900), (3, 1500), (0, 6000), (1, 700), (0, 900)):
        for tick in range(ticks):
            if tick % 150 == 0:
                raw[k.RAW_SUPPLY_MV] = rng.choice((2700, 2740, 2780, 2781, 2820, 3020, 3021, 2600))
            rows.append((list(raw), driven, k.OUT_RUN if driven else 0))
    return rows


def _raw_rows(c: Any, seed: int) -> list[tuple[list[int], int, int]]:
    rng = random.Random(seed)
    levels = _levels(c)
    held = dict.fromkeys(levels, (0, 0))
    raw = [0] * k.RAW_COUNT
    driven = bits = calm = 0
    rows = []
    for tick in range(SENSE_TICKS):
        if calm:
            calm -= 1
        elif rng.random() < 0.002:
            calm = rng.choice((60, 700))  # long enough for whole seconds of the trend
        for index, values in levels.items():
            value, left = held[index]
            if left == 0 and not calm:
                usual = values[0] if rng.random() < 0.5 else rng.choice(values)
                held[index] = (usual, rng.choice(HOLDS))
            elif left:
                held[index] = (value, left - 1)
            raw[index] = held[index][0]
        if rng.random() < (0.001 if calm else 0.05):
            stages = rng.choice((0, 0, 1, 3, 15))
            driven = stages | rng.choice((0, stages)) << 4 | rng.choice((0, 0, k.COIL_PURGE, k.COIL_MASTER_FUEL))
            bits = k.OUT_RUN if driven or rng.random() < 0.2 else 0
        raw[k.RAW_CURRENTS] = driven if rng.random() < 0.85 else rng.choice((0, driven ^ 1, driven | 16, 1023))
        raw[k.RAW_SHORTS] = rng.choice((0, 0, 0, 0, 0, 0, 1, 512))
        raw[k.RAW_ELAPSED] = rng.choice((1, 1, 1, 1, 1, 1, 2, 3, 4))
        raw[k.RAW_SERVICE] = tick >> 6 & 1
        rows.append((list(raw), driven, bits))
    return rows


def _levels(c: Any) -> dict[int, tuple[int, ...]]:
    """Per raw sample its usual value first, then values around every threshold it is compared with."""

    def around(usual: int, *marks: int) -> tuple[int, ...]:
        return (usual, *(mark + step for mark in marks for step in (-1, 0, 1)))

    ends = (c.sensor_low_mv, c.sensor_high_mv)
    poles = (k.SW_DETENT_NC, k.SW_DETENT_NO, 0, k.SW_DETENT_NO | k.SW_DETENT_NC)
    words = [poles[0], poles[1], *(pole | extra for pole in poles for extra in (1, 2, 4, 32, 64, 0x500, 0x3000, 0xF000))]
    throttle = around(c.throttle_full_mv, *ends, c.throttle_half_mv, c.throttle_low_mv, c.throttle_drop_mv, c.throttle_full_mv)
    chopped = tuple(c.throttle_full_mv + 300 - c.throttle_chop_mv + step for step in (-1, 0, 1))
    speeds = around(2500, c.rpm_cut, c.rpm_min, c.rpm_max, 2500 + c.rpm_rise, 2500 - c.rpm_fall)
    return {
        k.RAW_SWITCHES: tuple(words),
        k.RAW_THROTTLE_MV: (*throttle, c.throttle_full_mv + 300, *chopped),
        k.RAW_RPM: speeds,
        k.RAW_PULSE_AGE_MS: (0, 0, 0, 0, c.pulse_age_ms - 1, c.pulse_age_ms),
        k.RAW_SUPPLY_MV: around(
            2800, *ends, c.line_dead_mv, c.line_weak_mv, c.line_lost_mv, c.line_thin_mv, c.line_trapped_mv,
            c.supply_empty_mv, c.supply_cut_mv, c.supply_leave_mv, c.supply_warn_mv, c.supply_permit_mv, c.supply_top_mv,
            c.supply_over_mv,
        ),
        k.RAW_FUEL_MV: around(
            1800, *ends, c.fuel_fail_mv, c.fuel_cut_mv, c.fuel_low_mv, c.fuel_top_mv, c.fuel_high_mv, c.fuel_over_mv
        ),
        k.RAW_BLOCK_MV: around(1800, *ends, c.fuel_fail_mv, c.fuel_low_mv, 1800 - c.block_drop_mv),
        k.RAW_BUS_MV: around(13500, c.bus_hard_mv, c.bus_cut_mv, c.bus_permit_mv, c.bus_surge_mv),
        k.RAW_RAIL_MV: around(0, c.rail_dead_mv, c.rail_live_mv, 13000),
        k.RAW_BOOT: (0, 0, 0, 0, 16, 255),
    }  # fmt: skip


@dataclass
class WholeRun:
    """Raw samples of a scenario and what the unchanged controller showed."""

    settings: Settings
    raws: list[array]
    expected: list[tuple[int, ...]]

    def differs(self) -> bool:
        """Whether the controller as it is now shows anything else."""
        controller = Controller(self.settings)
        for raw, expected in zip(self.raws, self.expected, strict=True):
            controller.tick(raw)
            if shown(controller) != expected:
                return True
        return False


def whole_runs() -> list[WholeRun]:
    """The first ticks of every bundled scenario that begins with a reset."""
    from oxlatch_sim.plant.parameters import alpine_tug_parameters
    from oxlatch_sim.scenario import bundled, load, play

    runs = []
    for path in bundled():
        raws: list[array] = []
        first: list[Any] = []

        def keep(bench: Any, raws: list[Any] = raws, first: list[Any] = first) -> None:
            if bench.ran and len(raws) < WHOLE_TICKS:
                first[:] = first or [bench.controller]
                if bench.controller is first[0]:
                    raws.append(array("q", bench.raw))

        play(load(path), alpine_tug_parameters(), Settings(), on_tick=keep)
        run = WholeRun(Settings(), raws, [])
        controller = Controller(run.settings)
        for raw in raws:
            controller.tick(raw)
            run.expected.append(shown(controller))
        runs.append(run)
    return runs
