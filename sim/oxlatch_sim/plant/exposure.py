"""How long one fluid flows at a nozzle without the other.

Fuel-only: fuel above 5 % of the stage's rated fuel flow while its oxidizer is below 5 % of its rated flow; oxidizer-
only the other way round. The instants at which a flow crosses its threshold are placed inside the plant step, so the
totals do not depend on the step's size.
"""

THRESHOLD = 0.05


class Exposure:
    """Totals and longest single episode of both kinds for one stage, in milliseconds.

    `richest` and `leanest` are the extremes of the oxidizer to fuel ratio while both are above their thresholds, start
    and stop included; 0 before they first flow together.
    """

    def __init__(self, rated_oxidizer_kg_s: float, rated_fuel_kg_s: float) -> None:
        self.oxidizer_threshold = THRESHOLD * rated_oxidizer_kg_s
        self.fuel_threshold = THRESHOLD * rated_fuel_kg_s
        self.fuel_only_ms = 0.0
        self.oxidizer_only_ms = 0.0
        self.fuel_only_longest_ms = 0.0
        self.oxidizer_only_longest_ms = 0.0
        self._fuel_episode_ms = 0.0
        self._oxidizer_episode_ms = 0.0
        self._oxidizer = 0.0
        self._fuel = 0.0
        self.richest = 0.0
        self.leanest = 0.0

    def step(self, dt: float, oxidizer: float, fuel: float, fuel_edge: float) -> None:
        """Count `dt` seconds ending with these flows in kg/s.

        `fuel_edge` is the share of the step at which an empty fuel branch became full, 0 when it did not.
        """
        o_limit, f_limit = self.oxidizer_threshold, self.fuel_threshold
        o_before, f_before = self._oxidizer, self._fuel
        self._oxidizer, self._fuel = oxidizer, fuel
        o_was, o_is = o_before > o_limit, oxidizer > o_limit
        f_was, f_is = f_before > f_limit, fuel > f_limit
        if o_was == o_is and f_was == f_is:
            if o_is == f_is:
                if o_is:
                    self._mixture(oxidizer, fuel)
                if self._fuel_episode_ms or self._oxidizer_episode_ms:
                    self._fuel_episode_ms = self._oxidizer_episode_ms = 0.0
                return
            whole_ms = 1000.0 * dt
            if f_is:
                self._count(whole_ms, 0.0, True, False)
            else:
                self._count(0.0, whole_ms, False, True)
            return
        o_from, o_to = _above(o_was, o_is, o_before, oxidizer, o_limit, 0.0)
        f_from, f_to = _above(f_was, f_is, f_before, fuel, f_limit, fuel_edge)
        both = max(0.0, min(o_to, f_to) - max(o_from, f_from))
        scale = 1000.0 * dt
        self._count(
            scale * (f_to - f_from - both), scale * (o_to - o_from - both), f_is and not o_is, o_is and not f_is
        )

    def _mixture(self, oxidizer: float, fuel: float) -> None:
        """Smallest and largest oxidizer to fuel ratio by mass while both flow."""
        ratio = oxidizer / fuel
        if ratio > self.leanest:
            self.leanest = ratio
        if ratio < self.richest or self.richest == 0.0:
            self.richest = ratio

    def _count(self, fuel_ms: float, oxidizer_ms: float, fuel_goes_on: bool, oxidizer_goes_on: bool) -> None:
        self.fuel_only_ms += fuel_ms
        self.oxidizer_only_ms += oxidizer_ms
        self._fuel_episode_ms += fuel_ms
        self._oxidizer_episode_ms += oxidizer_ms
        self.fuel_only_longest_ms = max(self.fuel_only_longest_ms, self._fuel_episode_ms)
        self.oxidizer_only_longest_ms = max(self.oxidizer_only_longest_ms, self._oxidizer_episode_ms)
        if not fuel_goes_on:
            self._fuel_episode_ms = 0.0
        if not oxidizer_goes_on:
            self._oxidizer_episode_ms = 0.0


def _above(was: bool, now: bool, before: float, after: float, limit: float, edge: float) -> tuple[float, float]:
    """Part of the step, as shares, in which the flow is above its limit."""
    if was and now:
        return 0.0, 1.0
    if not was and not now:
        return 0.0, 0.0
    crossing = edge if edge > 0.0 else (limit - before) / (after - before)
    return (crossing, 1.0) if now else (0.0, crossing)
