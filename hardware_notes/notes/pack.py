"""The interface between valve pack and cabin wiring: connectors, pins, currents, resistances, line ends.

Three connectors of different shells, so that none fits another's place: J1 for the O coils, J2 for the F coils alone,
which is pulled for every test without fuel, and J3 for signals. Built from the stages of the installation.
"""

from dataclasses import dataclass

from notes.facts import Coil, Facts
from oxlatch_sim.physics import wire


@dataclass(frozen=True)
class Pin:
    """One pin of a connector."""

    number: int
    name: str
    goes_to: str
    gauge: str
    current: str
    reads: str


@dataclass(frozen=True)
class Connector:
    """One connector of the valve pack."""

    name: str
    carries: str
    pins: list[Pin]


@dataclass(frozen=True)
class LineEnd:
    """One end of a line at the valve pack."""

    name: str
    fluid: str
    count: int
    bore: str
    note: str


SIGNAL_GAUGE = "No. 22"


def connectors(facts: Facts) -> list[Connector]:
    """J1, J2 and J3."""
    oxidizer, fuel = facts.coil("oxidizer"), facts.coil("fuel")
    numbers = range(1, facts.stages + 1)
    first = [pin for n in numbers for pin in _coil_pins(facts, oxidizer, f"O{n}", "O rail")]
    first += _coil_pins(facts, facts.coil("purge"), "PURGE", "P rail")
    second = [pin for n in numbers for pin in _coil_pins(facts, fuel, f"F{n}", "F rail")]
    if facts.installation.master_fuel_valve is not None:
        second += _coil_pins(facts, facts.coil("master_fuel"), "F MASTER", "F rail")
    return [
        Connector("J1", "O coils", _numbered(first)),
        Connector("J2", "F coils", _numbered(second)),
        Connector("J3", "signals", _numbered(_signals(facts))),
    ]


def _coil_pins(facts: Facts, coil: Coil, name: str, rail: str) -> list[tuple[str, str, str, str, str]]:
    gauge, current = f"No. {coil.valve.wire_gauge}", f"{coil.cold_a:.1f} A"
    loop = wire.resistance_ohm(coil.valve.wire_gauge, coil.valve.wire_length, 293.15)
    reads = f"{coil.valve.resistance + loop:.2f} Ω to its pair, no pressure, 20 °C"
    return [(f"{name} +", rail, gauge, current, reads), (f"{name} -", "its driver", gauge, current, "")]


def _signals(facts: Facts) -> list[tuple[str, str, str, str, str]]:
    rows: list[tuple[str, str, str, str, str]] = []
    fitted = set(facts.installation.sensors.fitted)
    if "oxidizer proof" in fitted:
        for n in range(1, facts.stages + 1):
            rows.append((f"PROOF {n} feed", "bus, 1 A fuse", SIGNAL_GAUGE, "5 mA", "open without pressure"))
            rows.append((f"PROOF {n}", "register and wired AND", SIGNAL_GAUGE, "5 mA", ""))
    sensors = [("PL", "line pressure")]
    if "fuel pressure" in fitted:
        sensors.append(("PF", "fuel supply"))
    if "master fuel valve" in fitted:
        sensors.append(("PB", "fuel block"))
    for tag, what in sensors:
        rows.append((f"{tag} 5 V", "sensor supply", SIGNAL_GAUGE, "10 mA", ""))
        rows.append(
            (f"{tag} signal", f"converter, {what}", SIGNAL_GAUGE, "", f"{_at_rest(facts, tag):.2f} V at no pressure")
        )
        rows.append((f"{tag} ground", "sensor ground", SIGNAL_GAUGE, "10 mA", ""))
    rows.append(("IDENTITY out", "MASTER pole 2", SIGNAL_GAUGE, "5 mA", "joined in the pack to the pin"))
    rows.append(
        (f"IDENTITY {facts.stages}", "register, MASTER input", SIGNAL_GAUGE, "5 mA", f"for {facts.stages} stages")
    )
    rows.append(("SHIELD", "controller ground, one end", "braid", "", ""))
    return rows


def _at_rest(facts: Facts, tag: str) -> float:
    sensors = facts.installation.sensors
    sensor = sensors.supply if tag == "PL" else sensors.fuel
    seen = 101_325.0 if sensor.reference == "absolute" else 0.0
    return 0.5 + 4.0 * seen / sensor.full_scale


def _numbered(rows: list[tuple[str, str, str, str, str]]) -> list[Pin]:
    return [Pin(number, *row) for number, row in enumerate(rows, start=1)]


def line_ends(facts: Facts) -> list[LineEnd]:
    """Every end of a line at the valve pack, none interchangeable between O and F."""
    of = facts.installation
    ends = [
        LineEnd("O inlet", "O", 1, facts.short(of.feed.bore, "bore"), "from the bottle's hand valve"),
        LineEnd(
            "purge outlet", "O", 1, facts.short(of.feed.purge_jet, "bore"), "hole; two where both sides are watched"
        ),
        LineEnd("line relief outlet", "O", 1, "as the relief's own", "overboard, no valve in it"),
        LineEnd("F inlet", "F", 1, facts.short(of.fuel.line_bore, "bore"), "after the firewall shut-off"),
    ]
    for number, stage in enumerate(of.stages, start=1):
        ends.append(
            LineEnd(
                f"O{number} branches",
                "O",
                stage.nozzles,
                facts.short(stage.oxidizer_branch_bore, "bore"),
                "equal lengths",
            )
        )
        ends.append(
            LineEnd(
                f"F{number} branches", "F", stage.nozzles, facts.short(stage.fuel_branch_bore, "bore"), "equal lengths"
            )
        )
    return ends
