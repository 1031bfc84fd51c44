"""Cards for the cockpit: placards, altitude, seconds, checklists, emergencies. Few words, large."""

from oxlatch_sim.physics import atmosphere
from oxlatch_sim.physics.validity import PhysicsRangeError
from oxlatch_tools.cards.card import Block, Card, Caution, Grid, Picture, Placard, Steps, Words
from oxlatch_tools.planning.altitude import altitude_table, strongest_of
from oxlatch_tools.planning.altitude_picture import draw_altitude
from oxlatch_tools.planning.bottle_limits import pressure_at
from oxlatch_tools.planning.endurance import endurance
from oxlatch_tools.planning.ink import canvas_of, in_style, png_of, settle
from oxlatch_tools.planning.page import pattern_name
from oxlatch_tools.planning.plan import Plan
from oxlatch_tools.presentation import Units, number_text, quantity_text

SECONDS_AT_K = (289.15, 293.15, 298.15, 303.15)
PICTURE_DOTS = 220


def placards(plan: Plan, units: Units) -> Card:
    """Notices to cut out, for bottle, panel, purge outlet and filler."""
    installation = plan.installation
    bottle, engine, limits = installation.bottle, installation.engine, installation.limits
    page = plan.page("bottle")

    def text(value: float, kind: str) -> str:
        return quantity_text(value, kind, units)

    locked = [pattern_name(p) for p in installation.patterns() if not installation.is_tested(p)]
    speeds = f"{number_text(engine.boost_speed_low, 'rotation', units)} to {text(engine.boost_speed_high, 'rotation')}"
    airspeed = installation.aircraft.boost_airspeed_limit
    window = f"{page.figure('coldest').text(units)} to {page.figure('hottest').text(units)}"
    pressures = f"{number_text(limits.supply_permit, 'pressure', units)} to {text(limits.supply_top, 'pressure')}"
    blocks: list[Block] = [
        Placard(
            "BOOST LIMITS",
            [
                f"Full throttle, full rich, {speeds}",
                f"Not above {airspeed / 0.514444:.0f} kt ({airspeed * 3.6:.0f} km/h) indicated",
                f"Bottle {window} ({pressures} absolute)",
                f"Longest run {text(installation.timing.longest_run, 'time')}. Stages by the altitude card only",
                f"Locked, not tested: {', '.join(locked) if locked else 'none'}",
                "Never plan a take-off that needs boost",
            ],
        ),
        Placard(
            "NITROUS OXIDE: OXIDIZER UNDER PRESSURE",
            [
                "No oil, no grease, no flame. Open the bottle slowly.",
                "Relief line overboard. Never above 52 °C (125 °F).",
            ],
        ),
        Placard(
            "FILL BY WEIGHT",
            [
                f"Empty {text(bottle.tare, 'mass')}, full {text(bottle.tare + bottle.charge, 'mass')}",
                f"Nitrous at most {text(bottle.fill_limit * bottle.volume, 'mass')}, on a scale, by a licensed filler",
            ],
        ),
        Placard("PURGE OUTLET", ["Stand clear. Cold liquid and gas. Keep open."]),
        Placard("MASTER OFF", ["Stops everything. First answer to any doubt."]),
        Placard("RELIEF OUTLET", ["Keep clear. Do not plug."]),
    ]
    return Card("placards", "Placards, to be cut out", "A4", blocks)


def altitude_card(plan: Plan, units: Units) -> Card:
    """The table of the controller: strongest pattern by pressure altitude and outside air."""
    table = altitude_table(plan.installation)
    fahrenheit = units == "us"
    head = ["Altitude", *(_degrees(column, fahrenheit) for column in table.columns_k)]
    rows = []
    for row_m, masks in reversed(list(zip(table.rows_m, table.masks, strict=True))):
        feet = f"{row_m / atmosphere.FOOT_M:.0f} ft"
        name = feet if fahrenheit else f"{feet}  {row_m:.0f} m"
        best = [strongest_of(plan.installation, mask) for mask in masks]
        rows.append([name, *(pattern_name(pattern) if pattern else "–" for pattern in best)])
    return Card(
        "altitude",
        "Stages by altitude",
        "A5",
        [
            Words(
                [
                    "Pressure altitude (altimeter on 1013 hPa, 29.92 in) and",
                    f"outside air ({'°F' if fahrenheit else '°C'}), both rounded DOWN. –: no boost.",
                ],
                11.5,
            ),
            Grid(head, rows, (0.31, *[0.0986] * len(table.columns_k)), size=11.5, row_mm=5.7),
            Caution(["Read again at every field. Boost lost: no boost at once."]),
        ],
    )


def _degrees(kelvin: float, fahrenheit: bool) -> str:
    value = 1.8 * (kelvin - 273.15) + 32 if fahrenheit else kelvin - 273.15
    return f"{value:.0f}°"


def altitude_chart(plan: Plan, units: Units) -> Card:
    """The same table as a picture, for the back of the altitude card."""
    with in_style():
        canvas = canvas_of(5.1, 5.9)
        axes = canvas.subplots()
        draw_altitude(plan.installation, units, axes, size=14)
        settle(canvas, top=0.02)
        png = png_of(canvas, PICTURE_DOTS)
    words = Words(
        [
            "Strongest pattern by stage number, from the same table.",
            "Hatched: no boost. Dotted: density altitude, dry air.",
        ],
        11.5,
    )
    return Card("altitude-chart", "Stages by altitude, as a picture", "A5", [words, Picture(png)])


