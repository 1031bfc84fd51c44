"""Bores of every jet, how uncertain they are, and what moves power and mixture."""

import math
from dataclasses import dataclass

from oxlatch_sim.physics import atmosphere, combustion
from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.calibration import LONG_ENOUGH_S, Fluid, discharge, shot_coefficient
from oxlatch_tools.planning.drills import Drill, flow_error, metric_drills, nearest, numbered_drills
from oxlatch_tools.planning.flow import Feed
from oxlatch_tools.planning.flux import (
    FLUX_SOURCE,
    SERIES_SOURCE,
    jet_pressure_pa,
    liquid_flux,
    saturation_pa,
)
from oxlatch_tools.planning.page import Column, Figure, Finding, Page, Table, pattern_name
from oxlatch_tools.planning.spread import SMALLEST_BORE, cylinder_shares, largest_plenum_w, spread_table
from oxlatch_tools.planning.stage_flow import Pattern, oxidizer_kg_s

FLUIDS: tuple[Fluid, Fluid] = ("oxidizer", "fuel")


@dataclass(frozen=True)
class Change:
    """One thing that may differ, and what it does to flow (and so to power) and to mixture, as fractions."""

    name: str
    oxidizer: float
    fuel: float

    @property
    def mixture(self) -> float:
        """Change of the ratio of oxidizer to fuel."""
        return (1 + self.oxidizer) / (1 + self.fuel) - 1


def bore_of(feed: Feed, number: int, fluid: Fluid) -> float | None:
    """Bore of one stage's jets; None where the valve alone is too small."""
    stage = feed.stages[number - 1]
    return stage.oxidizer_bore if fluid == "oxidizer" else stage.fuel_bore


def flow_band(installation: Installation, number: int, fluid: Fluid, bore: float) -> tuple[float, float]:
    """Least and most flow over the nominal: coefficient and bore tolerance; only the first once weighed."""
    coefficient = discharge(installation, number, fluid)
    tolerance = 0.0 if coefficient.shots else installation.jets.diameter_tolerance / bore
    return (
        coefficient.low / coefficient.value * (1 - tolerance) ** 2 - 1,
        coefficient.high / coefficient.value * (1 + tolerance) ** 2 - 1,
    )


def changes(installation: Installation, feed: Feed, pattern: Pattern) -> list[Change]:
    """The bars: bottle temperature, fuel pressure, bores, coefficients, altitude."""
    tune_k = installation.jets.tune_temperature
    area = feed.oxidizer_m2(pattern)
    base = liquid_flux(feed.block_pa(saturation_pa(tune_k), area))
    found = []
    for kelvin in (-10.0, 10.0):
        if tune_k + kelvin < 308.0:
            flux = liquid_flux(feed.block_pa(saturation_pa(tune_k + kelvin), area))
            found.append(Change(f"Bottle {kelvin:+.0f} K", flux / base - 1, 0.0))
    band = installation.limits.fuel_band
    found.extend(Change(f"Fuel pressure {sign * band:+.0%}", 0.0, math.sqrt(1 + sign * band) - 1) for sign in (-1, 1))
    worst = pattern[0]
    tolerance = installation.jets.diameter_tolerance
    for fluid in FLUIDS:
        bore = bore_of(feed, worst, fluid)
        coefficient = discharge(installation, worst, fluid)
        cases = [
            ("coefficient low", coefficient.low / coefficient.value),
            ("coefficient high", coefficient.high / coefficient.value),
        ]
        if bore is not None:
            cases += [
                ("bore less tolerance", (1 - tolerance / bore) ** 2),
                ("bore plus tolerance", (1 + tolerance / bore) ** 2),
            ]
        for name, factor in cases:
            change = factor - 1
            found.append(
                Change(
                    f"{fluid.capitalize()} {name}",
                    change if fluid == "oxidizer" else 0.0,
                    change if fluid == "fuel" else 0.0,
                )
            )
    found.append(Change("From sea level to 3000 m", 0.0, _altitude_change(installation)))
    return found


def _altitude_change(installation: Installation) -> float:
    high = jet_pressure_pa(installation, atmosphere.standard_pressure_pa(3000.0))
    return math.sqrt(high / jet_pressure_pa(installation)) - 1


