"""Inputs of the controller: circuits of switches, sensors and pulses, and every threshold on its scale."""

import math

from schemdraw import elements as elm

from notes.draw_power import CAUTION
from notes.facts import CONVERTER_V, Facts
from notes.ink import Sheet
from notes.preferred import Divider, ohm_text
from notes.schematic import Schematic
from notes.symbols import number_line
from oxlatch.boards import rp2_pins

LIMITS_CAUTION = "CAUTION: settings of an invented example, not permissions. Limits come from engine maker, gas supplier and your own tests."


def inputs(facts: Facts) -> Sheet:
    """One circuit of each kind of input."""
    sheet = Sheet(
        "Input circuits", "Circuits of pressure sensors, volts, switches, proof switches and engine pulses.", 700
    )
    with Schematic(sheet, 60, 116, 26) as drawing:
        _divided(drawing, 0.0, "sensor, 5 V ratiometric", facts.sensor_divider, "converter")
        _divided(drawing, -5.6, "bus, or coil rail", facts.volts_divider, "converter")
        _switch(drawing, -11.2, facts)
        _pulse(drawing, -16.4)
    words = (
        (
            84.0,
            "Pressure and position sensors",
            [
                f"0.5 to 4.5 V over the range; {rp2_pins.SENSOR_FULL_MV / 1e3:g} V fills the converter",
                f"({CONVERTER_V:g} V full scale, 12 bit). The converter's reference and",
                "the sensors share one 5 V supply through the same divider,",
                f"so a drift cancels; a {rp2_pins.REFERENCE_MV / 1e3:g} V source of its own on channel",
                f"{rp2_pins.CHANNEL_REFERENCE} shows it: more than {rp2_pins.REFERENCE_OFF_MV} mV off twice, all inputs are lost.",
            ],
        ),
        (
            230.0,
            "Bus and coil rail",
            [
                f"{rp2_pins.VOLTS_FULL_MV / 1e3:g} V fills the converter. A clamp behind the series",
                "resistor takes what a load dump adds. Rail: O and P rail,",
                "each through a diode, with its bleeder.",
            ],
        ),
        (
            376.0,
            "Switches, proof switches",
            [
                "MASTER pole 2, STAGE 1 to 4, PURGE, ACK, contact poles,",
                "proof switches: closed is on, so a cut lead is off.",
                "Parallel-in registers in one chain; bits wired to 1 and 0",
                "in the first and last byte show a chain that has stuck.",
            ],
        ),
        (
            512.0,
            "Engine pulses",
            [
                f"{facts.pulses_per_turn:g} a turn ({facts.installation.engine.cylinders} cylinders, four-stroke): {facts.pulse_hz(facts.setting('rpm_max')):.0f} Hz at {facts.setting('rpm_max')} rpm.",
                "From the ignition's low side or a pick-up, never from a",
                "shared tachometer ground. The filter is a tenth of the",
                f"shortest interval; no pulse for {facts.setting('pulse_age_ms')} ms stops a flow.",
            ],
        ),
    )
    for y, heading, rows in words:
        sheet.text(556, y, heading, 13, bold=True)
        sheet.text(556, y + 19, rows, 12)
    sheet.frame(CAUTION, facts.origin)
    return sheet


def _divided(drawing: Schematic, y: float, source: str, divided: Divider, sink: str) -> None:
    drawing.name((0, y), 0, 16, source)
    drawing.wire((0, y), (3.0, y))
    drawing.add(elm.Resistor().at((3.0, y)).to((6.0, y)))
    drawing.name((4.5, y), 0, -16, ohm_text(divided.top_ohm), "middle")
    drawing.add(elm.Dot().at((7.0, y)))
    drawing.wire((6.0, y), (14.6, y))
    drawing.add(elm.Resistor().at((7.0, y)).to((7.0, y - 2.6)))
    drawing.add(elm.Ground().at((7.0, y - 2.6)))
    drawing.name((7.0, y - 1.3), -14, 12, ohm_text(divided.bottom_ohm), "right")
    drawing.add(elm.Dot().at((9.6, y)))
    drawing.add(elm.Capacitor().at((9.6, y)).to((9.6, y - 2.6)))
    drawing.add(elm.Ground().at((9.6, y - 2.6)))
    drawing.name((9.6, y - 1.3), 16, 12, "100 nF")
    drawing.add(elm.Dot().at((13.0, y)))
    drawing.add(elm.Zener().at((13.0, y - 2.6)).to((13.0, y)))
    drawing.add(elm.Ground().at((13.0, y - 2.6)))
    drawing.name((13.0, y - 1.3), 14, 12, "3.6 V")
    drawing.name((14.6, y), 6, 0, sink)


