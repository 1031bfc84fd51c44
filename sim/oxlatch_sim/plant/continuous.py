"""The plant's equations as differential equations, for `scipy.integrate.solve_ivp` with CoolProp called directly.

Only to check the stepped plant: a commanded sequence on a feed line full of liquid, no faults, no controller. Coils,
plungers, branches, line, fuel block, bus and bottle are the same equations as in the components; nothing is tabulated
and nothing is stepped. Where a plunger lifts, a stroke ends or a branch becomes full, the integration stops and goes
on.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from oxlatch.vocabulary import OUT_MASTER_FUEL, OUT_RUN
from oxlatch_sim.physics import nitrous, orifice
from oxlatch_sim.physics.coil import copper_resistance_ohm
from oxlatch_sim.plant.bottle import LIQUID
from oxlatch_sim.plant.exposure import Exposure
from oxlatch_sim.plant.fuel import SOFT
from oxlatch_sim.plant.parameters import NOMINAL_FLUX_KG_M2_S, PlantParameters, ValveParameters
from oxlatch_sim.plant.plant import TICK_S, Plant

GLOBALS = 7
MASS, ENERGY, WALL, LINE, SUPPLY, BLOCK, BUS = range(GLOBALS)
PER_VALVE = 2
PER_STAGE = 6
RATIO, TUBES, FILLED, SPRAY, GIVEN_O, GIVEN_F = range(PER_STAGE)
SAMPLE_S = 1.0e-4
FOLLOW_S = 5.0e-5
NOTHING = 1.0e-6


@dataclass(frozen=True)
class Command:
    """What is driven from `at_s` on: bits per stage, and the master fuel valve."""

    at_s: float
    oxidizer: int
    fuel: int
    master: bool


def opening_and_release(
    stages: int, lead_s: float = 0.03, stagger_s: float = 0.15, held_s: float = 0.4
) -> list[Command]:
    """The stages one after the other, all held, then fuel off and oxidizer off after a tail of 40 ms."""
    commands = [Command(0.0, 0, 0, False)]
    at_s = 0.05
    oxidizer = fuel = 0
    for index in range(stages):
        oxidizer |= 1 << index
        commands.append(Command(at_s, oxidizer, fuel, fuel != 0))
        fuel |= 1 << index
        commands.append(Command(at_s + lead_s, oxidizer, fuel, True))
        at_s += lead_s + stagger_s
    commands.append(Command(at_s + held_s, oxidizer, 0, False))
    commands.append(Command(at_s + held_s + 0.04, 0, 0, False))
    return commands


def stepped(parameters: PlantParameters, commands: list[Command], end_s: float) -> "Result":
    """The same sequence on the stepped plant, driven once per controller tick, without the wired interlock."""
    plant = Plant(parameters, line_phase=LIQUID)
    plant.electrical.master = True
    plant.throttle.place(parameters.throttle.detent_travel)
    for stage in plant.stages:
        stage.wired_and = False
    index = 0
    for tick in range(round(end_s / TICK_S)):
        while index + 1 < len(commands) and commands[index + 1].at_s <= tick * TICK_S + 1.0e-9:
            index += 1
        command = commands[index]
        plant.drive(command.oxidizer, command.fuel, OUT_RUN | (OUT_MASTER_FUEL if command.master else 0))
        plant.electrical.kick()
        plant.advance()
    return Result(
        plant.bottle.pressure_pa,
        [stage.given_oxidizer_kg for stage in plant.stages],
        [stage.given_fuel_kg for stage in plant.stages],
        [stage.exposure.fuel_only_ms for stage in plant.stages],
        [stage.exposure.oxidizer_only_ms for stage in plant.stages],
        plant.ticks,
    )


@dataclass(frozen=True)
class Result:
    """What came of a sequence; one entry per stage where there are several."""

    bottle_pa: float
    oxidizer_kg: list[float]
    fuel_kg: list[float]
    fuel_only_ms: list[float]
    oxidizer_only_ms: list[float]
    evaluations: int
    """How often the equations were evaluated; controller ticks for the stepped plant."""


class _Coil:
    """One valve's constants, and whether its plunger is lifted."""

    def __init__(self, p: ValveParameters, coil_k: float) -> None:
        self.p = p
        self.ohm = copper_resistance_ohm(p.coil_ohm, 293.15, coil_k)
        self.driven = False
        self.lifted = False

    def slopes(self, current_a: float, position: float, volts: float) -> tuple[float, float]:
        """Rates of current and stroke."""
        if self.driven:
            rate = (volts - self.ohm * current_a) / self.p.coil_h
        elif current_a > 0.0:
            rate = (-self.p.clamp_v - self.ohm * current_a) / self.p.coil_h
        else:
            rate = 0.0
        if self.lifted:
            return rate, 1.0 / self.p.open_stroke_s if position < 1.0 else 0.0
        return rate, -1.0 / self.p.close_stroke_s if position > 0.0 else 0.0

    def over(self, current_a: float, differential_pa: float) -> float:
        """Current above the threshold that would change the plunger."""
        if self.lifted:
            return current_a - self.p.drop_out_a
        low, full = self.p.pull_in_a, self.p.pull_in_full_a
        share = max(differential_pa / self.p.full_differential_pa, 0.0)
        return current_a - float(np.sqrt(low**2 + (full**2 - low**2) * share))


