"""Rails, one-shot and supervisors: what lets current reach a coil, and what takes it away."""

from schemdraw import elements as elm

from notes.facts import ONE_SHOT_HIGH_MS, ONE_SHOT_LOW_MS, RAIL_FARAD, REFERENCE_V, TIMING_FARAD, Facts, board_constant
from notes.ink import EDGE, GUIDE, SIGNAL, WIRE, Sheet
from notes.preferred import e96, ohm_text
from notes.schematic import Schematic
from notes.symbols import block
from oxlatch.vocabulary import TICK_MS

CAUTION = "CAUTION: coil currents heat wires and valves move. Bottle shut, fuel off, line vented. Licensed practice comes first."


ROWS = (140.0, 280.0, 420.0)


def rails(facts: Facts) -> Sheet:
    """Bus to coils: breaker, contactor, and three rails behind the run switch."""
    sheet = Sheet(
        "Three rails behind one run switch", "From the bus through breaker, contactor and run switch to the coils."
    )
    unit = 26.0
    with Schematic(sheet, 60, ROWS[0], unit) as drawing:
        _supply(drawing, facts)
        for row in ROWS:
            drawing.wire((9.0, -(row - ROWS[0]) / unit), (10.4, -(row - ROWS[0]) / unit))
            drawing.wire((17.0, -(row - ROWS[0]) / unit), (27.0, -(row - ROWS[0]) / unit))
        _rail_reading(drawing, unit)
    _switches(sheet, facts)
    _enables(sheet, facts)
    sheet.frame(CAUTION, facts.origin, (WIRE, SIGNAL))
    return sheet


def _supply(drawing: Schematic, facts: Facts) -> None:
    drawing.add(elm.Breaker().at((0, 0)).to((2.4, 0)))
    drawing.name((1.2, 0), 0, -28, f"breaker {facts.installation.electrical.feed_breaker:g} A", "middle")
    drawing.name((0, 0), 0, 14, "bus")
    drawing.wire((2.4, 0), (4.4, 0))
    drawing.add(elm.Switch().at((4.4, 0)).to((6.8, 0)))
    drawing.name((5.6, 0), 0, -30, "contactor", "middle")
    drawing.wire((6.8, 0), (9.0, 0), (9.0, -(ROWS[2] - ROWS[0]) / drawing.unit))
    drawing.name((3.4, 0), 8, 14, f"all stages {facts.every_coil_a:.0f} A")
    drawing.add(elm.Dot().at((3.0, 0)))
    drawing.wire((3.0, 0), (3.0, -2.0))
    drawing.add(elm.Switch().at((3.0, -2.0)).to((3.0, -4.4)))
    drawing.name((3.0, -3.2), -14, -8, ["MASTER", "pole 1"], "right")
    drawing.wire((3.0, -4.4), (3.0, -5.2))
    drawing.add(elm.Inductor2().at((3.0, -5.2)).to((3.0, -7.6)))
    drawing.add(elm.Diode().at((4.6, -7.6)).to((4.6, -5.2)))
    drawing.wire((3.0, -5.2), (4.6, -5.2))
    drawing.wire((3.0, -7.6), (4.6, -7.6))
    drawing.name((3.0, -6.4), -14, -8, ["contactor", "coil"], "right")
    drawing.add(elm.Ground().at((3.0, -7.6)))


def _rail_reading(drawing: Schematic, unit: float) -> None:
    o_rail, p_rail = -(ROWS[1] - ROWS[0]) / unit, -(ROWS[2] - ROWS[0]) / unit
    middle = (o_rail + p_rail) / 2
    drawing.add(elm.Dot().at((25.0, o_rail)))
    drawing.add(elm.Dot().at((25.0, p_rail)))
    drawing.add(elm.Diode().at((25.0, o_rail)).to((25.0, middle)))
    drawing.add(elm.Diode().at((25.0, p_rail)).to((25.0, middle)))
    drawing.wire((25.0, middle), (26.0, middle))
    drawing.name((26.0, middle), 8, 0, ["rail reading", "and bleeder"])


def _switches(sheet: Sheet, facts: Facts) -> None:
    rows = (
        ("F rail switch", facts.fuel_rail_a, "F rail", ["F stage coils,", "F master coil"]),
        ("O rail switch", facts.oxidizer_rail_a, "O rail", ["O stage coils"]),
        ("P rail switch", facts.coil("purge").cold_a, "P rail", ["purge coil"]),
    )
    for (name, current, rail, words), y in zip(rows, ROWS, strict=True):
        sheet.rectangle(330, y - 24, 172, 48, paper=True)
        sheet.text(340, y - 9, name, 13, bold=True)
        sheet.text(340, y + 10, f"high side, {current:.0f} A cold", 12)
        sheet.text(640, y - 12, rail, 13, bold=True)
        sheet.text(772, y - 10, words, 12)


