"""How far the builder's ceiling is from the limits of engine, propeller, mount and airframe. Never a recommendation."""

import math
from dataclasses import dataclass

from oxlatch_sim.physics import engine
from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.air import Air, standard_air
from oxlatch_tools.planning.altitude import power_limit_w
from oxlatch_tools.planning.knock import OCTANE_PER_DEGREE, Condition, needed_octane
from oxlatch_tools.planning.page import COMMON, COMPUTED, Column, Figure, Finding, Page, Table, pattern_name

CUBIC_INCH_M3 = 1.6387064e-5
HORSEPOWER_W = 745.69987
RULE_SPEED_RPM = 5800.0  # the speed at which the trade states its rule
FASTER_BURN = (1.05, 1.15)  # judgement
WARM_CHARGE_K = 345.0  # trapped charge without any cooling by spray: judgement
COOLEST_CHARGE_K = 325.0  # with part of the spray evaporated before the valve shuts: judgement
RULE = "1 hp per in³ at 5,800 rpm, held as mean effective pressure and scaled by rpm"
PEAK_SOURCE = (
    "constant-volume cycle, real peaks 0.55 to 0.70 of it and burn faster by 5 to 15 %: from memory and judgement"
)
KNOCK_SOURCE = "Livengood and Wu 1955; Douaud and Eyzat, SAE 780080 (quoted); end-gas history is judgement"


@dataclass(frozen=True)
class Load:
    """The engine at one power and rated speed."""

    power_w: float
    mean_pressure_pa: float
    torque_n_m: float
    peak_low_pa: float
    peak_high_pa: float


def load_at(installation: Installation, power_w: float, air: Air, is_boosted: bool) -> Load:
    """Mean pressure, torque and the band of peak pressure."""
    data = installation.engine
    mean = engine.mean_effective_pressure_pa(power_w, installation.displacement_m3, data.rated_speed)
    intake = air.pressure_pa * (1 - data.manifold_loss)
    peak = engine.peak_pressure_estimate(mean, data.rated_speed, intake, data.compression_ratio)
    low, high = FASTER_BURN if is_boosted else (1.0, 1.0)
    torque = engine.torque_n_m(power_w, data.rated_speed)
    return Load(power_w, mean, torque, low * peak.low_pa, high * peak.high_pa)


def rule_power_w(installation: Installation) -> float:
    """The trade's rule of thumb for added power, scaled to rated speed."""
    per_volume = HORSEPOWER_W / CUBIC_INCH_M3
    return per_volume * installation.displacement_m3 * installation.engine.rated_speed / RULE_SPEED_RPM


def octane_needed(installation: Installation, load: Load, charge_k: float, air: Air) -> tuple[float, float]:
    """Octane number at the low and the high end of the band of peak pressure."""
    data = installation.engine
    found = [
        needed_octane(
            Condition(
                data.rated_speed,
                air.pressure_pa * (1 - data.manifold_loss),
                charge_k,
                peak,
                data.compression_ratio,
                data.spark_advance,
            )
        )
        for peak in (load.peak_low_pa, load.peak_high_pa)
    ]
    return found[0], found[1]


def ceiling_page(installation: Installation) -> Page:
    """The page."""
    data, limits = installation.engine, installation.ceiling
    air = standard_air(0.0)
    base = load_at(installation, data.rated_power, air, is_boosted=False)
    top = load_at(installation, limits.power, air, is_boosted=True)
    strongest = max(installation.patterns(), key=installation.pattern_power_w)
    page = Page(
        "ceiling",
        "How high is the ceiling, and what does it rest on?",
        [
            "The builder's ceiling is {ceiling}, against {rated} without boost. Lost boost means back to what the "
            "air gives.",
            f"It rests on: {limits.evidence}",
        ],
        figures=_figures(installation, base, top),
        tables=[
            _margins(installation, base, top),
            _octane(installation, base, top, air),
            _stage_loads(installation),
        ],
    )
    page.findings = list(_findings(installation, top, strongest))
    page.assumptions = [
        "Ceiling and peak pressure are reckoned at sea level and rated speed, where the pressure before "
        "compression is highest.",
        f"Trapped charge {WARM_CHARGE_K:.0f} K, {COOLEST_CHARGE_K:.0f} K with cooling by spray (judgement).",
        "Torsional resonance of crank and propeller is not computed: ask their makers about every new power and speed.",
    ]
    page.cautions = [
        "Nothing here approves a power. Limits come from the makers of engine, propeller and airframe, and from "
        "your own "
        "tests, step by step.",
        "A fixed ignition cannot be retarded: every added step of power uses up timing margin.",
        f"Boost is not to be used above {_knots(limits_speed(installation))} indicated.",
    ]
    return page