def _reaches(at: int, goal: float) -> Any:
    """Event: one element of the state comes to its goal, from below for 1 and from above for 0."""

    def event(_time: float, state: np.ndarray) -> float:
        return float(state[at] - goal)

    event.terminal = True  # type: ignore[attr-defined]
    return event


def _sets(at: int, value: float) -> Callable[[np.ndarray], None]:
    def happen(state: np.ndarray) -> None:
        state[at] = value

    return happen


class Continuous:
    """Integrates a sequence of commands from rest."""

    def __init__(self, parameters: PlantParameters) -> None:
        self.p = parameters
        coil_k = parameters.electrical.coil_temperature_k
        self.coils = [_Coil(parameters.fuel.master_valve, coil_k)]
        for stage in parameters.stages:
            self.coils += [_Coil(stage.oxidizer_valve, coil_k), _Coil(stage.fuel_valve, coil_k)]
        self.stages_at = GLOBALS + PER_VALVE * len(self.coils)
        self.evaluations = 0
        bottle = parameters.bottle
        state = nitrous.state_at_density_temperature(bottle.fill_kg / bottle.volume_m3, bottle.temperature_k)
        self.start = np.zeros(self.stages_at + PER_STAGE * len(parameters.stages))
        self.start[:GLOBALS] = (
            bottle.fill_kg,
            state.internal_energy_j_kg * bottle.fill_kg,
            bottle.temperature_k,
            state.pressure_pa,
            parameters.fuel.set_pa,
            parameters.fuel.set_pa,
            parameters.electrical.set_v,
        )
        for index, stage in enumerate(parameters.stages):
            self.start[self.stages_at + PER_STAGE * index + FILLED] = 1.0 - stage.fuel_branch.drain_share

    def run(self, commands: list[Command], end_s: float) -> Result:
        """Integrate to `end_s`; commands in order of time, the first at 0."""
        self.exposures = [Exposure(s.rated_oxidizer_kg_s, s.rated_fuel_kg_s) for s in self.p.stages]
        state, now = self.start, 0.0
        for index, command in enumerate(commands):
            until = commands[index + 1].at_s if index + 1 < len(commands) else end_s
            self._command(command)
            while now < until - 1.0e-9:
                state, now = self._piece(state, now, until)
        density = state[MASS] / self.p.bottle.volume_m3
        bottle = nitrous.state_at_density_energy(density, state[ENERGY] / state[MASS])
        stages = [state[self.stages_at + PER_STAGE * i :][:PER_STAGE] for i in range(len(self.p.stages))]
        return Result(
            bottle.pressure_pa,
            [float(stage[GIVEN_O]) for stage in stages],
            [float(stage[GIVEN_F]) for stage in stages],
            [exposure.fuel_only_ms for exposure in self.exposures],
            [exposure.oxidizer_only_ms for exposure in self.exposures],
            self.evaluations,
        )

    def _command(self, command: Command) -> None:
        self.coils[0].driven = command.master
        for index in range(len(self.p.stages)):
            self.coils[1 + 2 * index].driven = bool(command.oxidizer >> index & 1)
            self.coils[2 + 2 * index].driven = bool(command.fuel >> index & 1)

    def _piece(self, state: np.ndarray, now: float, until: float) -> tuple[np.ndarray, float]:
        """Integrate until something switches, or to `until`."""
        self._settle_plungers(state)
        switches = self._switches(state)
        found: Any = solve_ivp(
            self._rates,
            (now, until),
            state,
            method="BDF",
            events=[event for event, _happen in switches],
            rtol=1.0e-6,
            atol=self._tolerances(),
            max_step=0.02,
            dense_output=True,
        )
        if not found.success or not np.all(np.isfinite(found.y[:, -1])):
            raise ArithmeticError(f"the solver stopped at {found.t[-1]:g} s: {found.message}")
        self._expose(found, now)
        state = found.y[:, -1].copy()
        for (_event, happen), times in zip(switches, found.t_events, strict=True):
            if len(times):
                happen(state)
        self._tidy(state)
        return state, float(found.t[-1])

    def _tidy(self, state: np.ndarray) -> None:
        """Equal parts switch together, but only the first of them stops the solver: finish the others."""
        for index, coil in enumerate(self.coils):
            at = GLOBALS + PER_VALVE * index
            if not coil.driven and state[at] < NOTHING:
                state[at] = 0.0
            for end in (0.0, 1.0):
                if abs(state[at + 1] - end) < NOTHING:
                    state[at + 1] = end

    def _settle_plungers(self, state: np.ndarray) -> None:
        """Plungers whose current is already past what would move them."""
        for index, coil in enumerate(self.coils):
            excess = coil.over(state[GLOBALS + PER_VALVE * index], self._differential_pa(state, index))
            if excess < 0.0 if coil.lifted else excess > 0.0:
                coil.lifted = not coil.lifted

    def _switches(self, state: np.ndarray) -> list[tuple[Any, Callable[[np.ndarray], None]]]:
        """What may switch from here on, each with what then happens to the state."""
        switches: list[tuple[Any, Callable[[np.ndarray], None]]] = []
        for index, coil in enumerate(self.coils):
            at = GLOBALS + PER_VALVE * index
            if coil.driven or state[at] > 1.0e-9:
                switches.append((self._plunger_event(index), self._moves(index)))
            if state[at] > 1.0e-9 and not coil.driven:
                switches.append((_reaches(at, 0.0), _sets(at, 0.0)))
            goal = 1.0 if coil.lifted else 0.0
            if state[at + 1] != goal:
                switches.append((_reaches(at + 1, goal), _sets(at + 1, goal)))
        for index in range(len(self.p.stages)):
            at = self.stages_at + PER_STAGE * index
            if state[at + FILLED] < 1.0:
                switches.append((_reaches(at + FILLED, 1.0), self._fills(index)))
        return switches

    def _moves(self, index: int) -> Callable[[np.ndarray], None]:
        def happen(_state: np.ndarray) -> None:
            self.coils[index].lifted = not self.coils[index].lifted

        return happen

    def _fills(self, index: int) -> Callable[[np.ndarray], None]:
        def happen(state: np.ndarray) -> None:
            at = self.stages_at + PER_STAGE * index
            state[at + FILLED] = 1.0
            state[at + SPRAY] = self._fuel_flow(state, index)

        return happen

    def _tolerances(self) -> np.ndarray:
        atol = np.full(len(self.start), 1.0e-6)
        atol[:GLOBALS] = (1e-7, 1e-2, 1e-5, 5.0, 0.5, 0.5, 1e-4)
        for index in range(len(self.p.stages)):
            at = self.stages_at + PER_STAGE * index
            atol[at + TUBES] = atol[at + SPRAY] = 1.0e-8
        return atol

    def _plunger_event(self, index: int) -> Any:
        def event(_time: float, state: np.ndarray) -> float:
            return self.coils[index].over(state[GLOBALS + PER_VALVE * index], self._differential_pa(state, index))

        event.terminal = True  # type: ignore[attr-defined]
        return event

    def _differential_pa(self, state: np.ndarray, coil: int) -> float:
        """Pressure across a valve."""
        if coil == 0:
            return float(state[SUPPLY] - state[BLOCK])
        if coil % 2 == 0:
            return float(state[BLOCK])
        ratio = state[self.stages_at + PER_STAGE * (coil // 2) + RATIO]
        return float(state[LINE] * (1.0 - min(max(ratio, 0.0), 1.0)))

    def _area_m2(self, state: np.ndarray, coil: int) -> float:
        position = min(max(state[GLOBALS + PER_VALVE * coil + 1], 0.0), 1.0)
        return float(position * self.coils[coil].p.flow_area_m2)

    def _fuel_flow(self, state: np.ndarray, index: int) -> float:
        """Flow through valve and jets in series, kg/s."""
        valve = self._area_m2(state, 2 + 2 * index)
        jets = self.p.stages[index].fuel_branch.jet_area_m2
        if valve <= 0.0:
            return 0.0
        push = (2.0 * self.p.fuel.density_kg_m3 * max(state[BLOCK], 0.0)) ** 0.5
        return float(push * valve * jets / (valve**2 + jets**2) ** 0.5)

    def _rates(self, _time: float, state: np.ndarray) -> np.ndarray:
        self.evaluations += 1
        rates = np.zeros_like(state)
        feed_k = nitrous.saturation_temperature_k(state[LINE])
        flux = orifice.critical_flow_saturated_liquid(feed_k).flux_kg_m2_s
        density = nitrous.liquid_density_kg_m3(feed_k)
        taken = drawn = 0.0
        for index in range(len(self.p.stages)):
            oxidizer, fuel = self._stage_rates(state, rates, index, flux, density)
            taken += oxidizer
            drawn += fuel
        self._supply_rates(state, rates, drawn)
        self._bottle_rates(state, rates, taken)
        load_a = float(sum(max(state[GLOBALS + PER_VALVE * i], 0.0) for i in range(len(self.coils))))
        electrical = self.p.electrical
        volts = state[BUS] - electrical.wire_ohm * load_a
        rates[BUS] = (electrical.set_v - electrical.source_ohm * load_a - state[BUS]) / electrical.bus_lag_s
        for index, coil in enumerate(self.coils):
            at = GLOBALS + PER_VALVE * index
            rates[at], rates[at + 1] = coil.slopes(state[at], state[at + 1], volts)
        return rates

    def _stage_rates(
        self, state: np.ndarray, rates: np.ndarray, index: int, flux: float, density: float
    ) -> tuple[float, float]:
        """Rates of one stage; what it takes from line and block, kg/s."""
        p = self.p.stages[index]
        at = self.stages_at + PER_STAGE * index
        ratio = min(max(state[at + RATIO], 0.0), 1.0)
        branch = p.oxidizer_branch
        capacity = self._area_m2(state, 1 + 2 * index) * flux
        through = branch.jet_area_m2 * flux * ratio
        inflow = capacity * max(1.0 - ratio**2, 1.0e-4) ** 0.5
        tube_s = branch.tube_m3 * branch.tube_density_kg_m3 / (branch.jet_area_m2 * NOMINAL_FLUX_KG_M2_S)
        rates[at + RATIO] = (inflow - through) / (branch.pocket_m3 * density)
        rates[at + TUBES] = (through - state[at + TUBES]) / tube_s
        rates[at + GIVEN_O] = state[at + TUBES]
        fuel = p.fuel_branch
        if state[at + FILLED] < 1.0:
            push = (2.0 * self.p.fuel.density_kg_m3 * max(state[BLOCK], 0.0)) ** 0.5
            filling = self._area_m2(state, 2 + 2 * index) * push
            rates[at + FILLED] = filling / (fuel.volume_m3 * self.p.fuel.density_kg_m3)
            return inflow, filling
        flow = self._fuel_flow(state, index)
        # The spray follows the flow, but falls no faster than the trapped pressure lets it.
        short = max(flow * (1.0 + FOLLOW_S / fuel.settle_s) - state[at + SPRAY], 0.0)
        rates[at + SPRAY] = short / FOLLOW_S - state[at + SPRAY] / fuel.settle_s
        rates[at + GIVEN_F] = state[at + SPRAY]
        return inflow, flow

    def _supply_rates(self, state: np.ndarray, rates: np.ndarray, drawn: float) -> None:
        p = self.p.fuel
        rates[SUPPLY] = (p.set_pa - p.droop_pa_s_kg * drawn - state[SUPPLY]) / p.regulator_lag_s
        if not self.p.hardware.master_fuel:
            rates[BLOCK] = rates[SUPPLY]
            return
        across = state[SUPPLY] - state[BLOCK]
        double = 2.0 * p.density_kg_m3
        inflow = self._area_m2(state, 0) * double * across / (double * abs(across) + SOFT) ** 0.5
        rates[BLOCK] = (inflow - drawn) / (p.block_m3_pa * p.density_kg_m3)

    def _bottle_rates(self, state: np.ndarray, rates: np.ndarray, taken: float) -> None:
        p = self.p.bottle
        bottle = nitrous.state_at_density_energy(state[MASS] / p.volume_m3, state[ENERGY] / state[MASS])
        heat_w = p.wall_to_fluid_w_k * (state[WALL] - bottle.temperature_k)
        rates[MASS] = -taken
        rates[ENERGY] = heat_w - taken * nitrous.liquid_enthalpy_j_kg(bottle.temperature_k)
        rates[WALL] = (p.wall_to_air_w_k * (self.p.ambient_k - state[WALL]) - heat_w) / p.wall_j_k
        loss_pa = self.p.line.loss_pa_s2_kg2 * taken**2
        rates[LINE] = (bottle.pressure_pa - loss_pa - state[LINE]) / self.p.line.lag_s

    def _expose(self, found: Any, now: float) -> None:
        count = max(1, int(np.ceil((found.t[-1] - now) / SAMPLE_S)))
        times = np.linspace(now, found.t[-1], count + 1)[1:]
        states = found.sol(times)
        step = float(times[0] - now)
        for index, exposure in enumerate(self.exposures):
            at = self.stages_at + PER_STAGE * index
            for oxidizer, fuel in zip(states[at + TUBES], states[at + SPRAY], strict=True):
                exposure.step(step, float(oxidizer), float(fuel), 0.0)
