"""Pressures a bottle reaches, the purge its line needs, and every limit of the bottle page that may be exceeded."""

from oxlatch_sim.physics import nitrous
from oxlatch_sim.physics.tables import property_tables
from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.endurance import Endurance
from oxlatch_tools.planning.flow import Feed
from oxlatch_tools.planning.flux import liquid_flux, saturation_pa
from oxlatch_tools.planning.page import Finding, pattern_name
from oxlatch_tools.planning.stage_flow import Pattern

EXPOSURE_K = 325.15  # 52 degC, the highest cylinder temperature of CGA G-8.1 (secondary)
CHECK_K = 328.15  # 55 degC, at which 49 CFR 173.304a compares the pressure with 5/4 of service pressure
PURGE_LEAST_S = 2.5
PURGE_FACTOR = 1.5


def pressure_at(installation: Installation, temperature_k: float) -> float:
    """Pressure, Pa, of a full bottle at a temperature: it depends on the fill once liquid fills the bottle."""
    density = installation.bottle.charge / installation.bottle.volume
    return nitrous.pressure_at_density_pa(density, temperature_k)


def needed_purge_s(installation: Installation, feed: Feed, temperature_k: float) -> float:
    """The larger of 2.5 s and 1.5 times what fills the feed line with liquid at the purge's flow."""
    tube = installation.feed
    volume = 3.141592653589793 / 4 * tube.bore**2 * tube.length
    density = property_tables().saturation.liquid_density_kg_m3(temperature_k)
    bottle_pa = saturation_pa(temperature_k)
    flow = feed.purge_m2 * liquid_flux(feed.block_pa(bottle_pa, feed.purge_m2))
    return max(PURGE_LEAST_S, PURGE_FACTOR * volume * density / flow)


def bottle_findings(installation: Installation, feed: Feed, found: dict[Pattern, Endurance]) -> list[Finding]:
    """Temperature, pressure, purge, siphon and mixture against their limits."""
    bottle, limits = installation.bottle, installation.limits
    findings = []
    start = pressure_at(installation, bottle.start_temperature)
    if start < limits.supply_permit:
        findings.append(
            Finding(
                "exceeded",
                "bottle.start_temperature",
                f"the bottle is at {start / 1e5:.1f} bar, colder than its permit",
                f"at least {limits.supply_permit / 1e5:.1f} bar",
                "Store it warmer, or lower the cut after tests at that pressure.",
            )
        )
    if start > limits.supply_top:
        findings.append(
            Finding(
                "exceeded",
                "bottle.start_temperature",
                f"{start / 1e5:.1f} bar",
                f"up to {limits.supply_top / 1e5:.1f} bar",
                "Cool it in shade.",
            )
        )
    at_check = pressure_at(installation, CHECK_K)
    if at_check > 1.25 * bottle.service_pressure:
        findings.append(
            Finding(
                "exceeded",
                "bottle.charge",
                f"{at_check / 1e5:.0f} bar at 55 °C",
                f"up to 5/4 of service pressure, {1.25 * bottle.service_pressure / 1e5:.0f} bar",
                "Fill less, or use a bottle of higher service pressure.",
            )
        )
    if pressure_at(installation, EXPOSURE_K) >= bottle.relief_pressure:
        findings.append(
            Finding("exceeded", "bottle.relief_pressure", "opens below 52 °C", "more than the pressure at 52 °C")
        )
    needed = needed_purge_s(installation, feed, bottle.start_temperature)
    if installation.timing.purge < needed - 1e-9:
        findings.append(
            Finding(
                "exceeded",
                "timing.purge",
                f"{installation.timing.purge:g} s",
                f"at least {needed:.1f} s",
                "Purge longer, or through a larger jet.",
            )
        )
    if not bottle.siphon:
        findings.append(
            Finding(
                "exceeded",
                "bottle.siphon",
                "vapour is drawn",
                "liquid in the attitude of use",
                "Turn the bottle or fit a tube.",
            )
        )
    findings.extend(_mixture_findings(installation, found))
    return findings


def _mixture_findings(installation: Installation, found: dict[Pattern, Endurance]) -> list[Finding]:
    findings = []
    rich, lean = installation.oxidizer.mixture_rich, installation.oxidizer.mixture_lean
    for item in found.values():
        low, high = min(item.mixture_start, item.mixture_end), max(item.mixture_start, item.mixture_end)
        if low < rich or high > lean:
            findings.append(
                Finding(
                    "exceeded" if installation.is_tested(item.pattern) else "note",
                    f"stages {pattern_name(item.pattern)}",
                    f"mixture runs from {item.mixture_start:.2f} to {item.mixture_end:.2f}",
                    f"{rich:g} to {lean:g}",
                    "Narrow the window of bottle temperature, or change jets or fuel pressure.",
                )
            )
        if item.seconds < installation.mission.seconds_per_use:
            findings.append(
                Finding(
                    "note",
                    f"stages {pattern_name(item.pattern)}",
                    f"lasts {item.seconds:.0f} s",
                    f"a use of {installation.mission.seconds_per_use:.0f} s",
                    "A larger bottle, two bottles, or a smaller pattern.",
                )
            )
    return findings
