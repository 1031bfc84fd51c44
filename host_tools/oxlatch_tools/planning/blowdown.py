"""Emptying a bottle through a pattern: pressure, flow and mixture against time until the cut and until the liquid is
gone.

Equilibrium contents (mass and energy balance, both phases at one temperature) with a wall that warms them through a
conductance; Zimmerman, Waxman, Cantwell and Zilliac, AIAA 2013-4045, call it the simplest and report about 15 % on
pressure. The tube draws liquid until the liquid no longer covers it.
"""

from dataclasses import dataclass, field

from oxlatch_sim.physics.tables import PropertyTables, property_tables
from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.flow import Feed
from oxlatch_tools.planning.flux import liquid_flux, vapour_flux
from oxlatch_tools.planning.stage_flow import Pattern

SHARE_PER_STEP = 0.004
LONGEST_S = 3600.0
LEAST_MASS_SHARE = 0.02
BLOWDOWN_SOURCE = "equilibrium contents with wall heat; Zimmerman et al., AIAA 2013-4045, about 15 % on pressure"


class Contents:
    """What one connected set of bottles holds."""

    def __init__(self, installation: Installation, mass_kg: float, temperature_k: float, count: int):
        bottle = installation.bottle
        self._tables: PropertyTables = property_tables()
        self.volume_m3 = count * bottle.volume
        self.wall_j_k = count * bottle.wall_heat
        self.wall_w_k = count * bottle.wall_conductance
        self.mass_kg = mass_kg
        self.temperature_k = temperature_k
        self.wall_k = temperature_k
        self.energy_j = mass_kg * self._start_energy(mass_kg / self.volume_m3, temperature_k)
        self.pressure_pa = 0.0
        self.quality: float | None = None
        self._settle()

    def _start_energy(self, density: float, temperature_k: float) -> float:
        if temperature_k < 309.0:
            point = self._tables.saturation.at(temperature_k)
            if point.vapour_density_kg_m3 < density < point.liquid_density_kg_m3:
                low, high = 1 / point.liquid_density_kg_m3, 1 / point.vapour_density_kg_m3
                quality = (1 / density - low) / (high - low)
                return point.liquid_energy_j_kg + quality * (point.vapour_energy_j_kg - point.liquid_energy_j_kg)
        return self._tables.single_phase.energy_j_kg(density, temperature_k)

    def _settle(self) -> None:
        point = self._tables.bottle(self.mass_kg / self.volume_m3, self.energy_j / self.mass_kg, self.temperature_k)
        self.temperature_k, self.pressure_pa, self.quality = point

    def liquid_share(self) -> float:
        """Part of the volume that is liquid."""
        if self.quality is None:
            return 1.0 if self.mass_kg / self.volume_m3 > 452.0 else 0.0
        density = self._tables.saturation.liquid_density_kg_m3(self.temperature_k)
        return (1 - self.quality) * self.mass_kg / (density * self.volume_m3)

    def draw(self, mass_kg: float, seconds: float, is_liquid: bool) -> None:
        """Take out saturated liquid or vapour over some seconds while the wall warms what is left."""
        if self.quality is None:
            enthalpy = (self.energy_j + self.pressure_pa * self.volume_m3) / self.mass_kg
        else:
            point = self._tables.saturation.at(self.temperature_k)
            enthalpy = point.liquid_enthalpy_j_kg if is_liquid else point.vapour_enthalpy_j_kg
        heat_j = self.wall_w_k * (self.wall_k - self.temperature_k) * seconds
        self.mass_kg -= mass_kg
        self.energy_j += heat_j - mass_kg * enthalpy
        if self.wall_j_k > 0:
            self.wall_k -= heat_j / self.wall_j_k
        self._settle()


