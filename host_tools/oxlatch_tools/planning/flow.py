"""Steady flow from bottle to nozzle: feed line, stage valve and jets of every stage of a pattern."""

from dataclasses import dataclass

from oxlatch_sim.physics import lines, orifice
from oxlatch_sim.physics.tables import property_tables
from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.calibration import discharge
from oxlatch_tools.planning.flux import (
    behind,
    fuel_flux,
    in_series,
    jet_pressure_pa,
    liquid_flux,
    saturation_pa,
    valve_area,
)
from oxlatch_tools.planning.stage_flow import Pattern, oxidizer_kg_s

VISCOSITY_HIGH_K = 303.0


def line_loss_coefficient(installation: Installation, flow_kg_s: float, temperature_k: float) -> float:
    """Loss of the feed line per squared flow, Pa s2/kg2, at one flow of liquid."""
    feed = installation.feed
    density = property_tables().saturation.liquid_density_kg_m3(temperature_k)
    viscosity = lines.liquid_nitrous_viscosity_pa_s(min(temperature_k, VISCOSITY_HIGH_K))
    loss = lines.pipe_loss_pa(flow_kg_s, density, viscosity, feed.length, feed.bore, feed.fittings_loss)
    return loss / flow_kg_s**2


@dataclass(frozen=True)
class StageJets:
    """Jets of one stage: bores, and the areas they are worth behind their valve. None where no bore would do."""

    oxidizer_bore: float | None
    fuel_bore: float | None
    oxidizer_m2: float
    fuel_m2: float
    is_drilled: bool


@dataclass(frozen=True)
class Feed:
    """What every pattern shares: loss coefficient of the line, and the jets of all stages."""

    loss: float
    stages: tuple[StageJets, ...]
    fuel_flux: float
    purge_m2: float

    def oxidizer_m2(self, pattern: Pattern) -> float:
        """Area of a pattern, valves and coefficients included."""
        return sum(self.stages[number - 1].oxidizer_m2 for number in pattern)

    def block_pa(self, bottle_pa: float, area_m2: float) -> float:
        """Pressure at the valve block while `area_m2` is open; liquid."""
        low, high = 0.5 * bottle_pa, bottle_pa
        for _ in range(30):
            middle = (low + high) / 2
            flow = liquid_flux(middle) * area_m2
            if middle + self.loss * flow * flow > bottle_pa:
                high = middle
            else:
                low = middle
        return (low + high) / 2

    def fuel_kg_s(self, pattern: Pattern) -> float:
        """Fuel of a pattern at the set pressure."""
        return self.fuel_flux * sum(self.stages[number - 1].fuel_m2 for number in pattern)


def feed_of(installation: Installation) -> Feed:
    """Jets for the nominal flows at the tune temperature, each stage alone; as drilled where the file says so."""
    every = tuple(range(1, len(installation.stages) + 1))
    tune_k = installation.jets.tune_temperature
    loss = line_loss_coefficient(installation, oxidizer_kg_s(installation, every), tune_k)
    flux = fuel_flux(installation, jet_pressure_pa(installation))
    stages = tuple(_stage_jets(installation, number, loss, flux) for number in every)
    purge_jet = orifice.area_m2(installation.feed.purge_jet) * installation.feed.purge_discharge
    return Feed(loss, stages, flux, in_series(valve_area(installation.purge_valve), purge_jet))


def tune_block_pa(installation: Installation, number: int, loss: float) -> float:
    """Pressure at the block with one stage at its nominal flow and the bottle at the tune temperature."""
    flow = oxidizer_kg_s(installation, (number,))
    return saturation_pa(installation.jets.tune_temperature) - loss * flow * flow


def _stage_jets(installation: Installation, number: int, loss: float, flux: float) -> StageJets:
    stage = installation.stages[number - 1]
    flow = oxidizer_kg_s(installation, (number,))
    oxidizer_flux = liquid_flux(tune_block_pa(installation, number, loss))
    oxidizer = _jet(
        flow / oxidizer_flux,
        valve_area(installation.oxidizer_valve),
        stage.oxidizer_jet,
        stage.nozzles,
        discharge(installation, number, "oxidizer").value,
    )
    fuel_flow = flow / installation.oxidizer.mixture
    fuel = _jet(
        fuel_flow / flux,
        valve_area(installation.fuel_valve),
        stage.fuel_jet,
        stage.nozzles,
        discharge(installation, number, "fuel").value,
    )
    drilled = stage.oxidizer_jet is not None and stage.fuel_jet is not None
    return StageJets(oxidizer[0], fuel[0], oxidizer[1], fuel[1], drilled)


def _jet(
    wanted_m2: float, valve_m2: float, drilled: float | None, count: int, discharge: float
) -> tuple[float | None, float]:
    """Bore of each of `count` jets and the area the stage is then worth behind its valve."""
    if drilled is not None:
        return drilled, in_series(valve_m2, count * discharge * orifice.area_m2(drilled))
    jets_m2 = behind(wanted_m2, valve_m2)
    if jets_m2 is None:
        return None, 0.999 * valve_m2
    return orifice.diameter_m(jets_m2 / (count * discharge)), wanted_m2