def limits_speed(installation: Installation) -> float:
    """Airspeed above which boost is not to be used, m/s."""
    return installation.aircraft.boost_airspeed_limit


def _knots(speed_m_s: float) -> str:
    return f"{speed_m_s / 0.514444:.0f} kt ({speed_m_s * 3.6:.0f} km/h)"


def _figures(installation: Installation, base: Load, top: Load) -> list[Figure]:
    data, limits = installation.engine, installation.ceiling
    added = top.mean_pressure_pa - base.mean_pressure_pa
    rule = rule_power_w(installation)
    bmep = "120·P / (V·n)"
    return [
        Figure(
            "displacement",
            "Displacement",
            installation.displacement_m3,
            "displacement",
            "n·π/4·bore²·stroke",
            COMPUTED,
        ),
        Figure("rated", "Rated power", data.rated_power, "power", "installation file"),
        Figure("ceiling", "Ceiling", limits.power, "power", "installation file"),
        Figure("bmep_base", "BMEP without boost", base.mean_pressure_pa, "pressure", bmep, COMPUTED),
        Figure("bmep_ceiling", "BMEP at the ceiling", top.mean_pressure_pa, "pressure", bmep, COMPUTED),
        Figure("bmep_added", "Added BMEP at the ceiling", added, "pressure", bmep, COMPUTED),
        Figure(
            "piston_speed",
            "Mean piston speed",
            engine.mean_piston_speed_m_s(data.stroke, data.rated_speed),
            "piston speed",
            "2·stroke·n",
            "elementary; usual range 8 to 15 m/s (Heywood, from memory)",
        ),
        Figure("torque_base", "Torque without boost", base.torque_n_m, "torque", "P / (2π·n)", COMPUTED),
        Figure("torque_ceiling", "Torque at the ceiling", top.torque_n_m, "torque", "P / (2π·n)", COMPUTED),
        Figure(
            "peak_base",
            "Peak pressure without boost",
            (base.peak_low_pa + base.peak_high_pa) / 2,
            "pressure",
            "from BMEP + friction",
            PEAK_SOURCE,
            base.peak_low_pa,
            base.peak_high_pa,
        ),
        Figure(
            "peak_ceiling",
            "Peak pressure at the ceiling",
            (top.peak_low_pa + top.peak_high_pa) / 2,
            "pressure",
            "from BMEP + friction",
            PEAK_SOURCE,
            top.peak_low_pa,
            top.peak_high_pa,
        ),
        Figure("rule", "The trade's rule of thumb, scaled", rule, "power", RULE, COMMON),
        Figure(
            "fraction",
            "Part of it the builder allows",
            limits.chosen_fraction,
            "whole per cent",
            "installation file",
        ),
        Figure(
            "rule_chosen",
            "Added power that part stands for",
            limits.chosen_fraction * rule,
            "power",
            "product",
            COMMON,
        ),
    ]


def _margins(installation: Installation, base: Load, top: Load) -> Table:
    limits = installation.ceiling
    speed = installation.engine.rated_speed
    rows: list[tuple[str, float | str | None, float | str | None, float | None, float | None]] = []

    def power_row(name: str, limit_w: float | None) -> None:
        share = None if limit_w is None else base.power_w / limit_w
        top_share = None if limit_w is None else top.power_w / limit_w
        rows.append((name, limit_w if limit_w is not None else "not stated", top.power_w, share, top_share))

    power_row("Ceiling (builder)", limits.power)
    power_row("Propeller, power", limits.propeller_power)
    for name, torque in (("Mount, as power", limits.mount_torque), ("Crank, as power", limits.crank_torque)):
        power_row(name, None if torque is None else torque * 2 * math.pi * speed / 60)
    columns = (
        Column("limit", "Limit"),
        Column("allowed", "Allowed", "power"),
        Column("at_ceiling", "At the ceiling", "power"),
        Column("base_share", "Used without boost", "whole per cent"),
        Column("top_share", "Used at the ceiling", "whole per cent"),
    )
    peak = limits.peak_pressure
    note = "Torque limits are shown as power at rated speed. " + (
        "No limit of peak pressure is stated."
        if peak is None
        else f"Stated limit of peak pressure: {peak / 1e5:.0f} bar ({peak / 6894.757:.0f} psi)."
    )
    return Table("margins", "Limits", columns, rows, "P = 2π·n·T", COMPUTED, note)


