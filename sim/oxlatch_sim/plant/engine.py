"""Engine, propeller and governor, and the ignition pulses the controller counts."""

from random import Random

from oxlatch_sim.plant.parameters import EngineParameters

RPM_TO_RAD = 0.10471975511965977
LONGEST_AGE_MS = 10_000

PICKUP_GOOD = 0
PICKUP_SILENT = 1
PICKUP_FALSE = 2
PICKUP_FROZEN = 3
PICKUP_DRIFTING = 4
PICKUP_NOISY = 5
PICKUP_LATE = 6


class Engine:
    """Speed from the power balance on one inertia; a constant-speed governor trims the propeller load.

    Load torque is proportional to speed squared; the governor moves it between the fine stop and feather. An engine
    that has quit is turned by nothing and slowed by propeller and friction.
    """

    def __init__(self, parameters: EngineParameters, random: Random, jitter: float, lapse: float = 1.0) -> None:
        self.parameters = parameters
        self.random = random
        self.jitter = jitter
        self.lapse = lapse
        self.running = False
        self.sparks = True
        self.rpm = 0.0
        rated_rad = parameters.rated_rpm * RPM_TO_RAD
        self.rated_load = parameters.power_w / rated_rad**3
        self.pitch = parameters.fine_pitch_share
        self.governor_stuck = False
        self.load_share = 1.0
        self.boost_w = 0.0
        self._turn = 0.0
        self._since_pulse_s = LONGEST_AGE_MS / 1000.0
        self.measured_rpm = 0
        self.pulse_age_ms = LONGEST_AGE_MS
        self.pickup = PICKUP_GOOD
        self._pickup_n = 0
        self._late: list[int] = []

    def start(self, rpm: float) -> None:
        """Set the engine running at a speed."""
        self.running = True
        self.rpm = rpm

    def tick(self, dt: float, throttle_share: float) -> None:
        """Advance speed and pulses by `dt` with the throttle plate open to `throttle_share`."""
        rpm = self.rpm
        if rpm > 0.0 or self.running:
            rpm = self._speed(dt, throttle_share, rpm)
            self.rpm = rpm
        self._pulses(dt, rpm)
        if self.pickup:
            self._failed_pickup()

    def _failed_pickup(self) -> None:
        """What the controller sees through a failed pick-up or its lead."""
        self._pickup_n += 1
        fault = self.pickup
        if fault == PICKUP_SILENT:
            self.pulse_age_ms = min(5 * self._pickup_n, LONGEST_AGE_MS)
        elif fault == PICKUP_FALSE:
            self.measured_rpm = 2500
            self.pulse_age_ms = 4
        elif fault == PICKUP_FROZEN:
            self.measured_rpm = self._late[0] if self._late else self.measured_rpm
            self._late = [self.measured_rpm]
            self.pulse_age_ms = 4
        elif fault == PICKUP_DRIFTING:
            self.measured_rpm = int(self.measured_rpm * (1.0 - 0.0002 * self._pickup_n))
        elif fault == PICKUP_NOISY:
            if self.random.random() < 0.3:
                self.measured_rpm = int(self.measured_rpm * (1.5 + self.random.random()))
        else:
            self._late.append(self.measured_rpm)
            if len(self._late) > 40:
                self._late.pop(0)
            self.measured_rpm = self._late[0]

    def fail_pickup(self, fault: int) -> None:
        """Put the pick-up into a fault, or heal it."""
        self.pickup = fault
        self._pickup_n = 0
        self._late = []

    def _speed(self, dt: float, throttle_share: float, rpm: float) -> float:
        p = self.parameters
        omega = rpm * RPM_TO_RAD
        friction_nm = p.friction_w / (p.rated_rpm * RPM_TO_RAD)
        torque = 0.0
        if self.running and self.sparks:
            idle = 0.06
            share = idle + (1.0 - idle) * throttle_share
            torque = self.lapse * share * p.power_w / (p.rated_rpm * RPM_TO_RAD)
            if omega > 1.0:
                torque += self.boost_w / omega
            if rpm < p.idle_rpm:
                torque += 0.5 * friction_nm * (p.idle_rpm - rpm) / p.idle_rpm
        elif omega > 0.5:
            torque = -friction_nm
        load = self.load_share * self.pitch * self.rated_load * omega * omega
        if not self.governor_stuck:
            pitch = self.pitch + p.pitch_rate_per_rpm_s * (rpm - p.rated_rpm) * dt
            self.pitch = min(max(pitch, p.fine_pitch_share), 2.5)
        omega += (torque - load) / p.inertia_kg_m2 * dt
        return omega / RPM_TO_RAD if omega > 0.0 else 0.0

    def _pulses(self, dt: float, rpm: float) -> None:
        since = self._since_pulse_s
        if rpm > 30.0 and self.sparks:
            rate = rpm * self.parameters.pulses_per_turn / 60.0
            turn = self._turn + rate * dt
            if turn >= 1.0:
                count = int(turn)
                turn -= count
                interval = since + dt - (turn + count - 1.0) / rate if count == 1 else 1.0 / rate
                self._since_pulse_s = since = turn / rate
                if interval > 0.0:
                    measured = 60.0 / (interval * self.parameters.pulses_per_turn)
                    self.measured_rpm = int(measured * (1.0 + self.jitter * (self.random.random() - 0.5)))
            else:
                self._since_pulse_s = since = since + dt
            self._turn = turn
        elif since < 10.0:
            self._since_pulse_s = since = since + dt
        age = int(since * 1000.0)
        self.pulse_age_ms = min(LONGEST_AGE_MS, age)