@dataclass
class Trace:
    """One run: lists against time, one entry a step."""

    time_s: list[float] = field(default_factory=list)
    bottle_pa: list[float] = field(default_factory=list)
    block_pa: list[float] = field(default_factory=list)
    temperature_k: list[float] = field(default_factory=list)
    oxidizer_kg_s: list[float] = field(default_factory=list)
    mass_kg: list[float] = field(default_factory=list)
    cut_s: float | None = None
    run_out_s: float | None = None

    def seconds_to_cut(self) -> float:
        """Seconds until the controller stops flow: pressure cut or end of liquid, whichever is first."""
        ends = [end for end in (self.cut_s, self.run_out_s) if end is not None]
        return min(ends, default=self.time_s[-1])

    def at(self, seconds: float, values: list[float]) -> float:
        """A list's value at a time, by straight line."""
        for index in range(1, len(self.time_s)):
            if self.time_s[index] >= seconds:
                start, end = self.time_s[index - 1], self.time_s[index]
                share = (seconds - start) / (end - start)
                return values[index - 1] + share * (values[index] - values[index - 1])
        return values[-1]


def connected(installation: Installation) -> tuple[int, int]:
    """How many bottles are drawn from at once, and how many such sets there are."""
    bottle = installation.bottle
    return (bottle.count, 1) if bottle.use == "together" else (1, bottle.count)


def full_contents(installation: Installation, temperature_k: float) -> Contents:
    """One full set of bottles at a temperature."""
    count, _sets = connected(installation)
    return Contents(installation, count * installation.bottle.charge, temperature_k, count)


def purge(installation: Installation, feed: Feed, contents: Contents, times: int) -> float:
    """Draw the purges of one use; returns the mass they took."""
    before = contents.mass_kg
    left = times * installation.timing.purge
    while left > 0:
        step = min(0.25, left)
        flow = feed.purge_m2 * liquid_flux(feed.block_pa(contents.pressure_pa, feed.purge_m2))
        contents.draw(flow * step, step, is_liquid=True)
        left -= step
    return before - contents.mass_kg


def empty(
    installation: Installation,
    feed: Feed,
    contents: Contents,
    pattern: Pattern,
    until_s: float = LONGEST_S,
    past_cut: bool = True,
) -> Trace:
    """Let a pattern flow until the liquid is gone, or only to the cut, or for `until_s` seconds."""
    trace = Trace()
    area = feed.oxidizer_m2(pattern)
    is_liquid = installation.bottle.siphon
    cut_pa = installation.limits.supply_cut
    least_kg = LEAST_MASS_SHARE * contents.mass_kg
    time_s, block_pa = 0.0, feed.block_pa(contents.pressure_pa, area)
    while True:
        flow = area * (liquid_flux(block_pa) if is_liquid else vapour_flux(block_pa))
        _note(trace, time_s, contents, block_pa, flow)
        if trace.cut_s is None and block_pa <= cut_pa:
            trace.cut_s = _crossing(trace, cut_pa)
            if not past_cut:
                return trace
        share = contents.liquid_share()
        if is_liquid and share <= installation.bottle.tube_share:
            trace.run_out_s = time_s
            return trace
        if time_s >= until_s - 1e-9 or contents.mass_kg <= least_kg or contents.pressure_pa < 9e5:
            return trace
        step = min(SHARE_PER_STEP * contents.mass_kg / flow, max(until_s - time_s, 1e-3))
        contents.draw(flow * step, step, is_liquid)
        time_s += step
        for _ in range(3):
            passed = area * (liquid_flux(block_pa) if is_liquid else vapour_flux(block_pa))
            block_pa = max(contents.pressure_pa - feed.loss * passed * passed, 8.5e5)


def _note(trace: Trace, time_s: float, contents: Contents, block_pa: float, flow: float) -> None:
    trace.time_s.append(time_s)
    trace.bottle_pa.append(contents.pressure_pa)
    trace.block_pa.append(block_pa)
    trace.temperature_k.append(contents.temperature_k)
    trace.oxidizer_kg_s.append(flow)
    trace.mass_kg.append(contents.mass_kg)


def _crossing(trace: Trace, level_pa: float) -> float:
    """When the block pressure fell through a level, by straight line over the last step."""
    if len(trace.time_s) < 2:
        return trace.time_s[-1]
    before, after = trace.block_pa[-2], trace.block_pa[-1]
    share = (before - level_pa) / (before - after) if before > after else 1.0
    return trace.time_s[-2] + share * (trace.time_s[-1] - trace.time_s[-2])
