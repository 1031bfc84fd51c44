"""Throttle lever, plate and the two poles of the contact beyond its detent."""

from oxlatch_sim.plant.parameters import ThrottleParameters

SWITCHING_FROM = 100.0
"""Travel below which no pole is near; a lever that stays below it is moved in whole controller ticks."""


class Throttle:
    """The lever follows what the pilot wants at a limited speed. `lever` runs 0 to 100 and on into the detent."""

    def __init__(self, parameters: ThrottleParameters) -> None:
        self.parameters = parameters
        self.lever = 0.0
        self.wanted = 0.0
        self.rate_per_s = parameters.rate_per_s
        self.no_made = False
        self.nc_made = True
        self.moving = False

    def move(self, wanted: float, rate_per_s: float | None = None) -> None:
        """Begin moving to a travel in per cent; more than 100 presses into the detent."""
        self.wanted = min(max(wanted, 0.0), self.parameters.detent_travel)
        self.rate_per_s = rate_per_s if rate_per_s is not None else self.parameters.rate_per_s
        self.moving = self.wanted != self.lever

    def place(self, lever: float) -> None:
        """Put the lever there at once."""
        self.move(lever)
        self.lever = self.wanted
        self.moving = False
        self._poles()

    def switching(self) -> bool:
        """Whether the lever moves where it can make or break a pole within a controller tick."""
        return self.moving and max(self.lever, self.wanted) > SWITCHING_FROM

    def step(self, dt: float) -> None:
        """Advance the lever by `dt`."""
        reach = self.rate_per_s * dt
        gap = self.wanted - self.lever
        if -reach <= gap <= reach:
            self.lever = self.wanted
            self.moving = False
        else:
            self.lever += reach if gap > 0.0 else -reach
        self._poles()

    def _poles(self) -> None:
        self.no_made = self.lever >= self.parameters.no_makes
        self.nc_made = self.lever < self.parameters.nc_breaks

    def plate_share(self) -> float:
        """Opening of the plate, 0 to 1."""
        return self.lever * 0.01 if self.lever < 100.0 else 1.0