def _switch(drawing: Schematic, y: float, facts: Facts) -> None:
    drawing.name((0, y), 0, 16, "1 A fuse")
    drawing.wire((0, y), (0.8, y))
    drawing.add(elm.Switch().at((0.8, y)).to((3.4, y)))
    drawing.wire((3.4, y), (4.4, y))
    drawing.add(elm.Dot().at((4.4, y)))
    drawing.add(elm.Resistor().at((4.4, y)).to((4.4, y - 2.6)))
    drawing.add(elm.Ground().at((4.4, y - 2.6)))
    drawing.name((4.4, y - 1.3), -14, 0, ohm_text(facts.wetting_ohm), "right")
    drawing.add(elm.Resistor().at((4.4, y)).to((7.4, y)))
    drawing.name((5.9, y), 0, -16, "10 kΩ", "middle")
    drawing.wire((7.4, y), (14.6, y))
    drawing.add(elm.Dot().at((9.0, y)))
    drawing.add(elm.Capacitor().at((9.0, y)).to((9.0, y - 2.6)))
    drawing.add(elm.Ground().at((9.0, y - 2.6)))
    drawing.name((9.0, y - 1.3), 16, 12, "100 nF")
    drawing.add(elm.Dot().at((12.4, y)))
    drawing.add(elm.Zener().at((12.4, y - 2.6)).to((12.4, y)))
    drawing.add(elm.Ground().at((12.4, y - 2.6)))
    drawing.name((12.4, y - 1.3), 14, 12, "3.3 V")
    drawing.name((14.6, y), 6, 0, "register")


def _pulse(drawing: Schematic, y: float) -> None:
    drawing.name((0, y), 0, -20, "ignition or pick-up")
    drawing.wire((0, y), (1.6, y))
    drawing.add(elm.Resistor().at((1.6, y)).to((4.6, y)))
    drawing.name((3.1, y), 0, 16, "100 kΩ, flame proof", "middle")
    drawing.wire((4.6, y), (11.4, y))
    drawing.add(elm.Dot().at((6.6, y)))
    drawing.add(elm.Zener().at((6.6, y - 2.6)).to((6.6, y)))
    drawing.add(elm.Ground().at((6.6, y - 2.6)))
    drawing.name((6.6, y - 1.3), 14, 12, "3.3 V")
    drawing.add(elm.Dot().at((9.0, y)))
    drawing.add(elm.Capacitor().at((9.0, y)).to((9.0, y - 2.6)))
    drawing.add(elm.Ground().at((9.0, y - 2.6)))
    drawing.name((9.0, y - 1.3), 16, 12, "4.7 nF")
    drawing.add(elm.Opamp(leads=False).theta(0).scale(0.9).at((11.4, y)).anchor("in1"))
    drawing.wire((13.3, y - 0.56), (14.6, y - 0.56))
    drawing.name((14.6, y - 0.56), 6, 0, f"GP{rp2_pins.pin('ENGINE_PULSE')}")
    drawing.name((12.4, y - 0.56), 4, 36, "Schmitt", "middle")


def scales(facts: Facts) -> Sheet:
    """Every threshold of the settings record on the scale of its quantity."""
    sheet = Sheet(
        "Thresholds on their scales",
        "Line pressure, fuel pressure, bus voltage and engine speed with every threshold of the settings record.",
        780,
    )
    _line(sheet, facts)
    _fuel(sheet, facts)
    _bus(sheet, facts)
    _speed(sheet, facts)
    sheet.frame(LIMITS_CAUTION, facts.origin)
    return sheet


