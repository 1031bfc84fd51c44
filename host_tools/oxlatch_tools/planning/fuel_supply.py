"""From tank to jet: does the fuel supply carry the engine and the stages, with a quarter to spare?"""

import itertools
import math
from dataclasses import dataclass

from fluids.core import Reynolds, dP_from_K, nu_mu_converter
from fluids.friction import friction_factor

from oxlatch_sim.physics import atmosphere
from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.page import COMPUTED, Column, Figure, Finding, Page, Table, pattern_name
from oxlatch_tools.planning.stage_flow import Pattern, engine_fuel_kg_s, fuel_kg_s

VISCOSITY_PA_S = 0.5e-3  # gasoline near 20 degC, from memory
ROUGHNESS_M = 1.5e-6  # drawn tube, common practice
RESERVE = 1.25
HALF_BLOCKED = 4.0  # half the filter's area left: twice the speed, four times the loss
RESERVE_SOURCE = "125 % of what the engine asks of a pump: former 14 CFR 23.955(c), a design analogue"
LOSS_SOURCE = "Darcy-Weisbach with the Colebrook friction factor; filter loss with the square of flow"


@dataclass(frozen=True)
class Ladder:
    """Pressures above the outside air, from pump to valve block, at one flow."""

    flow_m3_s: float
    pump: float
    after_head: float
    after_filter: float
    at_block: float


def need_m3_s(installation: Installation, pattern: Pattern) -> float:
    """Fuel the pump must carry with a pattern flowing: stages, and the engine where it shares the pump."""
    total = fuel_kg_s(installation, pattern)
    if installation.fuel.shared_with_engine:
        total += engine_fuel_kg_s(installation)
    return total / installation.fuel.density


def pump_pressure(installation: Installation, flow_m3_s: float) -> float:
    """Pump curve at the lowest bus voltage, straight between its points; 0 beyond its last point."""
    points = installation.fuel.pump
    if flow_m3_s <= points[0].flow:
        return points[0].pressure
    for first, second in itertools.pairwise(points):
        if flow_m3_s <= second.flow:
            share = (flow_m3_s - first.flow) / (second.flow - first.flow)
            return first.pressure + share * (second.pressure - first.pressure)
    return 0.0


def line_loss(installation: Installation, flow_m3_s: float) -> float:
    """Loss of the fuel line and its fittings."""
    fuel = installation.fuel
    if flow_m3_s <= 0:
        return 0.0
    speed = flow_m3_s / (math.pi / 4 * fuel.line_bore**2)
    viscosity = nu_mu_converter(fuel.density, mu=VISCOSITY_PA_S)
    factor = friction_factor(Re=Reynolds(V=speed, D=fuel.line_bore, nu=viscosity), eD=ROUGHNESS_M / fuel.line_bore)
    return float(dP_from_K(factor * fuel.line_length / fuel.line_bore + fuel.fittings_loss, rho=fuel.density, V=speed))


def ladder(installation: Installation, flow_m3_s: float) -> Ladder:
    """All steps at one flow, the filter half blocked."""
    fuel = installation.fuel
    pump = pump_pressure(installation, flow_m3_s)
    after_head = pump + fuel.density * atmosphere.GRAVITY_M_S2 * fuel.head
    after_filter = after_head - HALF_BLOCKED * fuel.filter_loss * (flow_m3_s / fuel.filter_flow) ** 2
    return Ladder(flow_m3_s, pump, after_head, after_filter, after_filter - line_loss(installation, flow_m3_s))


def carries(installation: Installation, pattern: Pattern) -> bool:
    """Whether the set pressure is reached at the block with a quarter more flow than needed."""
    return ladder(installation, RESERVE * need_m3_s(installation, pattern)).at_block >= installation.fuel.set_pressure


