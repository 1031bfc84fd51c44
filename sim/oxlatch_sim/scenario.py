"""Plays a scenario on the bench and compares what came of it with what it expects."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

from oxlatch.settings import FIELDS, Settings, rules_hold
from oxlatch.vocabulary import STAGES_MAX, TICK_MS, TRIP
from oxlatch_sim.altitude_row import ROW_FIELDS, allow_everywhere
from oxlatch_sim.bench import Bench
from oxlatch_sim.fault_catalogue import CATALOGUE
from oxlatch_sim.flight import Flight
from oxlatch_sim.inputs import INPUT_BITS, SAMPLED
from oxlatch_sim.plant.bottle import AIR, LIQUID, VAPOUR
from oxlatch_sim.plant.parameters import PlantParameters
from oxlatch_sim.reason_names import standing
from oxlatch_sim.recording import Recorder
from oxlatch_sim.routine import Routine, RoutineError
from oxlatch_sim.scenario_file import Event, Scenario, ScenarioError, bundled, find, load, parse

__all__ = ["Outcome", "Scenario", "ScenarioError", "bundled", "find", "load", "parse", "play"]

HARDWARE_PARTS = {
    "master_oxidizer": "master oxidizer valve",
    "master_fuel": "master fuel valve",
    "proof_switches": "oxidizer proof",
}
SERVICE_WORDS = {"off": 0, "on": 1, "sign-off": 2}
LINE_PHASES = {"air": AIR, "vapour": VAPOUR, "liquid": LIQUID}


@dataclass
class Outcome:
    """What came of a scenario. `problems` is empty when it was as expected."""

    scenario: Scenario
    begin_ms: int = 0
    states: list[tuple[int, str]] = field(default_factory=list)
    """State names with the time each was entered, in ms since power-up."""
    reasons: dict[str, int] = field(default_factory=dict)
    """Every reason that stood, with the time it first stood."""
    first_cause: str | None = None
    """What the last trip was put down to."""
    latch: int = 0
    highest_latch: int = 0
    lockout: int = 0
    opened_ox: set[int] = field(default_factory=set)
    opened_fuel: set[int] = field(default_factory=set)
    last_driven_ms: int = -1
    fuel_only_ms: list[float] = field(default_factory=list)
    oxidizer_only_ms: list[float] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    flight: Any = None

    @property
    def final_state(self) -> str:
        """The state at the end."""
        return self.states[-1][1]

    @property
    def runs(self) -> int:
        """How often RUN was entered."""
        return sum(1 for _, name in self.states if name == "RUN")

    @property
    def recorder(self) -> Recorder:
        """The recording of the whole flight."""
        recorder: Recorder = self.flight.recorder
        return recorder


def scenario_settings(scenario: Scenario, base: Settings) -> Settings:
    """The installation's settings with what the scenario changes. Errors: `ScenarioError`."""
    settings = Settings()
    for name, *_rest in FIELDS:
        setattr(settings, name, getattr(base, name))
    settings.stages = scenario.stages
    for name in ROW_FIELDS:
        setattr(settings, name, getattr(settings, name) & ((1 << (1 << scenario.stages)) - 1))
    if "patterns" in scenario.settings:
        allow_everywhere(settings, scenario.settings["patterns"])
    for name, value in scenario.settings.items():
        setattr(settings, name, value)
    for name in scenario.fit:
        settings.fitted |= INPUT_BITS[name]
    for name in scenario.without:
        settings.fitted &= ~INPUT_BITS[name]
    for event in scenario.event:
        needs = CATALOGUE[event.fault.partition("@")[0]].needs if event.fault else ""
        if needs and not settings.fitted & INPUT_BITS[needs]:
            words = f"fault {event.fault!r} needs {needs!r}, which is not fitted; allowed with it in fit"
            raise ScenarioError(f"{scenario.name}: {words}")
    if not rules_hold(settings):
        raise ScenarioError(f"{scenario.name}: [settings] breaks a rule between settings fields")
    return settings


