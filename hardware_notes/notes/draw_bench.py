"""Benches: a rig moved by hand, a rig fed over the link, and the dry run with inert gas on the aircraft."""

from CoolProp.CoolProp import PropsSI
from schemdraw import elements as elm

from notes.facts import DUMMY_OVER_HOLD, Coil, Facts
from notes.ink import EDGE, FUEL, GUIDE, OXIDIZER, SIGNAL, VENT, Sheet
from notes.preferred import ohm_text
from notes.schematic import Schematic
from notes.symbols import block, bottle, bow, hand_valve, solenoid
from oxlatch.vocabulary import TICK_MS
from oxlatch_sim.physics import nitrous

RIG_CAUTION = "CAUTION: no gas, no fuel and no valves on a rig. Loads get hot. Current-limited supply, fuse, one hand on its switch."
STRAP_CAUTION = "CAUTION: a controller with the inject strap obeys a file. Never wire it to valves. Its connectors do not fit the valve pack."
GAS_CAUTION = "CAUTION: inert gas under pressure suffocates and freezes. Fuel off and drained, people clear of nozzles, supplier's and local rules first."
CELSIUS = 273.15


def settings_of_rig(facts: Facts) -> list[tuple[str, str, str]]:
    """What turns READY on and keeps it: input, part of the rig, and what to set it to."""

    def middle(low: str, high: str) -> float:
        return (facts.setting(low) + facts.setting(high)) / 2

    supply, fuel = middle("supply_permit_mv", "supply_top_mv"), middle("fuel_low_mv", "fuel_top_mv")
    rpm = middle("rpm_min", "rpm_max")
    sensors = facts.installation.sensors
    return [
        (
            "throttle position",
            "potentiometer 5 kΩ on 5 V",
            f"{sensors.throttle_closed:g} V back, above {facts.setting('throttle_full_mv') / 1e3:.2f} V full",
        ),
        ("line pressure", "potentiometer 5 kΩ on 5 V", f"{supply / 1e3:.2f} V = {facts.supply_bar(supply):.0f} bar"),
        ("fuel supply", "potentiometer 5 kΩ on 5 V", f"{fuel / 1e3:.2f} V = {facts.fuel_bar(fuel):.2f} bar"),
        ("fuel block", "potentiometer 5 kΩ on 5 V", "as fuel supply; turn down for a leak"),
        ("engine pulses", "square wave, 0 to 12 V", f"{facts.pulse_hz(rpm):.0f} Hz = {rpm:.0f} rpm"),
        (
            "bus",
            "supply of the rig",
            f"{facts.installation.electrical.in_flight:g} V; down to {facts.installation.electrical.hard:g} V for sags",
        ),
        (
            "proof switches",
            "relay beside each O load",
            f"must close within {facts.ticks_ms('lead_limit_ticks')} ms: no hand can",
        ),
        ("contact", "three-pole changeover, spring", "open, then pressed"),
    ]


def rig(facts: Facts) -> Sheet:
    """The rig moved by hand: real inputs, loads for valves, no strap."""
    sheet = Sheet(
        "Bench rig, moved by hand",
        "A rig with potentiometers for sensors, switches, a pulse generator and loads for valves.",
        740,
    )
    sheet.text(40, 72, "Inputs", 14, bold=True)
    y = 96.0
    for what, part, value in settings_of_rig(facts):
        sheet.text(40, y, what, 12, bold=True)
        sheet.text(166, y, part, 12)
        sheet.text(356, y, value, 12)
        y += 22
    block(
        sheet,
        690,
        66,
        282,
        150,
        "Controller and its boards",
        [
            "pins, registers, converter, drivers,",
            "one-shot, run switch, as in the aircraft.",
            "INJECT strap NOT fitted:",
            "the pins are read, the code is the same.",
            "BENCH key fitted: READY is refused,",
            "so leave it out here.",
        ],
    )
    sheet.line([(640, 140), (690, 140)], SIGNAL, arrow=True)
    _loads(sheet, facts)
    sheet.frame(RIG_CAUTION, facts.origin)
    return sheet


