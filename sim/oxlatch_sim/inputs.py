"""The optional inputs by the words the installation file uses, and their bits in the settings record."""

from oxlatch import vocabulary as v

INPUT_BITS = {
    "contact second pole": v.FIT_DETENT_NC,
    "throttle position": v.FIT_THROTTLE,
    "oxidizer proof": v.FIT_PROOF,
    "master fuel valve": v.FIT_MASTER_FUEL,
    "coil currents": v.FIT_CURRENTS,
    "coil rail": v.FIT_RAIL,
    "fuel pressure": v.FIT_FUEL_PRESSURE,
    "lockout memory": v.FIT_LOCKOUT_MEMORY,
    "bottle temperature": v.FIT_BOTTLE_TEMPERATURE,
    "air data": v.FIT_AIR,
    "knock": v.FIT_KNOCK,
    "purge outlet 1": v.FIT_OUTLET_1,
    "purge outlet 2": v.FIT_OUTLET_2,
    "master oxidizer valve": v.FIT_MASTER_OX,
    "mixture rich": v.FIT_MIXTURE,
    "ignition retard": v.FIT_RETARD,
    "fire": v.FIT_FIRE,
    "airspeed": v.FIT_AIRSPEED,
    "bottle budget": v.FIT_BUDGET,
    "vent-down": v.FIT_VENT_DOWN,
}

SAMPLED = {
    "bottle temperature",
    "air data",
    "knock",
    "purge outlet 1",
    "purge outlet 2",
    "mixture rich",
    "ignition retard",
    "fire",
    "airspeed",
}
"""Inputs beyond the core with a sensor or contact of their own."""
