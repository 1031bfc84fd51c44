"""Valve pack and cabin wiring: connectors and harness, the board's pins, grounds."""

from notes.draw_power import CAUTION
from notes.facts import Facts
from notes.ink import EDGE, SIGNAL, WIRE, Sheet
from notes.pack import Connector, connectors
from notes.symbols import block
from oxlatch.boards.rp2_pins import PINS

HEADER = (
    *(
        [
            "GP0",
            "GP1",
            "GND",
            "GP2",
            "GP3",
            "GP4",
            "GP5",
            "GND",
            "GP6",
            "GP7",
            "GP8",
            "GP9",
            "GND",
            "GP10",
            "GP11",
            "GP12",
            "GP13",
            "GND",
            "GP14",
            "GP15",
        ]
    ),
    *(
        [
            "GP16",
            "GP17",
            "GND",
            "GP18",
            "GP19",
            "GP20",
            "GP21",
            "GND",
            "GP22",
            "reset",
            "GP26",
            "GP27",
            "GND",
            "GP28",
            "VREF",
            "3V3",
            "EN",
            "GND",
            "VSYS",
            "VBUS",
        ]
    ),
)
"""What is on pins 1 to 40 of the common two-core board: from memory, compare with the drawing of the board you hold.

Its reset pin bears the name RUN on some boards; it is not the gate of that name."""


def harness(facts: Facts) -> Sheet:
    """Cabin, firewall and valve pack with the three connectors."""
    sheet = Sheet("Harness and connectors", "Cabin wiring, firewall and valve pack with connectors J1, J2 and J3.", 700)
    block(
        sheet,
        40,
        90,
        200,
        96,
        "Panel and throttle",
        ["MASTER, STAGE, PURGE, ACK,", "lamps, contact, position", "sensor"],
    )
    block(
        sheet,
        40,
        250,
        200,
        150,
        "Controller box",
        [
            "chip, registers, converter,",
            "drivers, one-shot, run switch;",
            "in the cabin, dry, cool,",
            "with its own ground lead",
            "to the star point",
        ],
    )
    block(
        sheet,
        40,
        460,
        200,
        96,
        "Bus",
        [
            f"breaker {facts.installation.electrical.feed_breaker:g} A, No. {facts.installation.electrical.feed_gauge},",
            "contactor near the bus",
        ],
    )
    sheet.line([(140, 186), (140, 250)], SIGNAL)
    sheet.line([(140, 460), (140, 400)], WIRE)
    sheet.hatched(470, 66, 14, 560, 9)
    sheet.text(462, 80, "firewall", 12, "right")
    y = 110.0
    for connector in connectors(facts):
        height = 30 + 13 * len(connector.pins) / 2
        _connector(sheet, connector, y, max(height, 110))
        style = SIGNAL if connector.name == "J3" else WIRE
        start = 270 + 40 * int(connector.name[1])
        sheet.line(
            [
                (240, start),
                (300 + 20 * int(connector.name[1]), start),
                (300 + 20 * int(connector.name[1]), y + 56),
                (620, y + 56),
            ],
            style,
        )
        y += 176
    _harness_words(sheet)
    sheet.frame(CAUTION, facts.origin, (WIRE, SIGNAL))
    return sheet


def _connector(sheet: Sheet, connector: Connector, y: float, height: float) -> None:
    sheet.rectangle(620, y, 96, 112, paper=True)
    sheet.text(668, y + 24, connector.name, 18, "middle", bold=True)
    sheet.text(668, y + 50, connector.carries, 12, "middle")
    sheet.text(668, y + 70, f"{len(connector.pins)} pins", 12, "middle")
    names = [pin.name for pin in connector.pins]
    rows = []
    while names:
        row = names.pop(0)
        while names and len(row) + len(names[0]) < 32:
            row += ", " + names.pop(0)
        rows.append(row + ("," if names else ""))
    sheet.text(734, y + 8, rows, 12, spacing=1.25)


def _harness_words(sheet: Sheet) -> None:
    words = [
        "Each coil has its own pair, twisted. J1, J2 and J3 pass",
        "the firewall by separate fittings and fire sleeves.",
    ]
    sheet.text(40, 600, words, 12)


