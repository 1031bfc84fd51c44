"""Parts by generic type and rating, with ratings computed from the installation."""

from notes.facts import ONE_SHOT_HIGH_MS, ONE_SHOT_LOW_MS, RATING_SHARE, REFERENCE_V, Coil, Facts
from notes.preferred import ohm_text

Row = tuple[str, str, str, str]


def groups(facts: Facts) -> list[tuple[str, list[Row]]]:
    """Headings with their rows: part, number, type and rating, why."""
    return [
        ("Controller box", _controller(facts)),
        ("Power", _power(facts)),
        ("Drivers", _drivers(facts)),
        ("Cockpit", _cockpit(facts)),
        ("Sensors", _sensors(facts)),
        ("Valves, lines, bottle", _plumbing(facts)),
        ("Bench rig", _rig(facts)),
    ]


def _controller(facts: Facts) -> list[Row]:
    return [
        ("board", "1", "two-core microcontroller board with 264 kB of memory, MicroPython", "runs the firmware"),
        ("converter", "1", "eight channels, 12 bit, SPI, sends a zero bit before its answer", "sensors, bus, rail, reference"),
        ("input registers", "5", "eight bits, parallel in, 3.3 V, in one chain", "switches, proofs, currents"),
        ("output register", "1", "eight bits, serial in, latched", "lamps and tone"),
        ("lockout memory", "1", "ferroelectric, SPI, 1 kbit or more", "written within a tick, kept without power"),
        ("reference", "1", f"{REFERENCE_V:g} V, 0.5 %, of its own supply", "checks the converter, sets comparators"),
        ("supplies", "2", "5 V for sensors and 3.3 V for logic, from the bus, 40 V transients", "ride through a load dump"),
        ("supply supervisor", "1", "about 3.0 V, open-drain reset", "holds the chip in reset"),
        ("one-shot", "1", f"retriggerable, {ONE_SHOT_LOW_MS} to {ONE_SHOT_HIGH_MS} ms, edge-triggered, with a clear input", "drops the rails when the loop stops"),
        ("AND gates", str(facts.stages), "three inputs, 3.3 V", "wired interlock of each F driver"),
        ("box", "1", "metal, bonded lid, vented, in the cabin", "interference, fuel vapour"),
    ]  # fmt: skip


def _power(facts: Facts) -> list[Row]:
    electrical = facts.installation.electrical

    def rating(current: float) -> str:
        return f"{RATING_SHARE * current:.0f} A or more at {electrical.surge:g} V"

    return [
        ("breaker", "1", f"{electrical.feed_breaker:g} A, trip-free, at the bus", f"protects No. {electrical.feed_gauge} wire"),
        ("contactor", "1", f"{rating(facts.every_coil_a)}, direct current, coil {electrical.nominal:g} V with its own diode", "all rails; a relay welds"),
        ("F rail switch", "1", f"high side, {rating(facts.fuel_rail_a)}, status output", "part of the run switch"),
        ("O rail switch", "1", f"high side, {rating(facts.oxidizer_rail_a)}, status output", "part of the run switch"),
        ("P rail switch", "1", f"high side, {rating(facts.coil('purge').cold_a)}, status output", "part of the run switch"),
        ("bus comparator", "1", f"{electrical.hard:g} V with 0.2 V of hysteresis", "clears the one-shot"),
        ("bleeder", "1", f"{ohm_text(facts.bleeder_ohm)}, {RATING_SHARE * electrical.surge**2 / facts.bleeder_ohm:.1f} W or more", "rail reads dead in time"),
        ("transient clamp", "1", f"standoff above {electrical.surge:g} V, load-dump rated", "alternator"),
    ]  # fmt: skip


def _drivers(facts: Facts) -> list[Row]:
    rows: list[Row] = []
    for coil in facts.coils():
        number = str(coil.count)
        rows.append(
            (
                f"FET, {coil.name}",
                number,
                f"N-channel, fully on at 3 V, {RATING_SHARE * coil.drain_v:.0f} V, {RATING_SHARE * coil.cold_a:.0f} A or more",
                "drain sees surge and clamp",
            )
        )
        rows.append((f"clamp, {coil.name}", number, _clamp(coil), "order of shutting without software"))
        rows.append(
            (
                f"sense, {coil.name}",
                number,
                f"{ohm_text(coil.sense_ohm)}, 1 %, {RATING_SHARE * coil.cold_a**2 * coil.sense_ohm:.1f} W, four-wire",
                "hold and trip current",
            )
        )
    total = str(sum(coil.count for coil in facts.coils()))
    rows.append(("sense amplifiers", total, "gain 20, offset under 0.1 mV, common mode to ground", "levels stay put"))
    rows.append(
        ("comparators", str(2 * int(total)), "rail-to-rail inputs, 5 mV of hysteresis", "above hold, above trip")
    )
    return rows


def _clamp(coil: Coil) -> str:
    if coil.valve.clamp < 2:
        return f"plain diode, {RATING_SHARE * coil.cold_a:.0f} A pulse, across the coil"
    return f"diode and {coil.valve.clamp:g} V avalanche part, {RATING_SHARE * coil.cold_a:.0f} A, {RATING_SHARE * 1e3 * coil.clamp_j:.0f} mJ, across the coil"


