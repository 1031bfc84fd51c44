"""Standard atmosphere, pressure altitude and density altitude with humidity.

Source: ICAO Doc 7488, ISO 2533 and the US Standard Atmosphere 1976, identical here: 288.15 K and 1013.25 hPa
at sea level, 6.5 K per km of geopotential altitude, 11 km at most. Range of every altitude: -1 to 11 km.
"""

import math

from oxlatch_sim.physics.validity import require_range

SEA_LEVEL_TEMPERATURE_K = 288.15
SEA_LEVEL_PRESSURE_PA = 101_325.0
LAPSE_K_M = 0.0065
GRAVITY_M_S2 = 9.80665
AIR_GAS_CONSTANT_J_KG_K = 287.05287
EXPONENT = GRAVITY_M_S2 / (AIR_GAS_CONSTANT_J_KG_K * LAPSE_K_M)
SEA_LEVEL_DENSITY_KG_M3 = SEA_LEVEL_PRESSURE_PA / (AIR_GAS_CONSTANT_J_KG_K * SEA_LEVEL_TEMPERATURE_K)
LOWEST_ALTITUDE_M = -1000.0
HIGHEST_ALTITUDE_M = 11_000.0
MOLAR_MASS_RATIO_WATER_AIR = 0.622
FOOT_M = 0.3048
INCH_OF_MERCURY_PA = 3386.389


def standard_temperature_k(altitude_m: float) -> float:
    """Standard temperature, K, at a geopotential altitude."""
    return SEA_LEVEL_TEMPERATURE_K - LAPSE_K_M * _altitude(altitude_m)


def standard_pressure_pa(altitude_m: float) -> float:
    """Standard pressure, Pa, at a geopotential altitude."""
    return SEA_LEVEL_PRESSURE_PA * math.pow(_temperature_ratio(altitude_m), EXPONENT)


def standard_density_ratio(altitude_m: float) -> float:
    """Standard density over its sea-level value, at a geopotential altitude."""
    return math.pow(_temperature_ratio(altitude_m), EXPONENT - 1.0)


def standard_density_kg_m3(altitude_m: float) -> float:
    """Standard density, kg/m3, at a geopotential altitude."""
    return SEA_LEVEL_DENSITY_KG_M3 * standard_density_ratio(altitude_m)


def pressure_altitude_m(pressure_pa: float) -> float:
    """Altitude, m, at which the standard pressure is `pressure_pa`, 226.4 to 1139 hPa."""
    low, high = standard_pressure_pa(HIGHEST_ALTITUDE_M), standard_pressure_pa(LOWEST_ALTITUDE_M)
    require_range("air pressure", pressure_pa, low, high, "Pa")
    return _altitude_of((pressure_pa / SEA_LEVEL_PRESSURE_PA) ** (1.0 / EXPONENT))


def station_pressure_pa(elevation_m: float, altimeter_setting_pa: float) -> float:
    """Pressure, Pa, at a field whose altimeters show `elevation_m` at this setting, 900 to 1100 hPa."""
    require_range("altimeter setting", altimeter_setting_pa, 90_000.0, 110_000.0, "Pa")
    return standard_pressure_pa(_altitude(elevation_m) + pressure_altitude_m(altimeter_setting_pa))


def saturation_vapour_pressure_pa(temperature_k: float) -> float:
    """Vapour pressure of water over water, Pa, at -40 to 60 degC: 611 * 10^(7.5 t / (237.7 + t)), t in degC.

    Source: the form the US National Weather Service uses for its density altitude.
    """
    celsius = require_range("air or dew point temperature", temperature_k, 233.15, 333.15, "K") - 273.15
    return 611.0 * math.pow(10.0, 7.5 * celsius / (237.7 + celsius))


