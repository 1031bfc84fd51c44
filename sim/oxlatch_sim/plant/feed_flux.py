"""Choked flux and density of what the feed line delivers, against pressure, for use in every plant step."""

from functools import lru_cache

from oxlatch_sim.physics.flux_tables import compression_base_pa
from oxlatch_sim.physics.tables import PropertyTables, property_tables

AIR_FLUX_SQRT_K = 0.040418
"""Choked air: flux over pressure, times the root of the temperature, for a ratio of specific heats of 1.4."""

LOW_PA = 8.0e5
HIGH_PA = 71.5e5
STEP_PA = 0.25e5


class FeedFlux:
    """Saturated liquid and vapour by pressure alone: the line is fed from a bottle at saturation.

    From 8 to 71.5 bar it interpolates the equilibrium tables. Below 8 bar flux and vapour density are proportional to
    the pressure, as for a gas; above 71.5 bar the compressed-liquid table answers from temperature as well.
    """

    def __init__(self, tables: PropertyTables) -> None:
        count = round((HIGH_PA - LOW_PA) / STEP_PA) + 1
        temperatures = [tables.saturation.temperature_k(LOW_PA + STEP_PA * index) for index in range(count)]
        points = [tables.saturation.at(temperature) for temperature in temperatures]
        self.tables = tables
        self._liquid_flux = _closed(tables.flux.liquid_kg_m2_s(t) for t in temperatures)
        self._vapour_flux = _closed(tables.flux.vapour_kg_m2_s(t) for t in temperatures)
        self._liquid_density = _closed(point.liquid_density_kg_m3 for point in points)
        self._vapour_density = _closed(point.vapour_density_kg_m3 for point in points)

    def liquid(self, pressure_pa: float, temperature_k: float) -> tuple[float, float]:
        """Flux, kg/(m2 s), and density, kg/m3, of the liquid."""
        place = (pressure_pa - LOW_PA) / STEP_PA
        if place < 0.0:
            return self._liquid_flux[0] * pressure_pa / LOW_PA, self._liquid_density[0]
        if pressure_pa >= HIGH_PA:
            return self._compressed(pressure_pa, temperature_k)
        index = int(place)
        part = place - index
        flux, density = self._liquid_flux, self._liquid_density
        low, low_density = flux[index], density[index]
        return low + part * (flux[index + 1] - low), low_density + part * (density[index + 1] - low_density)

    def vapour(self, pressure_pa: float) -> tuple[float, float]:
        """Flux, kg/(m2 s), and density, kg/m3, of the vapour; the last tabulated value above 71.5 bar."""
        place = (pressure_pa - LOW_PA) / STEP_PA
        if place < 0.0:
            share = pressure_pa / LOW_PA
            return self._vapour_flux[0] * share, self._vapour_density[0] * share
        if pressure_pa >= HIGH_PA:
            return self._vapour_flux[-1], self._vapour_density[-1]
        index = int(place)
        part = place - index
        flux, density = self._vapour_flux, self._vapour_density
        low, low_density = flux[index], density[index]
        return low + part * (flux[index + 1] - low), low_density + part * (density[index + 1] - low_density)

    def _compressed(self, pressure_pa: float, temperature_k: float) -> tuple[float, float]:
        # Losses on the way put the block a little below the pressure at which this temperature boils.
        base_pa = max(compression_base_pa(temperature_k), HIGH_PA)
        counted_pa = max(pressure_pa, base_pa)
        flux = self.tables.flux.compressed_kg_m2_s(temperature_k, counted_pa)
        return flux * pressure_pa / counted_pa, self._liquid_density[-1]


@lru_cache(maxsize=1)
def feed_flux() -> FeedFlux:
    """The one set of this process."""
    return FeedFlux(property_tables())


def _closed(values: object) -> list[float]:
    result = list(values)  # type: ignore[call-overload]
    return [*result, result[-1]]
