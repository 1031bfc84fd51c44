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
}


def not_fitted(installation: Installation) -> list[NotFitted]:
    """Every optional part that is missing and what can no longer be claimed without it."""
    return [NotFitted(part, lost) for part, lost in _LOST.items() if part not in installation.sensors.fitted]


def fitted(installation: Installation) -> list[str]:
    """Every optional part that is there, in a fixed order."""
    return [part for part in _LOST if part in installation.sensors.fitted]
