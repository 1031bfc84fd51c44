"""What a pattern gives from a full bottle: seconds, usable mass, mixture at both ends, and uses from one filling."""

from dataclasses import dataclass

from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.blowdown import Contents, Trace, connected, empty, full_contents, purge
from oxlatch_tools.planning.flow import Feed
from oxlatch_tools.planning.stage_flow import Pattern

MOST_LAUNCHES = 99


@dataclass(frozen=True)
class Endurance:
    """What one pattern gives from a full bottle, after its purges."""

    pattern: Pattern
    seconds: float
    ended_by: str
    usable_kg: float
    oxidizer_start: float
    oxidizer_end: float
    mixture_start: float
    mixture_end: float
    launches: int
    trace: Trace


def endurance(
    installation: Installation, feed: Feed, pattern: Pattern, temperature_k: float, with_launches: bool = True
) -> Endurance:
    """From one full set of bottles at a temperature; several sets in turn give as many times the seconds."""
    contents = full_contents(installation, temperature_k)
    _count, sets = connected(installation)
    purge(installation, feed, contents, installation.feed.purges_per_use)
    trace = empty(installation, feed, contents, pattern)
    seconds = trace.seconds_to_cut()
    was_cut = trace.cut_s is not None and seconds == trace.cut_s
    end = trace.at(seconds, trace.oxidizer_kg_s)
    fuel = feed.fuel_kg_s(pattern)
    return Endurance(
        pattern=pattern,
        seconds=sets * seconds,
        ended_by="pressure cut" if was_cut else "liquid gone",
        usable_kg=sets * (trace.mass_kg[0] - trace.at(seconds, trace.mass_kg)),
        oxidizer_start=trace.oxidizer_kg_s[0],
        oxidizer_end=end,
        mixture_start=trace.oxidizer_kg_s[0] / fuel,
        mixture_end=end / fuel,
        launches=sets * launches(installation, feed, pattern, temperature_k) if with_launches else 0,
        trace=trace,
    )


def launches(installation: Installation, feed: Feed, pattern: Pattern, temperature_k: float) -> int:
    """Uses of the mission's length from one full set, warm again before each; one that is cut does not count."""
    count, _sets = connected(installation)
    mass = count * installation.bottle.charge
    seconds = installation.mission.seconds_per_use
    done = 0
    while done < MOST_LAUNCHES:
        contents = Contents(installation, mass, temperature_k, count)
        if contents.pressure_pa < installation.limits.supply_permit or contents.liquid_share() <= 0.05:
            break
        purge(installation, feed, contents, installation.feed.purges_per_use)
        trace = empty(installation, feed, contents, pattern, until_s=seconds, past_cut=False)
        if trace.time_s[-1] < seconds - 1e-6 or trace.cut_s is not None:
            break
        mass = contents.mass_kg
        done += 1
    return done


def endurances(installation: Installation, feed: Feed) -> dict[Pattern, Endurance]:
    """Every pattern, from the start temperature of the file."""
    start = installation.bottle.start_temperature
    return {pattern: endurance(installation, feed, pattern, start) for pattern in installation.patterns()}


def shown_pattern(installation: Installation) -> Pattern:
    """The pattern whose pressure and mixture are drawn: the strongest tested one, or the strongest of all."""
    tested = [pattern for pattern in installation.patterns() if installation.is_tested(pattern)]
    return max(tested or installation.patterns(), key=installation.pattern_power_w)