def dew_point_k(temperature_k: float, relative_humidity: float) -> float:
    """Dew point, K, of air at -40 to 60 degC and relative humidity 0.01 to 1; the same form turned round.

    The dew point itself must lie within -40 to 60 degC.
    """
    require_range("relative humidity", relative_humidity, 0.01, 1.0)
    decades = math.log10(relative_humidity * saturation_vapour_pressure_pa(temperature_k) / 611.0)
    return require_range("dew point", 273.15 + 237.7 * decades / (7.5 - decades), 233.15, 333.15, "K")


def virtual_temperature_k(
    pressure_pa: float, temperature_k: float, dew_point_temperature_k: float | None
) -> float:
    """Temperature, K, of dry air as dense as this moist air; `None` means dry."""
    _weather(pressure_pa, temperature_k)
    if dew_point_temperature_k is None:
        return temperature_k
    # A tenth of a kelvin above the air is reading error, more is a mistake.
    require_range("dew point", dew_point_temperature_k, 233.15, temperature_k + 0.1, "K")
    share = saturation_vapour_pressure_pa(dew_point_temperature_k) / pressure_pa
    return temperature_k / (1.0 - share * (1.0 - MOLAR_MASS_RATIO_WATER_AIR))


def density_kg_m3(
    pressure_pa: float, temperature_k: float, dew_point_temperature_k: float | None = None
) -> float:
    """Density of air, kg/m3; 200 to 1150 hPa, -40 to 60 degC."""
    virtual_k = virtual_temperature_k(pressure_pa, temperature_k, dew_point_temperature_k)
    return pressure_pa / (AIR_GAS_CONSTANT_J_KG_K * virtual_k)


def density_altitude_m(
    pressure_pa: float, temperature_k: float, dew_point_temperature_k: float | None = None
) -> float:
    """Altitude, m, at which the standard atmosphere is as dense as this air; humidity raises it by up to 140
    m.

    Range -4 to 11 km: cold air at sea level lies below the standard atmosphere's own floor.
    """
    density = density_kg_m3(pressure_pa, temperature_k, dew_point_temperature_k)
    altitude_m = _altitude_of((density / SEA_LEVEL_DENSITY_KG_M3) ** (1.0 / (EXPONENT - 1.0)))
    return require_range("density altitude", altitude_m, -4000.0, HIGHEST_ALTITUDE_M, "m")


def density_altitude_nws_m(pressure_pa: float, temperature_k: float, dew_point_temperature_k: float) -> float:
    """Density altitude, m, by the formula of the US National Weather Service: a cross check within 8 m.

    145366 ft * (1 - (17.326 p / Tv)^0.235), p in inches of mercury, Tv in degrees Rankine.
    """
    virtual_k = virtual_temperature_k(pressure_pa, temperature_k, dew_point_temperature_k)
    ratio = 17.326 * (pressure_pa / INCH_OF_MERCURY_PA) / (1.8 * virtual_k)
    return 145_366.0 * FOOT_M * (1.0 - math.pow(ratio, 0.235))


def density_altitude_by_rule_m(pressure_altitude: float, temperature_k: float) -> float:
    """Density altitude, m, by the pilot's rule, dry: pressure altitude plus 120 ft a kelvin over standard."""
    excess_k = temperature_k - standard_temperature_k(pressure_altitude)
    return pressure_altitude + 120.0 * FOOT_M * require_range(
        "deviation from standard", excess_k, -60.0, 60.0, "K"
    )


def _altitude(altitude_m: float) -> float:
    return require_range("geopotential altitude", altitude_m, LOWEST_ALTITUDE_M, HIGHEST_ALTITUDE_M, "m")


def _temperature_ratio(altitude_m: float) -> float:
    return standard_temperature_k(altitude_m) / SEA_LEVEL_TEMPERATURE_K


def _altitude_of(temperature_ratio: float) -> float:
    return SEA_LEVEL_TEMPERATURE_K / LAPSE_K_M * (1.0 - temperature_ratio)


def _weather(pressure_pa: float, temperature_k: float) -> None:
    require_range("air pressure", pressure_pa, 20_000.0, 115_000.0, "Pa")
    require_range("air temperature", temperature_k, 233.15, 333.15, "K")
