"""Choked homogeneous equilibrium flux, tabulated once from `orifice`, at coefficient 1.

Accuracy: 0.1 % along the saturation line up to 308.5 K; 2 % for compressed liquid, but 15 % from 307 to 312 K
within 2 bar of the saturation line, where the critical point is near.
"""

import math
from collections.abc import Sequence
from functools import cached_property

from oxlatch_sim.physics import nitrous, orifice
from oxlatch_sim.physics.grid import UniformTable, blend, grid, require_place
from oxlatch_sim.physics.validity import require_range

FLUX_LOW_K = 196.0
FLUX_HIGH_K = 309.0
FLUX_STEP_K = 0.25
COMPRESSED_LOW_K = 273.0
COMPRESSED_HIGH_K = 345.0
COMPRESSED_STEP_K = 3.0
COMPRESSED_HIGH_PA = 200.0e5
COMPRESSED_COLUMNS = 41
# Slope of the vapour pressure curve at its end, carried on above it as the line from which compression
# counts.
CRITICAL_SLOPE_PA_K = 1.5e5


class FluxTables:
    """Choked flux, kg/(m2 s), and throat pressure, Pa, against feed temperature, 196 to 309 K."""

    def __init__(self) -> None:
        temperatures = grid(FLUX_LOW_K, FLUX_HIGH_K, FLUX_STEP_K)
        liquid = [orifice.critical_flow_saturated_liquid(temperature) for temperature in temperatures]
        vapour = [orifice.critical_flow_saturated_vapour(temperature) for temperature in temperatures]

        def table(quantity: str, column: Sequence[float]) -> UniformTable:
            return UniformTable(quantity, FLUX_LOW_K, FLUX_STEP_K, column)

        self.liquid_kg_m2_s = table("choked liquid flux", [flow.flux_kg_m2_s for flow in liquid])
        self.vapour_kg_m2_s = table("choked vapour flux", [flow.flux_kg_m2_s for flow in vapour])
        self.liquid_throat_pa = table("liquid throat pressure", [flow.throat_pressure_pa for flow in liquid])
        self.vapour_throat_pa = table("vapour throat pressure", [flow.throat_pressure_pa for flow in vapour])

    def compressed_kg_m2_s(self, temperature_k: float, pressure_pa: float) -> float:
        """Choked flux of a liquid-full or supercritical bottle at 273 to 345 K, kg/(m2 s).

        Range: from the vapour pressure, or its straight extension above 309 K, to 200 bar above it.
        """
        rows = self._compressed
        last = len(rows) - 1
        place = require_place(
            "compressed liquid flux", temperature_k, COMPRESSED_LOW_K, COMPRESSED_STEP_K, last
        )
        row = min(int(place), last - 1)
        excess_pa = pressure_pa - compression_base_pa(temperature_k)
        require_range("nitrous pressure above saturation", excess_pa, 0.0, COMPRESSED_HIGH_PA, "Pa")
        across = (COMPRESSED_COLUMNS - 1) * math.sqrt(excess_pa / COMPRESSED_HIGH_PA)
        column = min(int(across), COMPRESSED_COLUMNS - 2)
        low = blend(rows[row], column, across - column)
        return low + (place - row) * (blend(rows[row + 1], column, across - column) - low)

    @cached_property
    def _compressed(self) -> list[list[float]]:
        """Flux against temperature and the square root of excess pressure, in which it is nearly straight.

        Built on first use, in about a second.
        """
        excesses = [
            COMPRESSED_HIGH_PA * (index / (COMPRESSED_COLUMNS - 1)) ** 2
            for index in range(COMPRESSED_COLUMNS)
        ]
        return [
            [_compressed_flux(temperature, excess) for excess in excesses]
            for temperature in grid(COMPRESSED_LOW_K, COMPRESSED_HIGH_K, COMPRESSED_STEP_K)
        ]


def compression_base_pa(temperature_k: float) -> float:
    """Pressure from which compression counts, Pa: the vapour pressure, carried on straight above 309 K."""
    if temperature_k <= FLUX_HIGH_K:
        return nitrous.saturation_pressure_pa(temperature_k)
    base_pa = nitrous.saturation_pressure_pa(FLUX_HIGH_K)
    return base_pa + CRITICAL_SLOPE_PA_K * (temperature_k - FLUX_HIGH_K)


def _compressed_flux(temperature_k: float, excess_pa: float) -> float:
    if excess_pa == 0.0 and temperature_k <= FLUX_HIGH_K:
        return orifice.critical_flow_saturated_liquid(temperature_k).flux_kg_m2_s
    pressure_pa = compression_base_pa(temperature_k) + excess_pa
    inlet = nitrous.state_at_pressure_temperature(pressure_pa, temperature_k)
    return orifice.critical_flow(inlet).flux_kg_m2_s
