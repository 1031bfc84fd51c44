"""The lines between a stage valve and its nozzles: they fill before anything sprays and empty when the valve shuts."""

from math import exp

from oxlatch_sim.plant.parameters import NOMINAL_FLUX_KG_M2_S, FuelBranchParameters, OxidizerBranchParameters


class OxidizerBranch:
    """A pocket of feed pressure between valve and jets, then wide tubes of flashed mixture to the nozzles.

    `ratio` is pocket over feed pressure, and the flow through the jets follows it. With valve capacity Gv and jet
    capacity Gj (area times flux of the feed) and pocket contents m when full: m d(ratio)/dt = Gv sqrt(1 - ratio^2) -
    Gj ratio, whose steady state is the two restrictions in series. The tubes hold a mass proportional to their flow,
    so what leaves the nozzles follows the jets with one time constant.
    """

    def __init__(self, parameters: OxidizerBranchParameters) -> None:
        self.parameters = parameters
        self.ratio = 0.0
        self.in_kg_s = 0.0
        self.out_kg_s = 0.0
        self.settled = True
        self.jet_share = 1.0
        self._dt = 0.0
        self._factor = 0.0
        self._through = 0.0
        self.tube_s = (
            parameters.tube_m3 * parameters.tube_density_kg_m3 / (parameters.jet_area_m2 * NOMINAL_FLUX_KG_M2_S)
        )

    def step(self, dt: float, valve_m2: float, flux_kg_m2_s: float, density_kg_m3: float) -> None:
        """Advance by `dt`; the step is linearised, so it stays stable when the pocket is nearly full."""
        p = self.parameters
        ratio = self.ratio
        jets = self.jet_share * p.jet_area_m2 * flux_kg_m2_s
        capacity = valve_m2 * flux_kg_m2_s
        full_kg = p.pocket_m3 * density_kg_m3
        room = 1.0 - ratio * ratio
        root = room**0.5 if room > 1.0e-4 else 0.01
        rate = (capacity * root - jets * ratio) / full_kg
        slope = (capacity * ratio / root + jets) / full_kg
        change = rate * dt / (1.0 + slope * dt)
        ratio = min(ratio + change, 1.0)
        if ratio < 0.002 and valve_m2 == 0.0:
            ratio = 0.0
        self.ratio = ratio
        self.in_kg_s = capacity * root
        through = jets * ratio
        if dt != self._dt:
            self._dt = dt
            self._factor = 1.0 - exp(-dt / self.tube_s) if self.tube_s > 0.0 else 1.0
        # Half a step of the flow that has just changed: the mean over the step enters the tubes.
        lag = (0.5 * (through + self._through) - self.out_kg_s) * self._factor
        self._through = through
        out = self.out_kg_s + lag
        if ratio == 0.0 and out < 1.0e-6:
            out = 0.0
        self.out_kg_s = out
        self.settled = -2.0e-4 < change < 2.0e-4 and -2.0e-6 < lag < 2.0e-6 and (ratio > 0.0 or out == 0.0)

    def hold(self, flux_kg_m2_s: float) -> None:
        """Follow slow changes of the feed while nothing moves."""
        if self.ratio > 0.0:
            self.out_kg_s = self.jet_share * self.parameters.jet_area_m2 * flux_kg_m2_s * self.ratio
            self.in_kg_s = self.out_kg_s


class FuelBranch:
    """Liquid behind jets: `filled` is the share of the volume that holds fuel.

    An empty branch fills at what the valve passes, air leaving freely; once full the valve and the jets are in series.
    After the valve shuts the trapped pressure leaves within milliseconds, then the branch drains slowly.
    """

    def __init__(self, parameters: FuelBranchParameters, density_kg_m3: float) -> None:
        self.parameters = parameters
        self.density_kg_m3 = density_kg_m3
        self.filled = 1.0 - parameters.drain_share
        self.in_kg_s = 0.0
        self.out_kg_s = 0.0
        self.edge = 0.0
        self.settled = True
        self.jet_share = 1.0

    def step(self, dt: float, valve_m2: float, pressure_pa: float, suction_pa: float) -> None:
        """Advance by `dt` with the block at `pressure_pa` above ambient and the manifold `suction_pa` below it."""
        p = self.parameters
        drop = pressure_pa + suction_pa
        push = (2.0 * self.density_kg_m3 * drop) ** 0.5 if drop > 0.0 else 0.0
        self.edge = 0.0
        before = self.out_kg_s
        if valve_m2 <= 0.0:
            self._shut(dt)
        elif self.filled < 1.0:
            self._fill(dt, valve_m2, push)
        else:
            jets = self.jet_share * p.jet_area_m2
            flow = push * valve_m2 * jets / (valve_m2 * valve_m2 + jets * jets) ** 0.5 if jets > 0.0 else 0.0
            # The pressure trapped in the branch keeps the jets going for a moment when the valve closes faster.
            trapped = before * p.settle_s / (p.settle_s + dt)
            self.out_kg_s = max(trapped, flow)
            self.in_kg_s = flow
        change = self.out_kg_s - before
        self.settled = (self.filled >= 1.0 and valve_m2 > 0.0 and -1.0e-6 < change < 1.0e-6) or (
            valve_m2 == 0.0 and self.out_kg_s < 1.0e-7 + self.dribble_kg_s()
        )

    def hold(self, dt: float, valve_m2: float, pressure_pa: float, suction_pa: float) -> None:
        """Follow slow changes while nothing moves: steady flow, or the slow drain of a shut branch."""
        if valve_m2 > 0.0:
            self.step(dt, valve_m2, pressure_pa, suction_pa)
            return
        self.in_kg_s = 0.0
        lowest = 1.0 - self.parameters.drain_share
        if self.filled > lowest:
            self.out_kg_s = self.dribble_kg_s()
            self.filled = max(lowest, self.filled - self.out_kg_s * dt / self._full_kg())
        else:
            self.out_kg_s = 0.0

    def dribble_kg_s(self) -> float:
        """Slow drain of a shut branch through its jets."""
        return self._full_kg() * self.parameters.drain_share / self.parameters.drain_s

    def _full_kg(self) -> float:
        return self.parameters.volume_m3 * self.density_kg_m3

    def _fill(self, dt: float, valve_m2: float, push: float) -> None:
        flow = valve_m2 * push
        full_kg = self._full_kg()
        missing_kg = (1.0 - self.filled) * full_kg
        arrives_kg = flow * dt
        self.in_kg_s = flow
        if arrives_kg < missing_kg:
            self.filled += arrives_kg / full_kg
            self.out_kg_s *= self.parameters.settle_s / (self.parameters.settle_s + dt)
            if self.out_kg_s < 1.0e-9:
                self.out_kg_s = 0.0
            return
        self.filled = 1.0
        self.edge = missing_kg / arrives_kg if arrives_kg > 0.0 else 0.0
        jets = self.jet_share * self.parameters.jet_area_m2
        self.out_kg_s = push * valve_m2 * jets / (valve_m2 * valve_m2 + jets * jets) ** 0.5 if jets > 0.0 else 0.0

    def _shut(self, dt: float) -> None:
        p = self.parameters
        self.in_kg_s = 0.0
        self.out_kg_s *= p.settle_s / (p.settle_s + dt)
        lowest = 1.0 - p.drain_share
        dribble = self.dribble_kg_s() if self.filled > lowest else 0.0
        if self.out_kg_s <= dribble:
            self.out_kg_s = dribble
            self.filled = max(lowest, self.filled - dribble * dt / self._full_kg())
