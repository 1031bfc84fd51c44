"""The case as data: claim C0, the claims below it at three planes, what each rests on, takes for granted and loses.

`evidence` names entries of `exhibits.EXHIBITS`; `bench:STEP` or `bench:STEP:MEASURE` names a step of the commissioning
programme; STEP may end in * for all steps that begin so.
"""

from dataclasses import dataclass
from typing import Literal

Plane = Literal["COMMAND", "DRIVER", "NOZZLE"]
PLANES: dict[Plane, str] = {
    "COMMAND": "The bits that the software drives, after its last interlock. Shown on the source itself.",
    "DRIVER": "The current in a coil, above or below what opens or holds its valve. Shown by measurement on the bench.",
    "NOZZLE": "The flow of each fluid into the engine. Shown by simulation of the plant, then by measurement.",
}


@dataclass(frozen=True)
class Claim:
    """One claim. `weakened_by` names parts, as the installation file names them, without which less is claimed."""

    key: str
    plane: Plane
    words: str
    evidence: tuple[str, ...]
    assumes: tuple[str, ...]
    weakened_by: tuple[str, ...] = ()


CLAIMS = (
    Claim(
        "C1",
        "COMMAND",
        "A tick is a pure function of state, samples and settings; the source that is proved is the source that flies.",
        ("portable", "certificate"),
        ("the interpreter on the board runs the source as written; two interpreters agree on what was explored",),
    ),
    Claim(
        "C2",
        "COMMAND",
        "The invariants of part 3 hold in every tick, from every reachable state, for unlimited time.",
        ("symbolic", "exhaustive", "fitted_pairs", "channels", "second_opinion", "outside"),
        ("the solver and the translation of the source are right; what each method abstracts stands in part 7",),
        ("oxidizer proof", "master fuel valve", "contact second pole", "throttle position", "lockout memory"),
    ),
    Claim(
        "C3",
        "COMMAND",
        "A second specification and monitors, written apart from the controller, agree with it in every run.",
        ("reference", "monitors"),
        ("a monitor shows only what a run put to the test; how often it did stands in part 3",),
    ),
    Claim(
        "C4",
        "COMMAND",
        "The proof notices damage: every interlock deleted or turned round is caught.",
        ("mutants",),
        ("the mutants tried stand for the mistakes that are made",),
    ),
    Claim(
        "C5",
        "COMMAND",
        "Every state, transition and refusal can occur, none is dead text, and nothing unforeseen occurs.",
        ("witnesses",),
        (),
    ),
    Claim(
        "C6",
        "COMMAND",
        "A tick ends in time on the board under the worst load, and a late one stops everything.",
        ("ticks", "bench:power_cut:halt_to_dead_ms"),
        ("a time from another computer says nothing about the board until it is measured there",),
    ),
    Claim(
        "C7",
        "COMMAND",
        "Settings are those of this installation, checked on the way in, and cards carry the same digest.",
        ("plan", "certificate", "cards"),
        ("digests of eight digits tell builds apart; they are no lock against intent",),
    ),
    Claim(
        "C8",
        "COMMAND",
        "A recording stepped through a controller gives the same outputs, tick by tick.",
        ("replay", "bench:acceptance:replay_differences"),
        (),
    ),
    Claim(
        "C9",
        "COMMAND",
        "It does open when it should: with the guards held, a push delivers the stages in bounded time.",
        ("liveness", "scenarios"),
        ("a controller that never opens a valve would pass every other claim; this one is why it does not",),
    ),
    Claim(
        "C10",
        "COMMAND",
        "Serial link and host change nothing that the controller does and lengthen no tick by more than 1 ms.",
        ("link",),
        ("one factor from a desktop computer to the board, stated with the figures, until it is measured there",),
    ),
    Claim(
        "C11",
        "COMMAND",
        "Every input that is fitted says what it is there to say, and a broken lead of it errs to the cautious side.",
        ("bench:bench_dry", "bench_inputs"),
        ("a reading that is wrong inside its range deceives; each step compares with another instrument",),
    ),
    Claim(
        "D1",
        "DRIVER",
        "Each coil carries current when commanded and none otherwise, over the bus voltage, cold and hot.",
        ("bench:coils",),
        ("coils measured as fitted, at the stated extremes",),
        ("coil currents",),
    ),
    Claim(
        "D2",
        "DRIVER",
        "One open or shorted lead, driver, run switch or sensor leads to the outcome and time listed in part 4.",
        ("faults", "bench:wiring_faults"),
        ("the simulated electrical model is that of the drawings",),
        ("coil currents", "coil rail"),
    ),
    Claim(
        "D3",
        "DRIVER",
        "However the supply fails, fuel current does not outlast oxidizer hold for more than the limit.",
        ("bench:power_cut:fuel_outlasts_ms",),
        ("the moments of the cuts are random and many",),
        ("coil currents",),
    ),
    Claim(
        "D4",
        "DRIVER",
        "Halted code leaves every coil dead within the limit.",
        ("bench:power_cut:halt_to_dead_ms",),
        (),
        ("coil rail",),
    ),
    Claim(
        "D5",
        "DRIVER",
        "With the processor forced to command fuel, the hardware gate alone keeps fuel shut without oxidizer.",
        ("bench:wired_gate",),
        ("the gate is wired as drawn",),
        ("oxidizer proof", "coil currents"),
    ),
    Claim(
        "D6",
        "DRIVER",
        "A reset, at any moment, gives no output pulse longer than 1 ms.",
        ("bench:acceptance:resets_with_pulse",),
        (),
    ),
    Claim(
        "D7",
        "DRIVER",
        "When power is cut the clamps release fuel before oxidizer, at every corner.",
        ("bench:coils:fuel_before_oxidizer_ms",),
        ("clamps are those of the drawings, fast on F, slow on O",),
    ),
    Claim(
        "N1",
        "NOZZLE",
        "Without a fault, in every pattern and corner tried, neither fluid flows alone for longer than its bound.",
        ("normal", "bench:bench_gas", "bench:dry_run"),
        ("the plant is modelled; valve times, branches and coefficients are the file's until they are measured",),
        ("purge outlet 1", "purge outlet 2"),
    ),
    Claim(
        "N2",
        "NOZZLE",
        "Fuel that still drips after its valve has shut is no more than the branch holds.",
        ("residual", "bench:residual"),
        ("check valves of the F branches hold, or the branch may drain entirely",),
    ),
    Claim(
        "N3",
        "NOZZLE",
        "Each stage and each allowed pattern has been run on the engine, one step at a time.",
        ("bench:static_*",),
        ("the static stand shows what a climb would",),
    ),
    Claim(
        "N4",
        "NOZZLE",
        "Under any single listed fault, fuel alone at a nozzle stays within its bound, and oxidizer within its own.",
        ("faults",),
        ("one fault at a time; faults that were there before are found by the tests before each arming",),
        (
            "oxidizer proof",
            "master fuel valve",
            "coil currents",
            "fuel pressure",
            "bottle temperature",
            "master oxidizer valve",
        ),
    ),
    Claim(
        "N5",
        "NOZZLE",
        "Shut valves are tight: lines, stage valves and master hold pressure within the limit.",
        ("bench:leak",),
        (),
        ("master fuel valve",),
    ),
    Claim(
        "N6",
        "NOZZLE",
        "Each stage delivers the weighed mass of each fluid that its jets are planned for.",
        ("bench:shots_*",),
        ("branches share evenly; one plugged nozzle of several is not seen by any sensor",),
    ),
    Claim(
        "N7",
        "NOZZLE",
        "In flight the installation behaves as on the stand, within the limits printed on the cards.",
        ("bench:limits", "bench:cards", "bench:flight"),
        (),
        (
            "air data",
            "knock",
            "mixture rich",
            "ignition retard",
            "fire",
            "airspeed",
            "bottle budget",
            "vent-down",
        ),
    ),
)

ASSUMPTIONS = (
    "Valves are normally closed and fitted the right way round.",
    "The hand valve of the bottle is open in use, filters are clean.",
    "O and F lines cannot be crossed: different fittings, checked by the map test.",
    "Sensors and contacts are independent of each other as drawn.",
    "Limits of hot coils are measured, and the engine's own fuel supply is adequate.",
    "The pilot uses full rich, and the detent only at full throttle.",
    "One fault at a time; faults already there are revealed by the tests before each arming.",
    "The maintenance interval is kept.",
)
ENVIRONMENT = (
    "Vibration: not tested.",
    "Temperature, beyond coils measured cold and hot: not tested.",
    "Moisture, ice, salt: not tested.",
    "Radio transmission at full power beside the wiring: not tested.",
)
UNCOVERED_BY_DESIGN = (
    "A nozzle or branch plugged on one cylinder.",
    "A hose that bursts downstream of the proof switch.",
    "Lines or jets connected to the wrong stage.",
    "Limits in the file that are wrong: the pack shows that they are kept, not that they are right.",
    "Two faults at once.",
    "What an engine, propeller or airframe does with the power: their makers and tests decide.",
)
