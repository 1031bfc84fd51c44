"""The driver of a coil with clamp and current sense, the wired interlock of the fuel driver, and how currents fall."""

import math

from schemdraw import elements as elm
from schemdraw import logic

from notes.draw_power import CAUTION
from notes.facts import REFERENCE_V, SENSE_GAIN, Coil, Facts
from notes.ink import EDGE, FUEL, GUIDE, OXIDIZER, Sheet
from notes.preferred import Divider, ohm_text
from notes.schematic import Schematic

FIELD = ("Coil", "cold A", "sense", "hold A", "hold V", "divider", "trip A", "trip V", "divider", "drain V", "mJ off")
PLACES = (40, 160, 226, 298, 362, 422, 562, 624, 680, 822, 908)


def driver(facts: Facts) -> Sheet:
    """Two drivers side by side, slow clamp and fast clamp, and the values of every one."""
    sheet = Sheet(
        "Driver of a coil", "Low-side driver with clamp, current sense and comparators, for O and for F coils.", 760
    )
    for x, letter, heading in ((96.0, "O", "O coils: slow clamp"), (580.0, "F", "F coils: fast clamp")):
        sheet.text(x - 56, 74, heading, 14, bold=True)
        with Schematic(sheet, x, 330, 24) as drawing:
            _power_part(drawing, letter, facts)
            _sense_part(drawing)
    _values(sheet, facts)
    sheet.frame(CAUTION, facts.origin)
    return sheet


def _power_part(drawing: Schematic, letter: str, facts: Facts) -> None:
    coil = facts.coil("oxidizer" if letter == "O" else "fuel")
    drawing.wire((0.4, 9.4), (5.0, 9.4))
    drawing.name((0.4, 9.4), 0, -12, f"{letter} rail")
    drawing.add(elm.Inductor2().at((1.5, 9.4)).to((1.5, 6.2)))
    drawing.name((1.5, 7.8), -14, 0, "coil", "right")
    drawing.add(elm.Dot().at((1.5, 5.6)))
    drawing.wire((1.5, 6.2), (1.5, 4.9))
    drawing.wire((1.5, 5.6), (3.6, 5.6))
    if letter == "O":
        drawing.add(elm.Diode().at((3.6, 5.6)).to((3.6, 9.4)))
        drawing.name((3.6, 7.5), 18, -8, ["plain diode,", f"about {coil.valve.clamp:g} V"])
    else:
        drawing.add(elm.Diode().at((3.6, 5.6)).to((3.6, 7.5)))
        drawing.add(elm.Zener().at((3.6, 9.4)).to((3.6, 7.5)))
        drawing.name((3.6, 7.5), 18, -8, ["diode and avalanche", f"clamp, about {coil.valve.clamp:g} V"])
    fet = drawing.add(elm.NFet().theta(0).reverse().at((1.5, 4.9)).anchor("drain"))
    gate = fet.absanchors["gate"]
    drawing.wire(gate, (-0.6, gate[1]))
    drawing.add(elm.Dot().at((-0.6, gate[1])))
    drawing.add(elm.Resistor().at((-0.6, gate[1])).to((-0.6, 1.2)))
    drawing.add(elm.Ground().at((-0.6, 1.2)))
    drawing.name((-0.6, 2.6), -14, 0, "10 kΩ", "right")
    drawing.wire((-0.6, gate[1]), (-1.4, gate[1]))
    drawing.name((-1.4, gate[1]), 0, -14, "gate", "left")


def _sense_part(drawing: Schematic) -> None:
    drawing.wire((1.5, 3.4), (1.5, 2.4))
    drawing.add(elm.Resistor().at((1.5, 2.4)).to((1.5, -0.2)))
    drawing.add(elm.Ground().at((1.5, -0.2)))
    drawing.name((1.5, 1.1), 14, 10, "sense")
    drawing.add(elm.Dot().at((1.5, 2.4)))
    amplifier = drawing.add(elm.Opamp(leads=False).theta(0).flip().at((5.2, 2.4)).anchor("in2"))
    drawing.wire((1.5, 2.4), (5.2, 2.4))
    low = amplifier.absanchors["in1"]
    drawing.wire(low, (4.4, low[1]), (4.4, -0.2), (1.5, -0.2))
    out = amplifier.absanchors["out"]
    drawing.name(out, -14, -30, f"x {SENSE_GAIN:g}", "middle")
    drawing.wire(out, (8.6, out[1]))
    drawing.add(elm.Dot().at((8.6, out[1])))
    for up, name in ((2.4, "hold"), (-2.4, "trip")):
        y = out[1] + up
        shape = elm.Opamp(leads=False).theta(0)
        compare = drawing.add((shape if name == "hold" else shape.flip()).at((10.6, y)).anchor("in2"))
        drawing.wire((8.6, out[1]), (8.6, y), (10.6, y))
        level = compare.absanchors["in1"]
        drawing.wire((9.6, level[1]), level)
        drawing.name((9.6, level[1]), -4, 0, f"{name} V", "right")
        end = compare.absanchors["out"]
        drawing.wire(end, (end[0] + 1.0, end[1]))
        drawing.name((end[0] + 1.0, end[1]), 6, -7, ["above", name])