def seconds_card(plan: Plan, units: Units) -> Card:
    """Seconds of every pattern from a full bottle at several temperatures."""
    installation = plan.installation
    usable = [kelvin for kelvin in SECONDS_AT_K if _is_ready_at(plan, kelvin)]
    rows = []
    for pattern in installation.patterns():
        state = "" if installation.is_tested(pattern) else " LOCKED"
        cells = [_seconds(plan, pattern, kelvin) for kelvin in usable]
        rows.append(
            [
                pattern_name(pattern) + state,
                quantity_text(installation.pattern_power_w(pattern), "power", units),
                *cells,
            ]
        )
    rows.append(["no boost", quantity_text(0.0, "power", units), *["–"] * len(usable)])
    width = 0.5 / max(len(usable), 1)
    longest = quantity_text(installation.timing.longest_run, "time", units)
    warning = quantity_text(installation.timing.warn_before, "time", units)
    purge = quantity_text(installation.timing.purge, "tenths", units)
    return Card(
        "seconds",
        "Seconds of boost",
        "A5",
        [
            Words([f"Full bottle at {'°F' if units == 'us' else '°C'}, one purge, until flow stops by itself."], 12),
            Grid(
                ["Stages", "Adds", *(_degrees(kelvin, units == "us") for kelvin in usable)],
                rows,
                (0.28, 0.22, *[width] * len(usable)),
                size=13,
                row_mm=9,
            ),
            Words(
                [
                    f"The controller ends a run after {longest}; tone {warning} before.",
                    f"Purge at least {purge}.",
                    "Estimated within about 15 %. When boost ends, power falls back to no boost at once.",
                ],
                13,
            ),
            Caution(
                [
                    "These are bottle seconds, not seconds the engine is",
                    "allowed. The engine maker's limits come first.",
                ]
            ),
        ],
    )


def _is_ready_at(plan: Plan, kelvin: float) -> bool:
    limits = plan.installation.limits
    return limits.supply_permit <= pressure_at(plan.installation, kelvin) <= limits.supply_top


def _seconds(plan: Plan, pattern: tuple[int, ...], kelvin: float) -> str:
    try:
        return f"{endurance(plan.installation, plan.feed, pattern, kelvin, with_launches=False).seconds:.0f} s"
    except PhysicsRangeError:
        return "–"


def preflight(plan: Plan, units: Units) -> Card:
    """Before every flight on which boost may be used."""
    installation = plan.installation
    page = plan.page("bottle")
    window = f"{page.figure('coldest').text(units)} to {page.figure('hottest').text(units)}"
    purge = quantity_text(installation.timing.purge, "tenths", units)
    outside = [
        "Bottle secure, in date, weight in the book",
        "Relief line and purge outlet clear, nobody near",
        "No frost, no fuel smell, no oil on fittings",
        "Bottle valve opened slowly, secured open",
    ]
    inside = [
        f"Controller shows {installation.digest}, this card too",
        "Lamps lit in the test, no reason standing",
        "Throttle contact checked against its lamp",
        f"Bottle {window}",
        "Fuel enough, mixture full rich",
        "Stages set by the altitude card, here and now",
    ]
    lined_up = [
        f"MASTER on, purge {purge} or more, plume steady",
        "READY green. Not green: go without boost",
        "Said aloud: distance without boost, abort point,",
        "and what I do when boost is lost",
    ]
    return Card(
        "preflight",
        "Before flight",
        "A5",
        [
            Steps("Outside", outside, is_ticked=True, size=12.5),
            Steps("Inside", inside, is_ticked=True, size=12.5),
            Steps("Lined up", lined_up, is_ticked=True, size=12.5),
            Caution(["The aircraft's own checklist comes first."]),
        ],
    )


def afterflight(plan: Plan, units: Units) -> Card:
    """After every flight with the bottle aboard."""
    steps = [
        "MASTER off",
        "Bottle valve shut",
        "Nobody near the purge outlet: vent the line until it reads nothing",
        "No frost, no fuel smell",
        "Read the controller's log; refusals too",
        "Weigh the bottle; seconds and weight into the book",
        "Anything unexplained: stages locked until found",
        "Bottle capped, out of the sun, below 52 °C (125 °F)",
    ]
    blocks: list[Block] = [
        Steps("In this order", steps, is_ticked=True, size=14),
        Caution(["A line between two shut valves can burst when it warms:", "leave none full of liquid."]),
    ]
    return Card("afterflight", "After flight", "A5", blocks)


def emergency(plan: Plan, units: Units) -> Card:
    """What to do first, in the order of the hands."""
    worst = plan.departures[0].worst
    planned = "" if worst is None else f" (worst second at home: {quantity_text(worst.needed_m, 'distance', units)})"
    blocks: list[Block] = [
        Steps(
            "BOOST LOST",
            ["Nose down, hold the speed", "Throttle back out of the detent", f"Stop or go on, as planned{planned}"],
            size=12.5,
        ),
        Steps(
            "\u201cCLOSE BOTTLE\u201d: OXIDIZER WILL NOT STOP",
            [
                "MASTER off",
                "Mixture full rich, power back",
                "Shut the bottle by hand",
                "Land; fuel stays shut by itself",
            ],
            size=12.5,
        ),
        Steps(
            "FIRE",
            ["MASTER off", "The aircraft's own fire drill", "Bottle shut if within reach; then away from it"],
            size=12.5,
        ),
        Steps(
            "LEAK IN THE CABIN",
            ["Vents and windows open", "MASTER off, bottle shut", "Land: the gas dulls the mind unnoticed"],
            size=12.5,
        ),
        Words(["Controller dark: no boost, MASTER off."], 12.5, is_bold=True),
        Caution(["The aircraft's handbook comes first."]),
    ]
    return Card("emergency", "Emergency", "A5", blocks)
