"""The whole system on one sheet, and its pipes on another."""

from notes.facts import Facts
from notes.ink import EDGE, FUEL, OXIDIZER, SIGNAL, VENT, WIRE, Sheet
from notes.symbols import block, bottle, bubble, filter_body, hand_valve, relief, solenoid
from oxlatch.vocabulary import TICK_MS

GAS_CAUTION = "CAUTION: oxidizer under pressure, and gasoline. Engine maker, gas supplier, local rules and licensed practice come first."


def system(facts: Facts) -> Sheet:
    """Cockpit, controller, power and valve pack, and what runs between them."""
    sheet = Sheet("The whole system", "Blocks of the system and what runs between them.")
    _cockpit(sheet, facts)
    _controller(sheet, facts)
    _power(sheet, facts)
    _pack(sheet, facts)
    sheet.frame(GAS_CAUTION, facts.origin, (OXIDIZER, FUEL, WIRE, SIGNAL))
    return sheet


def _cockpit(sheet: Sheet, facts: Facts) -> None:
    sheet.text(28, 68, "COCKPIT", 14, bold=True)
    switches = [
        "MASTER, guarded, two poles",
        f"STAGE 1 to {facts.stages}, maintained",
        "PURGE, momentary",
        "ACK, momentary",
    ]
    block(sheet, 28, 96, 196, 150, "Switches", [*switches, "", "In flow nothing is touched", "but the throttle."])
    throttle = ["detent at its end stop", "contact, NO and NC pole", "contact, third pole: rails", "position sensor"]
    block(sheet, 28, 268, 196, 132, "Throttle", [*throttle, "", "Push through: on. Pull: off."])
    lamps = [
        "READY green",
        "FLOW white",
        "CHECK amber",
        "STOP red",
        "purge light, tone",
        "",
        "at most four words: why",
        "Dark: no boost.",
    ]
    block(sheet, 28, 422, 196, 166, "Lamps and words", lamps)


def _controller(sheet: Sheet, facts: Facts) -> None:
    sheet.text(290, 68, "CONTROLLER", 14, bold=True)
    sheet.rectangle(290, 96, 210, 412)
    rows = (
        ("Pins", "registers, converter, pulses"),
        ("Sense", "samples become verdicts"),
        ("Permits", "verdicts become reasons"),
        ("Sequencer", "asks for valves"),
        ("Gate", "permits or drops each valve"),
    )
    y = 110.0
    for name, words in rows:
        sheet.rectangle(300, y, 190, 46)
        sheet.text(308, y + 16, name, 13, bold=True)
        sheet.text(308, y + 33, words, 12)
        if name != "Gate":
            sheet.line([(395, y + 46), (395, y + 66)], SIGNAL, arrow=True)
        y += 66
    sheet.text(
        304, 446, [f"one tick each {TICK_MS} ms,", "no interrupt, no second core;", "journal and link only listen"], 12
    )
    for y, words in ((170.0, "panel"), (340.0, "contact"), (376.0, "travel")):
        sheet.line([(224, y), (290, y)], SIGNAL, arrow=True)
        sheet.text(260, y - 12, words, 12, "middle")
    sheet.line([(290, 490), (224, 490)], SIGNAL, arrow=True)
    sheet.text(257, 478, "lamps", 12, "middle")
    block(sheet, 290, 534, 210, 86, "Bench computer", ["flash, watch, pull, replay:", "on the ground, over serial"])
    sheet.line([(395, 534), (395, 508)], SIGNAL, arrow=True)


