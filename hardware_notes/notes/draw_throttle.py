"""The push through the detent: lever, contact and position sensor, their travel and their wiring."""

from schemdraw import elements as elm

from notes.facts import WETTING_A, Facts
from notes.ink import EDGE, LINKAGE, Sheet
from notes.preferred import ohm_text
from notes.schematic import Schematic
from notes.symbols import block, number_line
from oxlatch.vocabulary import TICK_MS

CAUTION = "CAUTION: a contact that closes early or sticks asks for boost. Adjust with bottle shut, fuel off, engine cold and chocked."


def detent(facts: Facts) -> Sheet:
    """Lever and detent above, travel with every threshold below."""
    sheet = Sheet(
        "Throttle, detent and contact",
        "The lever at its detent, and along its travel every point at which something happens.",
        660,
    )
    _lever(sheet)
    _travel(sheet, facts)
    sheet.frame(CAUTION, facts.origin, (LINKAGE,))
    return sheet


def _lever(sheet: Sheet) -> None:
    sheet.circle(150, 270, 7, filled=True)
    sheet.line([(150, 270), (150, 104)], EDGE, weight=5)
    sheet.line([(150, 270), (268, 152)], EDGE, weight=1.2)
    sheet.line([(150, 270), (286, 176)], EDGE, weight=1.2)
    sheet.circle(150, 98, 9)
    sheet.text(166, 90, "lever", 12)
    sheet.curve("M 180,128 A 150 150 0 0 1 248,162", LINKAGE)
    sheet.text(206, 112, "open", 12)
    sheet.hatched(286, 124, 14, 36)
    sheet.line([(268, 152), (286, 152)], EDGE, weight=3)
    sheet.text(308, 130, ["full throttle: the plate is", "at its own stop"], 12)
    sheet.rectangle(300, 176, 60, 22)
    sheet.line([(286, 176), (300, 187)], EDGE, weight=3)
    springs = [(360, 187), (366, 178), (374, 196), (382, 178), (390, 196), (396, 187)]
    sheet.line(springs, EDGE)
    sheet.line([(396, 172), (396, 202)], EDGE, weight=3)
    sheet.text(308, 216, ["detent: clearly more force,", "felt through a glove; springs back"], 12)
    sheet.line([(150, 270), (54, 270)], LINKAGE)
    sheet.text(40, 290, ["to the throttle", "plate"], 12)
    sheet.circle(150, 306, 16)
    sheet.line([(150, 277), (150, 290)], LINKAGE)
    sheet.text(176, 306, "position sensor on the lever's or the plate's own shaft, not on the contact's bracket", 12)
    block(
        sheet,
        600,
        84,
        372,
        104,
        "Contact behind the detent",
        [
            "changeover, snap action, three poles moved together:",
            "NO and NC to the controller, the third to the run switch;",
            "its bracket cannot bend with the cable or the firewall;",
            "closes only when the detent is pressed home",
        ],
    )
    block(
        sheet,
        600,
        206,
        372,
        84,
        "Why two witnesses",
        [
            "A contact that sticks or is set wrong reads like a push.",
            "NO and NC must change over together, and the",
            "sensor must say full throttle. One alone opens nothing.",
        ],
    )


def _travel(sheet: Sheet, facts: Facts) -> None:
    throttle = facts.plant.throttle

    def share(name: str) -> float:
        return 100 * facts.throttle_share(facts.setting(name))

    marks = [
        (share("throttle_half_mv"), ["seen below", "once before READY"]),
        (share("throttle_low_mv"), ["closed below here:", "DETENT STUCK"]),
        (share("throttle_drop_mv"), ["below here", "flow ends"]),
        (share("throttle_full_mv"), ["needed", "for a push"]),
        (throttle.nc_breaks, ["NC", "opens"]),
        (throttle.no_makes, ["NO", "closes"]),
        (throttle.detent_travel, ["pressed", "home"]),
    ]
    ticks = [(float(value), str(value)) for value in (0, 20, 40, 60, 80, 100)]
    sheet.text(40, 344, "Travel of the lever, per cent of full throttle", 14, bold=True)
    number_line(sheet, 60, 900, 440, 0.0, 104.0, marks, ticks, above=44)
    sensors = facts.installation.sensors
    notes = [
        f"Sensor: {sensors.throttle_closed:g} V closed, {sensors.throttle_open:g} V at full throttle; outside {facts.setting('sensor_low_mv') / 1e3:g} to {facts.setting('sensor_high_mv') / 1e3:g} V it is taken for broken.",
        f"A push: both poles agree for {6 * TICK_MS} ms after having been open, throttle full for {facts.ticks_ms('throttle_full_ticks')} ms. Release: either pole for {2 * TICK_MS} ms, or a fall of {facts.setting('throttle_chop_mv')} mV in {8 * TICK_MS} ms.",
        "NC and NO are set beyond full throttle with the cable cold and hot: the contact may never close before 97 per cent of travel (common practice, no source).",
        "Points above 100 per cent are those of the simulator's lever; measure yours, write them on the inspection sheet and watch them over the years.",
    ]
    sheet.text(40, 504, notes, 12)