def fuel_page(installation: Installation, shown: Pattern) -> Page:
    """The page."""
    fuel = installation.fuel
    need = need_m3_s(installation, shown)
    steps = ladder(installation, need)
    engine = engine_fuel_kg_s(installation) / fuel.density
    shared = "engine and stages" if fuel.shared_with_engine else "the stages alone"
    page = Page(
        "fuel_supply",
        "Does the fuel supply carry it?",
        [
            f"Stage {pattern_name(shown)} with {shared} asks for {{need}}; at 125 % of that the block still has "
            "{margin_125} above the set pressure.",
        ],
        figures=[
            Figure(
                "engine",
                "Base engine, full rich at rated power",
                engine,
                "fuel flow",
                "consumption·power / ρ",
                COMPUTED,
            ),
            Figure("need", "Needed with that pattern", need, "fuel flow", "engine + stages", COMPUTED),
            Figure("set", "Set pressure", fuel.set_pressure, "fuel pressure", "installation file"),
            Figure(
                "at_block",
                "At the block at that flow",
                steps.at_block,
                "fuel pressure",
                "pump + head − filter − line",
                LOSS_SOURCE,
            ),
            Figure(
                "margin_125",
                "Left above set pressure at 125 %",
                ladder(installation, RESERVE * need).at_block - fuel.set_pressure,
                "fuel pressure",
                "the same at 1.25 times the flow",
                RESERVE_SOURCE,
            ),
            Figure(
                "vapour_margin",
                "Pressure at pump inlet above vapour pressure, highest field",
                vapour_margin(installation),
                "fuel pressure",
                "p(outside) + ρ·g·head − vapour pressure",
                "vapour pressure from the installation file",
            ),
        ],
        tables=[_patterns(installation), _ladder_table(installation, shown)],
    )
    page.findings = list(_findings(installation))
    page.assumptions = [
        "Pump curve at the lowest bus voltage, straight between its points; nothing beyond the last.",
        "Filter half blocked: four times its clean loss.",
        f"Gasoline {fuel.density:.0f} kg/m³, viscosity 0.5 mPa·s (from memory). No return flow.",
    ]
    page.cautions = [
        "Prove it by a timed catch at the nozzles with engine flow simulated, fire cover standing by.",
        "A stage tapped where it can starve the engine's own metering leans the engine itself.",
        "Take the fuel for the stages downstream of the firewall shut-off.",
    ]
    return page


def vapour_margin(installation: Installation) -> float:
    """Absolute pressure at the pump inlet over the fuel's vapour pressure, at the highest field of the file."""
    highest = max(field.elevation for field in installation.airfields)
    fuel = installation.fuel
    outside = atmosphere.standard_pressure_pa(highest)
    return outside + fuel.density * atmosphere.GRAVITY_M_S2 * min(fuel.head, 0.0) - fuel.vapour_pressure


def _patterns(installation: Installation) -> Table:
    rows: list[tuple[str | float | None, ...]] = []
    for pattern in [(), *installation.patterns()]:
        need = need_m3_s(installation, pattern)
        at, reserve = ladder(installation, need), ladder(installation, RESERVE * need)
        rows.append(
            (
                pattern_name(pattern) or "none",
                need,
                RESERVE * need,
                at.pump,
                at.at_block,
                reserve.at_block,
                reserve.at_block - installation.fuel.set_pressure,
                "yes" if carries(installation, pattern) else "NO",
            )
        )
    columns = (
        Column("pattern", "Stages"),
        Column("need", "Needed", "fuel flow"),
        Column("reserve", "125 %", "fuel flow"),
        Column("pump", "Pump", "fuel pressure"),
        Column("block", "At block", "fuel pressure"),
        Column("block_125", "At block, 125 %", "fuel pressure"),
        Column("left", "Above set pressure", "fuel pressure"),
        Column("carries", "Carried"),
    )
    return Table(
        "patterns",
        "Every pattern",
        columns,
        rows,
        "pump + head − filter − line",
        f"{LOSS_SOURCE}; {RESERVE_SOURCE}",
    )


def _ladder_table(installation: Installation, shown: Pattern) -> Table:
    need = need_m3_s(installation, shown)
    columns = (
        Column("step", "Step"),
        Column("engine", "Engine alone" if installation.fuel.shared_with_engine else "No stage", "fuel pressure"),
        Column("pattern", f"Stage {pattern_name(shown)}", "fuel pressure"),
        Column("reserve", "125 %", "fuel pressure"),
    )
    ladders = [ladder(installation, flow) for flow in (need_m3_s(installation, ()), need, RESERVE * need)]
    steps = (
        ("Pump", "pump"),
        ("After head", "after_head"),
        ("After filter, half blocked", "after_filter"),
        ("At the valve block, before the regulator", "at_block"),
    )
    rows: list[tuple[str | float | None, ...]] = [
        (name, *(getattr(item, key) for item in ladders)) for name, key in steps
    ]
    rows.append(("Set pressure", *[installation.fuel.set_pressure] * 3))
    return Table("ladder", "Pressure from tank to block", columns, rows, "each step less its loss", LOSS_SOURCE)


def _findings(installation: Installation) -> list[Finding]:
    found = []
    for pattern in installation.patterns():
        if not carries(installation, pattern):
            need = need_m3_s(installation, pattern) * 3.6e6
            found.append(
                Finding(
                    "exceeded" if installation.is_tested(pattern) else "note",
                    f"stages {pattern_name(pattern)}",
                    f"needs {need:.0f} L/h; at 125 % the set pressure is not held",
                    "the set pressure at 125 % of the flow, lowest bus voltage, half-blocked filter",
                    "A larger pump, line or filter, or less stage power.",
                )
            )
    if vapour_margin(installation) < 0:
        found.append(
            Finding(
                "exceeded",
                "fuel.head",
                "fuel would boil at the pump inlet",
                "inlet pressure above vapour pressure",
                "Raise the tank or lower the pump.",
            )
        )
    return found
