"""A closed vessel of nitrous oxide in two-phase equilibrium, and the bottle built on it."""

from oxlatch_sim.physics.tables import PropertyTables
from oxlatch_sim.physics.validity import PhysicsRangeError
from oxlatch_sim.plant.parameters import AMBIENT_PA, BottleParameters

LIQUID = 0
VAPOUR = 1
AIR = 2
DRY_PA = 3.0e5
"""Below this a bottle counts as empty: what is left is gas that no stage can use."""


class Vessel:
    """Mass and energy balance of a fixed volume; both phases at one temperature.

    `draw` takes liquid or vapour out at saturation enthalpy, `heat` adds energy; `settle` finds temperature and
    pressure again. Valid while the contents stay between 184 and 360 K.
    """

    def __init__(self, tables: PropertyTables, volume_m3: float, mass_kg: float, temperature_k: float) -> None:
        self._tables = tables
        self.volume_m3 = volume_m3
        self.fill(mass_kg, temperature_k)

    def fill(self, mass_kg: float, temperature_k: float) -> None:
        """Start again with this mass at this temperature: two-phase, liquid-full or dry."""
        density = mass_kg / self.volume_m3
        single = self._tables.single_phase
        saturated = None
        if temperature_k < 309.0:
            point = self._tables.saturation.at(temperature_k)
            if point.vapour_density_kg_m3 <= density <= point.liquid_density_kg_m3:
                saturated = point
        if saturated is None:
            energy = single.energy_j_kg(density, temperature_k)
        else:
            liquid_v, vapour_v = 1.0 / saturated.liquid_density_kg_m3, 1.0 / saturated.vapour_density_kg_m3
            quality = (1.0 / density - liquid_v) / (vapour_v - liquid_v)
            energy = saturated.liquid_energy_j_kg + quality * (
                saturated.vapour_energy_j_kg - saturated.liquid_energy_j_kg
            )
        self.mass_kg = mass_kg
        self.energy_j = energy * mass_kg
        self.temperature_k = temperature_k
        self.pressure_pa = 0.0
        self.quality = 0.0
        self.two_phase = False
        self.settle()

    def settle(self) -> None:
        """Temperature, pressure and quality from mass and energy."""
        mass = self.mass_kg
        point = self._tables.bottle(mass / self.volume_m3, self.energy_j / mass, self.temperature_k)
        self.temperature_k = point.temperature_k
        self.pressure_pa = point.pressure_pa
        quality = point.quality
        self.two_phase = quality is not None
        if quality is not None:
            self.quality = quality
        else:
            self.quality = 0.0 if mass > 452.0 * self.volume_m3 else 1.0
        if not 0.0 < self.pressure_pa < 5.0e7:
            raise PhysicsRangeError(f"vessel pressure is {self.pressure_pa:g} Pa, allowed is 0 to 50 MPa")

    def draw(self, mass_kg: float, phase: int) -> None:
        """Take out `mass_kg` of the phase; a single-phase vessel gives what it has."""
        if self.two_phase:
            point = self._tables.saturation.at(self.temperature_k)
            enthalpy = point.vapour_enthalpy_j_kg if phase == VAPOUR else point.liquid_enthalpy_j_kg
        else:
            enthalpy = self.energy_j / self.mass_kg + self.pressure_pa * self.volume_m3 / self.mass_kg
        self.mass_kg -= mass_kg
        self.energy_j -= mass_kg * enthalpy

    def liquid_share(self) -> float:
        """Share of the volume that is liquid."""
        if not self.two_phase:
            return 1.0 - self.quality
        density = self._tables.saturation.liquid_density_kg_m3(self.temperature_k)
        return (1.0 - self.quality) * self.mass_kg / (density * self.volume_m3)


class Bottle:
    """The bottle: a vessel, its wall, and the tube that stops drawing liquid when it is uncovered."""

    def __init__(self, tables: PropertyTables, parameters: BottleParameters, ambient_k: float) -> None:
        self.parameters = parameters
        self.ambient_k = ambient_k
        self.vessel = Vessel(tables, parameters.volume_m3, parameters.fill_kg, parameters.temperature_k)
        self.wall_k = parameters.temperature_k
        self.tube_share = parameters.tube_share
        self.phase = LIQUID
        self.dry = False
        self.drawn_kg = 0.0
        self.heater_w = 0.0
        self.leak_kg_s = 0.0
        self.foreign_share = 1.0
        """Pressure of what is in the bottle over that of nitrous oxide at the same temperature: 1 for the right gas."""
        self.pressure_pa = self.vessel.pressure_pa
        self.temperature_k = self.vessel.temperature_k

    def refill(self, mass_kg: float, temperature_k: float) -> None:
        """Another bottle in its place."""
        self.vessel.fill(mass_kg, temperature_k)
        self.wall_k = temperature_k
        self.phase = LIQUID
        self.dry = False
        self._read()

    def tick(self, drawn_kg: float, dt: float) -> None:
        """Mass and energy balance over `dt` seconds in which `drawn_kg` left for the line."""
        if self.dry:
            return
        vessel = self.vessel
        parameters = self.parameters
        drawn_kg += self.leak_kg_s * dt
        if drawn_kg > 0.0:
            drawn_kg = min(drawn_kg, 0.5 * vessel.mass_kg)
            vessel.draw(drawn_kg, self.phase)
            self.drawn_kg += drawn_kg
        heat_w = parameters.wall_to_fluid_w_k * (self.wall_k - vessel.temperature_k)
        air_w = parameters.wall_to_air_w_k * (self.ambient_k - self.wall_k) + self.heater_w
        self.wall_k += (air_w - heat_w) * dt / parameters.wall_j_k
        vessel.energy_j += heat_w * dt
        vessel.settle()
        self.phase = LIQUID if vessel.liquid_share() > self.tube_share else VAPOUR
        self._read()
        if self.pressure_pa < DRY_PA:
            self.dry = True
            self.phase = VAPOUR
            self.pressure_pa = AMBIENT_PA
            self.temperature_k = self.ambient_k

    def _read(self) -> None:
        self.pressure_pa = self.foreign_share * self.vessel.pressure_pa
        self.temperature_k = self.vessel.temperature_k