def _loads(sheet: Sheet, facts: Facts) -> None:
    sheet.text(40, 308, "Loads for valves", 14, bold=True)
    with Schematic(sheet, 70, 360, 26) as drawing:
        drawing.wire((0, 0), (11.4, 0))
        drawing.name((0, 0), 0, -14, "rail")
        for x in (2.0, 6.0, 10.0):
            drawing.add(elm.Dot().at((x, 0)))
        drawing.add(elm.Resistor().at((2.0, 0)).to((2.0, -4.0)))
        drawing.add(elm.Resistor().at((6.0, 0)).to((6.0, -2.0)))
        drawing.add(elm.LED().at((6.0, -2.0)).to((6.0, -4.0)))
        drawing.add(elm.Inductor2().at((10.0, 0)).to((10.0, -4.0)))
        drawing.wire((2.0, -4.0), (10.0, -4.0))
        drawing.wire((6.0, -4.0), (6.0, -5.2))
        drawing.add(elm.Dot().at((6.0, -4.0)))
        drawing.name((6.0, -5.2), 0, 14, "driver", "middle")
        drawing.name((2.0, -2.0), 16, 0, "load")
        drawing.name((6.0, -1.0), 16, 0, "2.2 kΩ")
        drawing.name((6.0, -3.0), -16, 0, "lamp", "right")
        drawing.name(
            (10.0, -2.0),
            16,
            -8,
            ["relay, O loads only:", "its contact is the", "proof switch; a toggle", "in series fails it"],
        )
    sheet.text(560, 330, "Load of", 12, bold=True)
    for x, heading in ((680, "resistor"), (760, "current"), (840, "heat"), (910, "hold")):
        sheet.text(x, 330, heading, 12, bold=True)
    y = 354.0
    for coil in facts.coils():
        for x, cell in zip((560, 680, 760, 840, 910), load_cells(facts, coil), strict=True):
            sheet.text(x, y, cell, 12)
        y += 22
    sheet.text(
        560,
        y + 10,
        [
            f"{DUMMY_OVER_HOLD:g} times the hold current at the bus in flight: the driver sees",
            "a coil, the bench far less heat than one (wire-wound, on metal).",
        ],
        12,
    )
    words = [
        "Why not a filament lamp alone: cold, it draws many times its current for some milliseconds, and the trip comparator calls it a short. A load and",
        "a small lamp beside it behave. Without relays no stage gets past LEAD-IN: O NOT PROVED, as it should.",
        "What this rig shows: switches, lamps, words, arming, purge with ACK, selection, push, release, every refusal; with a two-channel oscilloscope also lead,",
        "stagger, tail, one-shot and clamps on real coils without gas. What it does not show: anything of valves, gas or fuel.",
    ]
    sheet.text(40, 560, words, 12, spacing=1.5)


def load_cells(facts: Facts, coil: Coil) -> list[str]:
    """One row of the table of loads."""
    volts = facts.installation.electrical.in_flight
    return [
        coil.name,
        ohm_text(coil.dummy_ohm),
        f"{volts / coil.dummy_ohm:.2f} A",
        f"{volts**2 / coil.dummy_ohm:.0f} W",
        f"{coil.parameters.hold_sense_a:.2f} A",
    ]