def _enables(sheet: Sheet, facts: Facts) -> None:
    delay = e96(facts.off_delay_ms / 1e3 / TIMING_FARAD)
    quick = e96(facts.fuel_rail_ms / 1e3 / TIMING_FARAD)
    micro = f"{TIMING_FARAD * 1e6:g} µF"
    rows = (
        [
            f"one-shot AND contact; RC {ohm_text(quick)}, {micro}: {facts.fuel_rail_ms:.0f} ms.",
            "Dies with the contact, whatever the code does.",
        ],
        [
            f"one-shot AND contact, off-delay {ohm_text(delay)}, {micro}:",
            f"{facts.off_delay_ms:.0f} ms, time for the tail that shuts F first.",
        ],
        ["one-shot alone: a purge is pressed", "with the throttle back."],
    )
    for words, y in zip(rows, ROWS, strict=True):
        sheet.rectangle(330, y + 46, 330, 44)
        sheet.text(340, y + 60, words, 12)
        sheet.line([(416, y + 46), (416, y + 24)], SIGNAL, arrow=True)
        sheet.line([(306, y + 68), (330, y + 68)], SIGNAL, arrow=True)
    one_shot_words = [
        f"{facts.one_shot_ms:.0f} ms ({ONE_SHOT_LOW_MS} to {ONE_SHOT_HIGH_MS} accepted) after the last kick, retriggerable, kicked once a tick",
        f"({TICK_MS} ms) by the loop that has just finished in time; never by a timer that runs on by itself.",
        "The bus comparator and the 3.3 V supervisor drop it too.",
    ]
    block(sheet, 60, 556, 640, 76, "One-shot", one_shot_words)
    sheet.line([(306, 556), (306, ROWS[0] + 68)], SIGNAL)
    block(sheet, 760, 556, 212, 76, "Contact, third pole", ["wired to the run switch,", "not through the controller"])
    sheet.line([(868, 556), (868, 524), (690, 524), (690, ROWS[1] + 68), (660, ROWS[1] + 68)], SIGNAL, arrow=True)
    sheet.line([(690, ROWS[1] + 68), (690, ROWS[0] + 68), (660, ROWS[0] + 68)], SIGNAL, arrow=True)


def one_shot(facts: Facts) -> Sheet:
    """Time on one axis: kicks, rails, commands, at a release and when the code hangs."""
    sheet = Sheet("What drops when", "Kicks, rails and commands over time at a release and when the code hangs.", 620)
    _story(sheet, facts, 70.0, "Throttle pulled back, all well", _release_rows(facts))
    _story(sheet, facts, 536.0, "Code hangs in flow, contact still closed", _hang_rows(facts))
    _power_cut(sheet, facts)
    sheet.frame(CAUTION, facts.origin)
    return sheet


def _power_cut(sheet: Sheet, facts: Facts) -> None:
    fuel, oxidizer = facts.coil("fuel"), facts.coil("oxidizer")
    rows = [
        f"F coil lets go after {1e3 * fuel.hot_release_s:.1f} to {1e3 * fuel.cold_release_s:.1f} ms,",
        f"O coil after {1e3 * oxidizer.hot_release_s:.1f} to {1e3 * oxidizer.cold_release_s:.1f} ms (hot to cold);",
        f"shut on the bench: F {1e3 * fuel.valve.closing:.0f} ms, O {1e3 * oxidizer.valve.closing:.0f} ms.",
        "Clamps alone give this order: measure it again.",
    ]
    sheet.text(506, 470, "Power cut, MASTER off, bus gone: all rails at once", 14, bold=True)
    sheet.text(506, 492, rows, 12)


Row = tuple[str, float]


def _release_rows(facts: Facts) -> list[Row]:
    debounce = 2 * TICK_MS
    return [
        ("contact", 0.0),
        ("F rail enable", facts.fuel_rail_ms),
        ("F commands", debounce),
        ("O commands", debounce + facts.ticks_ms("tail_ticks")),
        ("O rail enable", facts.off_delay_ms),
        ("run kicks", debounce + facts.ticks_ms("run_off_ticks")),
        ("one-shot", debounce + facts.ticks_ms("run_off_ticks") + facts.one_shot_ms),
    ]


