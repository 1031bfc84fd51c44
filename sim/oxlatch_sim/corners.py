"""The tolerance box of an aircraft, its corners, and the hardware options a fault is tried against."""

import difflib
from dataclasses import dataclass, replace

from oxlatch.settings import FIELDS, Settings
from oxlatch.vocabulary import FIT_MASTER_FUEL, FIT_MASTER_OX, FIT_PROOF
from oxlatch_sim.physics.tables import property_tables
from oxlatch_sim.plant.parameters import PlantParameters, SensorParameters, StageParameters, ValveParameters
from oxlatch_sim.plant.sensors import SPAN_MV, ZERO_MV

PRESSURE_MARGIN_PA = 1.5e5
LOW_FILL_SHARE = 0.35
BUS_MARGIN_V = 0.3
HIGH_BUS_SHARE = 1.06
FAST, SLOW = 0.8, 1.25
SMALL, LARGE = 0.8, 1.25
HOT_COIL_K = 363.15

NOMINAL = "nominal"
FACTORS = (("cold", "hot"), ("low", "full"), ("weak", "strong"), ("slowO", "slowF"), ("small", "large"))
"""Bottle temperature, fill, bus voltage, valve times, branch volumes; a corner's name is one word of each.

A weak bus goes with hot coils. slowO: oxidizer valves 1.25 times as slow and fuel valves 0.8 times; slowF the other
way round, which is the harder of the two for the order of shutting.
"""


class CornerError(ValueError):
    """No such corner or hardware option."""


def all_corners() -> list[str]:
    """Nominal and all 32 corners of the box."""
    names = [NOMINAL]
    for bits in range(1 << len(FACTORS)):
        names.append("-".join(levels[bits >> index & 1] for index, levels in enumerate(FACTORS)))
    return names


def eighth_corners() -> list[str]:
    """Nominal and eight corners in which every level, and every pair of the first three factors, comes equally often.

    A two-level fraction of resolution III: the last two factors follow from products of the first three.
    """
    names = [NOMINAL]
    for bits in range(8):
        a, b, c = bits & 1, bits >> 1 & 1, bits >> 2 & 1
        levels = (a, b, c, a ^ b ^ c, a ^ b)
        names.append("-".join(FACTORS[index][level] for index, level in enumerate(levels)))
    return names


@dataclass(frozen=True)
class Hardware:
    """Which of the recommended parts are fitted."""

    name: str
    proof: bool = True
    master_fuel: bool = True
    fast_clamps: bool = True
    master_oxidizer: bool = True
    """Whether a master oxidizer valve stays, where the aircraft has one."""

    @property
    def is_whole(self) -> bool:
        """Whether nothing is left out."""
        return self.proof and self.master_fuel and self.fast_clamps and self.master_oxidizer


HARDWARE = (
    Hardware("recommended"),
    Hardware("no proof", proof=False),
    Hardware("no master fuel", master_fuel=False),
    Hardware("no master oxidizer", master_oxidizer=False),
    Hardware("plain clamps", fast_clamps=False),
    Hardware("none", proof=False, master_fuel=False, fast_clamps=False, master_oxidizer=False),
)


def hardware_named(name: str) -> Hardware:
    """One option by its name. Errors: `CornerError`."""
    for option in HARDWARE:
        if option.name == name:
            return option
    raise CornerError(f"hardware {name!r} does not exist; allowed: {', '.join(option.name for option in HARDWARE)}")


def pressure_at_pa(sensor: SensorParameters, millivolts: int) -> float:
    """The pressure at which a sensor gives this signal."""
    return sensor.zero + (millivolts - ZERO_MV) / SPAN_MV * sensor.full_scale


