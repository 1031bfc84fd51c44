"""The whole aircraft as the controller meets it, stepped on one deterministic clock.

Two rates. Valves, coils, branches, rails, line and block pressures advance in plant steps of 1 ms (a parameter) while
any of them moves; while all of them rest they advance once per controller tick. Bottle, plugs in the feed line,
engine and bus advance once per controller tick always.
"""

from random import Random
from typing import Any

from oxlatch.vocabulary import (
    COIL_FUEL_SHIFT,
    COIL_MASTER_FUEL,
    COIL_MASTER_OX,
    COIL_PURGE,
    OUT_MASTER_FUEL,
    OUT_MASTER_OX,
    OUT_PURGE,
    SW_DETENT_NO,
    TICK_MS,
)
from oxlatch_sim.physics.validity import PhysicsRangeError
from oxlatch_sim.plant.bottle import Bottle
from oxlatch_sim.plant.electrical import Electrical
from oxlatch_sim.plant.engine import Engine
from oxlatch_sim.plant.extras import Extras
from oxlatch_sim.plant.feed_flux import feed_flux
from oxlatch_sim.plant.fuel import FuelSupply
from oxlatch_sim.plant.line import FeedLine
from oxlatch_sim.plant.parameters import PlantParameters, master_oxidizer_valve, oxidizer_valve
from oxlatch_sim.plant.purge_outlet import PurgeOutlet
from oxlatch_sim.plant.sensors import GOOD, AnalogSensor, Contacts, Noise
from oxlatch_sim.plant.stage import Stage
from oxlatch_sim.plant.throttle import Throttle
from oxlatch_sim.plant.valve import Valve

TICK_S = TICK_MS / 1000.0
HIGHEST_PA = 4.0e7
HIGHEST_RPM = 2.0e4
HIGHEST_V = 100.0
MASTER_SEAT = 0.02
"""Share of its opening from which the master oxidizer valve joins bottle and line."""
RESTING_TICKS = 20
"""A resting bottle or line is brought up to date this often."""