def jets_page(installation: Installation, feed: Feed, shown: Pattern) -> Page:
    """The page."""
    page = Page(
        "jets",
        "Which bores?",
        [
            "One jet a row below: bore, nearest standard drill, and how far the flow may be off until weighed "
            "shots say better.",
            "Fuel jets see {fuel_pressure} at full throttle; mixture {mixture} parts of nitrous to one of fuel by "
            "mass with the "
            "bottle at {tune}.",
        ],
        figures=_figures(installation),
        tables=[
            _jet_table(installation, feed),
            _change_table(installation, feed, shown),
            spread_table(installation, feed),
        ],
    )
    if installation.tested.shots:
        page.tables.append(_shot_table(installation))
    page.findings = _findings(installation, feed)
    page.assumptions = [
        "Power follows the flow of oxidizer while the mixture is rich enough.",
        "Uncalibrated, choked flow of near-saturated nitrous is known to about 20 %.",
        "Coefficients of one stage hold for all its jets."
        if installation.tested.shots
        else "No weighed shots are in the file: every bore is a first cut, to be drilled small and opened up.",
        "Fuel pressure is referenced to the manifold."
        if installation.fuel.manifold_referenced
        else "Fuel pressure is not referenced to the manifold: mixture drifts with altitude, see the bars.",
    ]
    page.cautions = [
        "A jet pattern is proved by weighing, never by computing. A change of fuel changes its density and asks "
        "for new shots.",
        "One plugged fuel jet leaves its cylinder lean. Fit filters; check balance by cylinder.",
    ]
    return page


def _figures(installation: Installation) -> list[Figure]:
    return [
        Figure(
            "fuel_pressure",
            "Pressure across fuel jets",
            jet_pressure_pa(installation),
            "fuel pressure",
            "set pressure" + ("" if installation.fuel.manifold_referenced else " + manifold depression"),
            "installation file",
        ),
        Figure("mixture", "Target mixture O:F", installation.oxidizer.mixture, "ratio", "installation file"),
        Figure(
            "tune",
            "Tune temperature",
            installation.jets.tune_temperature,
            "temperature",
            "installation file",
        ),
        Figure(
            "tune_pressure",
            "Bottle pressure at tune temperature",
            saturation_pa(installation.jets.tune_temperature),
            "pressure",
            "vapour pressure",
            "Lemmon and Span 2006",
        ),
        Figure(
            "stoichiometric",
            "Mixture that burns completely",
            combustion.stoichiometric_nitrous_ratio(),
            "ratio",
            "CH1.87 + N2O balance",
            "atomic masses; usual practice is richer",
        ),
    ]


def _jet_table(installation: Installation, feed: Feed) -> Table:
    rows: list[tuple[str | float | None, ...]] = []
    at_hand = [Drill(f"{bore * 1e3:.3f} mm", bore) for bore in installation.jets.at_hand]
    for number, stage in enumerate(installation.stages, start=1):
        for fluid in FLUIDS:
            bore = bore_of(feed, number, fluid)
            letter = "O" if fluid == "oxidizer" else "F"
            if bore is None:
                rows.append((f"{number} {letter}", float(stage.nozzles), *[None] * 9, "valve too small"))
                continue
            metric, numbered = nearest(bore, metric_drills()), nearest(bore, numbered_drills())
            hand = nearest(bore, at_hand) if at_hand else None
            low, high = flow_band(installation, number, fluid, bore)
            flow = oxidizer_kg_s(installation, (number,)) / stage.nozzles
            flow = flow if fluid == "oxidizer" else flow / installation.oxidizer.mixture
            rows.append(
                (
                    f"{number} {letter}",
                    float(stage.nozzles),
                    flow,
                    f"{bore * 1e3:.3f}",
                    f"{bore / 0.0254:.4f}",
                    metric.name,
                    flow_error(bore, metric),
                    f"{numbered.name} ({numbered.bore / 0.0254:.4f})",
                    flow_error(bore, numbered),
                    "–" if hand is None else f"{hand.name}, {flow_error(bore, hand):+.1%}",
                    f"{low:+.0%} to {high:+.0%}",
                    ("drilled; " if feed.stages[number - 1].is_drilled else "")
                    + discharge(installation, number, fluid).origin,
                )
            )
    columns = (
        Column("jet", "Stage, fluid"),
        Column("count", "Jets", "count"),
        Column("flow", "Each passes", "flow"),
        Column("bore_mm", "Bore (mm)"),
        Column("bore_inch", "Bore (in)"),
        Column("metric", "Nearest metric drill"),
        Column("metric_error", "Flow error", "fraction"),
        Column("numbered", "Nearest numbered drill (in)"),
        Column("numbered_error", "Flow error", "fraction"),
        Column("at_hand", "Nearest at hand"),
        Column("band", "Flow may be off by"),
        Column("origin", "Coefficient from"),
    )
    note = "O oxidizer, F fuel. Never exchange O and F jets; use different fittings."
    return Table(
        "jets",
        "One jet a row",
        columns,
        rows,
        "A = flow / (Cd·flux), behind the valve",
        f"{FLUX_SOURCE}; {SERIES_SOURCE}",
        note,
    )


