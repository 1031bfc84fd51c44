"""What the pilot sees and touches: the panel, and the states with their lamps."""

from notes.facts import Facts
from notes.ink import EDGE, Sheet
from notes.symbols import block
from oxlatch.lamps import LAMPS
from oxlatch.vocabulary import LAMP_BLINK, LAMP_ON, STATE_NAMES

CAUTION = "CAUTION: boost can end at any second. Never plan a take-off that needs it. Engine maker and the aircraft's handbook come first."
LAMP_WORDS = ("green", "white", "amber", "red", "purge")
PLACES = {
    "WAKE": (40, 92),
    "HELD": (40, 232),
    "REST": (220, 92),
    "SERVICE": (220, 232),
    "WAITING": (410, 92),
    "PURGING": (410, 232),
    "READY": (600, 92),
    "LEAD-IN": (790, 92),
    "RUN": (790, 232),
    "RUN-DOWN": (790, 372),
    "GAP": (600, 372),
    "TRIP": (220, 432),
    "BENCH-GAS": (40, 432),
    "BENCH-DRY": (40, 522),
}
WIDTH, HEIGHT = 150.0, 74.0


def lamps_of(state: str) -> str:
    """The lamps of a state in words."""
    word = LAMPS[STATE_NAMES.index(state)]
    lit = [(lamp, word >> (2 * index) & 3) for index, lamp in enumerate(LAMP_WORDS)]
    lit = [(lamp, level) for lamp, level in lit if level in (LAMP_ON, LAMP_BLINK)]
    if len(lit) == len(LAMP_WORDS):
        return "all, lamp test"
    if len(lit) > 1 and all(level == LAMP_BLINK for _lamp, level in lit):
        return ", ".join(lamp for lamp, _level in lit) + " blink"
    return ", ".join(f"{lamp} blinks" if level == LAMP_BLINK else lamp for lamp, level in lit) or "dark"


def states(facts: Facts) -> Sheet:
    """States, their lamps, and the ways between them."""
    sheet = Sheet("States and lamps", "The states of the controller with their lamps and the ways between them.", 710)
    for name in STATE_NAMES:
        x, y = PLACES[name]
        block(sheet, x, y, WIDTH, HEIGHT, name, ["", lamps_of(name)], 14)
    _ways(sheet)
    sheet.text(
        410,
        468,
        [
            "TRIP comes from every state but SERVICE and the first moment of WAKE;",
            "it blinks red from latch L3 up. It ends as its latch says:",
            "L1 throttle released; L2 cause gone and MASTER off;",
            "L3 engine stopped, MASTER off, ACK held; L4 maintenance.",
            "MASTER off ends every other state in REST, a flow by way of RUN-DOWN.",
            "SERVICE ends in WAKE.",
        ],
        12,
    )
    sheet.text(
        206,
        572,
        [
            "BENCH: from REST, engine stopped, bench key in, MASTER on with ACK (gas) or PURGE (dry) held; ends in REST.",
            "Oxidizer valves alone; every F output is held off.",
        ],
        12,
    )
    sheet.text(
        40,
        640,
        "Notes light CHECK and sound the tone where they are told. The words shown are those of the first reason standing; all of them are on the link.",
        12,
    )
    sheet.frame(CAUTION, facts.origin)
    return sheet