class Plant:
    """Ties the components together; `advance` moves everything by one controller tick."""

    def __init__(self, parameters: PlantParameters, seed: int = 0, line_phase: int | None = None) -> None:
        p = parameters
        self.parameters = p
        flux = feed_flux()
        random = Random(seed)
        noise = Noise(seed + 1)
        coil_k = p.electrical.coil_temperature_k
        self.random = random
        self.electrical = Electrical(p.electrical)
        self.bottle = Bottle(flux.tables, p.bottle, p.ambient_k)
        self.line = FeedLine(flux, p.line, p.ambient_k, p.ambient_pa)
        if p.line.hand_valve_open and line_phase is not None:
            self.line.fill_with(line_phase, self.bottle)
        self.fuel = FuelSupply(p.fuel, p.hardware.master_fuel, coil_k)
        self.engine = Engine(p.engine, random, p.sensors.pulse_jitter)
        self.throttle = Throttle(p.throttle)
        self.purge = Valve(oxidizer_valve(p.line.purge_hole_m2), coil_k)
        self.stages = [Stage(s, p.sensors, p.hardware, p.fuel.density_kg_m3, coil_k) for s in p.stages]
        self.master_ox: Valve | None = None
        if p.hardware.master_oxidizer:
            self.master_ox = Valve(p.line.master_valve or master_oxidizer_valve(p.line.bore_m**2 * 0.5), coil_k)
            self.line.set_master(False)
        self.valves = [self.purge, self.fuel.master]
        if self.master_ox is not None:
            self.valves.append(self.master_ox)
        for stage in self.stages:
            self.valves += [stage.oxidizer_valve, stage.fuel_valve]
        self.throttle_sensor = AnalogSensor(p.sensors.throttle, noise, 11)
        self.supply_sensor = AnalogSensor(p.sensors.supply, noise, 223)
        self.fuel_sensor = AnalogSensor(p.sensors.fuel, noise, 431)
        self.block_sensor = AnalogSensor(p.sensors.block, noise, 647)
        self.contacts = Contacts(random, p.throttle.bounce_chance)
        self.extras = Extras(p, noise)
        self.noise = noise.values
        self.ticks = 0
        self.purge_kg_s = 0.0
        self.outlet = PurgeOutlet(p.ambient_k)
        self.suction_pa = 0.0
        self.coil_surround_k = coil_k
        self.oxidizer_coils_crossed = False
        self.proofs = 0
        self.currents = 0
        self.shorts = 0
        self._sensed_v = -1.0
        self._moving = True
        self._steps = max(1, round(TICK_S / p.step_s))
        self._start_sensors()

    def _start_sensors(self) -> None:
        self.supply_sensor.start(self.line.pressure_pa)
        self.fuel_sensor.start(self.fuel.supply_pa)
        self.block_sensor.start(self.fuel.block_pa)

    @property
    def time_s(self) -> float:
        """Simulated time."""
        return self.ticks * TICK_S

    def drive(self, oxidizer: int, fuel: int, bits: int) -> None:
        """Outputs of the controller."""
        crossed = self.oxidizer_coils_crossed
        for index, stage in enumerate(self.stages):
            bit = 1 << index
            asked = oxidizer & (1 << (index ^ 1 if crossed and index < 2 else index)) != 0
            fuel_asked = fuel & bit != 0
            if asked != stage.oxidizer_valve.commanded or fuel_asked != stage.fuel_asked:
                stage.ask(asked, fuel_asked)
                self._moving = True
        if (bits & OUT_PURGE != 0) != self.purge.commanded:
            self.purge.command(bits & OUT_PURGE != 0)
            self._moving = True
        if (bits & OUT_MASTER_FUEL != 0) != self.fuel.master.commanded:
            self.fuel.master.command(bits & OUT_MASTER_FUEL != 0)
            self._moving = True
        master_ox = self.master_ox
        if master_ox is not None and (bits & OUT_MASTER_OX != 0) != master_ox.commanded:
            master_ox.command(bits & OUT_MASTER_OX != 0)
            self._moving = True

    def wake(self) -> None:
        """Something was changed from outside: step everything finely until it rests again."""
        self._moving = True
        for valve in self.valves:
            valve.wake()

    def advance(self) -> None:
        """Move everything by one controller tick."""
        electrical = self.electrical
        electrical.tick(TICK_S)
        if self.master_ox is not None:
            self._master_oxidizer(self.master_ox)
        doubtful = self.throttle.switching() or self.contacts.faulty
        if not self._moving and electrical.quiet() and not doubtful:
            self._rest(TICK_S)
            changed = self._moving or electrical.rail_v != self._sensed_v
        else:
            self._fine()
            changed = True
        self._slow()
        if changed:
            self._sense()
        self.ticks += 1
        if not (
            0.0 < self.line.pressure_pa < HIGHEST_PA
            and -HIGHEST_PA < self.fuel.block_pa < HIGHEST_PA
            and self.engine.rpm < HIGHEST_RPM
            and electrical.bus_v < HIGHEST_V
        ):
            raise PhysicsRangeError(self._out_of_range())

    def _master_oxidizer(self, valve: Valve) -> None:
        """Its rail is the master pole alone, so that it stays open while armed and shuts with the master switch."""
        volts = self.electrical.bus_v if self.electrical.master else 0.0
        if volts != valve.rail_v:
            valve.rail(volts)
        if not valve.settled:
            valve.differential_pa = max(0.0, self.bottle.pressure_pa - self.line.pressure_pa)
            self._moving = True
        self.line.set_master(max(valve.position, valve.leak) > MASTER_SEAT)

    def _out_of_range(self) -> str:
        """Which quantity left its range, NaN included: the simulation must not go on from there."""
        return (
            f"plant out of range after {self.time_s:g} s: line {self.line.pressure_pa:g} Pa, "
            f"fuel block {self.fuel.block_pa:g} Pa, {self.engine.rpm:g} rpm, bus {self.electrical.bus_v:g} V; "
            f"allowed are 0 to {HIGHEST_PA:g} Pa, {HIGHEST_RPM:g} rpm, {HIGHEST_V:g} V"
        )

    def _sense(self) -> None:
        """Words of proofs and coil comparators; they change only while something moves or the rail does."""
        self._sensed_v = self.electrical.rail_v
        proofs = 0
        currents = COIL_PURGE if self.purge.holds() else 0
        shorts = COIL_PURGE if self.purge.trips() else 0
        master = self.fuel.master
        if master.holds():
            currents |= COIL_MASTER_FUEL
            if master.trips():
                shorts |= COIL_MASTER_FUEL
        if self.master_ox is not None and self.master_ox.holds():
            currents |= COIL_MASTER_OX
            if self.master_ox.trips():
                shorts |= COIL_MASTER_OX
        bit = 1
        for stage in self.stages:
            if stage.proof_wired():
                proofs |= bit
            for valve, flag in ((stage.oxidizer_valve, bit), (stage.fuel_valve, bit << COIL_FUEL_SHIFT)):
                if valve.holds():
                    currents |= flag
                    if valve.trips():
                        shorts |= flag
            bit <<= 1
        self.proofs = proofs
        self.currents = currents
        self.shorts = shorts

    def _fine(self) -> None:
        steps = self._steps
        dt = TICK_S / steps
        for _ in range(steps):
            self._step(dt)

    def _step(self, dt: float) -> None:
        electrical = self.electrical
        if self.throttle.moving:
            self.throttle.step(dt)
        self._rails(dt)
        moving = False
        line = self.line
        feed_pa = line.pressure_pa
        flux = line.flux_kg_m2_s
        density = line.density_kg_m3
        share = line.oxidizer_share
        supply = self.fuel
        block_pa = supply.block_pa
        purge = self.purge
        if not purge.settled:
            purge.differential_pa = feed_pa
            purge.step(dt)
            moving = True
        self.purge_kg_s = purge.area_m2 * flux
        flow = self.purge_kg_s + line.burst_m2 * flux
        drawn = 0.0
        for stage in self.stages:
            flow_in, fuel_in = self._stage(stage, dt, feed_pa, flux, density, share, block_pa)
            flow += flow_in
            drawn += fuel_in
            moving = moving or stage.moving
        master = supply.master
        if not master.settled:
            master.differential_pa = supply.supply_pa - block_pa
            master.step(dt)
            moving = True
        if self.master_ox is not None and not self.master_ox.settled:
            self.master_ox.step(dt)
            moving = True
        line.step(dt, flow, self.bottle.pressure_pa)
        supply.step(dt, drawn)
        self._moving = moving or not supply.steady or not line.steady(flow, self.bottle.pressure_pa)
        electrical.load_a = self._load_a()

    def _stage(
        self,
        stage: Stage,
        dt: float,
        feed_pa: float,
        flux: float,
        density: float,
        share: float,
        block_pa: float,
    ) -> tuple[float, float]:
        """Advance one stage; returns what it takes from the line and from the block, kg/s."""
        valve = stage.oxidizer_valve
        branch = stage.oxidizer_branch
        moving = False
        if not valve.settled:
            valve.differential_pa = feed_pa * (1.0 - branch.ratio)
            valve.step(dt)
            moving = True
        stage.interlock()
        fuel_valve = stage.fuel_valve
        if not fuel_valve.settled:
            fuel_valve.differential_pa = block_pa
            fuel_valve.step(dt)
            moving = True
        area = valve.area_m2
        if area > 0.0 or branch.out_kg_s > 0.0 or stage.proof:
            branch.step(dt, area, flux, density)
            stage.sense_proof(feed_pa)
            moving = moving or not branch.settled or stage.proof_fault != GOOD
        else:
            branch.in_kg_s = 0.0
        fuel_area = fuel_valve.area_m2
        fuel_branch = stage.fuel_branch
        if moving or not fuel_branch.settled or fuel_area > 0.0:
            fuel_branch.step(dt, fuel_area, block_pa, self.suction_pa)
            moving = moving or not fuel_branch.settled
        stage.moving = moving
        stage.oxidizer_kg_s = branch.out_kg_s * share
        stage.given_oxidizer_kg += stage.oxidizer_kg_s * dt
        stage.given_fuel_kg += fuel_branch.out_kg_s * dt
        stage.exposure.step(dt, stage.oxidizer_kg_s, fuel_branch.out_kg_s, fuel_branch.edge)
        return branch.in_kg_s, fuel_branch.in_kg_s

    def _rest(self, dt: float) -> None:
        """One long step with every valve, branch and rail at rest."""
        if self.throttle.moving:
            self.throttle.step(dt)
        if self._rails(dt):
            self._moving = True
        line = self.line
        flux = line.flux_kg_m2_s
        self.purge_kg_s = self.purge.area_m2 * flux
        flow = self.purge_kg_s + line.burst_m2 * flux
        supply = self.fuel
        block_pa = supply.block_pa
        drawn = 0.0
        for stage in self.stages:
            branch = stage.oxidizer_branch
            fuel_branch = stage.fuel_branch
            if branch.ratio > 0.0:
                branch.hold(flux)
                flow += branch.in_kg_s
                stage.oxidizer_kg_s = branch.out_kg_s * line.oxidizer_share
                before = stage.proof
                stage.sense_proof(line.pressure_pa)
                if stage.proof != before:
                    self._moving = True
            if fuel_branch.in_kg_s > 0.0 or fuel_branch.out_kg_s > 0.0:
                fuel_branch.hold(dt, stage.fuel_valve.area_m2, block_pa, self.suction_pa)
                drawn += fuel_branch.in_kg_s
            stage.given_oxidizer_kg += stage.oxidizer_kg_s * dt
            stage.given_fuel_kg += fuel_branch.out_kg_s * dt
            stage.exposure.step(dt, stage.oxidizer_kg_s, fuel_branch.out_kg_s, 0.0)
        line.step(dt, flow, self.bottle.pressure_pa)
        supply.step(dt, drawn)
        for valve in self.valves:
            if not valve.settled:
                self._moving = True

    def _rails(self, dt: float) -> bool:
        electrical = self.electrical
        electrical.contact = self.contact_wired()
        changed = electrical.step(dt)
        if changed or electrical.live:
            oxidizer_v, fuel_v = electrical.oxidizer_v, electrical.fuel_v
            if electrical.purge_v != self.purge.rail_v:
                self.purge.rail(electrical.purge_v)
            if fuel_v != self.fuel.master.rail_v:
                self.fuel.master.rail(fuel_v)
            for stage in self.stages:
                if oxidizer_v != stage.oxidizer_valve.rail_v:
                    stage.oxidizer_valve.rail(oxidizer_v)
                if fuel_v != stage.fuel_valve.rail_v:
                    stage.fuel_valve.rail(fuel_v)
        return changed

    def contact_wired(self) -> bool:
        """The normally-open detent pole as the rails see it, its own faults included."""
        made = self.throttle.no_made
        if self.contacts.faulty:
            return self.contacts.wired(SW_DETENT_NO if made else 0, SW_DETENT_NO) != 0
        return made

    def _load_a(self) -> float:
        total = 0.0
        for valve in self.valves:
            total += valve.current_a
        return total

    def _slow(self) -> None:
        line = self.line
        bottle = self.bottle
        moving = line.outflow_kg > 0.0 or line.oxidizer_share == 0.0
        if moving or self.ticks % RESTING_TICKS == 0:
            dt = TICK_S if moving else TICK_S * RESTING_TICKS
            drawn_kg = line.tick(dt, bottle)
            bottle.tick(drawn_kg, dt)
        if self.ticks % RESTING_TICKS == 0:
            for valve in self.valves:
                valve.warm(TICK_S * RESTING_TICKS, self.coil_surround_k)
        self.outlet.step(TICK_S, self.purge_kg_s, line.phase, line.pressure_pa)
        engine = self.engine
        plate = self.throttle.plate_share()
        boost_w = 0.0
        for stage in self.stages:
            if stage.oxidizer_kg_s > 0.0 and stage.fuel_branch.out_kg_s > stage.exposure.fuel_threshold:
                p = stage.parameters
                boost_w += p.power_w * stage.oxidizer_kg_s / p.rated_oxidizer_kg_s
        engine.boost_w = boost_w
        engine.tick(TICK_S, plate)
        self.suction_pa = (1.0 - plate) * 65_000.0 if engine.rpm > 500.0 else 0.0

    def sample_extras(self, raw: list[int]) -> None:
        """The slow quantities beyond the core; the second outlet stays warm when nothing passes it."""
        extras = self.extras
        first_k = self.outlet.temperature_k
        extras.sample(raw, self.bottle.wall_k, first_k, self.outlet.ambient_k if extras.second_outlet_dead else first_k)

    def replace_bottle(self, mass_kg: float, temperature_k: float) -> None:
        """Shut the hand valve, vent the line, fit another bottle and leave it shut: the line now holds air."""
        self.line.shut_hand_valve()
        self.line.vent()
        self.bottle.refill(mass_kg, temperature_k)
        self.wake()

    def components(self) -> list[Any]:
        """Every object that holds state, in a fixed order."""
        parts: list[Any] = [self, self.electrical, self.bottle, self.bottle.vessel, self.line, self.fuel]
        parts += [self.engine, self.throttle, self.throttle_sensor, self.supply_sensor]
        parts += [self.fuel_sensor, self.block_sensor, self.contacts, *self.valves]
        parts += [self.outlet, self.extras, *self.extras.sensors()]
        for stage in self.stages:
            parts += [stage, stage.oxidizer_branch, stage.fuel_branch, stage.exposure]
        if self.line.vessel is not None:
            parts.append(self.line.vessel)
        return parts