def injection(facts: Facts) -> Sheet:
    """The strapped rig: everything comes over the link."""
    sheet = Sheet(
        "Bench rig, fed over the link",
        "A controller with the inject strap, fed by a computer, with lamps on its outputs.",
        620,
    )
    block(
        sheet,
        40,
        90,
        240,
        120,
        "Computer",
        [
            "oxlatch replay with --port:",
            "a recording of simulator, bench or",
            "flight, tick by tick or live;",
            "compares state and outputs",
        ],
    )
    block(
        sheet,
        380,
        90,
        240,
        120,
        "Controller",
        [
            "same files, same settings record",
            "INJECT strap fitted before power-on",
            "(read once, in WAKE)",
            "lamps show the bench pattern",
        ],
    )
    block(
        sheet,
        720,
        90,
        252,
        120,
        "Lamps only",
        [
            "one small lamp with its resistor",
            "on each valve pin,",
            "no drivers, no run switch,",
            "no connector of the valve pack",
        ],
    )
    sheet.line([(280, 130), (380, 130)], SIGNAL, arrow=True)
    sheet.line([(380, 170), (280, 170)], SIGNAL, arrow=True)
    sheet.text(330, 114, "samples", 12, "middle")
    sheet.text(330, 186, "outputs", 12, "middle")
    sheet.line([(620, 150), (720, 150)], SIGNAL, arrow=True)
    sheet.rectangle(40, 250, 932, 230)
    sheet.text(56, 274, "Why a strapped controller must never be wired to valves", 15, bold=True)
    words = [
        "Its inputs are a file. A recording of last summer's take-off holds a push, a full throttle and a running engine: the outputs follow it at once, with",
        "nobody's hand on the throttle, the engine at rest, a hose off, a hand before a nozzle.",
        "Every guard of the code then guards the recording and not the aircraft: pressure, proof and engine speed are those of the file.",
        "The wired interlocks would still stand between; on a rig some are bridged on purpose, and a valve pack must never depend on that.",
        "Therefore: lamps, not coils; plugs that do not fit the pack; a streamer on the strap; the strap is part of the rig, not of the controller.",
        "The start-up record, every recording and the lamps say that the strap is fitted. Without it no frame of the link changes any input.",
        "A missing frame in live mode counts as the loss of every input: everything off.",
    ]
    sheet.text(56, 304, words, 12, spacing=1.9)
    sheet.frame(STRAP_CAUTION, facts.origin, (SIGNAL,))
    return sheet


def dry_run(facts: Facts) -> Sheet:
    """Set-up of the sequence run on the aircraft with inert gas and no fuel."""
    sheet = Sheet(
        "Dry run with inert gas",
        "Set-up of the dry run: inert gas in the oxidizer side, dummy loads for fuel coils, signals for engine and fuel.",
        760,
    )
    mouth, _top = bottle(sheet, 60, 150, 70, 190)
    sheet.text(mouth, 256, ["CO2", "own", "bottle,", "own label"], 12, "middle", bold=True)
    sheet.line([(mouth, 150), (mouth, 110), (470, 110)], OXIDIZER)
    hand_valve(sheet, mouth, 130, upright=True)
    sheet.text(40, 356, ["in place of the nitrous bottle, siphon kind;", "never filled into a nitrous bottle"], 12)
    for index, name in enumerate(["O1", "O2", "O3", "O4"][: facts.stages]):
        x = 220 + 84 * index
        sheet.line([(x, 110), (x, 280)], OXIDIZER)
        solenoid(sheet, x, 206, "O", upright=True)
        sheet.text(x - 13, 190, name, 12, "right", bold=True)
        sheet.line([(x, 280), (x, 306)], VENT, arrow=True)
    sheet.text(200, 322, "nozzles out of the ports, in the open, mapped one by one", 12)
    sheet.line([(60, 420), (160, 420)], FUEL)
    sheet.line([(190, 420), (470, 420)], FUEL)
    bow(sheet, 250, 420)
    sheet.line([(166, 404), (184, 436)], EDGE, weight=2.4)
    sheet.line([(166, 436), (184, 404)], EDGE, weight=2.4)
    sheet.text(60, 450, ["fuel shut off, drained, disconnected", "and capped: no fuel near this test"], 12)
    sheet.text(270, 398, "F valves: their plug J2 is out", 12)
    block(
        sheet,
        560,
        66,
        412,
        110,
        "Plug J2: loads instead of F coils",
        [
            ", ".join(f"{ohm_text(coil.dummy_ohm)} for {coil.name}" for coil in facts.coils() if coil.letter == "F"),
            "The code sees its currents and goes on; nothing can open.",
            "F timing is read from the drivers, the valves' own closing",
            "times were measured on the bench.",
        ],
    )
    low, high = facts.setting("rpm_min"), facts.setting("rpm_max")
    fuel_mid = (facts.setting("fuel_low_mv") + facts.setting("fuel_top_mv")) / 2
    block(
        sheet,
        560,
        192,
        412,
        110,
        "Signals for what is not running",
        [
            f"engine pulses: square wave {facts.pulse_hz((low + high) / 2):.0f} Hz ({(low + high) / 2:.0f} rpm)",
            f"fuel supply and block: {facts.fuel_bar(fuel_mid):.2f} bar of air on both sensors,",
            f"or {fuel_mid / 1e3:.2f} V in their place",
            "throttle by hand; engine cold, chocked, magnetos off",
        ],
    )
    block(
        sheet,
        560,
        318,
        412,
        126,
        "What to read, two channels at a time",
        [
            f"O coil to F load: lead, at least {facts.ticks_ms('lead_ticks')} ms",
            f"F load to O coil at release: tail, {facts.ticks_ms('tail_ticks')} ms at most",
            f"stage to stage: stagger {facts.ticks_ms('stagger_ticks')} ms",
            f"release to F off: {3 * TICK_MS} ms at most at the pin",
            "first shot and warm, high and low volts, warm and cold bottle",
        ],
    )
    _gas_table(sheet, facts)
    sheet.frame(GAS_CAUTION, facts.origin, (OXIDIZER, FUEL, VENT))
    return sheet


