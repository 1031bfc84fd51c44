"""Load, voltage at every coil, wires and protection, and the order in which valves close when power fails."""

from dataclasses import dataclass

from oxlatch_sim.physics import coil, wire
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_system import Valve
from oxlatch_tools.planning.duty import duty_findings
from oxlatch_tools.planning.page import COMPUTED, Column, Figure, Finding, Page, Table, pattern_name
from oxlatch_tools.planning.stage_flow import Pattern

COLD_K = 293.15
WIRE_SOURCE = "FAA AC 43.13-1B chapter 11, tables 11-3, 11-6 (intermittent from memory) and 11-9"
COIL_SOURCE = "copper: R ∝ 234.5 °C + T (AC 43.13-1B); pull-in needs the same current hot and cold"
FOOT_M = 0.3048


@dataclass(frozen=True)
class Loads:
    """Coil currents of a pattern, cold coils at the bus in flight: the most they draw."""

    oxidizer: float
    fuel: float
    armed: float = 0.0
    """The master oxidizer valve, energised from arming to disarming."""

    @property
    def total(self) -> float:
        """All of them."""
        return self.oxidizer + self.fuel + self.armed


def bus_class(installation: Installation) -> wire.BusVoltage:
    """The column of the wire tables."""
    return 14 if installation.electrical.nominal < 20 else 28


def coil_current(installation: Installation, valve: Valve) -> float:
    """Steady current of a cold coil at the bus in flight, wiring left out: an upper bound."""
    return installation.electrical.in_flight / valve.resistance


def loads(installation: Installation, pattern: Pattern) -> Loads:
    """Coils of a pattern; the master fuel valve counts with the fuel coils where it is fitted."""
    fuel = len(pattern) * coil_current(installation, installation.fuel_valve)
    if installation.master_fuel_valve is not None:
        fuel += coil_current(installation, installation.master_fuel_valve)
    master = installation.master_oxidizer_valve
    armed = coil_current(installation, master) if master is not None else 0.0
    return Loads(len(pattern) * coil_current(installation, installation.oxidizer_valve), fuel, armed)


def coil_volts(installation: Installation, valve: Valve, pattern: Pattern, bus_v: float, coil_k: float) -> float:
    """Voltage at one coil with a pattern's load on the feed."""
    data = installation.electrical
    feed = wire.drop_v(data.feed_gauge, data.feed_length, loads(installation, pattern).total, data.wire_ambient)
    resistance = coil.copper_resistance_ohm(valve.resistance, COLD_K, coil_k)
    branch = wire.resistance_ohm(valve.wire_gauge, valve.wire_length, data.wire_ambient)
    return max(bus_v - feed - data.contact_loss, 0.0) * resistance / (resistance + branch)


def needed_volts(valve: Valve, coil_k: float) -> float:
    """Voltage that opens the valve against its highest pressure with the coil at a temperature."""
    return coil.copper_resistance_ohm(valve.pull_in, COLD_K, coil_k)


def opens(installation: Installation, pattern: Pattern) -> bool:
    """Whether every hot coil of a pattern opens at the lowest bus let through, and feed and alternator carry it."""
    data = installation.electrical
    for valve in (installation.oxidizer_valve, installation.fuel_valve):
        volts = coil_volts(installation, valve, pattern, data.lowest, data.coil_hot)
        if volts < needed_volts(valve, data.coil_hot):
            return False
    total = loads(installation, pattern).total
    return total <= data.feed_breaker and total + data.base_load <= data.alternator


