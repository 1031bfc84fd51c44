"""The gas itself: bottle with relief and vent, purge with its outlet, its light and its clock, nozzles in the port."""

import math

from notes.draw_system import GAS_CAUTION, jet
from notes.facts import Facts
from notes.ink import EDGE, FUEL, GUIDE, OXIDIZER, SIGNAL, VENT, Sheet
from notes.symbols import block, bottle, hand_valve, relief, solenoid
from oxlatch_sim.physics import nitrous
from oxlatch_tools.planning.flow import feed_of
from oxlatch_tools.planning.flux import liquid_flux, saturation_pa

CELSIUS = 273.15
FULL_TABLE_C = (-10, 0, 10, 20, 25, 30, 33)


def bottle_sheet(facts: Facts) -> Sheet:
    """Bottle, mount, relief, vent, and what its temperature does."""
    sheet = Sheet(
        "Bottle, relief and vent",
        "The bottle with its mount, hand valve, relief line and vent, and its pressure by temperature.",
        680,
    )
    _mounted(sheet, facts)
    _pressures(sheet, facts)
    sheet.frame(GAS_CAUTION, facts.origin, (OXIDIZER, VENT))
    return sheet


def _mounted(sheet: Sheet, facts: Facts) -> None:
    of = facts.installation.bottle
    mouth, _top = bottle(sheet, 190, 190, 96, 300)
    sheet.line([(mouth, 196), (mouth, 468), (mouth - 26, 478)], EDGE, weight=1.0)
    for y in (270, 400):
        sheet.rectangle(176, y, 124, 12, paper=True)
        sheet.hatched(150, y - 6, 26, 24)
    sheet.text(40, 276, ["two straps on", "structure, for", "crash loads", "(local rules)"], 12)
    sheet.line([(mouth, 190), (mouth, 110), (540, 110)], OXIDIZER)
    hand_valve(sheet, mouth, 158, upright=True)
    sheet.text(264, 158, "hand valve: slowly, safetied open", 12)
    sheet.line([(208, 216), (120, 216), (120, 178)], VENT)
    relief(sheet, 120, 164)
    sheet.line([(120, 141), (120, 92)], VENT, arrow=True)
    sheet.text(
        40, 76, f"relief {facts.short(of.relief_pressure, 'pressure')}, its own line overboard, no valve in it", 12
    )
    sheet.line([(480, 110), (480, 190)], OXIDIZER)
    hand_valve(sheet, 480, 200, upright=True)
    sheet.line([(480, 214), (480, 262)], VENT, arrow=True)
    sheet.text(462, 250, ["hand vent: the line", "empty before anything", "is opened"], 12, "right")
    sheet.text(480, 92, "feed line", 12)
    words = [
        f"{1e3 * of.volume:.2f} L water volume, never more than {facts.short(of.fill_limit * of.volume, 'mass')} of nitrous, by weight;",
        f"tare {facts.short(of.tare, 'mass')}, charge {facts.short(of.charge, 'mass')}, full {facts.short(of.tare + of.charge, 'mass')}.",
        f"Dip tube bent to where the liquid lies nose-up; below {100 * of.tube_share:g} % it sucks vapour.",
        "Empty and full weight in the mass and balance; cap on whenever it is out.",
        "Never heated by flame, sun or a heater without its own thermostat; never above 52 °C (125 °F).",
        "Filled, tested and retested only by those licensed to. The stamp says when.",
    ]
    sheet.text(40, 520, words, 12)


