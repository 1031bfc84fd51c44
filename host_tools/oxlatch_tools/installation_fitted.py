"""What is not fitted, in words, with the claim that is lost. Every page that claims anything prints this list."""

from dataclasses import dataclass

from oxlatch_tools.installation import Installation


@dataclass(frozen=True)
class NotFitted:
    """One part that this installation does without."""

    part: str
    lost: str


_LOST = {
    "contact second pole": "A throttle contact that sticks closed is found from the throttle position alone.",
    "throttle position": "A throttle contact that sticks closed, or a throttle pulled back in flow, is found from the "
    "contact's two poles alone.",
    "oxidizer proof": "Flow of oxidizer is not proved before fuel opens: an oxidizer valve that does not open, an "
    "empty line or ice can give fuel without oxidizer.",
    "master fuel valve": "A stage fuel valve that sticks open or leaks is a single fault that nothing stops, and it is "
    "not found before the next flight.",
    "coil currents": "An oxidizer or fuel coil that is open is found only by its effect.",
    "coil rail": "A run switch that has welded shut is not found.",
    "fuel pressure": "Loss of fuel pressure in flow is not seen: oxidizer can run without fuel.",
    "lockout memory": "A lockout is forgotten when power is lost in flow; a marker written at arming stands in for it.",
    "bottle temperature": "A bottle too hot for its valves, overfilled, or filled with another gas is refused by "
    "pressure alone; a gas whose pressure lies in the window is not found: weigh and read the label.",
    "air data": "The altitude table is on the card alone: the controller lets every tested pattern through in any air.",
    "knock": "Detonation stops nothing by itself: the pilot has to notice it.",
    "purge outlet 1": "No outlet proves that a purge left no air: the crew confirms every plume.",
    "purge outlet 2": "A second purge outlet, where there is one, is not watched.",
    "master oxidizer valve": "An oxidizer valve that sticks open flows until the bottle is shut by hand.",
    "mixture rich": "Boost with the mixture leaned is prevented by the checklist alone.",
    "ignition retard": "Boost without the ignition's retard, where it has one, is prevented by the checklist alone.",
    "fire": "A fire stops nothing by itself.",
    "airspeed": "Boost above the airspeed limit is prevented by the card's line alone.",
    "bottle budget": "Oxidizer used is not counted: the pressure cut ends the run, with seconds of warning or none.",
    "vent-down": "The line is emptied by a hand valve, or stays full after use.",
}


def not_fitted(installation: Installation) -> list[NotFitted]:
    """Every optional part that is missing and what can no longer be claimed without it."""
    return [NotFitted(part, lost) for part, lost in _LOST.items() if part not in installation.sensors.fitted]


def fitted(installation: Installation) -> list[str]:
    """Every optional part that is there, in a fixed order."""
    return [part for part in _LOST if part in installation.sensors.fitted]