def electrical_page(installation: Installation, shown: Pattern) -> Page:
    """The page."""
    data = installation.electrical
    load = loads(installation, shown)
    valve = installation.oxidizer_valve
    hot = coil_volts(installation, valve, shown, data.lowest, data.coil_hot)
    page = Page(
        "electrical",
        "Do bus, wires and coils carry it?",
        [
            f"Stage {pattern_name(shown)} draws {{load}} on top of {{base}}; the alternator gives {{alternator}}.",
            "A hot oxidizer coil gets {hot_volts} at the lowest bus the gate lets through and needs {needed}.",
        ],
        figures=[
            Figure("load", "Coils of that pattern", load.total, "current", "bus / R(20 °C), all coils", COMPUTED),
            Figure("base", "Base load", data.base_load, "current", "installation file"),
            Figure("alternator", "Alternator at boost speed", data.alternator, "current", "installation file"),
            Figure(
                "hot_volts",
                "At a hot oxidizer coil, lowest bus",
                hot,
                "voltage",
                "(bus − feed − contacts)·R/(R + wire)",
                f"{WIRE_SOURCE}; {COIL_SOURCE}",
            ),
            Figure(
                "needed",
                "Needed by a hot oxidizer coil",
                needed_volts(valve, data.coil_hot),
                "voltage",
                "pull-in·R(hot)/R(20 °C)",
                COIL_SOURCE,
            ),
            Figure("coil_hot", "Hot coil", data.coil_hot, "temperature", "installation file"),
        ],
        tables=[
            _patterns(installation),
            _coils(installation, shown),
            _wires(installation, shown),
            _order(installation),
            _check(),
        ],
    )
    page.findings = [*_findings(installation, shown), *duty_findings(installation)]
    page.assumptions = [
        "Every coil draws its cold current: a direct-current coil has no inrush beyond that.",
        "Wire hot by its surroundings, not by its own current; full bundles as in the tables.",
        "Pull-in voltage is the file's, measured against the highest pressure.",
    ]
    page.cautions = [
        "Protection stands as close to the bus as possible and opens before any wire overheats.",
        "Never protect the two halves of a pair by separate fuses: one alone blown leaves fuel or oxidizer alone.",
        "Measure voltage at the coils, hot, with everything on.",
    ]
    return page


def _patterns(installation: Installation) -> Table:
    data = installation.electrical
    rows: list[tuple[str | float | None, ...]] = []
    for pattern in installation.patterns():
        load = loads(installation, pattern)
        volts = [
            coil_volts(installation, valve, pattern, data.lowest, data.coil_hot)
            for valve in (installation.oxidizer_valve, installation.fuel_valve)
        ]
        rows.append(
            (
                pattern_name(pattern),
                load.oxidizer,
                load.fuel,
                load.total,
                data.alternator - data.base_load - load.total,
                volts[0],
                volts[1],
                "yes" if opens(installation, pattern) else "NO",
            )
        )
    columns = (
        Column("pattern", "Stages"),
        Column("oxidizer", "O coils", "current"),
        Column("fuel", "F coils", "current"),
        Column("total", "Together", "current"),
        Column("left", "Alternator left", "current"),
        Column("oxidizer_volts", "At O coil, hot, lowest bus", "voltage"),
        Column("fuel_volts", "At F coil, hot, lowest bus", "voltage"),
        Column("opens", "Opens"),
    )
    return Table("patterns", "Every pattern", columns, rows, "bus / R(20 °C)", f"{WIRE_SOURCE}; {COIL_SOURCE}")


def valve_kinds(installation: Installation) -> list[tuple[str, Valve]]:
    """Name and data of every kind of valve that is fitted; the two stage valves come first."""
    found = [
        ("O stage valve", installation.oxidizer_valve),
        ("F stage valve", installation.fuel_valve),
        ("Purge valve", installation.purge_valve),
    ]
    if installation.master_fuel_valve is not None:
        found.append(("F master valve", installation.master_fuel_valve))
    if installation.master_oxidizer_valve is not None:
        found.append(("O master valve", installation.master_oxidizer_valve))
    return found