def _pressures(sheet: Sheet, facts: Facts) -> None:
    of = facts.installation.bottle
    limits = facts.installation.limits
    left, right, top, bottom = 640.0, 960.0, 110.0, 420.0
    low_c, high_c, high_bar = -10.0, 36.0, 80.0

    def place(celsius: float, bar: float) -> tuple[float, float]:
        x = left + (celsius - low_c) / (high_c - low_c) * (right - left)
        return x, bottom - bar / high_bar * (bottom - top)

    sheet.text(600, 76, "Pressure of the liquid, bar absolute", 14, bold=True)
    sheet.line([(left, top), (left, bottom), (right, bottom)], EDGE)
    for degrees in range(-10, 36, 10):
        x, _y = place(degrees, 0)
        sheet.line([(x, bottom), (x, bottom + 6)], EDGE)
        sheet.text(x, bottom + 18, str(degrees), 12, "middle")
    for bar in range(0, 81, 20):
        _x, y = place(0, bar)
        sheet.line([(left - 6, y), (left, y)], EDGE)
        sheet.text(left - 10, y, str(bar), 12, "right")
    sheet.text((left + right) / 2, bottom + 40, "bottle, °C", 12, "middle")
    points = [place(c / 2, nitrous.saturation_pressure_pa(c / 2 + CELSIUS) / 1e5) for c in range(-20, 72)]
    sheet.line(points, OXIDIZER)
    for value, words in ((limits.supply_permit, "READY from"), (limits.supply_top, "READY up to")):
        celsius = nitrous.saturation_temperature_k(value) - CELSIUS
        x, y = place(celsius, value / 1e5)
        sheet.line([(left, y), (x, y), (x, bottom)], GUIDE)
        sheet.text(left + 8, y - 10, f"{words} {value / 1e5:.3g} bar: {celsius:.0f} °C", 12, patch=True)
    density = of.charge / of.volume
    full = nitrous.liquid_full_temperature_k(density) - CELSIUS
    words_below = [
        "Saturation pressure, computed with CoolProp",
        "(Lemmon and Span 2006). These are bottle pressures;",
        "under flow the block sees less.",
        f"This charge fills the bottle with liquid at {full:.0f} °C: above,",
        "pressure climbs by bars per kelvin until the relief opens.",
    ]
    sheet.text(600, 490, words_below, 12)


def purge(facts: Facts) -> Sheet:
    """Where the outlet goes, what the light hangs on, and the purge's clock."""
    sheet = Sheet(
        "Purge: outlet, light and clock",
        "Placement of the purge outlet, the purge light and the time line of a purge.",
        700,
    )
    _placement(sheet)
    _light(sheet, facts)
    _clock(sheet, facts)
    sheet.frame(GAS_CAUTION, facts.origin, (OXIDIZER, SIGNAL, VENT))
    return sheet


def _placement(sheet: Sheet) -> None:
    sheet.text(40, 72, "Outlet, seen from above", 14, bold=True)
    sheet.curve(
        "M 290,96 Q 214,104 206,170 L 206,330 Q 212,420 262,430 L 318,430 Q 368,420 374,330 L 374,170 Q 366,104 290,96 Z",
        EDGE,
    )
    sheet.line([(220, 96), (360, 96)], EDGE, weight=3)
    sheet.line([(206, 210), (40, 226), (40, 262), (206, 262)], EDGE, weight=1.2)
    sheet.line([(374, 210), (540, 226), (540, 262), (374, 262)], EDGE, weight=1.2)
    sheet.curve("M 244,250 Q 290,226 336,250 L 344,330 L 236,330 Z", EDGE)
    sheet.text(290, 296, "cabin", 12, "middle")
    for x, y in ((206, 190), (374, 190)):
        sheet.circle(x, y, 6, filled=True)
    sheet.line([(206, 190), (150, 168)], VENT, arrow=True)
    sheet.line([(374, 190), (430, 168)], VENT, arrow=True)
    sheet.text(146, 152, "outlet", 13, "right", bold=True)
    sheet.text(434, 152, "outlet", 13, bold=True)
    sheet.text(290, 132, "inlet: away", 12, "middle")
    sheet.text(290, 162, ["exhaust: away"], 12, "middle")
    sheet.text(60, 300, ["static ports, cabin air,", "canopy seams: away", "and not downstream"], 12)
    sheet.text(396, 300, ["seen by the pilot,", "nobody within reach,", "nobody smoking"], 12)
    words = [
        "Both sides if the plume is judged by eye; equal lines, equal holes. Outlet turned down and aft,",
        "with a screen against insects, open to drain. Cold liquid burns skin and ices what it meets.",
        "Look again in flight test: a cloud in the cabin or an airspeed that twitches moves the outlet.",
    ]
    sheet.text(40, 456, words, 12)


