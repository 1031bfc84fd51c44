"""Discharge coefficients of the jets: the file's until weighed bench shots give better ones."""

import math
import statistics
from dataclasses import dataclass
from typing import Literal

from oxlatch_sim.physics import orifice
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_control import Shot
from oxlatch_tools.planning.flux import behind, fuel_flux, liquid_flux, valve_area

Fluid = Literal["oxidizer", "fuel"]
SINGLE_SHOT_BAND = 0.10  # of one shot alone: judgement
LEAST_BAND = 0.02  # scale, stopwatch and pressure gauge, however well the shots repeat: judgement
LONG_ENOUGH_S = 10.0  # shorter shots are mostly opening and closing: common practice, no source
# Student's t, 97.5 %, for 1 to 9 degrees of freedom: any table of the distribution
STUDENT_T = (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262)


@dataclass(frozen=True)
class Coefficient:
    """A coefficient with its band and where it comes from; `shots` is 0 when it is the file's."""

    value: float
    low: float
    high: float
    shots: int

    @property
    def origin(self) -> str:
        """For the jet table."""
        return f"{self.shots} weighed shot{'s' if self.shots > 1 else ''}" if self.shots else "file, not yet measured"


def discharge(installation: Installation, number: int, fluid: Fluid) -> Coefficient:
    """Coefficient of one stage's jets for one fluid."""
    values = [
        value
        for shot in installation.tested.shots
        if shot.stage == number and shot.fluid == fluid and (value := shot_coefficient(installation, shot)) is not None
    ]
    if values:
        return fitted(values)
    jets = installation.jets
    if fluid == "oxidizer":
        return Coefficient(jets.oxidizer_discharge, jets.oxidizer_discharge_low, jets.oxidizer_discharge_high, 0)
    spread = jets.fuel_discharge_spread * jets.fuel_discharge
    return Coefficient(jets.fuel_discharge, jets.fuel_discharge - spread, jets.fuel_discharge + spread, 0)


def fitted(values: list[float]) -> Coefficient:
    """Mean and 95 % band of the mean, by Student's t, never under 2 %; one value alone gets a band of 10 %."""
    mean = statistics.fmean(values)
    if len(values) == 1:
        half = SINGLE_SHOT_BAND * mean
    else:
        factor = STUDENT_T[min(len(values) - 2, len(STUDENT_T) - 1)]
        half = max(factor * statistics.stdev(values) / math.sqrt(len(values)), LEAST_BAND * mean)
    return Coefficient(mean, mean - half, mean + half, len(values))


def shot_coefficient(installation: Installation, shot: Shot) -> float | None:
    """Coefficient one weighed shot shows; None without the jet's bore in the file, or when the valve is too small."""
    stage = installation.stages[shot.stage - 1]
    bore = stage.oxidizer_jet if shot.fluid == "oxidizer" else stage.fuel_jet
    if bore is None:
        return None
    flow = shot.mass / shot.duration
    if shot.fluid == "oxidizer":
        flux, valve = liquid_flux(shot.pressure), installation.oxidizer_valve
    else:
        flux, valve = fuel_flux(installation, shot.pressure), installation.fuel_valve
    area = behind(flow / flux, valve_area(valve))
    return None if area is None else area / (stage.nozzles * orifice.area_m2(bore))
