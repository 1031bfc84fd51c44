"""Nitrous oxide properties tabulated once, for scalar lookup inside a 1 ms plant step.

Every lookup is linear interpolation on a uniform grid in plain Python. Along the saturation line the grid is
in temperature. For a single phase it is in density and temperature on the smooth surface of the equation of
state, and holds p / rho and u, both nearly straight along an isochore. Source of every number: `nitrous` and
`orifice`.

Accuracy against the equation of state up to 308.5 K, 1 K below the critical temperature: 0.1 % along the
saturation line and for the two-phase bottle; 0.1 % of pressure or 1 kPa, whichever is larger, for a single
phase.
"""

from bisect import bisect_right
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from CoolProp import CoolProp

from oxlatch_sim.physics import nitrous
from oxlatch_sim.physics.flux_tables import FluxTables
from oxlatch_sim.physics.grid import UniformTable, blend, bracket, grid, require_place
from oxlatch_sim.physics.validity import PhysicsRangeError, require_range

SATURATION_LOW_K = 183.0
SATURATION_HIGH_K = 309.0
SATURATION_STEP_K = 0.05
PHASE_LOW_K = 184.0
PHASE_HIGH_K = 360.0
PHASE_STEP_K = 2.0
PHASE_HIGH_KG_M3 = 1200.0
PHASE_STEP_KG_M3 = 2.5
DOME_STEP_KG_M3 = 0.5


class SaturationPoint(NamedTuple):
    """Both saturated phases at one temperature."""

    pressure_pa: float
    liquid_density_kg_m3: float
    vapour_density_kg_m3: float
    liquid_enthalpy_j_kg: float
    vapour_enthalpy_j_kg: float
    liquid_energy_j_kg: float
    vapour_energy_j_kg: float


class BottlePoint(NamedTuple):
    """Contents of a closed volume; `quality` is the vapour mass fraction, None when one phase fills it."""

    temperature_k: float
    pressure_pa: float
    quality: float | None


