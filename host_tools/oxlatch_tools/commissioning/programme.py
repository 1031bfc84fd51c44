"""The ordered test programme of one installation. Limits come from the file; what is judgement says so."""

from collections.abc import Iterator

from oxlatch_tools.commissioning.programme_engine import engine_steps
from oxlatch_tools.commissioning.programme_gas import gas_steps
from oxlatch_tools.commissioning.programme_inputs import input_steps
from oxlatch_tools.commissioning.programme_wiring import residual_step, wired_gate_step, wiring_faults_step
from oxlatch_tools.commissioning.step import DEFERENCE, Measure, Step
from oxlatch_tools.installation import Installation

VALVES = ("oxidizer_valve", "fuel_valve", "purge_valve", "master_fuel_valve")


def programme(installation: Installation) -> list[Step]:
    """Every step, in the order in which they open."""
    return [
        *controller_steps(installation),
        wired_gate_step(installation),
        wiring_faults_step(installation),
        *input_steps(installation),
        *gas_steps(installation),
        residual_step(installation),
        *engine_steps(installation),
    ]


def controller_steps(installation: Installation) -> Iterator[Step]:
    """What is proved on the bench before any gas: the controller, its coils, its detent."""
    yield Step(
        "acceptance",
        "Controller accepted",
        "The controller runs exactly the firmware and settings that were proved, and says so itself.",
        ("bench controller, lamps on the valve outputs", "inject strap fitted", "out/prove.json of this firmware"),
        ("Lamps, never valves, on the outputs while the inject strap is fitted.", DEFERENCE),
        (
            "oxlatch prove --json > out/prove.json",
            "oxlatch flash --port PORT FILE; keep the certificate",
            "oxlatch replay --port PORT RECORDING for every bundled scenario",
            "remove the strap; reset; confirm that the start-up record lists what is not fitted",
        ),
        (
            Measure("certificate_proved", "certificate names the proof (1 yes, 0 no)", "", 1, 1),
            Measure("replay_differences", "ticks that differ in the replays", "", 0, 0),
            Measure("resets_with_pulse", "output pulses over 1 ms in 1000 resets", "", 0, 0),
        ),
        ("Any difference: do not go on; the build is not the one that was proved.",),
        (),
        of_firmware=True,
        of_settings=True,
    )
    yield coil_step(installation)
    yield Step(
        "power_cut",
        "Power cut and sagged at random",
        "Fuel current never outlasts oxidizer hold, whatever the supply does.",
        ("coil currents on two channels of a recorder", "supply that can be switched and ramped"),
        ("Valves dry and without pressure. Coils get hot: watch the duty.", DEFERENCE),
        (
            "cut the supply at 1000 random moments of a dry sequence",
            "ramp the bus slowly to nothing and back",
            "dip it for 5 to 500 ms",
            "halt the code on purpose",
        ),
        (
            Measure("fuel_outlasts_ms", "longest fuel current with oxidizer below hold", "ms", None, 5),
            Measure("halt_to_dead_ms", "code halted to coils dead", "ms", None, 35),
        ),
        ("Fuel outlasting oxidizer once is a failure; look at the clamps.",),
        (*VALVES, "electrical"),
        of_firmware=True,
    )
    yield Step(
        "detent",
        "Detent contact against throttle travel",
        "The contact closes only behind the stop, cold and hot, and both poles agree.",
        ("panel or oxlatch watch", "throttle linkage complete"),
        ("Engine off, bottle absent. Keep hands clear of the linkage.", DEFERENCE),
        ("push ten times with gloves, ten without", "repeat with the cable cold and hot"),
        (
            Measure("closes_at_percent", "least throttle position at which the contact closed", "%", 97, 100),
            Measure("poles_disagree_ms", "longest disagreement of the two poles", "ms", None, 40),
        ),
        ("Closing once below 97 % of travel: adjust, then begin again.",),
        ("sensors", "limits"),
    )


def coil_step(installation: Installation) -> Step:
    """Coils and clamps; the order of release is set by them, not by software."""
    oxidizer, fuel = installation.oxidizer_valve, installation.fuel_valve
    return Step(
        "coils",
        "Coils, clamps and release",
        "Every coil pulls in at the lowest volts, hot; fuel always releases before oxidizer.",
        ("coil currents on a recorder", "supply set to the lowest and the highest bus voltage", "coils cold and hot"),
        ("Valves dry. A hot coil burns skin.", DEFERENCE),
        (
            "step each coil at the lowest and the highest volts, cold and hot",
            "note the dip of current that shows the plunger move",
            "cut the rail with both coils of a stage on and time both releases",
        ),
        (
            Measure("oxidizer_pull_in_v", "highest oxidizer pull-in, hot", "V", None, installation.electrical.lowest),
            Measure("fuel_pull_in_v", "highest fuel pull-in, hot", "V", None, installation.electrical.lowest),
            Measure("oxidizer_opening_ms", "slowest oxidizer opening", "ms", None, 1500 * oxidizer.opening),
            Measure("fuel_opening_ms", "slowest fuel opening", "ms", None, 1500 * fuel.opening),
            Measure("fuel_before_oxidizer_ms", "least lead of fuel release over oxidizer release", "ms", 0, None),
        ),
        ("Fuel releasing last, once, at any corner: stop; the clamps are wrong.",),
        (*VALVES, "electrical"),
    )
