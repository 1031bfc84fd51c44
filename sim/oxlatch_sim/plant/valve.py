"""A solenoid valve: coil current, plunger, clamp, and the ways it can fail."""

from math import exp, log, sqrt

from oxlatch_sim.physics.coil import copper_resistance_ohm
from oxlatch_sim.plant.parameters import ValveParameters

FREE = 0
JAMMED_SHUT = 1
JAMMED_OPEN = 2

COLD_K = 293.15
"""Temperature at which a coil's resistance is given."""


class Valve:
    """Stepped only while something changes: `settled` tells the plant to leave it alone.

    Current follows i' = (V - R i) / L exactly within each step, so pull-in and drop-out fall where they belong inside a
    step and not on its edge. The plunger lifts when the current exceeds what the pressure across it asks for, and falls
    below the drop-out current.
    """

    def __init__(self, parameters: ValveParameters, coil_k: float = 293.15) -> None:
        self.parameters = parameters
        self.rail_v = 0.0
        self.commanded = False
        self.current_a = 0.0
        self.position = 0.0
        self.lifted = False
        self.settled = True
        self.differential_pa = 0.0
        self.area_m2 = 0.0
        # faults
        self.jam = FREE
        self.leak = 0.0
        self.coil_open = False
        self.driver_open = False
        self.driver_shorted = False
        self.stray_v = 0.0
        self.shorted_turns = False
        self.open_stroke_s = parameters.open_stroke_s
        self.close_stroke_s = parameters.close_stroke_s
        self.clamp_v = parameters.clamp_v
        self.pull_in_share = 1.0
        self.set_coil_temperature(coil_k)

    def set_coil_temperature(self, coil_k: float) -> None:
        """A hotter coil draws less current."""
        self.coil_k = coil_k
        self.ohm = copper_resistance_ohm(self.parameters.coil_ohm, COLD_K, coil_k)
        self.tau_s = self.parameters.coil_h / self.ohm
        self.settled = False

    def warm(self, dt: float, ambient_k: float) -> None:
        """Heat the coil by its own current and cool it to the surroundings over `dt`, as a lump."""
        p = self.parameters
        power_w = self.current_a * self.current_a * self._ohm()
        rise_k = (power_w - p.cool_w_k * (self.coil_k - ambient_k)) * dt / p.heat_j_k
        if -1.0e-4 < rise_k < 1.0e-4:
            return
        self.coil_k += rise_k
        settled = self.settled
        self.set_coil_temperature(self.coil_k)
        if settled:
            self.settled = True
            if self.driven and self.current_a > 0.0:
                self.current_a = self.rail_v / self._ohm()
                if self.lifted != (self.current_a >= self._threshold_a()):
                    self.settled = False

    @property
    def driven(self) -> bool:
        """Whether the coil is connected to its rail."""
        return (self.commanded or self.driver_shorted) and not (self.coil_open or self.driver_open)

    def command(self, on: bool) -> None:
        """Switch the low-side driver."""
        if on != self.commanded:
            self.commanded = on
            self.settled = False

    def rail(self, volts: float) -> None:
        """Volts on the high side; small changes of a settled coil follow without a transient."""
        change = volts - self.rail_v
        self.rail_v = volts
        if change > 0.3 or change < -0.3:
            self.settled = False
        elif self.current_a > 0.0 and self.settled and self.driven:
            self.current_a = volts / self._ohm()
            if self.lifted != (self.current_a >= self._threshold_a()):
                self.settled = False

    def wake(self) -> None:
        """Something about the valve was changed from outside."""
        self.settled = False
        self.area_m2 = max(self.leak, self.position) * self.parameters.flow_area_m2

    def pull_in_a(self) -> float:
        """Current that lifts the plunger against the present pressure difference.

        Force grows with the square of the current; the pressure force adds to the spring's.
        """
        p = self.parameters
        low, full = p.pull_in_a, p.pull_in_full_a
        share = self.differential_pa / p.full_differential_pa
        return self.pull_in_share * sqrt(low * low + (full * full - low * low) * max(share, 0.0))

    def step(self, dt: float) -> None:
        """Advance coil and plunger by `dt` seconds."""
        start_a = self.current_a
        driven = self.driven
        resistance = self._ohm()
        tau = self.tau_s * self.ohm / resistance if not self.shorted_turns else 0.1 * self.tau_s
        volts = self.rail_v if driven else 0.0
        volts = max(volts, self.stray_v)
        target_a = (volts if volts > 0.0 else -self.clamp_v) / resistance
        end_a = target_a + (start_a - target_a) * exp(-dt / tau)
        end_a = max(end_a, 0.0)
        self.current_a = end_a
        threshold = self._threshold_a()
        lifts = end_a >= threshold
        moving_s = dt
        if lifts != self.lifted:
            if start_a > target_a + 1e-9 or target_a > start_a + 1e-9:
                ratio = (start_a - target_a) / (threshold - target_a)
                if ratio > 1.0:
                    moving_s = max(dt - tau * log(ratio), 0.0)
            self.lifted = lifts
        self._move(lifts, moving_s)
        goal = self._goal(lifts)
        resting = max(0.0, target_a)
        self.area_m2 = max(self.leak, self.position) * self.parameters.flow_area_m2
        self.settled = self.position == goal and abs(end_a - resting) < 0.01 + 0.005 * resting
        if self.settled:
            self.current_a = resting

    def _threshold_a(self) -> float:
        return self.parameters.drop_out_a if self.lifted else self.pull_in_a()

    def _ohm(self) -> float:
        return 0.1 * self.ohm if self.shorted_turns else self.ohm

    def _goal(self, lifts: bool) -> float:
        if self.jam == JAMMED_SHUT:
            return 0.0
        if self.jam == JAMMED_OPEN:
            return 1.0 if lifts or self.position > 0.0 else 0.0
        return 1.0 if lifts else 0.0

    def _move(self, lifts: bool, moving_s: float) -> None:
        goal = self._goal(lifts)
        if self.position < goal:
            self.position = min(goal, self.position + moving_s / self.open_stroke_s)
        elif self.position > goal:
            self.position = max(goal, self.position - moving_s / self.close_stroke_s)

    def holds(self) -> bool:
        """Whether the hold comparator sees current."""
        return self.current_a > self.parameters.hold_sense_a

    def trips(self) -> bool:
        """Whether the trip comparator sees current."""
        return self.current_a > self.parameters.trip_sense_a