class SaturationTable:
    """Both saturated phases against temperature, 183 to 309 K."""

    def __init__(self) -> None:
        rows = [_saturation_row(temperature) for temperature in _saturation_grid()]
        self._rows = rows
        self._rises = [
            tuple(after - before for before, after in zip(row, following, strict=True))
            for row, following in zip(rows, [*rows[1:], rows[-1]], strict=True)
        ]
        columns = list(zip(*rows, strict=True))

        def table(quantity: str, column: Sequence[float]) -> UniformTable:
            return UniformTable(quantity, SATURATION_LOW_K, SATURATION_STEP_K, column)

        self.pressure_pa = table("nitrous vapour pressure", columns[0])
        self.liquid_density_kg_m3 = table("nitrous liquid density", columns[1])
        self.vapour_density_kg_m3 = table("nitrous vapour density", columns[2])
        self.liquid_enthalpy_j_kg = table("nitrous liquid enthalpy", columns[3])
        self.vapour_enthalpy_j_kg = table("nitrous vapour enthalpy", columns[4])
        self.liquid_energy_j_kg = table("nitrous liquid internal energy", columns[5])
        self.vapour_energy_j_kg = table("nitrous vapour internal energy", columns[6])
        self._pressures: list[float] = list(columns[0])
        # Along a tie line u = intercept + slope * v, so the temperature of (v, u) is a search in one
        # variable.
        self._slopes = [(row[6] - row[5]) / (1.0 / row[2] - 1.0 / row[1]) for row in rows]
        self._intercepts = [row[5] - slope / row[1] for row, slope in zip(rows, self._slopes, strict=True)]

    def at(self, temperature_k: float) -> SaturationPoint:
        """Every saturation property at 183 to 309 K, at the cost of about two single lookups."""
        place = (temperature_k - SATURATION_LOW_K) / SATURATION_STEP_K
        last = len(self._rows) - 1
        if not 0.0 <= place <= last:
            place = require_place(
                "nitrous saturation", temperature_k, SATURATION_LOW_K, SATURATION_STEP_K, last
            )
        index = int(place)
        part = place - index
        p, rho_l, rho_v, h_l, h_v, u_l, u_v = self._rows[index]
        dp, drho_l, drho_v, dh_l, dh_v, du_l, du_v = self._rises[index]
        return SaturationPoint(
            p + part * dp,
            rho_l + part * drho_l,
            rho_v + part * drho_v,
            h_l + part * dh_l,
            h_v + part * dh_v,
            u_l + part * du_l,
            u_v + part * du_v,
        )

    def temperature_k(self, pressure_pa: float) -> float:
        """Boiling temperature, K, from vapour pressure, Pa; the inverse of `pressure_pa`."""
        pressures = self._pressures
        if not pressures[0] <= pressure_pa < pressures[-1]:
            require_range("nitrous vapour pressure", pressure_pa, pressures[0], pressures[-1], "Pa")
            return SATURATION_HIGH_K
        index = bisect_right(pressures, pressure_pa) - 1
        low = pressures[index]
        part = (pressure_pa - low) / (pressures[index + 1] - low)
        return SATURATION_LOW_K + (index + part) * SATURATION_STEP_K

    def mixture(self, density_kg_m3: float, energy_j_kg: float, near_k: float) -> BottlePoint | None:
        """Two-phase contents of a closed volume, as `PropertyTables.bottle`; None above 309 K."""
        volume = 1.0 / density_kg_m3
        slopes, intercepts = self._slopes, self._intercepts
        place = (near_k - SATURATION_LOW_K) / SATURATION_STEP_K
        index = int(place) if 0.0 <= place < len(slopes) - 1 else 0
        low = intercepts[index] + slopes[index] * volume
        high = intercepts[index + 1] + slopes[index + 1] * volume
        if not low <= energy_j_kg < high:
            found = self._search_mixture(volume, energy_j_kg)
            if found is None:
                return None
            index, low, high = found
        part = (energy_j_kg - low) / (high - low)
        row, rise = self._rows[index], self._rises[index]
        liquid_volume = 1.0 / (row[1] + part * rise[1])
        quality = (volume - liquid_volume) / (1.0 / (row[2] + part * rise[2]) - liquid_volume)
        # The dome's edge is interpolated: on it the fraction may leave 0 to 1 by a rounding error.
        quality = 0.0 if quality < 0.0 else 1.0 if quality > 1.0 else quality
        return BottlePoint(
            SATURATION_LOW_K + (index + part) * SATURATION_STEP_K, row[0] + part * rise[0], quality
        )

    def _search_mixture(self, volume: float, energy_j_kg: float) -> tuple[int, float, float] | None:
        """Grid cell of a mixture and the energies at its two ends; None above the highest temperature."""

        def energy_at(index: int) -> float:
            return self._intercepts[index] + self._slopes[index] * volume

        last = len(self._slopes) - 1
        if energy_j_kg > energy_at(last):
            return None
        index = bracket(energy_at, last + 1, energy_j_kg)
        low, high = energy_at(index), energy_at(index + 1)
        if not low <= energy_j_kg:
            raise PhysicsRangeError(
                f"nitrous mixture of {1.0 / volume:g} kg/m3 and {energy_j_kg:g} J/kg is colder than "
                f"the lowest tabulated temperature, {SATURATION_LOW_K:g} K"
            )
        return index, low, high

    def dome(self) -> UniformTable:
        """Internal energy, J/kg, on the edge of the two-phase dome against density, 0 to 1200 kg/m3.

        Contents of less energy are two phases. Below the thinnest tabulated vapour nothing is: minus one
        million J/kg, below every energy the tables accept, stands for that.
        """
        edge = [(row[2], row[6]) for row in self._rows] + [(row[1], row[5]) for row in reversed(self._rows)]
        densities = grid(0.0, PHASE_HIGH_KG_M3, DOME_STEP_KG_M3)
        edge_densities, edge_energies = zip(*edge, strict=True)
        energies = np.interp(densities, edge_densities, edge_energies, left=-1.0e6)
        return UniformTable("two-phase dome", 0.0, DOME_STEP_KG_M3, [float(energy) for energy in energies])