def contact(facts: Facts) -> Sheet:
    """Wiring of the three poles and of the position sensor."""
    sheet = Sheet(
        "Wiring of contact and position sensor",
        "Three poles of the detent contact and the three wires of the throttle position sensor.",
        600,
    )
    with Schematic(sheet, 70, 130, 30) as drawing:
        for row, names in enumerate((("NO", "input NO"), ("NC", "input NC"))):
            y = -3.4 * row
            drawing.wire((0, y), (1.6, y))
            drawing.add(elm.Switch(nc=row == 1).at((1.6, y)).to((4.4, y)))
            drawing.wire((4.4, y), (6.0, y))
            drawing.add(elm.Dot().at((6.0, y)))
            drawing.add(elm.Resistor().at((6.0, y)).to((6.0, y - 2.0)))
            drawing.add(elm.Ground().at((6.0, y - 2.0)))
            drawing.add(elm.Resistor().at((6.0, y)).to((9.0, y)))
            drawing.wire((9.0, y), (13.4, y))
            drawing.add(elm.Dot().at((9.6, y)))
            drawing.add(elm.Capacitor().at((9.6, y)).to((9.6, y - 2.0)))
            drawing.add(elm.Ground().at((9.6, y - 2.0)))
            drawing.add(elm.Dot().at((12.0, y)))
            drawing.add(elm.Zener().at((12.0, y - 2.0)).to((12.0, y)))
            drawing.add(elm.Ground().at((12.0, y - 2.0)))
            drawing.name((13.4, y), 8, 0, names[1] + " of a register")
            drawing.name((3.0, y), 0, -30, f"pole {names[0]}", "middle")
            drawing.name((0, y), 0, 16, "bus, 1 A fuse" if row == 0 else "same feed")
        drawing.name((6.0, -1.0), 14, 8, ohm_text(facts.wetting_ohm))
        drawing.name((7.5, 0), 0, -16, "10 kΩ", "middle")
        drawing.name((9.6, -1.0), 16, 8, "100 nF")
        drawing.name((12.0, -1.0), 16, 8, "3.3 V")
        y = -7.4
        drawing.wire((0, y), (1.6, y))
        drawing.add(elm.Switch().at((1.6, y)).to((4.4, y)))
        drawing.wire((4.4, y), (13.4, y))
        drawing.name((3.0, y), 0, -30, "third pole, NO", "middle")
        drawing.name((0, y), 0, 16, "its own feed")
        drawing.name((13.4, y), 8, 0, "enables of F and O rail, see the rails")
    block(
        sheet,
        720,
        72,
        252,
        132,
        "Position sensor",
        [
            "5 V, signal, ground on three wires",
            "twisted and shielded, the shield",
            "grounded at the controller alone;",
            f"{facts.installation.sensors.throttle_closed:g} V closed, {facts.installation.sensors.throttle_open:g} V full;",
            "a lead off or a short leaves this",
            "range and is taken for broken",
        ],
    )
    notes = [
        f"{ohm_text(facts.wetting_ohm)} draws about {1e3 * WETTING_A:g} mA at the bus that READY needs ({facts.installation.electrical.permit:g} V): enough to keep a silver contact clean (judgement, ask its maker).",
        "A cut lead reads open. Both poles made, or neither, for longer than "
        f"{facts.ticks_ms('contact_fault_ticks')} ms reads as disagreement: no push counts, a flow ends.",
        "The third pole never passes the controller: with it open neither rail can be live, whatever the chip does.",
    ]
    sheet.text(40, 468, notes, 12)
    sheet.frame(CAUTION, facts.origin)
    return sheet
