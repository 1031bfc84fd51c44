"""How fast simulated time runs beside real time."""

from oxlatch.vocabulary import TICK_MS

SPEEDS = (0.1, 0.25, 0.5, 1, 2, 5, 10)
TICKS_PER_S = 1000 / TICK_MS
LONGEST_SLICE_S = 0.1
"""Real time that one look at the clock may cover: what a stalled machine missed is not made up for."""


class Clock:
    """Turns elapsed real time into ticks due."""

    def __init__(self) -> None:
        self.running = True
        self.speed: float = 1
        self._due = 0.0

    def ticks_due(self, elapsed_s: float) -> int:
        """Whole ticks due after this much more real time."""
        if not self.running:
            self._due = 0.0
            return 0
        self._due += min(elapsed_s, LONGEST_SLICE_S) * self.speed * TICKS_PER_S
        ticks = int(self._due)
        self._due -= ticks
        return ticks

    def stride(self) -> int:
        """Ticks from one row of the strip charts to the next: fine when slow, coarse when fast."""
        if not self.running or self.speed < 1:
            return 1
        return 2 if self.speed <= 1 else int(2 * self.speed)