class SinglePhaseTable:
    """Pressure and internal energy against density, up to 1200 kg/m3, and temperature, 184 to 360 K.

    Meant for one phase only: inside the two-phase dome the surface is metastable and its pressure means
    nothing.
    """

    def __init__(self) -> None:
        # The first column stands for the ideal-gas limit, where the equation itself cannot be evaluated.
        densities = grid(0.0, PHASE_HIGH_KG_M3, PHASE_STEP_KG_M3)
        densities[0] = nitrous.DENSITY_LOW_KG_M3
        temperatures = grid(PHASE_LOW_K, PHASE_HIGH_K, PHASE_STEP_K)
        self._specific_pressures, self._energies = _surface(densities, temperatures)

    def pressure_pa(self, density_kg_m3: float, temperature_k: float) -> float:
        """Pressure, Pa, up to 50 MPa."""
        row, part = self._row(temperature_k)
        column, share = self._column(density_kg_m3)
        low = blend(self._specific_pressures[row], column, share)
        high = blend(self._specific_pressures[row + 1], column, share)
        pressure_pa = density_kg_m3 * (low + part * (high - low))
        if not 0.0 <= pressure_pa <= nitrous.EQUATION_HIGH_PA:
            require_range("nitrous pressure", pressure_pa, 0.0, nitrous.EQUATION_HIGH_PA, "Pa")
        return pressure_pa

    def energy_j_kg(self, density_kg_m3: float, temperature_k: float) -> float:
        """Internal energy, J/kg."""
        row, part = self._row(temperature_k)
        column, share = self._column(density_kg_m3)
        low = blend(self._energies[row], column, share)
        return low + part * (blend(self._energies[row + 1], column, share) - low)

    def temperature_k(self, density_kg_m3: float, energy_j_kg: float, near_k: float) -> float:
        """Temperature, K, from density and internal energy; `near_k` is a guess that shortens the search."""
        column, share = self._column(density_kg_m3)
        energies = self._energies
        last = len(energies) - 1
        place = (near_k - PHASE_LOW_K) / PHASE_STEP_K
        index = int(place) if 0.0 <= place < last else 0
        low = blend(energies[index], column, share)
        high = blend(energies[index + 1], column, share)
        if not low <= energy_j_kg <= high:
            index = bracket(lambda row: blend(energies[row], column, share), last + 1, energy_j_kg)
            low = blend(energies[index], column, share)
            high = blend(energies[index + 1], column, share)
            if not low <= energy_j_kg <= high:
                raise PhysicsRangeError(
                    f"nitrous of {density_kg_m3:g} kg/m3 and {energy_j_kg:g} J/kg is outside the tabulated "
                    f"temperatures, {PHASE_LOW_K:g} to {PHASE_HIGH_K:g} K"
                )
        return PHASE_LOW_K + (index + (energy_j_kg - low) / (high - low)) * PHASE_STEP_K

    def _row(self, temperature_k: float) -> tuple[int, float]:
        place = (temperature_k - PHASE_LOW_K) / PHASE_STEP_K
        last = len(self._energies) - 1
        if not 0.0 <= place < last:
            place = require_place("nitrous states", temperature_k, PHASE_LOW_K, PHASE_STEP_K, last)
            return last - 1, place - (last - 1)
        row = int(place)
        return row, place - row

    def _column(self, density_kg_m3: float) -> tuple[int, float]:
        place = density_kg_m3 / PHASE_STEP_KG_M3
        last = len(self._energies[0]) - 1
        if not 0.0 < place < last:
            require_range(
                "nitrous density", density_kg_m3, nitrous.DENSITY_LOW_KG_M3, PHASE_HIGH_KG_M3, "kg/m3"
            )
            return last - 1, 1.0
        column = int(place)
        return column, place - column


class PropertyTables:
    """Everything the plant looks up, built once; get it from `property_tables`."""

    def __init__(self) -> None:
        self.saturation = SaturationTable()
        self.single_phase = SinglePhaseTable()
        self.flux = FluxTables()
        self._dome_energy_j_kg = self.saturation.dome()

    def bottle(self, density_kg_m3: float, energy_j_kg: float, near_k: float) -> BottlePoint:
        """State of a closed volume from mean density, kg/m3, and specific internal energy, J/kg.

        Two-phase, liquid-full, supercritical or dry, at 184 to 360 K. `near_k` is the last known temperature:
        it shortens the search and never changes the answer.
        """
        if energy_j_kg < self._dome_energy_j_kg(density_kg_m3):
            mixture = self.saturation.mixture(density_kg_m3, energy_j_kg, near_k)
            if mixture is not None:
                return mixture
        temperature_k = self.single_phase.temperature_k(density_kg_m3, energy_j_kg, near_k)
        return BottlePoint(temperature_k, self.single_phase.pressure_pa(density_kg_m3, temperature_k), None)


@lru_cache(maxsize=1)
def property_tables() -> PropertyTables:
    """The one set of tables of this process; the first call builds it in about a quarter of a second."""
    return PropertyTables()


def _saturation_grid() -> list[float]:
    return grid(SATURATION_LOW_K, SATURATION_HIGH_K, SATURATION_STEP_K)


def _saturation_row(temperature_k: float) -> tuple[float, ...]:
    liquid = nitrous.saturated_state(temperature_k, 0.0)
    vapour = nitrous.saturated_state(temperature_k, 1.0)
    return (
        liquid.pressure_pa,
        liquid.density_kg_m3,
        vapour.density_kg_m3,
        liquid.enthalpy_j_kg,
        vapour.enthalpy_j_kg,
        liquid.internal_energy_j_kg,
        vapour.internal_energy_j_kg,
    )


def _surface(
    densities: Sequence[float], temperatures: Sequence[float]
) -> tuple[list[list[float]], list[list[float]]]:
    """p / rho and u on the grid, one row per temperature, with the phase imposed so that no dome cuts the
    surface.
    """
    state = CoolProp.AbstractState("HEOS", "NitrousOxide")
    state.specify_phase(CoolProp.iphase_gas)
    specific_pressures: list[list[float]] = []
    energies: list[list[float]] = []
    for temperature_k in temperatures:
        pressure_row: list[float] = []
        energy_row: list[float] = []
        for density_kg_m3 in densities:
            state.update(CoolProp.DmassT_INPUTS, density_kg_m3, temperature_k)
            pressure_row.append(state.p() / density_kg_m3)
            energy_row.append(state.umass())
        specific_pressures.append(pressure_row)
        energies.append(energy_row)
    return specific_pressures, energies