def scenario_plant(scenario: Scenario, base: PlantParameters) -> PlantParameters:
    """The installation's plant with the scenario's start."""
    if scenario.stages > len(base.stages):
        raise ScenarioError(
            f"{scenario.name}: stages is {scenario.stages}; allowed: 1 to {len(base.stages)}, as the installation has"
        )
    start = scenario.start
    bottle = base.bottle
    if start.bottle_temperature is not None:
        bottle = replace(bottle, temperature_k=start.bottle_temperature)
    if start.bottle_fill is not None:
        bottle = replace(bottle, fill_kg=start.bottle_fill)
    electrical = base.electrical if start.bus is None else replace(base.electrical, set_v=start.bus)
    line = replace(base.line, hand_valve_open=start.hand_valve == "open")
    stages = base.stages[: scenario.stages]
    extras = dict.fromkeys((*base.sensors.extras, *(name for name in scenario.fit if name in SAMPLED)))
    sensors = replace(base.sensors, extras=tuple(name for name in extras if name not in scenario.without))
    air_pa = base.air_pa if start.outside_pressure is None else start.outside_pressure
    air_k = base.air_k if start.outside_temperature is None else start.outside_temperature
    hardware = base.hardware
    for part, name in HARDWARE_PARTS.items():
        if name in scenario.fit or name in scenario.without:
            hardware = replace(hardware, **{part: name in scenario.fit})
    return replace(
        base,
        stages=stages,
        bottle=bottle,
        electrical=electrical,
        line=line,
        sensors=sensors,
        hardware=hardware,
        air_pa=air_pa,
        air_k=air_k,
    )


def play(
    scenario: Scenario,
    plant: PlantParameters,
    settings: Settings,
    seed: int | None = None,
    installation: str = "00000000",
    on_tick: Callable[[Bench], None] | None = None,
) -> Outcome:
    """Play a scenario to its end; `on_tick` sees the bench after every tick.

    Errors: `ScenarioError` when the beginning cannot be reached or the aircraft does not fit.
    """
    used = scenario_settings(scenario, settings)
    phase = LINE_PHASES[scenario.start.line]
    bench = Bench(scenario_plant(scenario, plant), used, scenario.seed if seed is None else seed, line_phase=phase)
    flight = Flight(bench, installation)
    outcome = Outcome(scenario, flight=flight)

    def step() -> None:
        flight.step()
        _note(outcome, bench)
        if on_tick is not None:
            on_tick(bench)

    _begin(scenario, bench, step)
    outcome.begin_ms = bench.ticks * TICK_MS
    begin = bench.ticks
    for event in scenario.event:
        while (bench.ticks - begin) * TICK_MS < round(1000.0 * event.at):
            step()
        do(bench, event)
    while (bench.ticks - begin) * TICK_MS < round(1000.0 * scenario.duration):
        step()
    _finish(outcome, bench)
    return outcome


def _begin(scenario: Scenario, bench: Bench, step: Callable[[], None]) -> None:
    start = scenario.start
    routine = Routine(bench, step)
    selected = start.select or list(range(1, scenario.stages + 1))
    try:
        if start.begin == "power-up":
            if start.engine == "idle":
                bench.plant.engine.start(bench.plant.parameters.engine.idle_rpm)
            bench.select(start.select)
        elif start.begin == "armed":
            routine.armed(selected)
        elif start.begin == "ready":
            routine.ready(selected)
        else:
            routine.flowing(selected)
    except RoutineError as error:
        raise ScenarioError(f"{scenario.name}: start.begin = {start.begin!r} cannot be reached: {error}") from error


def do(bench: Bench, event: Event) -> None:
    """Let one event happen."""
    for name in ("master", "purge", "ack", "bench"):
        value = getattr(event, name)
        if value is not None:
            bench.set_switch(name, value == "on")
    if event.select is not None:
        bench.select(event.select)
    if event.throttle is not None:
        travel = abs(event.throttle - bench.plant.throttle.lever)
        bench.set_throttle(event.throttle, travel / event.over if event.over else None)
    if event.detent is not None:
        bench.push() if event.detent == "push" else bench.release()
    if event.engine == "quits":
        bench.plant.engine.running = False
    elif event.engine == "idle":
        bench.plant.engine.start(bench.plant.parameters.engine.idle_rpm)
    if event.bottle is not None:
        _bottle(bench, event.bottle)
    _surroundings(bench, event)
    if event.fault is not None:
        bench.inject(event.fault)
    if event.heal is not None:
        bench.inject(event.heal, on=False)
    if event.service is not None:
        bench.board.service = SERVICE_WORDS[event.service]


def _surroundings(bench: Bench, event: Event) -> None:
    """Outside air, airspeed, and the bottle's own temperature."""
    plant = bench.plant
    if event.outside_pressure is not None:
        plant.extras.air_pa = event.outside_pressure
    if event.outside_temperature is not None:
        plant.extras.air_k = event.outside_temperature
    if event.airspeed is not None:
        plant.extras.airspeed_m_s = event.airspeed
    if event.bottle_temperature is not None:
        plant.bottle.refill(plant.bottle.vessel.mass_kg, event.bottle_temperature)
        plant.wake()


