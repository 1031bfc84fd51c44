"""Motion of an aircraft from brake release to a height, by small steps of time.

Forces along the runway: thrust, drag, rolling friction on what the wing does not carry, slope, and the drag of a tow. A
point mass on a straight runway; lift-off at one speed; a climb at that speed. Elementary mechanics, SI units
throughout.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

GRAVITY = 9.80665
STEP_S = 0.1
LONGEST_S = 240.0
ROTATION_S = 1.0
REACTION_S = 2.0

# Rolling friction runs from 0.02 (dry concrete) to 0.3 (very soft ground) in textbooks. The values between are set so
# that
# a light aircraft meets the published take-off factors for grass and soft ground; braking is judgement.
ROLLING = {
    "hard": 0.03,
    "short grass": 0.09,
    "long grass": 0.115,
    "soft ground": 0.14,
    "wet grass": 0.12,
    "snow": 0.13,
}
BRAKING = {
    "hard": 0.35,
    "short grass": 0.22,
    "long grass": 0.22,
    "soft ground": 0.20,
    "wet grass": 0.12,
    "snow": 0.10,
}
SURFACE_SOURCE = "rolling friction set to meet published take-off factors; braking is judgement"


@dataclass(frozen=True)
class Airframe:
    """Mass and aerodynamics while rolling and in the climb; the tow's mass and drag come on top."""

    mass_kg: float
    wing_m2: float
    lift_roll: float
    drag_roll: float
    lift_climb: float
    drag_climb: float
    tow_kg: float = 0.0
    tow_drag_ratio: float = 30.0

    @property
    def total_kg(self) -> float:
        """Everything that is accelerated."""
        return self.mass_kg + self.tow_kg

    def tow_drag_n(self) -> float:
        """Drag of the tow, taken at its best glide throughout."""
        return self.tow_kg * GRAVITY / self.tow_drag_ratio

    def lift_off_speed(self, density: float) -> float:
        """Airspeed at which the wing carries the aircraft at its climb lift coefficient."""
        return math.sqrt(2 * self.mass_kg * GRAVITY / (density * self.wing_m2 * self.lift_climb))


@dataclass(frozen=True)
class Runway:
    """Surface, uphill slope as a fraction, headwind, air density and the height to clear."""

    surface: str
    slope: float
    headwind: float
    density: float
    obstacle_m: float

    @property
    def rolling(self) -> float:
        """Coefficient of rolling friction."""
        return ROLLING[self.surface]

    @property
    def braking(self) -> float:
        """Coefficient of friction with brakes on."""
        return BRAKING[self.surface]


Thrust = Callable[[float], float]


def propeller_thrust_n(power_w: float, airspeed: float, density: float, diameter_m: float, efficiency: float) -> float:
    """Thrust of a propeller by momentum theory: η·P = T·(V + v), T = 2·ρ·A·(V + v)·v.

    `efficiency` stands for everything but the momentum loss. Solved for the induced speed v by Newton's method, which
    converges from above because the cubic is convex there.
    """
    disc = 2 * density * math.pi / 4 * diameter_m**2
    useful = efficiency * power_w
    if useful <= 0:
        return 0.0
    induced = (useful / disc) ** (1 / 3)
    for _ in range(8):
        total = airspeed + induced
        value = disc * total * total * induced - useful
        induced -= value / (disc * total * (total + 2 * induced))
    return disc * (airspeed + induced) * induced


@dataclass(frozen=True)
class Point:
    """Where the aircraft is at one time: ground distance, ground speed, height above the runway."""

    time_s: float
    distance_m: float
    speed: float
    height_m: float
    is_airborne: bool


def acceleration(plane: Airframe, runway: Runway, thrust: Thrust, ground_speed: float) -> float:
    """Along the runway, before lift-off."""
    airspeed = max(ground_speed + runway.headwind, 0.0)
    pressure = 0.5 * runway.density * airspeed * airspeed * plane.wing_m2
    carried = min(pressure * plane.lift_roll, plane.mass_kg * GRAVITY)
    force = thrust(airspeed) - pressure * plane.drag_roll - plane.tow_drag_n() * min(airspeed / 25.0, 1.0) ** 2
    force -= runway.rolling * (plane.total_kg * GRAVITY - carried) + plane.total_kg * GRAVITY * runway.slope
    return force / plane.total_kg