def _octane(installation: Installation, base: Load, top: Load, air: Air) -> Table:
    rows: list[tuple[str, float, float, float, float, float]] = []
    cases = (
        ("Rated power, no boost", base, WARM_CHARGE_K),
        ("Ceiling, charge not cooled", top, WARM_CHARGE_K),
        ("Ceiling, charge cooled by spray", top, COOLEST_CHARGE_K),
    )
    for name, load, charge in cases:
        low, high = octane_needed(installation, load, charge, air)
        margin = (installation.engine.octane - high, installation.engine.octane - low)
        rows.append((name, low, high, margin[0], margin[0] / OCTANE_PER_DEGREE, margin[1] / OCTANE_PER_DEGREE))
    columns = (
        Column("case", "Case"),
        Column("low", "Octane needed, low", "count"),
        Column("high", "Octane needed, high", "count"),
        Column("margin", "Margin left, least", "count"),
        Column("degrees_low", "Timing margin, least", "angle"),
        Column("degrees_high", "Timing margin, most", "angle"),
    )
    note = (
        f"Fuel in use: {installation.engine.octane:g}. Compare the rows; the values themselves are uncertain by "
        "more than their "
        "differences. About 1 octane number a degree (Russ, SAE 960497, quoted)."
    )
    return Table("octane", "Octane and timing margin (estimate)", columns, rows, "∫ dt/τ = 1", KNOCK_SOURCE, note)


def _stage_loads(installation: Installation) -> Table:
    rows = []
    rule = rule_power_w(installation)
    for pattern in installation.patterns():
        power = installation.pattern_power_w(pattern)
        mean = engine.mean_effective_pressure_pa(power, installation.displacement_m3, installation.engine.rated_speed)
        torque = engine.torque_n_m(power, installation.engine.rated_speed)
        rows.append((pattern_name(pattern), power, mean, torque, power / rule))
    columns = (
        Column("pattern", "Stages"),
        Column("power", "Adds", "power"),
        Column("bmep", "Added BMEP", "pressure"),
        Column("torque", "Torque step", "torque"),
        Column("rule", "Of the rule of thumb", "whole per cent"),
    )
    note = (
        "A step in torque can detune crankshaft counterweights: slow throttle movement is asked for by engine makers."
    )
    return Table("steps", "What each pattern adds", columns, rows, "120·P / (V·n)", COMPUTED, note)


def _findings(installation: Installation, top: Load, strongest: tuple[int, ...]) -> list[Finding]:
    limits = installation.ceiling
    found = []
    lowest, name = power_limit_w(installation)
    if lowest < limits.power:
        found.append(
            Finding(
                "exceeded",
                "ceiling.power",
                f"{limits.power / 1e3:.0f} kW is above the limit of the {name}, {lowest / 1e3:.0f} kW",
                f"up to {lowest / 1e3:.0f} kW",
                "Lower the ceiling; the altitude table already uses the lower limit.",
            )
        )
    if limits.peak_pressure is not None and top.peak_high_pa > limits.peak_pressure:
        found.append(
            Finding(
                "exceeded",
                "ceiling.peak_pressure",
                f"the band of peak pressure reaches {top.peak_high_pa / 1e5:.0f} bar",
                f"up to {limits.peak_pressure / 1e5:.0f} bar",
                "Lower the ceiling, or measure the pressure.",
            )
        )
    chosen = limits.chosen_fraction * rule_power_w(installation)
    for pattern in installation.patterns():
        power = installation.pattern_power_w(pattern)
        if power > chosen:
            tested = installation.is_tested(pattern)
            found.append(
                Finding(
                    "exceeded" if tested else "note",
                    f"stages {pattern_name(pattern)}",
                    f"adds {power / 1e3:.0f} kW, more than the chosen part of the rule, {chosen / 1e3:.0f} kW",
                    f"up to {chosen / 1e3:.0f} kW",
                    "" if tested else "It is not tested and stays locked.",
                )
            )
    return found
