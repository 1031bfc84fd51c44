"""The steps of inputs that an installation may do without: each is asked for only where the file says it is fitted."""

from collections.abc import Callable, Iterator

from oxlatch_tools.commissioning.step import DEFERENCE, Measure, Step
from oxlatch_tools.installation import Installation

DRY_CAUTION = "No gas, no fuel, valves dry; lamps or bare coils on the outputs. A hot coil burns skin."
GAS_CAUTION = (
    "Inert gas from its own labelled bottle: it suffocates and freezes. Outdoors, nobody before a nozzle or outlet, "
    "eyes and ears covered."
)
HALF_BAR = 0.5


def yes(key: str, words: str) -> Measure:
    """Something that either is so or is not."""
    return Measure(key, f"{words} (1 yes, 0 no)", "", 1, 1)


def input_steps(installation: Installation) -> Iterator[Step]:
    """Bench steps without gas, in a fixed order."""
    fitted = set(installation.sensors.fitted)
    yield bench_dry_step(installation)
    for part, step in DRY_STEPS.items():
        if part in fitted:
            yield step()


def input_gas_steps(installation: Installation) -> Iterator[Step]:
    """Steps that need inert gas, after the lines are tight."""
    fitted = set(installation.sensors.fitted)
    yield bench_gas_step(installation)
    if "master oxidizer valve" in fitted:
        yield master_oxidizer_step()
    if {"purge outlet 1", "purge outlet 2"} & fitted:
        yield outlets_step()
    if "vent-down" in fitted:
        yield vent_down_step()


def bench_dry_step(installation: Installation) -> Step:
    """Every oxidizer coil by itself, with the key in and no gas."""
    stages = range(1, len(installation.stages) + 1)
    return Step(
        "bench_dry",
        "Bench mode, dry: every oxidizer coil",
        "With the bench key in, a push moves the selected oxidizer coils in order, and never a fuel coil.",
        ("bench key with its flag", "bottle absent, lines at zero, F connectors unplugged", "currents on the link"),
        (DRY_CAUTION, DEFERENCE),
        (
            "key in; MASTER off, then on with PURGE held; lamps amber and white in turn",
            "one selector at a time, then all: push, note the order and the currents, release",
            "put 20 bar of inert gas on the line sensor alone: the mode must end",
            "take the key out, have it counted",
        ),
        (
            *(yes(f"stage_{n}_moves", f"coil of stage {n} and no other") for n in stages),
            Measure("fuel_outputs", "F outputs that came on", "", 0, 0),
            yes("ends_with_pressure", "gas in the line ended it"),
            yes("key_out", "key out and counted"),
        ),
        ("An F output, once: stop.",),
        ("stages", "sensors", "timing"),
        of_firmware=True,
    )


def bench_gas_step(installation: Installation) -> Step:
    """Every oxidizer valve with inert gas behind it."""
    stages = range(1, len(installation.stages) + 1)
    return Step(
        "bench_gas",
        "Bench mode, gas: every oxidizer valve and its nozzles",
        "Which coil moves which valve and which nozzle blows, alone and in every pattern, before the sequence runs.",
        ("bench key with its flag", "carbon dioxide or nitrogen", "F connectors unplugged and capped, fuel off"),
        (GAS_CAUTION, DEFERENCE),
        (
            "key in; MASTER off, then on with ACK held",
            "one stage at a time: push, see which nozzles blow, release; then every pattern",
            "PURGE: see the outlet blow; take the key out, have it counted",
        ),
        (
            *(yes(f"stage_{n}_blows", f"nozzles of stage {n} and no other") for n in stages),
            yes("purge_blows", "purge outlet blows and nothing else"),
            Measure("fuel_outputs", "F outputs that came on", "", 0, 0),
            yes("key_out", "key out and counted"),
        ),
        ("A nozzle of another stage: stop; lines are crossed.",),
        ("stages", "feed", "oxidizer_valve", "purge_valve", "sensors", "timing"),
        of_firmware=True,
    )


def bottle_temperature_step() -> Step:
    """Skin sensor of the bottle."""
    return Step(
        "bottle_temperature",
        "Bottle temperature sensor",
        "It reads the skin, refuses a warm bottle, trips on an overheated one, and a broken lead refuses.",
        ("contact thermometer", "resistors for the trip values", "bottle soaked for an hour in still air"),
        ("A bottle is never warmed for this: resistors stand in for heat.", DEFERENCE),
        (
            "compare with the contact thermometer, twice, hours apart",
            "resistor for a warm bottle: refused; for an overheated one: trips; lead off, lead shorted: refused",
        ),
        (
            Measure("error_k", "largest difference from the contact thermometer", "K", -2, 2),
            yes("warm_refused", "warm bottle refused"),
            yes("hot_trips", "overheated bottle trips"),
            yes("broken_lead_refuses", "open and shorted lead refuse"),
        ),
        ("A broken lead that reads a number: stop.",),
        ("sensors", "limits"),
        of_firmware=True,
    )