def _change_table(installation: Installation, feed: Feed, shown: Pattern) -> Table:
    rows = [
        (change.name, change.oxidizer, change.mixture, installation.oxidizer.mixture * (1 + change.mixture))
        for change in changes(installation, feed, shown)
    ]
    columns = (
        Column("change", "What differs"),
        Column("power", "Added power", "fraction"),
        Column("mixture_change", "O:F", "fraction"),
        Column("mixture", "O:F becomes", "ratio"),
    )
    return Table(
        "changes",
        f"What moves power and mixture, stage {pattern_name(shown)}",
        columns,
        rows,
        "flow again with one thing changed",
        FLUX_SOURCE,
    )


def _shot_table(installation: Installation) -> Table:
    rows: list[tuple[str | float | None, ...]] = []
    for shot in installation.tested.shots:
        value = shot_coefficient(installation, shot)
        short = "short" if shot.duration < LONG_ENOUGH_S else ""
        note = "bore not in the file" if value is None else short
        rows.append(
            (
                f"{shot.stage} {'O' if shot.fluid == 'oxidizer' else 'F'}",
                shot.duration,
                shot.mass,
                shot.mass / shot.duration,
                value,
                note,
            )
        )
    for number in range(1, len(installation.stages) + 1):
        for fluid in FLUIDS:
            found = discharge(installation, number, fluid)
            if found.shots:
                text = (
                    f"fitted, {found.low:.3f} to {found.high:.3f} (95 % of the mean)"
                    if found.shots > 1
                    else "one shot: ±10 %"
                )
                rows.append((f"{number} {'O' if fluid == 'oxidizer' else 'F'}", None, None, None, found.value, text))
    columns = (
        Column("jet", "Stage, fluid"),
        Column("duration", "Shot", "tenths"),
        Column("mass", "Weighed", "shot mass"),
        Column("flow", "Flow", "flow"),
        Column("coefficient", "Coefficient", "coefficient"),
        Column("note", "Note"),
    )
    return Table(
        "shots",
        "Weighed bench shots",
        columns,
        rows,
        "Cd = jets area behind the valve / bore area",
        "Student's t for the band",
    )


def _findings(installation: Installation, feed: Feed) -> list[Finding]:
    found = []
    for number, stage in enumerate(installation.stages, start=1):
        for fluid in FLUIDS:
            bore = bore_of(feed, number, fluid)
            if bore is None:
                found.append(
                    Finding(
                        "exceeded",
                        f"{fluid}_valve.bore",
                        f"passes less than stage {number} needs",
                        "a valve larger than the jets behind it",
                        "A larger valve, or less power in this stage.",
                    )
                )
            elif bore < SMALLEST_BORE:
                found.append(
                    Finding(
                        "exceeded",
                        f"stages[{number}].{fluid}_jet",
                        f"{bore * 1e3:.3f} mm",
                        "0.2 mm or more",
                        "Fewer nozzles, less fuel pressure, or a larger stage.",
                    )
                )
        if stage.delivery == "plenum":
            largest = largest_plenum_w(installation, max(cylinder_shares(installation, feed, number).shares))
            if stage.power > largest:
                found.append(
                    Finding(
                        "exceeded",
                        f"stages[{number}].power",
                        f"{stage.power / 1e3:.1f} kW ahead of the plenum",
                        f"up to {largest / 1e3:.1f} kW",
                        "Make it smaller, or spray it at the ports.",
                    )
                )
    for index, shot in enumerate(installation.tested.shots, start=1):
        if shot_coefficient(installation, shot) is None:
            found.append(
                Finding(
                    "note",
                    f"tested.shots[{index}]",
                    "cannot be used",
                    "a stage whose drilled bore is in the file",
                    "Enter the bore as drilled.",
                )
            )
    return found