def pins(facts: Facts) -> Sheet:
    """The board with every pin's name, generated from the board file."""
    sheet = Sheet(
        "Pins of the board", "The two rows of pins of the two-core board with the names of the board file.", 810
    )
    by_gpio = {f"GP{gpio}": (name, kind, outside) for gpio, name, kind, outside in PINS}
    sheet.rectangle(440, 74, 120, 620)
    sheet.rectangle(480, 62, 40, 24, paper=True)
    sheet.text(500, 74, "USB", 12, "middle", patch=True)
    for index in range(20):
        y = 106 + 30 * index
        _pin(sheet, HEADER[index], index + 1, by_gpio, 440, y, "left")
        _pin(sheet, HEADER[39 - index], 40 - index, by_gpio, 560, y, "right")
    words = [
        "gate: drives a valve or the run kick, off at 0. Pull-downs and pull-ups are fitted outside the chip, so that reset and lost power read off.",
        "Names and kinds from the board file; where the pins lie is from memory: compare with the drawing of the board you hold.",
    ]
    sheet.text(40, 716, words, 12)
    sheet.frame(
        CAUTION,
        facts.origin,
    )
    return sheet


def _pin(
    sheet: Sheet, label: str, number: int, names: dict[str, tuple[str, str, str]], x: float, y: float, side: str
) -> None:
    way = -1 if side == "left" else 1
    sheet.line([(x, y), (x + 14 * way, y)], EDGE)
    sheet.text(x - 8 * way, y, f"{number}", 12, "left" if side == "left" else "right")
    words = side == "left"
    sheet.text(x + 20 * way, y, label, 12, "right" if words else "left", bold=label in names)
    if label in names:
        name, kind, outside = names[label]
        fitted = "" if outside == "none" else f", {outside}"
        sheet.text(x + 66 * way, y, f"{name}  ({kind}{fitted})", 12, "right" if words else "left")


def grounding(facts: Facts) -> Sheet:
    """One star point, and what goes to it by its own wire."""
    sheet = Sheet("Grounds and interference", "Star ground, shields, and distance from ignition and antennas.", 720)
    sheet.circle(500, 316, 16, filled=True)
    sheet.text(528, 348, ["star point: one bolt on the engine's or", "battery's ground strap, bonded to structure"], 12)
    spokes = (
        (60.0, 80.0, "Power ground", ["sense resistors of all drivers,", "own wire as thick as the feed"]),
        (
            60.0,
            240.0,
            "Controller ground",
            ["logic, converter, registers;", "own wire; joined to power ground", "at the star and nowhere else"],
        ),
        (
            60.0,
            420.0,
            "Sensor grounds",
            ["back to the controller's sensor", "ground, never to the structure", "where the sensor sits"],
        ),
        (690.0, 80.0, "Contactor, panel lamps", ["own returns; not through", "the controller"]),
        (
            690.0,
            200.0,
            "Ignition and tachometer",
            ["own returns; the pulse lead is", "a twisted pair with its shield", "grounded at the controller"],
        ),
    )
    targets = ((290, 110), (290, 290), (290, 450), (690, 110), (690, 250))
    for (x, y, heading, words), (tx, ty) in zip(spokes, targets, strict=True):
        block(sheet, x, y, 230 if x < 400 else 282, 40 + 17 * len(words), heading, words)
        if heading != "Sensor grounds":
            sheet.line([(tx, ty), (500, 316)], WIRE)
    sheet.line([(175, 420), (175, 331)], WIRE)
    words = [
        "Coils: a twisted pair each, clamp at the driver, suppression capacitor at the rail. A switched coil without clamp upsets everything near it.",
        "Sensors and contact: shielded, shield grounded at the controller end alone. Away from ignition leads, alternator, strobe supply by a hand's width or more.",
        "Antennas and coax: half a metre or more from box and harness (judgement); ferrites on every bundle that enters the box; metal box, lid bonded.",
        "Test on the ground, engine off, then running: transmit at full power on every radio, both ends and the middle of each band, in every state",
        "but flow, and watch words, pressures and rpm on the link (oxlatch watch): nothing may move. Then strobes, pump, flaps, alternator load.",
        "Write it down; repeat after any change of wiring or radio.",
        "Voltage between any two grounds with all coils on: under 50 mV (judgement). More means a return runs through something it should not.",
    ]
    sheet.text(40, 528, words, 12, spacing=1.45)
    sheet.frame(CAUTION, facts.origin)
    return sheet