def _coils(installation: Installation, shown: Pattern) -> Table:
    data = installation.electrical
    rows: list[tuple[str | float | None, ...]] = []
    for name, valve in valve_kinds(installation):
        pattern = () if name == "Purge valve" else shown
        cases = [(data.in_flight, COLD_K), (data.in_flight, data.coil_hot), (data.lowest, data.coil_hot)]
        volts = [coil_volts(installation, valve, pattern, bus, temperature) for bus, temperature in cases]
        needed = needed_volts(valve, data.coil_hot)
        rows.append((name, coil_current(installation, valve), *volts, needed, volts[2] - needed))
    columns = (
        Column("valve", "Coil"),
        Column("current", "Current, cold", "current"),
        Column("cold", "Bus in flight, cold", "voltage"),
        Column("hot", "Bus in flight, hot", "voltage"),
        Column("lowest", "Lowest bus, hot", "voltage"),
        Column("needed", "Needs, hot", "voltage"),
        Column("margin", "Left", "voltage"),
    )
    return Table(
        "coils",
        f"Voltage at the coils, stage {pattern_name(shown)}",
        columns,
        rows,
        "(bus − feed − contacts)·R/(R + wire)",
        COIL_SOURCE,
    )


def _runs(installation: Installation, shown: Pattern) -> list[tuple[str, int, float, float]]:
    """Name, gauge, length and current of every wire run."""
    data = installation.electrical
    runs = [("Feed: bus to run switch", data.feed_gauge, data.feed_length, loads(installation, shown).total)]
    runs += [
        (name, valve.wire_gauge, valve.wire_length, coil_current(installation, valve))
        for name, valve in valve_kinds(installation)
    ]
    return runs


def _wires(installation: Installation, shown: Pattern) -> Table:
    data = installation.electrical
    rating = data.wire_rating
    rows: list[tuple[str | float | None, ...]] = []
    for name, gauge, length, current in _runs(installation, shown):
        protection = wire.protection(gauge) if gauge in wire.PROTECTION else None
        rows.append(
            (
                name,
                f"No. {gauge}",
                length,
                current,
                wire.ampacity_a(gauge, rating),
                wire.drop_v(gauge, length, current, data.wire_ambient),
                protection.breaker_a if protection else None,
            )
        )
    columns = (
        Column("run", "Run, out and back"),
        Column("gauge", "Wire"),
        Column("length", "Length", "arm"),
        Column("current", "Current", "current"),
        Column("carries", "Carries", "current"),
        Column("drop", "Drop", "voltage"),
        Column("breaker", "Largest breaker", "current"),
    )
    allowed = wire.ALLOWED_DROP_V[bus_class(installation)]
    note = (
        f"Allowed drop bus to coil: {allowed['continuous']:g} V continuous, {allowed['intermittent']:g} V intermittent "
        f"(from memory). Feed breaker: {data.feed_breaker:g} A."
    )
    return Table("wires", "Wires and protection", columns, rows, "R·I, copper at the wire's ambient", WIRE_SOURCE, note)


def release_s(installation: Installation, valve: Valve, coil_k: float) -> float:
    """Time for the coil's current to fall to where the valve lets go, power cut, into its clamp."""
    resistance = coil.copper_resistance_ohm(valve.resistance, COLD_K, coil_k)
    start = installation.electrical.in_flight / resistance
    hold = valve.drop_out / valve.resistance
    return 0.0 if hold >= start else coil.release_time_s(start, hold, resistance, valve.inductance, valve.clamp)


def _order(installation: Installation) -> Table:
    data = installation.electrical
    rows: list[tuple[str | float | None, ...]] = []
    for name, valve in valve_kinds(installation):
        rows.append(
            (
                name,
                valve.clamp,
                release_s(installation, valve, COLD_K),
                release_s(installation, valve, data.coil_hot),
                valve.closing,
            )
        )
    columns = (
        Column("valve", "Coil"),
        Column("clamp", "Clamp", "voltage"),
        Column("cold", "Lets go, cold", "milliseconds"),
        Column("hot", "Lets go, hot", "milliseconds"),
        Column("closing", "Shut, from file", "milliseconds"),
    )
    return Table(
        "order",
        "When power fails",
        columns,
        rows,
        "(L/R)·ln((I0 + Vc/R)/(Ih + Vc/R))",
        "first-order circuit",
        "F must shut before O.",
    )