def _ways(sheet: Sheet) -> None:
    ways = (
        ([(190, 112), (220, 112)], "MASTER off", (205, 78)),
        ([(115, 166), (115, 232)], "anything on", (122, 198)),
        ([(190, 269), (205, 269), (205, 150), (220, 150)], "", None),
        ([(295, 166), (295, 232)], "host asks", (302, 198)),
        ([(370, 129), (410, 129)], "MASTER on", (390, 78)),
        ([(485, 166), (485, 232)], "PURGE", (492, 198)),
        ([(450, 232), (450, 166)], "", None),
        ([(560, 112), (600, 112)], "guards true", (580, 78)),
        ([(600, 150), (560, 150)], "", None),
        ([(750, 129), (790, 129)], "push", (770, 78)),
        ([(865, 166), (865, 232)], "all stages on", (872, 198)),
        ([(865, 306), (865, 372)], "release", (872, 338)),
        ([(960, 150), (976, 150), (976, 409), (940, 409)], "", None),
        ([(790, 409), (750, 409)], "shut", (770, 360)),
        ([(675, 372), (675, 198), (545, 198), (545, 166)], "contact open", (578, 212)),
        ([(295, 432), (295, 380), (115, 380), (115, 306)], "latch over, throttle still forward", (122, 366)),
    )
    for points, words, place in ways:
        first, *rest = points
        start = (940, first[1]) if first == (960, 150) else first
        sheet.line([start, *rest], EDGE, arrow=True)
        if place is not None:
            side = "middle" if place[1] in (78, 360) else "left"
            sheet.text(place[0], place[1], words, 12, side)


def cockpit(facts: Facts) -> Sheet:
    """One arrangement of the panel: what is apart, guarded, shaped."""
    sheet = Sheet(
        "Panel: one arrangement",
        "Switches, lamps and words on the panel, with what is guarded, set apart or shaped.",
        560,
    )
    sheet.rectangle(60, 90, 880, 260)
    _master(sheet)
    for index in range(facts.stages):
        x = 330 + 80 * index
        _toggle(sheet, x, 250)
        sheet.text(x, 300, f"STAGE {index + 1}", 12, "middle", bold=True)
    sheet.text(330 + 40 * (facts.stages - 1), 322, "set before the run, by the altitude card", 12, "middle")
    for x, button, size in ((720, "PURGE", 26), (860, "ACK", 18)):
        if button == "PURGE":
            sheet.circle(x, 250, size)
            sheet.circle(x, 250, size - 7)
        else:
            sheet.rectangle(x - size, 250 - size, 2 * size, 2 * size)
        sheet.text(x, 300, button, 12, "middle", bold=True)
    for index, (name, lamp) in enumerate(
        (("READY", "green"), ("FLOW", "white"), ("CHECK", "amber"), ("STOP", "red"), ("PURGE", "white"))
    ):
        x = 330 + 80 * index
        sheet.circle(x, 136, 17)
        sheet.text(x, 168, name, 12, "middle", bold=True)
        sheet.text(x, 185, lamp, 12, "middle")
    sheet.rectangle(720, 112, 190, 46)
    sheet.text(815, 135, "PURGE", 16, "middle", bold=True)
    sheet.text(815, 174, "at most four words", 12, "middle")
    words = [
        "MASTER: guarded, apart from everything, reached without looking; down is off. It kills all rails in hardware and is the first answer to any doubt.",
        "STAGE: maintained, lever-locked. Moved in flow: off drops that stage, on waits for the next push.",
        "PURGE and ACK: momentary, apart, of different shape, neither beside MASTER. Nothing but the throttle is touched in flow.",
        "Lamps by the published convention: red warning, amber caution, green ready, white for anything else; flow is not green on purpose.",
        "Shaded, dimmable, tested at each start. A dead controller is all dark: treat it as inoperative. The tone goes into the intercom.",
    ]
    sheet.text(60, 384, words, 12, spacing=1.55)
    sheet.frame(CAUTION, facts.origin)
    return sheet


def _master(sheet: Sheet) -> None:
    sheet.rectangle(110, 130, 120, 150)
    sheet.line([(110, 150), (230, 150)], EDGE)
    _toggle(sheet, 170, 225)
    sheet.text(170, 140, "guard", 12, "middle")
    sheet.text(170, 300, "MASTER", 13, "middle", bold=True)


def _toggle(sheet: Sheet, x: float, y: float) -> None:
    sheet.circle(x, y, 15)
    sheet.line([(x, y), (x, y + 30)], EDGE, weight=6)
