"""The oxidizer feed line: plugs of air, vapour and liquid between the bottle's hand valve and the valve block.

Plug flow: what the bottle gives enters at one end, what leaves at the block is whatever plug stands there. With the
hand valve shut the line is a closed vessel that flashes, cools and runs dry.
"""

from math import exp, sqrt

from oxlatch_sim.plant.bottle import AIR, LIQUID, VAPOUR, Bottle, Vessel
from oxlatch_sim.plant.feed_flux import AIR_FLUX_SQRT_K, FeedFlux
from oxlatch_sim.plant.parameters import AIR_GAS_CONSTANT, FeedLineParameters

SMALLEST_PLUG = 1.0e-4
"""Share of the line below which a plug is merged into its neighbour."""
SMALLEST_SEEN = 5.0e-3
"""A plug at the block smaller than this share of the line is gone before a valve is open, and is passed over."""
HOTTEST_SHUT_K = 308.0
"""A line is taken to hold no hotter saturated liquid than this when it is shut: 1.5 K below the critical point."""
DRY_PA = 3.0e5
"""Closed-line pressure below which what is left is a gas at constant temperature."""


class FeedLine:
    """Pressure at the block and the plugs on the way there.

    `flux_kg_m2_s` is the choked flux at coefficient 1 of the plug at the block, `oxidizer_share` 0 while that is air.
    """

    def __init__(self, flux: FeedFlux, parameters: FeedLineParameters, ambient_k: float, ambient_pa: float) -> None:
        self.flux = flux
        self.parameters = parameters
        self.ambient_k = ambient_k
        self.ambient_pa = ambient_pa
        self.volume_m3 = 0.785398 * parameters.bore_m**2 * parameters.length_m
        self.hand_open = parameters.hand_valve_open
        self.master_open = True
        self.connected = self.hand_open
        self.restriction = 1.0
        self.burst_m2 = 0.0
        self.inert = False
        self.heat_w_k = parameters.heat_w_k
        self.surround_k = ambient_k
        self.outflow_kg = 0.0
        self.vessel: Vessel | None = None
        self.temperature_k = ambient_k
        self.plugs: list[list[float]] = []
        self.flux_kg_m2_s = 0.0
        self.density_kg_m3 = 1.0
        self.phase = AIR
        self.oxidizer_share = 0.0
        self.drawn_kg = 0.0
        self._lag_dt = 0.0
        self._lag_factor = 0.0
        self._air_pa_m3 = 0.0
        self.vent()

    def vent(self) -> None:
        """Empty the line to the atmosphere: it then holds air."""
        self.plugs = [[AIR, self.volume_m3]]
        self.vessel = None
        self.pressure_pa = self.ambient_pa
        self._air_pa_m3 = self.volume_m3 * self.ambient_pa
        self._outlet()

    def fill_with(self, phase: int, bottle: Bottle) -> None:
        """Start with the line full of one phase at bottle pressure."""
        self.plugs = [[phase, self.volume_m3]]
        self.vessel = None
        self.pressure_pa = bottle.pressure_pa
        self.temperature_k = bottle.temperature_k
        self._outlet()

    def shut_hand_valve(self) -> None:
        """Isolate the line; its oxidizer becomes a closed vessel."""
        self.hand_open = False
        self._connect()

    def open_hand_valve(self) -> None:
        """Connect the line to the bottle again, unless the master oxidizer valve is shut."""
        self.hand_open = True
        self._connect()

    def set_master(self, is_open: bool) -> None:
        """Open or shut the master oxidizer valve at the bottle."""
        if is_open != self.master_open:
            self.master_open = is_open
            self._connect()

    def _connect(self) -> None:
        """Isolate or join the line; what flashed while it was shut stays as a vapour plug at the block."""
        connected = self.hand_open and self.master_open
        if connected == self.connected:
            return
        self.connected = connected
        if not connected:
            self._close_vessel()
            return
        vessel = self.vessel
        if vessel is not None:
            air = self.plugs[0][1] if self.plugs and self.plugs[0][0] == AIR else 0.0
            liquid = vessel.liquid_share() * vessel.volume_m3
            self.plugs = [[AIR, air], [VAPOUR, vessel.volume_m3 - liquid], [LIQUID, liquid]]
            self.vessel = None
        self._tidy()
        self._outlet()

    def step(self, dt: float, flow_kg_s: float, bottle_pa: float) -> None:
        """Pressure at the block over `dt` while `flow_kg_s` leaves; closed lines change in `tick` only."""
        self.outflow_kg += flow_kg_s * dt
        if not self.connected:
            return
        loss_pa = self.restriction * self.parameters.loss_pa_s2_kg2 * flow_kg_s * flow_kg_s
        target_pa = bottle_pa - loss_pa
        target_pa = max(target_pa, self.ambient_pa)
        if dt != self._lag_dt:
            self._set_lag(dt)
        if self.phase == AIR and target_pa > self.pressure_pa:
            factor = 1.0 - exp(-dt / (self.parameters.refill_lag_s * self.restriction))
        else:
            factor = self._lag_factor
        self.pressure_pa += (target_pa - self.pressure_pa) * factor

    def steady(self, flow_kg_s: float, bottle_pa: float) -> bool:
        """Whether the pressure has settled to within 5 mbar."""
        if not self.connected:
            return flow_kg_s == 0.0
        loss_pa = self.restriction * self.parameters.loss_pa_s2_kg2 * flow_kg_s * flow_kg_s
        return abs(bottle_pa - loss_pa - self.pressure_pa) < 500.0

    def tick(self, dt: float, bottle: Bottle) -> float:
        """Move the plugs by what left since the last tick; returns the mass drawn from the bottle."""
        left_kg = self.outflow_kg
        self.outflow_kg = 0.0
        self.drawn_kg = 0.0
        if self.connected:
            if left_kg > 0.0:
                self._flow(left_kg, bottle)
            elif self.surround_k != self.temperature_k:
                self._soak(dt)
            if self.plugs[0][0] == AIR:
                self._squeeze_air(bottle)
            self.temperature_k = bottle.temperature_k
        else:
            self._closed(left_kg, dt)
        self._outlet()
        return self.drawn_kg

    def _flow(self, left_kg: float, bottle: Bottle) -> None:
        volume = left_kg / self.density_kg_m3
        plugs = self.plugs
        if len(plugs) > 1 or plugs[0][0] != bottle.phase:
            remaining = volume
            while plugs and remaining > 0.0:
                taken = min(plugs[0][1], remaining)
                plugs[0][1] -= taken
                remaining -= taken
                if plugs[0][1] <= SMALLEST_PLUG * self.volume_m3:
                    plugs.pop(0)
            self._append(bottle.phase, volume)
            self._tidy()
            if self.plugs[0][0] == AIR:
                self._air_pa_m3 = self.plugs[0][1] * self.pressure_pa
        if bottle.phase == LIQUID:
            density = self.flux.liquid(self.pressure_pa, self.temperature_k)[1]
        else:
            density = self.flux.vapour(self.pressure_pa)[1]
        self.drawn_kg += volume * density

    def _append(self, phase: int, volume: float) -> None:
        if self.plugs and self.plugs[-1][0] == phase:
            self.plugs[-1][1] += volume
        else:
            self.plugs.append([phase, volume])

    def _tidy(self) -> None:
        """Drop empty plugs and give the last one whatever the line's volume asks for."""
        self.plugs = [plug for plug in self.plugs if plug[1] > SMALLEST_PLUG * self.volume_m3]
        if not self.plugs:
            self.plugs = [[LIQUID, self.volume_m3]]
        self.plugs[-1][1] += self.volume_m3 - sum(plug[1] for plug in self.plugs)

    def _squeeze_air(self, bottle: Bottle) -> None:
        """Rising pressure packs the air at the block; the bottle fills the room behind it."""
        air = self.plugs[0]
        wanted = self._air_pa_m3 / self.pressure_pa
        if wanted < 0.99 * air[1]:
            room = air[1] - wanted
            air[1] = wanted
            self._append(bottle.phase, room)
            density = (
                self.flux.liquid(self.pressure_pa, self.temperature_k)[1]
                if bottle.phase == LIQUID
                else self.flux.vapour(self.pressure_pa)[1]
            )
            self.drawn_kg += room * density

    def _soak(self, dt: float) -> None:
        """Heat through the hose makes vapour at the block, or cold takes it away."""
        warm_w = self.heat_w_k * (self.surround_k - self.temperature_k)
        if warm_w == 0.0:
            return
        plugs = self.plugs
        if warm_w > 0.0 and plugs[-1][0] != LIQUID:
            return
        tables = self.flux.tables.saturation
        latent = tables.vapour_enthalpy_j_kg(self.temperature_k) - tables.liquid_enthalpy_j_kg(self.temperature_k)
        grown = warm_w * dt / (latent * self.flux.vapour(self.pressure_pa)[1])
        at = 1 if plugs[0][0] == AIR else 0
        if at >= len(plugs):
            return
        if plugs[at][0] == VAPOUR:
            plugs[at][1] = min(max(plugs[at][1] + grown, 0.0), self.volume_m3)
        elif grown > 0.0:
            plugs.insert(at, [VAPOUR, grown])
        if len(plugs) > at + 1:
            plugs[-1][1] += self.volume_m3 - sum(plug[1] for plug in plugs)
            if plugs[-1][1] <= 0.0:
                plugs.pop()
        if len(plugs) > 1 and plugs[at][0] == VAPOUR and plugs[at][1] <= 0.0:
            plugs.pop(at)

    def _close_vessel(self) -> None:
        liquid = sum(plug[1] for plug in self.plugs if plug[0] == LIQUID)
        vapour = sum(plug[1] for plug in self.plugs if plug[0] == VAPOUR)
        volume = liquid + vapour
        if volume < 0.02 * self.volume_m3:
            self.vessel = None
            return
        # A trace of room is left, as in any real valve and hose: the line is not liquid-full at the moment it is shut.
        temperature = min(self.temperature_k, HOTTEST_SHUT_K)
        point = self.flux.tables.saturation.at(temperature)
        mass = 0.999 * (liquid * point.liquid_density_kg_m3 + vapour * point.vapour_density_kg_m3)
        self.vessel = Vessel(self.flux.tables, volume, mass, temperature)

    def _closed(self, left_kg: float, dt: float) -> None:
        vessel = self.vessel
        if vessel is None:
            if left_kg > 0.0:
                self.pressure_pa = max(
                    self.ambient_pa, self.pressure_pa * (1.0 - left_kg / (self.density_kg_m3 * self.volume_m3))
                )
            return
        heat_j = self.heat_w_k * (self.surround_k - vessel.temperature_k) * dt
        if left_kg <= 0.0 and abs(heat_j) < 1.0e-9:
            return
        if vessel.mass_kg - left_kg < 1.0e-5 or vessel.pressure_pa < DRY_PA:
            # The last of it is a gas at ambient temperature; only its pressure still matters.
            self.vessel = None
            self.plugs = [[VAPOUR, self.volume_m3]]
            return
        vessel.draw(left_kg, LIQUID if vessel.quality < 0.5 else VAPOUR)
        vessel.energy_j += heat_j
        vessel.settle()
        self.pressure_pa = vessel.pressure_pa
        self.temperature_k = vessel.temperature_k

    def _outlet(self) -> None:
        """Flux and density of the plug at the block."""
        plugs = self.plugs
        first = 1 if len(plugs) > 1 and plugs[0][1] < SMALLEST_SEEN * self.volume_m3 else 0
        phase = int(plugs[first][0])
        pressure = self.pressure_pa
        if phase != AIR and self.vessel is not None:
            phase = LIQUID if self.vessel.quality < 0.5 else VAPOUR
        if phase == LIQUID:
            self.flux_kg_m2_s, self.density_kg_m3 = self.flux.liquid(pressure, self.temperature_k)
            self.oxidizer_share = 1.0
        elif phase == VAPOUR:
            self.flux_kg_m2_s, self.density_kg_m3 = self.flux.vapour(pressure)
            self.oxidizer_share = 1.0
        else:
            above_pa = max(pressure - self.ambient_pa, 0.0)
            self.flux_kg_m2_s = AIR_FLUX_SQRT_K * above_pa / sqrt(self.ambient_k)
            self.density_kg_m3 = pressure / (AIR_GAS_CONSTANT * self.ambient_k)
            self.oxidizer_share = 0.0
        if self.inert:
            self.oxidizer_share = 0.0
        self.phase = phase

    def _set_lag(self, dt: float) -> None:
        self._lag_dt = dt
        self._lag_factor = 1.0 - exp(-dt / self.parameters.lag_s)