def _check() -> Table:
    rows: list[tuple[str | float | None, ...]] = []
    for feet, current, gauge, published in (
        (107, 20, 6, "0.942"),
        (90, 20, 4, "0.504"),
        (39, 20, 10, "0.98"),
    ):
        rows.append(
            (
                f"{feet} ft, {current} A, No. {gauge}",
                wire.drop_v(gauge, feet * FOOT_M, float(current)),
                published,
            )
        )
    columns = (
        Column("row", "Worked row"),
        Column("computed", "Here", "voltage"),
        Column("published", "Printed (V)"),
    )
    note = (
        "Two rows of the printed tables are misprints and are left out: 19.5 ft prints 0.366 (0.491), 88 ft "
        "prints 3.60 (3.555)."
    )
    return Table(
        "check",
        "The same arithmetic on published rows",
        columns,
        rows,
        "R·L·I",
        "FAA AC 43.13-1B, worked examples",
        note,
    )


def _findings(installation: Installation, shown: Pattern) -> list[Finding]:
    data = installation.electrical
    found = []
    for pattern in installation.patterns():
        if not opens(installation, pattern):
            found.append(
                Finding(
                    "exceeded" if installation.is_tested(pattern) else "note",
                    f"stages {pattern_name(pattern)}",
                    f"{loads(installation, pattern).total:.0f} A: a hot coil may not open at {data.lowest:g} V, or "
                    "feed or alternator is too small",
                    f"pull-in at {data.lowest:g} V, feed breaker {data.feed_breaker:g} A, alternator "
                    f"{data.alternator:g} A",
                    "Thicker wire, a higher bus gate, a stronger valve or alternator.",
                )
            )
    found.extend(_wire_findings(installation, shown))
    if installation.fuel_valve.closing >= installation.oxidizer_valve.closing:
        found.append(
            Finding(
                "exceeded",
                "fuel_valve.closing",
                f"{installation.fuel_valve.closing * 1e3:.0f} ms, not before the oxidizer's "
                f"{installation.oxidizer_valve.closing * 1e3:.0f} ms",
                "less than oxidizer_valve.closing",
                "A faster clamp on fuel coils, a slower one on oxidizer coils.",
            )
        )
    return found


def _wire_findings(installation: Installation, shown: Pattern) -> list[Finding]:
    data = installation.electrical
    rating = data.wire_rating
    allowed = wire.ALLOWED_DROP_V[bus_class(installation)]["intermittent"]
    runs = _runs(installation, shown)
    feed_drop = wire.drop_v(*runs[0][1:], data.wire_ambient)
    found = []
    for name, gauge, length, current in runs:
        carries = wire.ampacity_a(gauge, rating)
        if current > carries:
            found.append(
                Finding(
                    "exceeded",
                    name,
                    f"{current:.1f} A in No. {gauge}",
                    f"up to {carries:g} A",
                    "Thicker wire.",
                )
            )
        drop = wire.drop_v(gauge, length, current, data.wire_ambient)
        total = drop if name.startswith("Feed") else drop + feed_drop
        if total > allowed:
            found.append(
                Finding(
                    "exceeded",
                    name,
                    f"{total:.2f} V lost",
                    f"up to {allowed:g} V",
                    "Thicker or shorter wire.",
                )
            )
    if data.feed_gauge in wire.PROTECTION and data.feed_breaker > wire.protection(data.feed_gauge).breaker_a:
        largest = wire.protection(data.feed_gauge).breaker_a
        found.append(
            Finding(
                "exceeded",
                "electrical.feed_breaker",
                f"{data.feed_breaker:g} A",
                f"up to {largest:g} A for No. {data.feed_gauge}",
            )
        )
    return found