def air_step() -> Step:
    """Barometer and outside thermometer."""
    return Step(
        "air_data",
        "Barometer and outside air",
        "The controller's row is the card's row, and a broken sensor gives the least.",
        ("altimeter set to station pressure", "thermometer in shade", "altitude card of this installation"),
        ("Ground test, engine off.", DEFERENCE),
        (
            "compare pressure and temperature on the link with both instruments",
            "find today's row on the card; compare with the link",
            "each lead off: AIR SIGNAL BAD, first row; cabin fan and cowl flaps: pressure must not move",
        ),
        (
            Measure("pressure_error_hpa", "difference of pressure", "hPa", -3, 3),
            Measure("temperature_error_k", "difference of temperature", "K", -3, 3),
            yes("row_as_card", "row on the link is the card's"),
            yes("broken_gives_first_row", "each broken lead gives the first row"),
        ),
        ("A broken sensor that lets more through: stop.",),
        ("sensors", "engine", "ceiling", "stages"),
        of_settings=True,
    )


def knock_step() -> Step:
    """Contact of the knock detector."""
    return Step(
        "knock",
        "Knock detector",
        "Two events within the window stop everything; one does not; the detector hears this engine's block.",
        ("detector as fitted", "rig or panel in simulated flow, lamps on the outputs"),
        (DRY_CAUTION, DEFERENCE),
        ("tap the block once in flow; twice within the window; lead off: note that it is silent",),
        (
            yes("one_tap_goes_on", "one event stops nothing"),
            yes("two_taps_stop", "two events stop everything at once"),
            yes("needs_engine_stopped", "clears only with the engine stopped and ACK held"),
            yes("silence_known", "a cut lead is silent, and the daily test of the detector is on the checklist"),
        ),
        ("Two events that stop nothing: stop.",),
        ("sensors", "limits", "timing"),
        of_firmware=True,
    )


def mixture_step() -> Step:
    """Contact at the rich stop."""
    return _contact_step("mixture_rich", "Contact at full rich", "lever", "a lever pulled back refuses", ("engine",))


def retard_step() -> Step:
    """Output of the ignition."""
    return _contact_step(
        "ignition_retard", "Ignition confirms its retard", "ignition", "an ignition not retarded refuses", ("engine",)
    )


def _contact_step(key: str, title: str, what: str, refuses: str, sections: tuple[str, ...]) -> Step:
    return Step(
        key,
        title,
        "Nothing becomes ready without it; in flow it stops nothing; a cut lead refuses.",
        ("rig or panel, lamps on the outputs", "linkage and ignition as fitted"),
        (DRY_CAUTION, DEFERENCE),
        (f"work the {what} through its travel with the contact on the link; lead off; lead to ground and noted",),
        (
            yes("refuses", refuses),
            yes("cut_lead_refuses", "a cut lead refuses"),
            yes("stops_nothing", "in simulated flow it stops nothing"),
        ),
        ("A contact that makes away from its place: adjust, begin again.",),
        ("sensors", *sections),
        of_firmware=True,
    )


def fire_step() -> Step:
    """Contact of the fire detector."""
    return Step(
        "fire",
        "Fire detector's contact",
        "Everything off at once, purge barred, and only maintenance clears it.",
        ("detector's own test button", "rig or panel in simulated flow, lamps on the outputs"),
        (DRY_CAUTION, "The detector's own lamp and drill are tested by its own manual first.", DEFERENCE),
        ("press the detector's test in flow; try to purge; power off and on; sign off with the host tool",),
        (
            Measure("off_ms", "contact to every output off", "ms", None, 15),
            yes("purge_barred", "PURGE does nothing afterwards"),
            yes("survives_power", "still locked after power off and on"),
        ),
        ("An output that stays on: stop.",),
        ("sensors",),
        of_firmware=True,
    )


def airspeed_step() -> Step:
    """Airspeed limit."""
    return Step(
        "airspeed",
        "Airspeed limit",
        "Above the limit nothing becomes ready; the aircraft's own airspeed is as right as before.",
        ("water manometer or test set", "pitot and static leak test of the local rules"),
        ("Never blow toward a sensor. Never apply suction to a static line that serves other instruments.", DEFERENCE),
        (
            "three pressures below, at and above the limit; lead off",
            "repeat the aircraft's own pitot and static leak test after the tees are fitted",
        ),
        (
            Measure("refuses_at_percent", "pressure at which it refuses, of that of the limit", "%", 92, 100),
            yes("broken_refuses", "open and shorted lead refuse"),
            yes("leak_test_passed", "the aircraft's own leak test passed"),
        ),
        ("A leak in the aircraft's own lines: no flight until it is mended.",),
        ("sensors", "aircraft", "limits"),
        of_settings=True,
    )


