"""Tests of the hardware behind the software: the wired gate, single faults in the loom, what still drips."""

from oxlatch_tools.commissioning.step import DEFERENCE, Measure, Step
from oxlatch_tools.installation import Installation
from oxlatch_tools.planning.start import branch_m3

VALVES = ("oxidizer_valve", "fuel_valve", "master_fuel_valve")
FUEL_OUT_MS = 45
"""Less than one intake event per cylinder at 2,700 rev/min, judgement; the bound of the fault campaign too."""


def wired_gate_step(_installation: Installation) -> Step:
    """The hardware AND with software out of the way."""
    return Step(
        "wired_gate",
        "Wired gate with fuel commanded by force",
        "With fuel commanded and oxidizer not, the wiring alone keeps every fuel coil dead.",
        ("driver board alone, each command line held on by a jumper", "lamps or bare coils, valves dry"),
        ("Lamps or dry valves only: the software is bypassed. A hot coil burns skin.", DEFERENCE),
        (
            "hold one fuel command on, oxidizer command off: note the fuel coil's current",
            "add oxidizer current, proof open; then proof closed, oxidizer current off",
            "repeat for every stage; remove every jumper and have it seen by a second person",
        ),
        (
            Measure(
                "fuel_current_alone_a", "largest fuel coil current without oxidizer current and proof", "A", None, 0.02
            ),
            Measure("stages_tried", "stages tried of all (1 yes)", "", 1, 1),
            Measure("jumpers_left", "jumpers left on the board", "", 0, 0),
        ),
        ("Fuel current without oxidizer, once: stop; the gate is not wired as drawn.",),
        ("stages", "electrical", "sensors"),
    )


def wiring_faults_step(_installation: Installation) -> Step:
    """Faults put into the real loom one by one."""
    return Step(
        "wiring_faults",
        "Single faults put into the wiring",
        "Each lead open or shorted, each driver stuck, each sensor lost does what the fault table says.",
        (
            "break-out box with a switch in every lead",
            "lamps on the valve outputs",
            "table of faults of the evidence pack",
        ),
        (
            "Fused bench supply. No gas, no fuel, valves dry. One fault at a time; take it out before the next.",
            DEFERENCE,
        ),
        (
            "in flow on the bench: open each lead, short it to ground, short it to the bus",
            "drivers and run switch: stuck on, stuck off; fuse pulled; each contact and proof stuck",
            "note what is refused or stopped, and how long any fuel output stayed on alone",
        ),
        (
            Measure("faults_tried", "faults tried", "", 1, None),
            Measure("not_as_listed", "faults with another outcome than listed", "", 0, 0),
            Measure("fuel_alone_ms", "longest fuel output without its oxidizer", "ms", None, FUEL_OUT_MS),
        ),
        ("An outcome that is not listed: stop, write it down, find out why.",),
        (*VALVES, "electrical", "sensors", "limits", "timing"),
        of_firmware=True,
    )


def residual_step(installation: Installation) -> Step:
    """Fuel that leaves the nozzles after the valve has shut."""
    volumes_ml = [
        1e6 * branch_m3(stage.fuel_branch_bore, stage.fuel_branch_length, stage.nozzles)
        for stage in installation.stages
    ]
    return Step(
        "residual",
        "Fuel that drips after shutting",
        "What still leaves the nozzles of a stage after its valve has shut is no more than its branches hold.",
        (
            "nozzles in a closed, vented vessel outdoors",
            "external hold-to-run lead, not the controller",
            "graduated tube",
        ),
        ("Fuel vapour: outdoors, no ignition source, extinguisher at hand, vessel earthed.", DEFERENCE),
        ("ten shots a stage; collect what drips within a minute of shutting; repeat with suction of 0.65 bar",),
        tuple(
            Measure(f"stage_{number}_ml", f"most fuel collected after shutting, stage {number}", "mL", 0, volume)
            for number, volume in enumerate(volumes_ml, start=1)
        ),
        ("More than the branch holds: the stage valve leaks; stop.",),
        ("stages", "fuel_valve", "fuel"),
    )