def _power(sheet: Sheet, facts: Facts) -> None:
    sheet.text(566, 68, "POWER", 14, bold=True)
    electrical = facts.installation.electrical
    bus = [
        f"{electrical.nominal:g} V, breaker {electrical.feed_breaker:g} A",
        "master pole, contactor",
        f"supervisor {electrical.hard:g} V",
    ]
    block(sheet, 566, 96, 186, 86, "Bus and master", bus)
    run = [
        f"one-shot {facts.one_shot_ms:.0f} ms, kicked by",
        "the loop, each tick",
        "F rail needs the contact,",
        f"O rail {facts.off_delay_ms:.0f} ms longer",
    ]
    block(sheet, 566, 216, 186, 98, "Run switch", run)
    drivers = [
        "one FET a coil, low side",
        "current above hold, trip",
        "wired AND for each F:",
        "command, O current, proof",
        "F clamps fast, O slow",
    ]
    block(sheet, 566, 348, 186, 114, "Drivers", drivers)
    sheet.line([(659, 182), (659, 216)], WIRE, arrow=True)
    sheet.line([(659, 314), (659, 348)], WIRE, arrow=True)
    sheet.line([(224, 286), (238, 286), (238, 82), (546, 82), (546, 240), (566, 240)], SIGNAL, arrow=True)
    sheet.text(546, 204, "third pole", 12, "middle", patch=True)
    sheet.line([(490, 404), (566, 404)], SIGNAL, arrow=True)
    sheet.text(532, 416, "valves", 12, "middle")
    sheet.line([(490, 386), (524, 386), (524, 290), (566, 290)], SIGNAL, arrow=True)
    sheet.text(524, 334, "kick", 12, "middle", patch=True)


def _pack(sheet: Sheet, facts: Facts) -> None:
    sheet.text(790, 68, "VALVES AND SUPPLIES", 14, bold=True)
    block(
        sheet, 790, 96, 182, 86, "O supply", ["bottle, hand valve, relief", "feed line, filter", "line pressure sensor"]
    )
    oxidizer = [
        f"stage valves O1 to O{facts.stages}",
        f"proof switches 1 to {facts.stages}",
        "purge valve at far end",
        "line relief",
    ]
    block(sheet, 790, 216, 182, 98, "O block", oxidizer)
    fuel = [
        "after firewall shut-off:",
        "supply pressure sensor",
        "master valve",
        "block pressure sensor",
        f"stage valves F1 to F{facts.stages}",
    ]
    block(sheet, 790, 348, 182, 114, "F block", fuel)
    engine = [
        f"{facts.installation.engine.cylinders} cylinders; nozzles O and F at each intake port,",
        "or ahead of the plenum for a small stage;",
        "ignition pulses tell the controller its speed",
    ]
    block(sheet, 566, 530, 386, 78, "Engine", engine)
    sheet.line([(881, 182), (881, 216)], OXIDIZER, arrow=True)
    sheet.line([(972, 264), (984, 264), (984, 572), (952, 572)], OXIDIZER, arrow=True)
    sheet.line([(881, 462), (881, 530)], FUEL, arrow=True)
    sheet.line([(752, 390), (790, 390)], WIRE, arrow=True)
    sheet.line([(771, 390), (771, 270), (790, 270)], WIRE, arrow=True)
    sheet.dot(771, 390)
    sheet.line([(566, 572), (532, 572), (532, 490), (500, 490)], SIGNAL, arrow=True)
    sheet.text(545, 497, ["pulses, pressures,", "proof switches"], 12)


def plumbing(facts: Facts) -> Sheet:
    """Every pipe, valve and sensor, with bores and lengths."""
    sheet = Sheet("Pipes, valves and sensors", "Piping of oxidizer and fuel from bottle and tank to the nozzles.", 780)
    _oxidizer_side(sheet, facts)
    _fuel_side(sheet, facts)
    sheet.frame(GAS_CAUTION, facts.origin, (OXIDIZER, FUEL, VENT))
    return sheet