def _hang_rows(facts: Facts) -> list[Row]:
    return [
        ("run kicks", 0.0),
        ("one-shot", facts.one_shot_ms),
        ("F and O rail", facts.one_shot_ms),
        ("F coil current", facts.one_shot_ms + 1e3 * facts.coil("fuel").hot_release_s),
        ("O coil current", facts.one_shot_ms + 1e3 * facts.coil("oxidizer").cold_release_s),
    ]


def _story(sheet: Sheet, facts: Facts, x: float, title: str, rows: list[Row]) -> None:
    sheet.text(x - 30, 76, title, 14, bold=True)
    left, right = x + 94, x + 394
    longest = 200.0
    scale = (right - left) / (longest + 20)
    zero = left + 20 * scale
    y = 118.0
    for name, until in rows:
        sheet.text(left - 10, y + 12, name, 12, "right")
        end = zero + until * scale
        sheet.line([(left, y), (end, y), (end, y + 26), (right, y + 26)], EDGE)
        sheet.text(end + 6, y + 12, f"{until:.0f} ms" if until else "0", 12)
        y += 52
    for value in (0, 50, 100, 150, 200):
        place = zero + value * scale
        sheet.line([(place, y), (place, y + 8)], EDGE)
        sheet.text(place, y + 20, str(value), 12, "middle")
    sheet.line([(left, y), (right, y)], EDGE)
    sheet.line([(zero, 106), (zero, y)], GUIDE)
    sheet.text((left + right) / 2, y + 40, "milliseconds", 12, "middle")


def supervisors(facts: Facts) -> Sheet:
    """Who watches whom, and what each can take away."""
    sheet = Sheet("Who watches whom", "Supervisors: what each watches, what it takes away and how soon.", 640)
    electrical = facts.installation.electrical
    bus = facts.bus_divider
    level = (
        f"{ohm_text(bus.top_ohm)} over {ohm_text(bus.bottom_ohm)}, {REFERENCE_V:g} V: {REFERENCE_V / bus.share:.2f} V"
    )
    rows = (
        (
            "Bus",
            f"{electrical.nominal:g} V nominal",
            "Bus comparator",
            level,
            f"all rails, below {electrical.hard:g} V",
            "5 ms, no software",
        ),
        (
            "3.3 V supply",
            "of chip and logic",
            "Supply supervisor",
            "about 3.0 V, with reset output",
            "chip in reset, all rails",
            "at once",
        ),
        (
            "The loop's kicks",
            f"one each {TICK_MS} ms",
            "One-shot",
            "retriggerable, outside the chip",
            "all rails",
            f"{facts.one_shot_ms:.0f} ms after the last kick",
        ),
        (
            "The loop",
            "ticks in order and in time",
            "Watchdog of the chip",
            "cannot be stopped once started",
            "chip reset: gates fall",
            f"{board_constant('WATCHDOG_MS')} ms",
        ),
        (
            "MASTER",
            "pole 1 to the contactor",
            "The pilot's hand",
            "first answer to any doubt",
            "all rails",
            "contactor's own time",
        ),
        (
            "Contact",
            "third pole to the run switch",
            "The pilot's hand",
            "throttle pulled back",
            "F rail, then O rail",
            f"{facts.fuel_rail_ms:.0f} ms, then {facts.off_delay_ms:.0f} ms",
        ),
    )
    for x, heading in ((40, "Watched"), (340, "Watcher"), (690, "Takes away, how soon")):
        sheet.text(x, 70, heading, 14, bold=True)
    y = 88.0
    for watched, what, watcher, how, taken, soon in rows:
        block(sheet, 40, y, 232, 56, watched, [what])
        block(sheet, 340, y, 282, 56, watcher, [how])
        block(sheet, 690, y, 282, 56, taken, [soon])
        sheet.line([(272, y + 28), (340, y + 28)], SIGNAL, arrow=True)
        sheet.line([(622, y + 28), (690, y + 28)], SIGNAL, arrow=True)
        y += 70
    notes = [
        "Valves are normally closed: no current, no flow. A pull-down at every driver's gate, fitted at the gate, holds it off while the chip floats.",
        "The chip's own brown-out detector watches its core supply, not the 3.3 V and not the bus: it replaces none of these.",
        f"Bleeder of the O and P rail: {ohm_text(facts.bleeder_ohm)} for {RAIL_FARAD * 1e6:g} µF, so that the rail reads dead within {facts.ticks_ms('rail_weld_ticks')} ms of the last kick.",
    ]
    sheet.text(40, 526, notes, 12)
    sheet.frame(CAUTION, facts.origin)
    return sheet
