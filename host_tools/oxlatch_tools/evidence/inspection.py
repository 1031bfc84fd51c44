"""The yearly inspection sheet of one installation: what to look at, what to find, and where that figure comes from.

Expected values are those of the installation file or follow from them; a tolerance without a source says judgement.
The scope of the yearly inspection is the authority's; this sheet adds the boost system to it and replaces nothing.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from oxlatch_tools.cards.card import Block, Card, Caution, Grid, Words
from oxlatch_tools.evidence.life import Life, lives
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_fitted import not_fitted
from oxlatch_tools.installation_settings import lead_and_tail
from oxlatch_tools.planning.electrical import COLD_K, coil_volts, release_s, valve_kinds
from oxlatch_tools.planning.page import pattern_name
from oxlatch_tools.presentation import Units, quantity_text

FILE = "file"
JUDGEMENT = "judgement"
CAUTIONS = (
    "Bottle off the aircraft or shut, line vented, fuel off, magnetos off, until a line says otherwise.",
    "Pressure tests with nitrogen, remote, in steps, nobody beside; within every part's own rating.",
    "Engine maker, gas supplier, your authority and licensed practice come first. Cylinders: approved persons only.",
)


@dataclass(frozen=True)
class Check:
    """One line of the sheet."""

    what: str
    expected: str
    origin: str


@dataclass(frozen=True)
class Part:
    """A group of checks under one heading."""

    heading: str
    checks: tuple[Check, ...]


def yearly_inspection(installation: Installation, units: Units, firmware: str) -> list[Part]:
    """Every part of the sheet, in the order of the work. `firmware` is the eight-digit digest it shall still be."""
    makers = (_papers, _bottle, _lines, _valves, _electrics, _throttle, _sensors, _flows)
    parts = [make(installation, units) for make in makers]
    papers = (*parts[0].checks, Check("Firmware the controller shows", firmware, "this build"))
    return [Part(parts[0].heading, papers), *parts[1:], _proving(installation)]


def inspection_card(installation: Installation, units: Units, firmware: str) -> Card:
    """The sheet on A4, with room for what was found and for initials."""
    head = ["Check", "Expected", "From", "Found", "Initials"]
    widths = (0.33, 0.30, 0.13, 0.15, 0.09)
    blocks: list[Block] = [Caution(CAUTIONS), Words(_facts(installation), 9.5)]
    for part in yearly_inspection(installation, units, firmware):
        rows = [[check.what, check.expected, check.origin, "", ""] for check in part.checks]
        blocks.append(Grid([part.heading, *head[1:]], rows, widths, 8.5, 6.0))
    lasting = [[life.part, life.every, life.yearly, life.origin, ""] for life in lives(installation)]
    blocks.append(
        Grid(["Recurring part", "Change or test", "Used in a year", "From", "Last done"], lasting, widths, 8.5, 6.0)
    )
    return Card("inspection", "Yearly inspection", "A4", blocks, ("Done by", "Inspected by", "Date"))


def inspection_markdown(installation: Installation, units: Units, firmware: str) -> list[str]:
    """The same sheet as lines of Markdown."""
    lines: list[str] = []
    for part in yearly_inspection(installation, units, firmware):
        lines += [f"### {part.heading}", "", "| check | expected | from | found | initials |", "|---|---|---|---|---|"]
        lines += [f"| {check.what} | {check.expected} | {check.origin} | | |" for check in part.checks]
        lines.append("")
    return lines


def life_markdown(found: Iterable[Life]) -> list[str]:
    """Recurring parts as lines of Markdown."""
    lines = ["| part | change or test | used in a year | from |", "|---|---|---|---|"]
    return lines + [f"| {life.part} | {life.every} | {life.yearly} | {life.origin} |" for life in found]


def _facts(installation: Installation) -> list[str]:
    missing = [f"Not fitted: {item.part}. {item.lost}" for item in not_fitted(installation)]
    found = missing or ["Every optional part is said to be fitted: check that it is."]
    return [
        *found,
        "From: file is the installation file; judgement has no source, replace it by your own figure; common practice "
        "has no source either.",
    ]


def _papers(installation: Installation, units: Units) -> Part:
    locked = [pattern_name(p) for p in installation.patterns() if not installation.is_tested(p)]
    tested = installation.tested
    checks = [
        Check("Installation the controller shows, and every placard and card", installation.digest, FILE),
        Check("Patterns the controller locks", ", ".join(locked) or "none", FILE),
        Check("Limits signed by", tested.limits_signed or "NOBODY YET", FILE),
        Check("Placards legible: limits, contents, fill, outlets, master", "all", "cards of this installation"),
        Check("Journal read since the last inspection, refusals too", "every reason explained", JUDGEMENT),
        Check("Changes since: jets, valves, lines, limits, firmware", "none, or their tests done", "change sheet"),
        Check("Inject strap, bench key, maintenance strap", "none fitted", "this build"),
    ]
    return Part("Papers and settings", tuple(checks))


def _bottle(installation: Installation, units: Units) -> Part:
    bottle = installation.bottle

    def text(value: float, kind: str) -> str:
        return quantity_text(value, kind, units)

    checks = [
        Check("Stamp of the last retest, and the next", "in date", "stamp, current rules"),
        Check("Service pressure stamped", text(bottle.service_pressure, "pressure"), FILE),
        Check("Empty with valve", f"{text(bottle.tare, 'mass')}, within 1 %", f"{FILE}; {JUDGEMENT}"),
        Check(
            "Relief or burst disc: date, seat, line free, opens overboard",
            text(bottle.relief_pressure, "pressure"),
            FILE,
        ),
        Check("Bracket, straps, structure", "no crack, no play; local rules for crash loads", "local rules"),
        Check("Hand valve opens slowly, shuts tight, is safetied", "no leak in 10 min", JUDGEMENT),
        Check("Dip tube clocked to nose-up", "mark visible", FILE),
        Check("Contact points, dents, corrosion, heat marks", "none", "cylinder's maker"),
    ]
    return Part("Bottle", tuple(checks))


def _lines(installation: Installation, units: Units) -> Part:
    over = installation.limits.supply_over
    test = quantity_text(1.1 * over, "pressure", units)
    checks = [
        Check("O side, nitrogen, in steps", f"{test}: no bubble, decay within the log's band", JUDGEMENT),
        Check("Line relief opens and reseats", "above the top of the window, below every rating", JUDGEMENT),
        Check("Hoses: date, cover, ends, chafe, fire sleeve", "within the maker's life", "hose's maker"),
        Check("Filters O and F", "clean, element changed", JUDGEMENT),
        Check(
            "Cleanliness: no oil, grease or hydrocarbon sealant on the O side",
            "dry, wiped white",
            "ASTM G93, CGA G-4.1, by title",
        ),
        Check("Nozzles: place, aim, safetied, bore marked O or F", "as drawn", FILE),
        Check("Branch lengths", f"equal within {100 * installation.stages[0].branch_length_spread:g} %", FILE),
        Check("Purge outlets: clear, screened, away from everything", "as drawn", FILE),
        Check(
            "F side at set pressure, master and stage valves shut",
            f"{quantity_text(installation.fuel.set_pressure, 'fuel pressure', units)}: dry",
            FILE,
        ),
    ]
    return Part("Lines, leaks, cleanliness", tuple(checks))


def _valves(installation: Installation, units: Units) -> Part:
    checks = []
    for name, valve in valve_kinds(installation):
        checks.append(Check(f"{name}: coil at 20 °C", f"{valve.resistance:g} Ω within 5 %", f"{FILE}; {JUDGEMENT}"))
        times = f"opens {1e3 * valve.opening:.0f} ms, shuts {1e3 * valve.closing:.0f} ms, within 20 %"
        checks.append(Check(f"{name}: times in flight volts, at pressure", times, f"{FILE}; {JUDGEMENT}"))
        fast = 1e3 * release_s(installation, valve, installation.electrical.coil_hot)
        slow = 1e3 * release_s(installation, valve, COLD_K)
        checks.append(Check(f"{name}: current lets go", f"{fast:.1f} ms hot to {slow:.1f} ms cold", "from the file"))
    checks.append(Check("F shuts before O with the power cut, every stage", "always", "measured"))
    checks.append(Check("F stage and master valves leak by", "nothing in 10 min", JUDGEMENT))
    checks.append(Check("Seats of O valves: swelling, cuts, ice marks", "none; else changed", JUDGEMENT))
    return Part("Valves", tuple(checks))


def _electrics(installation: Installation, units: Units) -> Part:
    data = installation.electrical
    everything = tuple(range(1, len(installation.stages) + 1))
    checks = [
        Check("Breaker at the bus, one for the whole system", f"{data.feed_breaker:g} A", FILE),
        Check("Contactor and MASTER: both poles, guard", "no weld, no warm joint", JUDGEMENT),
        Check("Rails drop after the last kick", "25 to 35 ms", "one-shot of the notes"),
        Check("Rails dead with MASTER off, contact open, controller reset", "each alone", "rails of the notes"),
        Check("Bus comparator drops the rails below", f"{data.hard:g} V", FILE),
    ]
    for name, valve in valve_kinds(installation)[:2]:
        volts = coil_volts(installation, valve, everything, data.in_flight, data.coil_hot)
        checks.append(
            Check(
                f"{name}: volts at the coil, all stages, hot",
                f"{volts:.1f} V at {data.in_flight:g} V bus, or more",
                "from the file",
            )
        )
    checks += [
        Check(
            "Wired interlock of each F driver, command held on",
            "no F current without O current and proof",
            "interlock of the notes",
        ),
        Check("Connectors, crimps, chafe, grounds, shields", "clean, tight", JUDGEMENT),
        Check("Radios at full power, every state but flow", "nothing moves", JUDGEMENT),
    ]
    return Part("Electrics", tuple(checks))


def _throttle(installation: Installation, units: Units) -> Part:
    sensors, limits = installation.sensors, installation.limits
    checks = [
        Check(
            "Position sensor closed, full",
            f"{sensors.throttle_closed:g} V, {sensors.throttle_open:g} V, within 0.05 V",
            f"{FILE}; {JUDGEMENT}",
        ),
        Check(
            "Contact closes only with the detent pressed home",
            "not before 97 % of travel, cable cold and hot",
            "common practice",
        ),
        Check(
            "Position when the contact closes", f"above {100 * limits.throttle_full:g} %; compare with last year", FILE
        ),
        Check("NO, NC and the third pole change over together", "each opens with its lead off", JUDGEMENT),
        Check("Force of the detent", "clearly felt, through a glove", JUDGEMENT),
    ]
    return Part("Throttle and detent", tuple(checks))


def _sensors(installation: Installation, units: Units) -> Part:
    sensors = installation.sensors
    checks = []
    for name, sensor in (("Line pressure", sensors.supply), ("Fuel supply and block", sensors.fuel)):
        seen = 101_325.0 if sensor.reference == "absolute" else 0.0
        zero = 0.5 + 4.0 * seen / sensor.full_scale
        checks.append(Check(f"{name} sensor, vented", f"{zero:.2f} V within 0.04 V", f"{FILE}; {JUDGEMENT}"))
        full = quantity_text(sensor.full_scale, "pressure", units)
        checks.append(Check(f"{name} sensor against a gauge, three points", f"within 1 % of {full}", JUDGEMENT))
    if "oxidizer proof" in sensors.fitted:
        checks.append(Check("Proof switches: open without pressure, close with it", "each stage", FILE))
    checks.append(Check("Engine speed on the link against a hand-held tachometer", "within 25 rpm", JUDGEMENT))
    checks.append(Check("Lamps, tone, words at start-up", "all, none dark", "this build"))
    return Part("Sensors and lamps", tuple(checks))


def _flows(installation: Installation, units: Units) -> Part:
    checks = []
    for number in range(1, len(installation.stages) + 1):
        for fluid in ("oxidizer", "fuel"):
            shots = [shot for shot in installation.tested.shots if shot.stage == number and shot.fluid == fluid]
            if not shots:
                checks.append(Check(f"Stage {number}, {fluid}: weighed shot", "no shot in the file yet", FILE))
                continue
            last = shots[-1]
            flow = quantity_text(last.mass / last.duration, "flow", units)
            pressure = quantity_text(last.pressure, "pressure", units)
            where = f"{pressure}, {quantity_text(last.temperature, 'temperature', units)}"
            checks.append(
                Check(
                    f"Stage {number}, {fluid}: weighed shot of {last.duration:g} s",
                    f"{flow} at {where}, within 3 %",
                    f"{FILE}; {JUDGEMENT}",
                )
            )
    checks.append(Check("Between nozzles of a stage", "within 3 % of their mean", JUDGEMENT))
    return Part("Flows", tuple(checks))


def _proving(installation: Installation) -> Part:
    timing, order = installation.timing, lead_and_tail(installation)
    checks = [
        Check("Dry run, inert gas, fuel absent: lead", f"{1e3 * order.lead_s:.0f} ms or more", order.lead_from),
        Check("Dry run: tail", f"{1e3 * order.tail_s:.0f} ms at most", order.tail_from),
        Check("Dry run: stagger", f"{1e3 * timing.stagger:.0f} ms", FILE),
        Check("Purge to a steady plume", f"{timing.purge:g} s or less", FILE),
        Check("Bottle shut: push on the dry-run gas's own line", "O NOT PROVED, no F current", "this build"),
        Check(
            "Engine run, smallest stage, then up as tested",
            "no knock, even exhausts, as recorded",
            "static-run records",
        ),
    ]
    return Part("Proving again", tuple(checks))