def _values(sheet: Sheet, facts: Facts) -> None:
    y = 458.0
    for x, words in zip(PLACES, FIELD, strict=True):
        sheet.text(x, y, words, 12, bold=True)
    sheet.line([(36, y + 12), (976, y + 12)], EDGE)
    for coil in facts.coils():
        y += 26
        for x, words in zip(PLACES, _cells(coil), strict=True):
            sheet.text(x, y, words, 12)
    notes = [
        f"Sense resistor: about 50 mV at the cold coil's current, the nearest common value. Levels stand behind an amplifier of {SENSE_GAIN:g}; dividers hang on {REFERENCE_V:g} V.",
        "Hold: 1.2 times the drop-out current. Trip: 2.2 times the cold current; below it lies every healthy coil, above it a short.",
        "An amplifier offset of 0.2 mV at its input shifts the hold level by "
        + ", ".join(
            f"{coil.letter if coil.key in ('oxidizer', 'fuel') else coil.name} {100 * 0.2 / (coil.hold_v / SENSE_GAIN * 1e3):.0f} %"
            for coil in facts.coils()[:2]
        )
        + ": choose one far below.",
        "Drain: bus surge and clamp; choose FET and clamp 1.5 times above (judgement). mJ off: ½ L I² at each switch-off of a cold coil.",
        "FET: logic level, fully on at 3 V. Its own fuse or breaker stands before the run switch, common to the pair: never one for O and one for F.",
    ]
    sheet.text(40, y + 38, notes, 12)


def _cells(coil: Coil) -> list[str]:
    def pair(divided: Divider) -> str:
        return f"{ohm_text(divided.top_ohm)} / {ohm_text(divided.bottom_ohm)}"

    return [
        coil.name,
        f"{coil.cold_a:.2f}",
        ohm_text(coil.sense_ohm),
        f"{coil.parameters.hold_sense_a:.2f}",
        f"{coil.hold_v:.2f}",
        pair(coil.hold_divider),
        f"{coil.parameters.trip_sense_a:.1f}",
        f"{coil.trip_v:.2f}",
        pair(coil.trip_divider),
        f"{coil.drain_v:.1f}",
        f"{1e3 * coil.clamp_j:.0f}",
    ]


def interlock(facts: Facts) -> Sheet:
    """The wired AND of each fuel driver."""
    sheet = Sheet(
        "Wired interlock of a fuel driver",
        "The gate of each F driver: command, O current above hold and proof switch, in hardware.",
        560,
    )
    with Schematic(sheet, 430, 210, 30) as drawing:
        gate = drawing.add(logic.And(inputs=3).theta(0).at((0, 0)))
        for name in ("in1", "in2", "in3"):
            x, y = gate.absanchors[name]
            spread = {"in1": 3.0, "in2": 0.0, "in3": -3.0}[name]
            drawing.wire((x, y), (-0.8, y), (-0.8, spread), (-4.2, spread))
            drawing.add(elm.Dot().at((-2.0, spread)))
            drawing.add(elm.Resistor().at((-2.0, spread)).to((-2.0, spread - 1.8)))
            drawing.add(elm.Ground().at((-2.0, spread - 1.8)))
        out = gate.absanchors["out"]
        drawing.wire(out, (3.4, 0))
        drawing.add(elm.Resistor().at((3.4, 0)).to((5.4, 0)))
        drawing.wire((5.4, 0), (6.2, 0))
        drawing.add(elm.Dot().at((6.2, 0)))
        drawing.add(elm.Resistor().at((6.2, 0)).to((6.2, -2.4)))
        drawing.add(elm.Ground().at((6.2, -2.4)))
        fet = drawing.add(elm.NFet().theta(0).reverse().at((8.6, 0.75)).anchor("drain"))
        drawing.wire((6.2, 0), fet.absanchors["gate"])
        drawing.wire((8.6, 0.75), (8.6, 2.4))
        drawing.wire((8.6, -0.75), (8.6, -1.6))
        drawing.name((8.6, 2.4), 0, -14, "F coil of stage n", "middle")
        drawing.name((8.6, -1.6), 0, 14, "to its sense resistor", "middle")
        drawing.name((6.2, -1.2), 14, 0, "10 kΩ")
        drawing.name((4.4, 0), 0, -18, "100 Ω", "middle")
    inputs = (
        (120.0, ["FUn, pin of the chip", "command after the gate of the code"]),
        (
            210.0,
            [
                f"O coil n above hold ({facts.coil('oxidizer').parameters.hold_sense_a:.1f} A)",
                "comparator of the O driver",
            ],
        ),
        (300.0, ["proof switch n closed", "pressure behind the O valve"]),
    )
    for y, words in inputs:
        sheet.text(280, y - 8, words, 12, "right")
    notes = [
        "Each input has its own pull-down at the AND: a lead that is off, a chip in reset or a missing proof holds F shut. Nothing here is software.",
        "The same three signals go to the controller, which asks for F only after them. Either alone keeps F from opening without O.",
        "Without proof switches the third input is tied high and the claim is weaker: current in the O coil is then taken for flow. The evidence prints it.",
        "What it cannot see: an O valve that opens onto an empty line is caught by the proof switch alone; a proof switch welded shut",
        "by nothing here: the controller refuses READY until every proof switch reads open.",
        "Test it with the chip holding FUn on by hand: no F current until O current flows and the proof switch is made; none after either goes.",
    ]
    sheet.text(40, 402, notes, 12)
    sheet.frame(CAUTION, facts.origin)
    return sheet


