"""Nominal flows of stages and patterns: what the jets are sized for and supply and wiring must carry."""

from oxlatch_tools.installation import Installation

Pattern = tuple[int, ...]


def oxidizer_kg_s(installation: Installation, pattern: Pattern) -> float:
    """Nominal nitrous flow of a pattern."""
    return installation.oxidizer.per_power * installation.pattern_power_w(pattern)


def fuel_kg_s(installation: Installation, pattern: Pattern) -> float:
    """Nominal fuel flow of a pattern's stages."""
    return oxidizer_kg_s(installation, pattern) / installation.oxidizer.mixture


def engine_fuel_kg_s(installation: Installation) -> float:
    """Fuel of the base engine at rated power, full rich."""
    return installation.engine.rated_power * installation.engine.consumption


def stage_fuel_kg_s(installation: Installation, number: int) -> float:
    """Nominal fuel flow of one stage."""
    return fuel_kg_s(installation, (number,))