def budget_step() -> Step:
    """Counted content against the scale."""
    return Step(
        "bottle_budget",
        "Counted content against the scale",
        "What the controller counts is what the scale says is gone, on the cautious side.",
        ("scale good to 10 g", "results of the weighed shots", "oxlatch watch"),
        ("Gas as in the weighed shots: their cautions hold.", DEFERENCE),
        (
            "enter a refill: engine stopped, MASTER off, ACK held; the purge must be void afterwards",
            "weigh, purge and shoot as in the weighed shots, weigh; compare with the count on the link",
            "power off and on: the count is remembered",
        ),
        (
            Measure("count_over_scale_percent", "counted over weighed, less 100", "%", -5, 20),
            yes("refill_voids_purge", "a refill voids the purge"),
            yes("remembered", "the count survives power off"),
        ),
        ("A count that runs behind the scale: correct the rated flows; begin again.",),
        ("sensors", "bottle", "feed", "stages", "oxidizer"),
    )


def master_oxidizer_step() -> Step:
    """The valve at the bottle."""
    return Step(
        "master_oxidizer",
        "Master oxidizer valve",
        "Shut it holds; armed it is open; a trip shuts it, also behind a stage valve that is held open.",
        ("inert gas", "pressure logger between master valve and block", "jumper for one O stage coil"),
        (GAS_CAUTION, "A line between two shut valves warms: its relief is in place.", DEFERENCE),
        (
            "disarmed, block vented: log the rise of pressure behind the shut valve for ten minutes",
            "arm: it opens; trip: it shuts; hold one stage coil on by a jumper, trip: the nozzle must fall silent",
            "remove the jumper and have it seen by a second person",
        ),
        (
            Measure("rise_bar", "rise of pressure behind the shut valve in ten minutes", "bar", None, HALF_BAR),
            yes("opens_when_armed", "open when armed"),
            yes("stops_a_stuck_stage", "a trip stops the flow of a stage held open"),
            Measure("jumpers_left", "jumpers left", "", 0, 0),
        ),
        ("Gas past the shut valve: its seat; stop.",),
        ("sensors", "feed", "electrical"),
        of_firmware=True,
    )


def outlets_step() -> Step:
    """Outlet temperatures in a purge."""
    return Step(
        "purge_outlets",
        "Purge outlet temperatures",
        "A purge counts by itself only when every outlet is cold, and a broken sensor is never cold.",
        ("carbon dioxide from its dip tube: liquid is cold enough", "cap for one outlet"),
        (GAS_CAUTION, DEFERENCE),
        ("purge: warm before, cold at its end; one outlet capped; each lead off; ACK still confirms",),
        (
            yes("counts_when_cold", "counts without ACK when every outlet is cold"),
            yes("one_warm_told", "one capped outlet is told, and does not count by itself"),
            yes("broken_is_never_cold", "a broken lead never counts as cold"),
            yes("ack_still_counts", "ACK after the plume still counts"),
        ),
        ("A purge that counts with a warm outlet: stop.",),
        ("sensors", "feed", "purge_valve", "limits"),
        of_firmware=True,
    )


def vent_down_step() -> Step:
    """Emptying the line on the ground."""
    return Step(
        "vent_down",
        "Vent-down of the line",
        "With the bottle shut the purge valve empties the line on the ground, and never counts as a purge.",
        ("inert gas, bottle shut by hand", "gauge at the block"),
        (GAS_CAUTION, "The line stays cold: gloves. A gauge at zero before a fitting is turned.", DEFERENCE),
        ("bottle shut; MASTER on, PURGE held until the line reads empty; the same with pulses of a running engine",),
        (
            Measure("seconds", "time until the line reads empty", "s", None, 60),
            Measure("left_bar", "gauge afterwards", "bar", None, 1),
            yes("no_purge", "no purge is valid afterwards"),
            yes("refused_with_engine", "refused while the engine turns"),
        ),
        ("Pressure that comes back: the bottle is not shut.",),
        ("sensors", "feed", "purge_valve", "timing"),
        of_firmware=True,
    )


DRY_STEPS: dict[str, Callable[[], Step]] = {
    "bottle temperature": bottle_temperature_step,
    "air data": air_step,
    "knock": knock_step,
    "mixture rich": mixture_step,
    "ignition retard": retard_step,
    "fire": fire_step,
    "airspeed": airspeed_step,
}
INPUT_STEPS = (
    "bottle_temperature",
    "air_data",
    "knock",
    "mixture_rich",
    "ignition_retard",
    "fire",
    "airspeed",
    "bottle_budget",
    "master_oxidizer",
    "purge_outlets",
    "vent_down",
)
"""Keys of the steps that belong to one input."""