def release(facts: Facts) -> Sheet:
    """How the coil currents fall into their clamps."""
    sheet = Sheet(
        "How coil currents fall when the power is cut",
        "Coil current over time after switch-off, O into a slow clamp and F into a fast one.",
        600,
    )
    left, right, top, bottom = 110.0, 620.0, 90.0, 460.0
    longest_ms = 25.0

    def place(ms: float, share: float) -> tuple[float, float]:
        return left + ms / longest_ms * (right - left), bottom - share * (bottom - top)

    sheet.line([(left, top - 6), (left, bottom), (right, bottom)], EDGE)
    for ms in range(0, 26, 5):
        x, _y = place(ms, 0)
        sheet.line([(x, bottom), (x, bottom + 6)], EDGE)
        sheet.text(x, bottom + 18, str(ms), 12, "middle")
    for per_cent in (0, 25, 50, 75, 100):
        _x, y = place(0, per_cent / 100)
        sheet.line([(left - 6, y), (left, y)], EDGE)
        sheet.text(left - 10, y, str(per_cent), 12, "right")
    sheet.text((left + right) / 2, bottom + 40, "milliseconds after the power is cut, cold coils", 12, "middle")
    sheet.text(40, 68, "current, per cent of the cold coil's", 12)
    for key, style in (("oxidizer", OXIDIZER), ("fuel", FUEL)):
        coil = facts.coil(key)
        points = [
            place(step / 20, falling(coil, step / 20))
            for step in range(int(longest_ms * 20) + 1)
            if falling(coil, step / 20) > 0 or step == 0
        ]
        sheet.line([*points, place(_end_ms(coil), 0)], style)
        share = coil.parameters.drop_out_a / coil.cold_a
        _x, y = place(0, share)
        sheet.line([(left, y), (right, y)], GUIDE)
        sheet.text(
            right + 8,
            y,
            f"{coil.letter} lets go: {coil.parameters.drop_out_a:.2f} A, {1e3 * coil.cold_release_s:.1f} ms",
            12,
        )
    notes = [
        "Current in the clamp:",
        "i(t) = (I0 + Vc/R) e^(-tR/L) - Vc/R",
        "(first-order circuit).",
        "",
        *[
            f"{coil.letter}: {coil.valve.inductance * 1e3:g} mH, {coil.valve.resistance:g} Ω, clamp {coil.valve.clamp:g} V"
            for coil in facts.coils()[:2]
        ],
        "",
        "O with a diode alone lets go late,",
        "F with its avalanche clamp early:",
        "a cut wire, a dead battery or a",
        "dropped master shuts F first.",
    ]
    sheet.text(660, 110, notes, 12)
    sheet.frame(CAUTION, facts.origin, (OXIDIZER, FUEL))
    return sheet


def falling(coil: Coil, ms: float) -> float:
    """Current over the cold current, `ms` after the power is cut."""
    clamp_a = coil.valve.clamp / coil.valve.resistance
    now = (coil.cold_a + clamp_a) * math.exp(-ms / 1e3 * coil.valve.resistance / coil.valve.inductance) - clamp_a
    return max(now / coil.cold_a, 0.0)


def _end_ms(coil: Coil) -> float:
    clamp_a = coil.valve.clamp / coil.valve.resistance
    return 1e3 * coil.valve.inductance / coil.valve.resistance * math.log((coil.cold_a + clamp_a) / clamp_a)