def _line(sheet: Sheet, facts: Facts) -> None:
    names = (
        ("line_dead_mv", ["purge", "ends"]),
        ("line_weak_mv", ["purge", "starts"]),
        ("supply_empty_mv", ["EMPTY:", "stop"]),
        ("line_lost_mv", ["purge", "void"]),
        ("supply_cut_mv", ["LOW:", "stop"]),
        ("line_thin_mv", ["purge", "good"]),
        ("supply_leave_mv", ["leave", "READY"]),
        ("supply_warn_mv", ["soon", "low"]),
        ("supply_permit_mv", ["READY", "from"]),
        ("supply_top_mv", ["READY", "up to"]),
        ("supply_over_mv", ["leave", "READY"]),
        ("line_trapped_mv", ["line", "trapped"]),
    )
    marks = [
        (facts.supply_bar(facts.setting(name)), [*words, f"{facts.supply_bar(facts.setting(name)):.1f}"])
        for name, words in names
    ]
    sheet.text(40, 72, "Line pressure at the block, bar absolute", 14, bold=True)
    number_line(sheet, 70, 940, 176, 10.0, 85.0, marks, [(float(bar), str(bar)) for bar in range(10, 86, 5)], above=40)


def _fuel(sheet: Sheet, facts: Facts) -> None:
    names = (
        ("fuel_fail_mv", ["stop", "at once"]),
        ("fuel_cut_mv", ["stop", f"{facts.ticks_ms('fuel_cut_ticks')} ms"]),
        ("fuel_low_mv", ["READY", "from"]),
        ("fuel_top_mv", ["READY", "up to"]),
        ("fuel_high_mv", ["told", "rich"]),
        ("fuel_over_mv", ["stop,", "F first"]),
    )
    set_bar = facts.installation.fuel.set_pressure / 1e5
    marks = [
        (facts.fuel_bar(facts.setting(name)), [*words, f"{facts.fuel_bar(facts.setting(name)):.3f}"])
        for name, words in names
    ]
    marks.insert(3, (set_bar, ["set", "", f"{set_bar:.3f}"]))
    low, high = 0.7 * set_bar, 1.25 * set_bar
    step = 10 ** math.floor(math.log10(set_bar)) / 2
    ticks = [(step * n, f"{step * n:g}") for n in range(math.ceil(low / step), math.floor(high / step) + 1)]
    sheet.text(40, 244, "Fuel supply pressure, bar above the outside air", 14, bold=True)
    number_line(sheet, 70, 940, 346, low, high, marks, ticks, above=40)


def _bus(sheet: Sheet, facts: Facts) -> None:
    electrical = facts.installation.electrical
    marks = [
        (electrical.hard, ["rails", "drop"]),
        (electrical.lowest, ["stop", f"{facts.ticks_ms('bus_cut_ticks')} ms"]),
        (electrical.permit, ["READY", "from"]),
        (electrical.in_flight, ["in", "flight"]),
        (electrical.surge, ["stop,", "surge"]),
    ]
    marks = [(value, [*words, f"{value:g}"]) for value, words in marks]
    low, high = 0.9 * electrical.hard, 1.06 * electrical.surge
    sheet.text(40, 412, "Bus, volts", 14, bold=True)
    ticks = [(float(volt), str(volt)) for volt in range(round(low) + 1, round(high) + 1)]
    number_line(sheet, 70, 940, 512, low, high, marks, ticks, above=40)


def _speed(sheet: Sheet, facts: Facts) -> None:
    marks = [
        (facts.setting("rpm_cut"), ["stop", f"{facts.ticks_ms('rpm_low_ticks')} ms"]),
        (facts.setting("rpm_min"), ["push", "from"]),
        (facts.setting("rpm_max"), ["push", "up to,", "stop above"]),
    ]
    marks = [(value, [*words, f"{value:g}"]) for value, words in marks]
    low, high = facts.setting("rpm_cut") - 200, facts.setting("rpm_max") + 150
    ticks = [(float(rpm), str(rpm)) for rpm in range(low // 100 * 100 + 100, high, 100)]
    sheet.text(40, 578, "Engine speed, rpm", 14, bold=True)
    number_line(sheet, 70, 940, 684, low, high, marks, ticks, above=36)