def climb_gradient(plane: Airframe, runway: Runway, thrust: Thrust) -> float:
    """Height gained above the runway's own slope per ground distance, at lift-off speed."""
    airspeed = plane.lift_off_speed(runway.density)
    drag = 0.5 * runway.density * airspeed**2 * plane.wing_m2 * plane.drag_climb + plane.tow_drag_n()
    sine = (thrust(airspeed) - drag) / (plane.total_kg * GRAVITY)
    ground_speed = airspeed * math.cos(math.asin(max(min(sine, 0.9), -0.9))) - runway.headwind
    if ground_speed <= 0:
        return math.inf
    return airspeed * sine / ground_speed - runway.slope


def take_off(plane: Airframe, runway: Runway, thrust: Thrust, start: Point | None = None) -> list[Point]:
    """Points every `STEP_S` from `start` (standing, when not given) until the height is cleared or hope is gone.

    The last point is at the obstacle height when it was reached; otherwise time or speed ran out.
    """
    points = [start or Point(0.0, 0.0, 0.0, 0.0, False)]
    lift_off = max(plane.lift_off_speed(runway.density) - runway.headwind, 0.1)
    while points[-1].time_s < LONGEST_S:
        last = points[-1]
        if last.is_airborne and last.height_m >= runway.obstacle_m:
            break
        if not last.is_airborne and last.speed >= lift_off:
            lifted = Point(last.time_s + ROTATION_S, last.distance_m + lift_off * ROTATION_S, lift_off, 0.0, True)
            points.append(lifted)
            continue
        following = _climbed(plane, runway, thrust, last) if last.is_airborne else _rolled(plane, runway, thrust, last)
        if following is None:
            break
        points.append(following)
    return points


def _rolled(plane: Airframe, runway: Runway, thrust: Thrust, last: Point) -> Point | None:
    middle = last.speed + 0.5 * STEP_S * acceleration(plane, runway, thrust, last.speed)
    rate = acceleration(plane, runway, thrust, max(middle, 0.0))
    speed = last.speed + STEP_S * rate
    lift_off = max(plane.lift_off_speed(runway.density) - runway.headwind, 0.1)
    if rate <= 1e-3 and speed < lift_off:
        return None
    step = STEP_S
    if speed > lift_off:
        step = (lift_off - last.speed) / rate
        speed = lift_off
    distance = last.distance_m + step * (last.speed + speed) / 2
    return Point(last.time_s + step, distance, speed, 0.0, False)


def _climbed(plane: Airframe, runway: Runway, thrust: Thrust, last: Point) -> Point | None:
    gradient = climb_gradient(plane, runway, thrust)
    if gradient <= 1e-4:
        return None
    step = STEP_S
    rise = gradient * last.speed * step
    if math.isinf(gradient) or last.height_m + rise > runway.obstacle_m:
        step = 0.0 if math.isinf(gradient) else (runway.obstacle_m - last.height_m) / (gradient * last.speed)
        rise = runway.obstacle_m - last.height_m
    return Point(last.time_s + step, last.distance_m + last.speed * step, last.speed, last.height_m + rise, True)


def cleared_at_m(points: list[Point], runway: Runway) -> float:
    """Distance at which the height was reached; infinite when it never was."""
    last = points[-1]
    return last.distance_m if last.is_airborne and last.height_m >= runway.obstacle_m - 1e-6 else math.inf


def lifted_at_m(points: list[Point]) -> float:
    """Ground roll, rotation included; infinite when it never lifted off."""
    return next((point.distance_m for point in points if point.is_airborne), math.inf)


def stopping_m(runway: Runway, point: Point) -> float:
    """Where the aircraft stands when take-off is given up at `point`: reaction, then brakes, tow released."""
    rate = GRAVITY * (runway.braking + runway.slope)
    braked = math.inf if rate <= 0 else point.speed**2 / (2 * rate)
    return point.distance_m + REACTION_S * point.speed + braked
