"""The steps with the engine running: static runs in ascending power, derating, cards, flight."""

import datetime
from collections.abc import Iterator
from itertools import combinations

from oxlatch_tools.commissioning.step import DEFERENCE, Measure, Step
from oxlatch_tools.installation import Installation

ENGINE_CAUTIONS = (
    "Aircraft chocked and tied by the tail; nobody in the plane of the propeller, in front of it or behind it.",
    "Fire cover manned, eyes and ears protected, one person whose only task is MASTER off.",
    "Mixture full rich. Smallest step first. Never go on with knock, spread exhaust temperatures or a dip unexplained.",
    DEFERENCE,
)
STATIC = "static_"
RUN_NOTE = "for the static run of this pattern alone"
DERATING_LEAST_PERCENT = 10.0  # 10 to 20 % or more: judgement


def ascending_patterns(installation: Installation) -> list[tuple[int, ...]]:
    """Every combination of stages, least power first; equal powers in the order of their numbers."""
    numbers = range(1, len(installation.stages) + 1)
    patterns = [found for size in numbers for found in combinations(numbers, size)]
    return sorted(patterns, key=lambda pattern: (power_of(installation, pattern), pattern))


def power_of(installation: Installation, pattern: tuple[int, ...]) -> float:
    """Nominal power of a pattern, W."""
    return sum(installation.stages[number - 1].power for number in pattern)


def static_key(pattern: tuple[int, ...]) -> str:
    """Key of a pattern's static run."""
    return STATIC + "_".join(str(number) for number in pattern)


def static_pattern(key: str) -> tuple[int, ...] | None:
    """The pattern of a static run by its key; None when the key is of no static run."""
    parts = key.removeprefix(STATIC).split("_")
    if not key.startswith(STATIC) or not all(part.isdigit() for part in parts):
        return None
    return tuple(int(part) for part in parts)


def static_file(text: str, installation: Installation, pattern: tuple[int, ...]) -> str:
    """The installation's text with one more pattern allowed; unchanged where it already is."""
    if installation.is_tested(pattern):
        return text
    today = datetime.date.today().isoformat()
    entry = f'[[tested.patterns]]\nstages = {list(pattern)}\ndate = {today}\nnote = "{RUN_NOTE}"\n'
    return f"{text.rstrip()}\n\n{entry}"


def engine_steps(installation: Installation) -> Iterator[Step]:
    """Static runs, limits, cards, flight."""
    for pattern in ascending_patterns(installation):
        yield static_step(installation, pattern)
    yield limit_step()
    yield Step(
        "cards",
        "Cards printed and signed",
        "What hangs in the cockpit is what is in the controller.",
        ("oxlatch cards FILE", "oxlatch watch: the installation digest"),
        ("Old cards are withdrawn and destroyed.", DEFERENCE),
        ("compare the eight-digit digest on every card with the controller's", "sign, date, fit"),
        (
            Measure("digest_differs", "cards whose digest differs from the controller's", "", 0, 0),
            Measure("draft_cards", "cards still marked DRAFT", "", 0, 0),
        ),
        ("One card that differs: all are printed again.",),
        ("aircraft", "engine", "ceiling", "stages", "limits", "timing", "tested", "bottle"),
    )
    yield flight_step()


def static_step(installation: Installation, pattern: tuple[int, ...]) -> Step:
    """One static run of one pattern."""
    name = "+".join(str(number) for number in pattern)
    kilowatts = power_of(installation, pattern) / 1000
    engine = installation.engine
    return Step(
        static_key(pattern),
        f"Static run: stages {name} ({kilowatts:.0f} kW nominal; no boost 0 kW, boost lost 0 kW)",
        "The engine takes this step without knock, spread or a dip that is not explained, twice alike.",
        (
            "thrust, engine speed, manifold pressure, exhaust and head temperatures of every cylinder, knock, "
            "fuel and bottle pressure logged with the detent contact",
            "bottle within its window, purge fresh",
        ),
        ENGINE_CAUTIONS,
        (
            f"oxlatch commission allow {static_key(pattern)} FILE: the controller refuses a pattern never tested; "
            "flash the copy it writes for these runs, and FILE again afterwards",
            "full throttle without boost for 5 s: the line to compare with",
            "push for 2 to 3 s, release; let everything come back",
            "repeat once; read plugs after the second",
            "oxlatch commission static LOG.csv --columns COLUMNS.toml --recording RECORDING",
        ),
        (
            Measure("runs", "runs logged", "", 2, None),
            Measure("knock_counts", "knock events while flowing", "", 0, 0),
            Measure("exhaust_spread_k", "largest spread of exhaust temperatures", "K", None, 60),
            Measure("rpm_low", "least engine speed while flowing", "rpm", engine.boost_speed_low, None),
            Measure("rpm_high", "highest engine speed while flowing", "rpm", None, engine.boost_speed_high),
            Measure("repeat_percent", "difference of thrust gain between runs", "%", None, 10),
            Measure("went_back", "verdicts 'stop, go back one step'", "", 0, 0),
        ),
        ("Knock, a spread over the limit, a backfire, an unexplained dip: stop, go back one step, find out.",),
        ("engine", "propeller", "oxidizer", "stages", "jets", "fuel", "oxidizer_valve", "fuel_valve", "timing"),
    )


def limit_step() -> Step:
    """The limit: the highest clean step less the builder's derating."""
    return Step(
        "limits",
        "Derate and set the limit",
        "The limit is what was tested less a margin that the builder chooses and signs for.",
        ("results of every static run", "oxlatch commission memo FILE"),
        ("The highest clean step is not the limit.", DEFERENCE),
        ("choose the derating", "enter ceiling and tested patterns in the file by hand", "sign the limits page"),
        (
            Measure("derating_percent", "derating chosen", "%", DERATING_LEAST_PERCENT, None),
            Measure("signed", "limits page signed (1 yes)", "", 1, 1),
        ),
        ("A limit above the highest clean step less the derating is refused.",),
        ("engine", "ceiling", "propeller", "stages", "tested"),
    )


def flight_step() -> Step:
    """Flight test, as for a major change."""
    return Step(
        "flight",
        "Flight test",
        "Handling, cooling, loss of boost and the stuck-valve drill are known before anyone depends on boost.",
        ("long runway first", "test area and rules as the authority says for a major change"),
        ("No take-off is planned that needs boost until every card is signed.", *ENGINE_CAUTIONS[2:]),
        (
            "no boost: baseline climb and cooling",
            "smallest pattern at height; yaw, trim, governor",
            "boost lost on purpose at height, then at 15 m over a long runway",
            "drill: CLOSE BOTTLE",
        ),
        (
            Measure("cards_flown", "flight cards completed", "", 4, None),
            Measure("surprises", "open findings", "", 0, 0),
        ),
        ("Any finding ends the day.",),
        ("aircraft", "engine", "propeller", "stages", "timing", "ceiling"),
    )