def _cockpit(facts: Facts) -> list[Row]:
    return [
        ("MASTER", "1", "two poles, guarded, maintained; pole 1 for the contactor coil (inductive derating of AC 43.13-1B table 11-4)", "single kill"),
        ("STAGE switches", str(facts.stages), "one pole, maintained, lever-locked or shape-coded", "pre-selection"),
        ("PURGE", "1", "one pole, momentary, away from MASTER", "purge"),
        ("ACK", "1", "one pole, momentary, of another shape", "plume confirmed, L3 cleared"),
        ("contact", "1", "changeover, snap action, three poles moved together, behind the detent", "the push"),
        ("throttle sensor", "1", "ratiometric, 0.5 to 4.5 V, sealed", "the other witness"),
        ("lamps", "4", "green, white, amber, red, readable in sunlight", "READY, FLOW, CHECK, STOP"),
        ("purge lights", "1 or 2", "from the purge current comparator", "current, not command"),
        ("tone", "1", "into the intercom", "end of the run, notes"),
        ("display", "1", "four words, over the link", "the reason"),
    ]  # fmt: skip


def _sensors(facts: Facts) -> list[Row]:
    sensors = facts.plant.sensors
    of = facts.installation.sensors
    relief = facts.installation.bottle.relief_pressure
    rows: list[Row] = [
        ("line pressure", "1", f"0.5 to 4.5 V over {facts.short(of.supply.full_scale, 'pressure')} {of.supply.reference}, proof pressure above {facts.short(relief, 'pressure')}, cleaned for oxidizer", "bottle window"),
        ("fuel supply, fuel block", "2", f"0.5 to 4.5 V over {facts.short(of.fuel.full_scale, 'pressure')} {of.fuel.reference}, for gasoline", "pump, leaks"),
        ("proof switches", str(facts.stages), f"close at {sensors.proof_on_pa / 1e5:g} bar rising, open at {sensors.proof_off_pa / 1e5:g} bar falling (the simulator's), within 5 ms, cleaned for oxidizer", "flow behind each O valve"),
        ("engine pulses", "1", f"low side of the ignition or a pick-up, {facts.pulses_per_turn:g} a turn", "engine speed"),
    ]  # fmt: skip
    return rows + [(part, "1", rating, why) for part, rating, why in FURTHER if part in of.fitted]


FURTHER = (
    ("bottle temperature", "thermistor under a clamp, 10 kΩ at 25 °C, its table in the board file", "window of the bottle, content"),
    ("air data", "barometer 0.5 to 4.5 V, and a thermistor as for the bottle in outside air", "altitude table"),
    ("knock", "detector with its own sensor and a contact for each event", "two events stop everything"),
    ("purge outlet 1", "type K thermocouple bonded to the pipe, amplifier with its cold junction made good, 122 times over 1.25 V", "no air left in the line"),
    ("purge outlet 2", "as outlet 1", "the second outlet"),
    ("mixture rich", "contact at the lever's rich stop", "full rich before a start"),
    ("ignition retard", "contact or output of the ignition that confirms it", "retarded before a start"),
    ("fire", "contact of a detector with its own supply and lamp", "everything off"),
    ("airspeed", "difference of pitot and static pressure, 0.5 to 4.5 V, with a drain", "limit before a start"),
)
"""Sensors that may be left out, by the name of their part in the installation file."""


def _plumbing(facts: Facts) -> list[Row]:
    of = facts.installation
    rows: list[Row] = []
    for coil in facts.coils():
        valve = coil.valve
        rows.append(
            (
                f"{coil.name}",
                str(coil.count),
                f"normally closed, opens against {facts.short(valve.highest_pressure, 'pressure')}, bore {facts.short(valve.bore, 'bore')}, {valve.resistance:g} Ω, shuts in {1e3 * valve.closing:.0f} ms",
                "seat material by the gas supplier's list",
            )
        )
    rows += [
        ("bottle", str(of.bottle.count), f"{1e3 * of.bottle.volume:.2f} L, service {facts.short(of.bottle.service_pressure, 'pressure')}, dip tube, in date", "an approved transport cylinder"),
        ("bottle relief", str(of.bottle.count), f"{facts.short(of.bottle.relief_pressure, 'pressure')}, as the cylinder's rules say", "own line overboard"),
        ("line relief", "1", f"above {facts.short(of.limits.line_trapped, 'pressure')}, below every line rating", "liquid trapped between shut valves"),
        ("feed line", "1", f"bore {facts.short(of.feed.bore, 'bore')}, {facts.short(of.feed.length, 'arm')}, rated above the line relief, cleaned", ""),
        ("filters", "2", "O: sintered metal, cleaned; F: as the aircraft's own", "dirt holds valves open"),
        ("check valves", str(sum(stage.nozzles for stage in of.stages)), "at each F nozzle, opens at little pressure", "branches stay full"),
        ("hand vent", "1", "slow, overboard", "line empty before work"),
    ]  # fmt: skip
    return rows


def _rig(facts: Facts) -> list[Row]:
    rows: list[Row] = [
        ("supply", "1", f"0 to 20 V, limited to {1.2 * sum(coil.count * coil.parameters.hold_sense_a * 1.5 for coil in facts.coils()):.0f} A", "sags and surges by hand"),
        ("potentiometers", "4", "5 kΩ, linear, ten turns", "throttle, line, fuel, block"),
        ("pulse generator", "1", f"square wave, 50 to 200 Hz, 0 to {facts.installation.electrical.nominal:g} V", "engine speed"),
        ("relays", str(facts.stages), "small, closes within 20 ms, beside each O load", "proof switches"),
        ("toggles", str(facts.stages + 6), "one pole", "MASTER, STAGE, proofs failed, poles apart"),
        ("contact", "1", "three-pole changeover with a spring", "the push"),
    ]  # fmt: skip
    for coil in facts.coils():
        volts = facts.installation.electrical.in_flight
        rows.append(
            (
                f"load, {coil.name}",
                str(coil.count),
                f"{ohm_text(coil.dummy_ohm)}, wire-wound, {RATING_SHARE * volts**2 / coil.dummy_ohm:.0f} W, with a small lamp",
                "a coil's current without a coil",
            )
        )
    return rows
