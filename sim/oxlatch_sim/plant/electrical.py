"""Bus, run switch, coil rails and the one-shot that holds them."""

from math import exp

from oxlatch_sim.plant.parameters import ElectricalParameters


class Electrical:
    """Three rails behind one run switch.

    fuel rail = master pole and one-shot and contact (a few ms of RC); oxidizer rail = master pole and one-shot and the
    same contact with its off-delay; purge rail = master pole and one-shot.
    """

    def __init__(self, parameters: ElectricalParameters) -> None:
        self.parameters = parameters
        self.alternator_on = True
        self.set_v = parameters.set_v
        self.battery_ohm = parameters.battery_ohm
        self.sag_v = 0.0
        self.supply_cut = False
        self.master = False
        self.contact = False
        self.one_shot_s = 0.0
        self.oxidizer_s = 0.0
        self.fuel_s = 0.0
        self.welded = False
        self.run_open = False
        self.fuel_wire_open = False
        self.sense_share = 1.0
        self.rail_sense_share = 1.0
        self.bus_v = parameters.set_v
        self.load_a = 0.0
        self.live = False
        self.oxidizer_v = 0.0
        self.fuel_v = 0.0
        self.purge_v = 0.0
        self.rail_v = 0.0

    def kick(self) -> None:
        """Retrigger the one-shot."""
        self.one_shot_s = self.parameters.one_shot_s

    def tick(self, dt: float) -> None:
        """Bus voltage once per controller tick."""
        p = self.parameters
        if self.supply_cut:
            target = 0.0
        elif self.alternator_on:
            target = self.set_v - p.source_ohm * self.load_a - self.sag_v
        else:
            target = p.battery_v - self.battery_ohm * self.load_a - self.sag_v
        gap = target - self.bus_v
        if gap:
            self.bus_v += gap * dt / (p.bus_lag_s + dt)
            self.bus_v = max(self.bus_v, 0.0)
        if not self.live and self.rail_v > 0.0:
            self.rail_v *= exp(-dt / p.rail_decay_s)
            if self.rail_v < 0.01:
                self.rail_v = 0.0

    def step(self, dt: float) -> bool:
        """Timers and rails over `dt`; returns whether any rail switched."""
        p = self.parameters
        if self.one_shot_s > 0.0:
            self.one_shot_s -= dt
        if self.contact:
            self.oxidizer_s = p.oxidizer_hold_s
            self.fuel_s = p.fuel_hold_s
        else:
            if self.oxidizer_s > 0.0:
                self.oxidizer_s -= dt
            if self.fuel_s > 0.0:
                self.fuel_s -= dt
        switched = self.one_shot_s > 1.0e-9 and self.bus_v > p.comparator_v and not self.run_open
        live = self.master and (switched or self.welded)
        self.live = live
        volts = self.bus_v - p.wire_ohm * self.load_a if live else 0.0
        oxidizer_v = volts if self.oxidizer_s > 1.0e-9 else 0.0
        fuel_v = volts if self.fuel_s > 1.0e-9 and not self.fuel_wire_open else 0.0
        changed = (
            (oxidizer_v > 0.0) != (self.oxidizer_v > 0.0)
            or (fuel_v > 0.0) != (self.fuel_v > 0.0)
            or (volts > 0.0) != (self.purge_v > 0.0)
        )
        self.oxidizer_v = oxidizer_v
        self.fuel_v = fuel_v
        self.purge_v = volts
        if live:
            self.rail_v = volts
        return changed

    def quiet(self) -> bool:
        """Whether no timer can switch a rail within the next controller tick."""
        one_shot = self.one_shot_s <= 0.0 or self.one_shot_s > 0.010
        if self.contact:
            return one_shot
        return one_shot and self.oxidizer_s <= 0.0 and self.fuel_s <= 0.0