def _bottle(bench: Bench, what: str) -> None:
    line = bench.plant.line
    if what == "shut":
        line.shut_hand_valve()
    elif what == "open":
        line.open_hand_valve()
    else:
        bottle = bench.plant.parameters.bottle
        bench.plant.replace_bottle(bottle.fill_kg, bottle.temperature_k)
    bench.plant.wake()


def _note(outcome: Outcome, bench: Bench) -> None:
    now_ms = bench.ticks * TICK_MS
    core = bench.controller.core
    name = bench.state_name
    if not outcome.states or outcome.states[-1][1] != name:
        outcome.states.append((now_ms, name))
    for reason in standing((core.why0, core.why1, core.why2, core.why3)):
        outcome.reasons.setdefault(reason, now_ms)
    outcome.highest_latch = max(outcome.highest_latch, core.latch)
    if core.state == TRIP and (core.cause0 or core.cause1):
        outcome.first_cause = standing((core.cause0, core.cause1, 0, 0))[0]
    ox, fuel = bench.board.oxidizer, bench.board.fuel
    if ox or fuel:
        outcome.last_driven_ms = now_ms
        for index in range(STAGES_MAX):
            if ox >> index & 1:
                outcome.opened_ox.add(index + 1)
            if fuel >> index & 1:
                outcome.opened_fuel.add(index + 1)


def _finish(outcome: Outcome, bench: Bench) -> None:
    outcome.latch = bench.controller.core.latch
    outcome.lockout = bench.board.lockout
    exposures = [stage.exposure for stage in bench.plant.stages]
    outcome.fuel_only_ms = [exposure.fuel_only_ms for exposure in exposures]
    outcome.oxidizer_only_ms = [exposure.oxidizer_only_longest_ms for exposure in exposures]
    outcome.problems = _compare(outcome)


def _compare(outcome: Outcome) -> list[str]:
    expect = outcome.scenario.expect
    problems = []

    def check(holds: bool, words: str) -> None:
        if not holds:
            problems.append(words)

    names = [name for _, name in outcome.states]
    check(outcome.final_state == expect.final_state, f"ends in {outcome.final_state}, expected {expect.final_state}")
    check(_in_order(expect.visits, names), f"visits {' > '.join(names)}, expected in order {' > '.join(expect.visits)}")
    for state in expect.never_visits:
        check(state not in names, f"visits {state}")
    if expect.first_cause is not None:
        check(
            outcome.first_cause == expect.first_cause,
            f"first cause {outcome.first_cause}, expected {expect.first_cause}",
        )
    for reason in expect.reasons:
        check(reason in outcome.reasons, f"{reason} never stood")
    for reason in expect.never_reasons:
        check(reason not in outcome.reasons, f"{reason} stood at {outcome.reasons.get(reason)} ms")
    if expect.opened is not None:
        check(outcome.opened_ox == set(expect.opened.ox), f"oxidizer opened {sorted(outcome.opened_ox)}")
        check(outcome.opened_fuel == set(expect.opened.fuel), f"fuel opened {sorted(outcome.opened_fuel)}")
    if expect.runs is not None:
        check(outcome.runs == expect.runs, f"{outcome.runs} runs, expected {expect.runs}")
    if expect.latch is not None:
        check(outcome.highest_latch == expect.latch, f"latch rose to {outcome.highest_latch}, expected {expect.latch}")
    if expect.lockout is not None:
        check(outcome.lockout == expect.lockout, f"lockout memory holds {outcome.lockout}, expected {expect.lockout}")
    if expect.all_off_after is not None:
        limit_ms = outcome.begin_ms + 1000.0 * expect.all_off_after
        check(outcome.last_driven_ms <= limit_ms, f"a stage valve is driven at {outcome.last_driven_ms} ms")
    worst_fuel, worst_oxidizer = max(outcome.fuel_only_ms), max(outcome.oxidizer_only_ms)
    check(worst_fuel <= expect.fuel_only_ms, f"fuel alone for {worst_fuel:.1f} ms, bound {expect.fuel_only_ms:g}")
    check(
        worst_oxidizer <= expect.oxidizer_only_ms,
        f"oxidizer alone for {worst_oxidizer:.1f} ms, bound {expect.oxidizer_only_ms:g}",
    )
    return problems


def _in_order(wanted: list[str], names: list[str]) -> bool:
    found = iter(names)
    return all(name in found for name in wanted)