def _gas_table(sheet: Sheet, facts: Facts) -> None:
    sheet.text(
        40, 500, "CO2 stands in for nitrous oxide: liquid and vapour at nearly the same pressures", 14, bold=True
    )
    rows = gas_rows()
    sheet.text(40, 528, ["bottle °C", "N2O bar", "CO2 bar"], 12, bold=True, spacing=1.8)
    x = 160.0
    for celsius, nitrous_bar, carbon_bar in rows:
        sheet.text(
            x,
            528,
            [f"{celsius:g}", f"{nitrous_bar:.1f}", f"{carbon_bar:.1f}" if carbon_bar else "-"],
            12,
            "right",
            spacing=1.8,
        )
        x += 62
    sheet.line([(40, 542), (x - 40, 542)], GUIDE)
    permit, top = facts.installation.limits.supply_permit, facts.installation.limits.supply_top
    window = [PropsSI("T", "P", pressure, "Q", 0, "CO2") - CELSIUS for pressure in (permit, top)]
    sheet.text(
        40,
        608,
        [
            f"READY needs {permit / 1e5:.3g} to {top / 1e5:.3g} bar: with CO2 a bottle at {window[0]:.0f} to {window[1]:.0f} °C. Above 31 °C CO2 is no liquid at any pressure.",
            "Computed with CoolProp. It is no oxidizer, but it suffocates, freezes and bursts bottles all the same; flow differs by some per cent: timing only, no jets.",
            "What it cannot show: fuel, flame, mixture, and how a valve wears in nitrous oxide. Afterwards: vent, refit, leak-test every joint that was open.",
        ],
        12,
        spacing=1.5,
    )


def gas_rows() -> list[tuple[float, float, float | None]]:
    """Saturation pressures of both gases by temperature, bar; nothing where CO2 is no liquid."""
    rows: list[tuple[float, float, float | None]] = []
    for celsius in (-10, 0, 5, 10, 15, 20, 25, 30, 33):
        kelvin = celsius + CELSIUS
        carbon = PropsSI("P", "T", kelvin, "Q", 0, "CO2") / 1e5 if kelvin < 304.1 else None
        rows.append((celsius, nitrous.saturation_pressure_pa(kelvin) / 1e5, carbon))
    return rows