def _oxidizer_side(sheet: Sheet, facts: Facts) -> None:
    bottle_of, feed = facts.installation.bottle, facts.installation.feed
    mouth, _top = bottle(sheet, 60, 204, 72, 190)
    sheet.line([(mouth, 200), (mouth, 378)], EDGE, weight=1.0)
    charge = [
        f"bottle with dip tube, {facts.short(bottle_of.charge, 'mass')} by weight,",
        f"service pressure {facts.short(bottle_of.service_pressure, 'pressure')},",
        "held for crash loads, out of the sun,",
        "not in a closed cabin without relief line",
    ]
    sheet.text(150, 300, charge, 12)
    sheet.line([(mouth, 204), (mouth, 114), (390, 114)], OXIDIZER)
    hand_valve(sheet, mouth, 170, upright=True)
    sheet.text(124, 170, "hand valve, opened slowly", 12)
    sheet.line([(64, 236), (40, 236), (40, 210)], VENT)
    relief(sheet, 40, 196)
    sheet.line([(40, 173), (40, 92)], VENT, arrow=True)
    sheet.text(
        54, 76, f"bottle relief {facts.short(bottle_of.relief_pressure, 'pressure')}, overboard, never plugged", 12
    )
    filter_body(sheet, 220, 114)
    sheet.text(220, 140, "filter", 12, "middle")
    sheet.text(310, 114, "O", 13, "middle", bold=True, patch=True)
    line = [
        f"feed line, bore {facts.short(feed.bore, 'bore')}, {facts.short(feed.length, 'arm')}:",
        "fire sleeve near hot parts,",
        "away from fuel lines",
    ]
    sheet.text(150, 210, line, 12)
    sheet.rectangle(390, 92, 568, 44)
    sheet.text(400, 78, "O valve block", 13, bold=True)
    sheet.line([(390, 114), (930, 114)], OXIDIZER)
    bubble(sheet, 424, 114, "PL")
    sheet.line([(486, 114), (486, 154)], VENT)
    relief(sheet, 486, 168, down=True)
    sheet.line([(486, 191), (486, 226)], VENT, arrow=True)
    sheet.text(486, 242, ["line relief,", "overboard"], 12, "middle")
    _branches(sheet, facts, 576, 114, "O")
    _purge_end(sheet, facts)


def _branches(sheet: Sheet, facts: Facts, x: float, y: float, letter: str) -> None:
    """Stage valves of one block, hanging down to their nozzles."""
    fluid = OXIDIZER if letter == "O" else FUEL
    for number, stage in enumerate(facts.installation.stages, start=1):
        bore = stage.oxidizer_branch_bore if letter == "O" else stage.fuel_branch_bore
        length = stage.oxidizer_branch_length if letter == "O" else stage.fuel_branch_length
        sheet.line([(x, y), (x, y + 172)], fluid)
        solenoid(sheet, x, y + 58, letter, upright=True)
        sheet.text(x - 14, y + 46, f"{letter}{number}", 13, "right", bold=True)
        if letter == "O":
            sheet.line([(x, y + 94), (x + 18, y + 94)], EDGE, weight=1.0)
            bubble(sheet, x + 32, y + 94, f"S{number}", 14)
            jet(sheet, x, y + 124)
            if number == 1:
                sheet.text(x - 22, y + 92, ["jets: one", "a nozzle"], 12, "right")
        else:
            check_valve_down(sheet, x, y + 140)
        nozzle(sheet, x, y + 178)
        words = [
            f"{stage.nozzles} nozzle{'s' if stage.nozzles > 1 else ''}",
            f"bore {facts.short(bore, 'bore')}",
            facts.short(length, "arm") + " each",
        ]
        sheet.text(x, y + 208, words, 12, "middle")
        x += 104


def jet(sheet: Sheet, x: float, y: float) -> None:
    """A metering jet in a line that runs down: two wedges that leave a hole."""
    sheet.shape([(x - 13, y - 7), (x - 3, y), (x - 13, y + 7)], filled=True)
    sheet.shape([(x + 13, y - 7), (x + 3, y), (x + 13, y + 7)], filled=True)


