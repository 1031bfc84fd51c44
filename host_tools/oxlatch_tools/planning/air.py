"""Air of one place and day, and the power the base engine makes in it."""

from dataclasses import dataclass

from oxlatch_sim.physics import atmosphere, engine
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_aircraft import Airfield

NITROUS_OXYGEN = 15.999 / 44.0128
AIR_OXYGEN = 0.2314
LAPSE_FORMULA = "larger of P0·(σ − (1 − σ)/7.55) and P0·p/p0·√(T0/T), dry air"
LAPSE_SOURCE = "Gagg and Farrar, SAE Transactions 29 (1934) 217-225; second form: common practice, behind SAE J607"


@dataclass(frozen=True)
class Air:
    """Station pressure, temperature and dew point; None for dry."""

    pressure_pa: float
    temperature_k: float
    dew_point_k: float | None = None

    @property
    def density_kg_m3(self) -> float:
        """Density, humidity counted."""
        return atmosphere.density_kg_m3(self.pressure_pa, self.temperature_k, self.dew_point_k)

    @property
    def density_altitude_m(self) -> float:
        """Density altitude, humidity counted."""
        return atmosphere.density_altitude_m(self.pressure_pa, self.temperature_k, self.dew_point_k)

    @property
    def pressure_altitude_m(self) -> float:
        """What an altimeter set to 1013.25 hPa shows."""
        return atmosphere.pressure_altitude_m(self.pressure_pa)

    def dry(self) -> "Air":
        """The same air without its humidity: more oxygen, more power."""
        return Air(self.pressure_pa, self.temperature_k)


def air_at(airfield: Airfield) -> Air:
    """Air of a field on the day the file names."""
    return air_of(airfield.elevation, airfield.pressure, airfield.temperature, airfield.dew_point)


def air_of(elevation_m: float, altimeter_pa: float, temperature_k: float, dew_point_k: float | None = None) -> Air:
    """Air from elevation, altimeter setting, temperature and dew point."""
    return Air(atmosphere.station_pressure_pa(elevation_m, altimeter_pa), temperature_k, dew_point_k)


def standard_air(altitude_m: float) -> Air:
    """Standard atmosphere."""
    return Air(atmosphere.standard_pressure_pa(altitude_m), atmosphere.standard_temperature_k(altitude_m))


def lapses(air: Air) -> tuple[float, float]:
    """Both estimates of full-throttle power over its standard sea-level value, dry air."""
    ratio = air.dry().density_kg_m3 / atmosphere.SEA_LEVEL_DENSITY_KG_M3
    by_density = max(engine.gagg_farrar_lapse(ratio), 0.0)
    return by_density, engine.pressure_temperature_lapse(air.pressure_pa, air.temperature_k)


def most_base_power_w(installation: Installation, air: Air) -> float:
    """The larger estimate: what room below the ceiling is reckoned from."""
    return installation.engine.rated_power * max(lapses(air))


def least_base_power_w(installation: Installation, air: Air) -> float:
    """The smaller estimate, humidity counted: what take-offs are reckoned from."""
    ratio = air.density_kg_m3 / atmosphere.SEA_LEVEL_DENSITY_KG_M3
    return installation.engine.rated_power * min(max(engine.gagg_farrar_lapse(ratio), 0.0), lapses(air)[1])


def air_flow_kg_s(installation: Installation, air: Air, speed_rpm: float | None = None) -> float:
    """Air breathed at full throttle without boost."""
    data = installation.engine
    return engine.air_flow_kg_s(
        installation.displacement_m3,
        speed_rpm or data.rated_speed,
        data.volumetric_efficiency,
        air.pressure_pa * (1 - data.manifold_loss),
        air.temperature_k,
    )


def oxygen_added(nitrous_kg_s: float, breathed_kg_s: float) -> float:
    """Oxygen that nitrous brings, as a share of the oxygen in the air breathed; IUPAC atomic masses.

    The same as `combustion.oxygen_enrichment` less one, without the property library that module loads: a one-line
    answer must not wait for it.
    """
    return nitrous_kg_s * NITROUS_OXYGEN / (breathed_kg_s * AIR_OXYGEN)