def _light(sheet: Sheet, facts: Facts) -> None:
    sheet.text(600, 72, "Purge light", 14, bold=True)
    coil = facts.coil("purge")
    sheet.line([(600, 150), (760, 150)], OXIDIZER)
    solenoid(sheet, 660, 150, "O")
    sheet.text(660, 172, "purge valve", 12, "middle")
    jet(sheet, 730, 150)
    sheet.line([(760, 150), (800, 150)], VENT, arrow=True)
    sheet.line([(660, 113), (660, 94), (820, 94)], EDGE)
    block(sheet, 820, 72, 152, 46, "Driver, sense", [f"hold {coil.parameters.hold_sense_a:.2f} A"])
    sheet.line([(896, 118), (896, 196)], SIGNAL, arrow=True)
    sheet.circle(896, 212, 15)
    sheet.line([(886, 202), (906, 222)], EDGE, weight=1.2)
    sheet.line([(886, 222), (906, 202)], EDGE, weight=1.2)
    sheet.text(874, 212, "light", 12, "right")
    words = [
        'Lit by the comparator "purge current above',
        'hold", not by the lamp bit: it shows current in',
        "the coil, also when nothing asked for it.",
        "One on each side where both are watched.",
        "",
        f"Hole {facts.short(facts.installation.feed.purge_jet, 'bore')}: {1e3 * purge_kg_s(facts):.0f} g/s of liquid with",
        "the bottle at 20 °C (computed, two-phase",
        f"orifice); the feed line holds {1e3 * line_kg(facts):.0f} g.",
    ]
    sheet.text(600, 250, words, 12)


def purge_kg_s(facts: Facts) -> float:
    """Flow of the purge at 20 °C bottle temperature."""
    feed = feed_of(facts.installation)
    return feed.purge_m2 * liquid_flux(feed.block_pa(saturation_pa(293.15), feed.purge_m2))


def line_kg(facts: Facts) -> float:
    """Liquid that fills the feed line at 20 °C."""
    feed = facts.installation.feed
    return math.pi / 4 * feed.bore**2 * feed.length * nitrous.liquid_density_kg_m3(293.15)


def _clock(sheet: Sheet, facts: Facts) -> None:
    sheet.text(40, 524, "Clock of a purge", 14, bold=True)
    y = 580.0
    sheet.line([(60, y), (940, y)], EDGE, weight=2)
    marks = (
        (60.0, "pressed", f"{facts.ticks_ms('purge_press_ticks')} ms"),
        (330.0, "long enough", f"{facts.ticks_ms('purge_ticks') / 1e3:g} s"),
        (500.0, "at most", f"{facts.ticks_ms('purge_max_ticks') / 1e3:g} s"),
        (610.0, "released: ACK within", f"{facts.ticks_ms('purge_confirm_ticks') / 1e3:g} s"),
        (900.0, "void after", f"{facts.ticks_ms('purge_valid_ticks') / 60e3:g} min"),
    )
    for x, words, value in marks:
        sheet.line([(x, y - 8), (x, y + 8)], EDGE)
        sheet.text(x, y - 20, words, 12, "middle" if x > 100 else "left")
        sheet.text(x, y + 22, value, 12, "middle" if x > 100 else "left", bold=True)
    good = f"above {facts.supply_bar(facts.setting('line_thin_mv')):g} bar for its last {facts.ticks_ms('purge_good_ticks') / 1e3:g} s"
    sheet.line([(200, y - 4), (330, y - 4)], EDGE, weight=4)
    sheet.text(196, y + 22, good, 12, "middle")
    sheet.text(755, y + 22, f"after a run {facts.ticks_ms('purge_after_run_ticks') / 60e3:g} min", 12, "middle")


def nozzles(facts: Facts) -> Sheet:
    """Nozzles of O and F in an intake port, and ahead of a plenum."""
    sheet = Sheet(
        "Nozzles: place, aim, spacing", "Section through an intake port and through a plenum inlet with nozzles.", 700
    )
    _port(sheet, facts)
    _plenum(sheet)
    _nozzle_words(sheet, facts)
    sheet.frame(GAS_CAUTION, facts.origin, (OXIDIZER, FUEL))
    return sheet