def check_valve_down(sheet: Sheet, x: float, y: float) -> None:
    """A check valve in a line that runs down."""
    sheet.shape([(x - 9, y - 9), (x + 9, y - 9), (x, y + 8)], paper=True)
    sheet.line([(x - 10, y + 8), (x + 10, y + 8)], EDGE, weight=2.4)


def nozzle(sheet: Sheet, x: float, y: float) -> None:
    """A nozzle that sprays down."""
    sheet.shape([(x - 6, y - 8), (x + 6, y - 8), (x + 3, y + 4), (x - 3, y + 4)], filled=True)
    for dx in (-9, 0, 9):
        sheet.line([(x, y + 5), (x + dx, y + 15)], EDGE, weight=0.9)


def _purge_end(sheet: Sheet, facts: Facts) -> None:
    sheet.line([(914, 114), (930, 114), (930, 252)], OXIDIZER)
    solenoid(sheet, 930, 172, "O", upright=True)
    sheet.text(916, 160, "purge", 13, "right", bold=True)
    jet(sheet, 930, 222)
    sheet.line([(930, 252), (930, 290)], VENT, arrow=True)
    hole = facts.short(facts.installation.feed.purge_jet, "bore")
    sheet.text(976, 308, [f"hole {hole},", "at the far end:", "no dead leg;", "outlet overboard"], 12, "right")


def _fuel_side(sheet: Sheet, facts: Facts) -> None:
    y = 470.0
    sheet.rectangle(32, y - 30, 84, 60)
    sheet.text(74, y, "tank", 13, "middle", bold=True)
    sheet.line([(116, y), (930, y)], FUEL)
    hand_valve(sheet, 150, y)
    sheet.circle(204, y, 15, paper=True)
    sheet.shape([(198, y - 8), (198, y + 8), (213, y)], filled=True)
    filter_body(sheet, 254, y)
    sheet.rectangle(290, y - 14, 34, 28, paper=True)
    sheet.line([(295, y + 10), (319, y - 10)], EDGE, weight=1.2)
    for x, words in ((150.0, ["firewall", "shut-off"]), (204.0, ["pump"]), (254.0, ["filter"]), (307.0, ["regulator"])):
        sheet.text(x, y + 30, words, 12, "middle")
    sheet.line([(354, y), (354, y - 46)], FUEL, arrow=True)
    sheet.dot(354, y)
    sheet.text(354, y - 60, "to the engine", 12, "middle")
    bubble(sheet, 402, y, "PF")
    has_master = facts.installation.master_fuel_valve is not None
    if has_master:
        solenoid(sheet, 462, y, "F")
    sheet.text(462, y - 50, "F master" if has_master else "no F master", 13, "middle", bold=True)
    sheet.rectangle(510, y - 22, 448, 44)
    sheet.text(520, y - 38, "F valve block", 13, bold=True)
    sheet.text(626, y - 38, "a short hose before it: trapped fuel must not swing", 12)
    bubble(sheet, 914, y, "PB")
    _branches(sheet, facts, 576, y, "F")
    _fuel_words(sheet, facts, y)


def _fuel_words(sheet: Sheet, facts: Facts, y: float) -> None:
    fuel = facts.installation.fuel
    referenced = "manifold-referenced" if fuel.manifold_referenced else "not manifold-referenced"
    words = [
        f"{facts.short(fuel.set_pressure, 'fuel pressure')} above the outside air, {referenced},",
        f"line bore {facts.short(fuel.line_bore, 'bore')}, {facts.short(fuel.line_length, 'arm')}.",
        "The tap may never starve the engine: pump and line",
        "carry engine and all stages, see the fuel page of the plan.",
        "",
        "PL  line pressure at the block",
        "PF  fuel supply before the master valve",
        "PB  fuel block between master and stage valves",
        "S   proof switch: oxidizer is there, before its jets",
        "O and F never share a fitting size.",
    ]
    sheet.text(32, y + 78, words, 12)
    sheet.text(976, y + 60, ["check valves at", "the F nozzles keep", "branches full"], 12, "right")