def corner_plant(name: str, plant: PlantParameters, settings: Settings) -> PlantParameters:
    """The aircraft at a corner of its tolerance box.

    The box is as wide as the controller lets it be: bottle pressure and bus voltage just inside what becomes ready.
    Errors: `CornerError`.
    """
    if name == NOMINAL:
        return plant
    words = name.split("-")
    if len(words) != len(FACTORS) or any(word not in levels for word, levels in zip(words, FACTORS, strict=True)):
        shape = ", ".join("|".join(levels) for levels in FACTORS)
        near = ", ".join(difflib.get_close_matches(name, all_corners(), n=3)) or NOMINAL
        allowed = f"{NOMINAL}, or one of each of {shape}, joined by -"
        raise CornerError(f"corner {name!r} does not exist; nearest are {near}; allowed: {allowed}")
    cold, low, weak, slow_oxidizer, small = (word == levels[0] for word, levels in zip(words, FACTORS, strict=True))
    limit_mv = settings.supply_permit_mv if cold else settings.supply_top_mv
    margin = PRESSURE_MARGIN_PA if cold else -PRESSURE_MARGIN_PA
    temperature = property_tables().saturation.temperature_k(pressure_at_pa(plant.sensors.supply, limit_mv) + margin)
    fill = plant.bottle.fill_kg * (LOW_FILL_SHARE if low else 1.0)
    electrical = plant.electrical
    if weak:
        permit_v = settings.bus_permit_mv / 1000.0
        electrical = replace(electrical, set_v=permit_v + BUS_MARGIN_V, coil_temperature_k=HOT_COIL_K)
    else:
        surge_v = settings.bus_surge_mv / 1000.0
        electrical = replace(electrical, set_v=min(HIGH_BUS_SHARE * electrical.set_v, surge_v - 2.0 * BUS_MARGIN_V))
    oxidizer, fuel = (SLOW, FAST) if slow_oxidizer else (FAST, SLOW)
    size = SMALL if small else LARGE
    return replace(
        plant,
        bottle=replace(plant.bottle, temperature_k=temperature, fill_kg=fill),
        electrical=electrical,
        stages=tuple(_stage(stage, oxidizer, fuel, size) for stage in plant.stages),
        fuel=replace(plant.fuel, master_valve=_paced(plant.fuel.master_valve, fuel)),
    )


def hardware_plant(option: Hardware, plant: PlantParameters) -> PlantParameters:
    """The aircraft with these parts."""
    hardware = replace(
        plant.hardware,
        proof_switches=option.proof,
        master_fuel=option.master_fuel,
        fast_fuel_clamps=option.fast_clamps,
        master_oxidizer=option.master_oxidizer and plant.hardware.master_oxidizer,
    )
    return replace(plant, hardware=hardware)


def hardware_settings(option: Hardware, settings: Settings) -> Settings:
    """The settings that go with these parts."""
    changed = Settings()
    for name, *_rest in FIELDS:
        setattr(changed, name, getattr(settings, name))
    changed.fitted = hardware_fitted(option, changed.fitted)
    return changed


def hardware_fitted(option: Hardware, fitted: int) -> int:
    """The word of fitted inputs that goes with these parts."""
    for bit, there in ((FIT_PROOF, option.proof), (FIT_MASTER_FUEL, option.master_fuel)):
        fitted = fitted | bit if there else fitted & ~bit
    return fitted if option.master_oxidizer else fitted & ~FIT_MASTER_OX


def _paced(valve: ValveParameters, pace: float) -> ValveParameters:
    return replace(
        valve,
        coil_h=pace * valve.coil_h,
        open_stroke_s=pace * valve.open_stroke_s,
        close_stroke_s=pace * valve.close_stroke_s,
    )


def _stage(stage: StageParameters, oxidizer: float, fuel: float, size: float) -> StageParameters:
    return replace(
        stage,
        oxidizer_valve=_paced(stage.oxidizer_valve, oxidizer),
        fuel_valve=_paced(stage.fuel_valve, fuel),
        oxidizer_branch=replace(
            stage.oxidizer_branch,
            tube_m3=size * stage.oxidizer_branch.tube_m3,
            pocket_m3=size * stage.oxidizer_branch.pocket_m3,
        ),
        fuel_branch=replace(stage.fuel_branch, volume_m3=size * stage.fuel_branch.volume_m3),
    )