def _port(sheet: Sheet, facts: Facts) -> None:
    sheet.text(40, 72, "At the port (section)", 14, bold=True)
    sheet.curve("M 60,190 L 330,190 Q 410,192 440,250 L 470,310", EDGE)
    sheet.curve("M 60,290 L 300,290 Q 350,292 372,326 L 390,350", EDGE)
    sheet.line([(390, 350), (470, 310)], EDGE, weight=4)
    sheet.line([(430, 330), (452, 372)], EDGE, weight=2)
    sheet.text(392, 378, "intake valve", 12, "right")
    sheet.line([(70, 240), (130, 240)], EDGE, arrow=True)
    sheet.text(70, 224, "air", 12)
    for x, fluid, letter in ((210.0, OXIDIZER, "O"), (290.0, FUEL, "F")):
        sheet.line([(x - 50, 104), (x, 186), (x + 20, 219)], fluid)
        for dx, dy in ((52, 18), (56, 34), (40, 48)):
            sheet.line([(x + 22, 222), (x + 22 + dx, 222 + dy)], EDGE, weight=0.8)
        sheet.text(x - 64, 104, letter, 14, "right", bold=True)
    sheet.line([(210, 186), (210, 160), (290, 160), (290, 186)], GUIDE)
    sheet.text(314, 160, "spacing: one bore of the port at most", 12)
    sheet.line([(232, 300), (232, 320), (390, 320), (390, 356)], GUIDE)
    sheet.text(214, 334, "two to five bores", 12, "left", patch=True)
    stages = facts.installation.stages
    ported = ", ".join(str(n) for n, stage in enumerate(stages, start=1) if stage.delivery == "port")
    sheet.text(
        40, 404, f"Stages {ported or 'none'} of the example spray here, one nozzle of O and of F a cylinder.", 12
    )


def _plenum(sheet: Sheet) -> None:
    sheet.text(560, 72, "Ahead of a plenum (section)", 14, bold=True)
    sheet.line([(570, 190), (760, 190), (800, 130), (960, 130)], EDGE)
    sheet.line([(570, 270), (760, 270), (800, 330), (960, 330)], EDGE)
    sheet.line([(640, 196), (664, 264)], EDGE, weight=4)
    sheet.text(624, 290, "throttle plate", 12, "middle")
    sheet.line([(580, 230), (618, 230)], EDGE, arrow=True)
    for y, down, fluid, letter in ((112.0, 1, OXIDIZER, "O"), (348.0, -1, FUEL, "F")):
        sheet.line([(690, y), (720, y + down * 84), (732, y + down * 116)], fluid)
        sheet.text(676, y, letter, 14, "right", bold=True)
        for dx, dy in ((46, 10), (52, 0), (46, -10)):
            sheet.line([(736, 230), (736 + dx, 230 + dy)], EDGE, weight=0.8)
    for y in (160.0, 230.0, 300.0):
        sheet.line([(880, y), (950, y)], EDGE, arrow=True)
    sheet.text(880, 200, "to the cylinders", 12, "middle")
    sheet.text(
        560,
        372,
        [
            "opposed, meeting in the middle, downstream of the plate,",
            "and only for a small stage: cylinders share it unevenly.",
        ],
        12,
    )


def _nozzle_words(sheet: Sheet, facts: Facts) -> None:
    words = [
        "Position: the same place and clock angle in every port, beyond the last bend, so that no spray lands on a wall, a shaft, a sensor or an injector.",
        "Aim: with the flow, 20 to 45 degrees off the wall, F into the spray of O or just behind it, so that the two meet in the air and not on metal.",
        "Spacing: O and F of a pair together; pairs of different stages at least three nozzle diameters apart, none in the wake of another.",
        "Obstruction: a nozzle may take no more than 2 per cent of the port's area and must not reach past its middle; check the plate's full swing.",
        f"Branches: equal length within {100 * facts.installation.stages[0].branch_length_spread:g} per cent, equal bends, no low point that keeps fuel, clipped so that none can chafe or loosen into the port.",
        "Jets: each marked with its bore and letter; O and F threads differ; a loose jet is held by wire or thread lock that oxidizer does not attack.",
        "Check valves in F branches keep them full: an emptied branch is a lean gap at the start that no purge removes.",
        "All of this is judgement and common practice, no source. Flow-check every nozzle on the bench, then let exhaust temperatures tell.",
    ]
    sheet.text(40, 446, words, 12, spacing=1.55)
