"""The steps with gas and fuel, each alone: leaks, weighed shots, the dry run with inert gas."""

from collections.abc import Iterator

from oxlatch_sim.physics import orifice
from oxlatch_tools.commissioning.programme_inputs import budget_step, input_gas_steps
from oxlatch_tools.commissioning.step import DEFERENCE, Measure, Step
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_settings import lead_and_tail

BAR = 1e5
SHOT_BAND = 0.20  # of flow, before calibration: expected of the two-phase model
BRANCH_BAND_PERCENT = 3.0  # flow balance per branch: judgement
GAS_CAUTIONS = (
    "Stored pressure: people away, shield up, eyes and ears protected, remote valve where there is one.",
    "Nitrous oxide burns skin with cold, dulls the mind and suffocates: outdoors or well ventilated, never alone.",
    "Oil, grease and hydrocarbon sealant near oxidizer can ignite; open bottle valves slowly.",
    DEFERENCE,
)


def gas_steps(installation: Installation) -> Iterator[Step]:
    """Leak test, weighed shots of each stage and fluid, dry run."""
    yield leak_step(installation)
    for number in range(1, len(installation.stages) + 1):
        yield shot_step(installation, number, "oxidizer")
        yield shot_step(installation, number, "fuel")
    if "bottle budget" in installation.sensors.fitted:
        yield budget_step()
    yield from input_gas_steps(installation)
    yield dry_run_step(installation)


def leak_step(installation: Installation) -> Step:
    """Pressure decay with dry nitrogen, corrected for temperature."""
    top = installation.limits.supply_over / BAR
    return Step(
        "leak",
        "Leak and pressure test",
        "Lines and valves hold pressure, and the relief opens where it should.",
        ("dry nitrogen, regulator", "pressure and temperature logger at the block", "leak fluid approved for oxygen"),
        GAS_CAUTIONS,
        (
            f"raise in steps of 10 bar to {top:.0f} bar, within every part's own rating",
            "shut off, wait for the temperature to settle, log for an hour",
            "oxlatch commission decay LOG.csv",
            "wet every joint; check the relief on its own rig",
        ),
        (
            Measure("test_pressure_bar", "pressure reached", "bar", top, 1.5 * top),
            Measure("drop_bar", "drop in an hour, corrected for temperature, with its uncertainty", "bar", None, 0.5),
            Measure("bubbles", "joints that bubble", "", 0, 0),
        ),
        ("A part beyond its own rating, a hiss, a drop that does not stop: vent, repair, begin again.",),
        ("bottle", "feed", "stages", "oxidizer_valve", "purge_valve"),
    )


def shot_step(installation: Installation, number: int, fluid: str) -> Step:
    """Weighed shots of one stage and fluid, and the balance between its nozzles."""
    stage = installation.stages[number - 1]
    oxidizer = installation.oxidizer.per_power * stage.power
    flow = 1000.0 * (oxidizer if fluid == "oxidizer" else oxidizer / installation.oxidizer.mixture)
    bore = stage.oxidizer_jet if fluid == "oxidizer" else stage.fuel_jet
    drilled = "not yet drilled" if bore is None else f"{1000 * bore:.3f} mm, {1e6 * orifice.area_m2(bore):.4f} mm2 each"
    cautions = GAS_CAUTIONS if fluid == "oxidizer" else FUEL_CAUTIONS
    return Step(
        f"shots_{number}_{fluid}",
        f"Weighed shots: stage {number}, {fluid}",
        "The jets flow what the plan says, and every nozzle of the stage flows the same.",
        (
            f"{stage.nozzles} jets, {drilled}",
            "balance good to 1 g, stop-watch or logger",
            f"only the {fluid} side connected, the other side unplugged and capped",
        ),
        cautions,
        (
            "three shots of 10 s or more; subtract a 1 s shot to take away opening and closing",
            "catch or weigh each nozzle apart once",
            "enter the shots under [[tested.shots]]; oxlatch plan fits the coefficient",
        ),
        (
            Measure("flow_g_s", "flow of the stage", "g/s", (1 - SHOT_BAND) * flow, (1 + SHOT_BAND) * flow),
            Measure("branch_spread_percent", "largest deviation of one nozzle", "%", None, BRANCH_BAND_PERCENT),
            Measure("shots", "shots weighed", "", 3, None),
        ),
        ("One nozzle far off: a plugged jet melts a piston. Clean, and begin the stage again.",),
        ("oxidizer", "stages", "jets", "feed", "fuel", f"{fluid}_valve"),
    )


FUEL_CAUTIONS = (
    "Gasoline vapour: outdoors, no ignition source, extinguisher at hand, earthed metal catch vessel.",
    "An external hold-to-run lead drives the fuel valve for this test; the controller never opens fuel alone.",
    DEFERENCE,
)


def dry_run_step(installation: Installation) -> Step:
    """The sequence with inert gas; fuel connectors physically unplugged."""
    stages = range(1, len(installation.stages) + 1)
    longest_tail_ms = 1000 * lead_and_tail(installation).tail_s + 10
    mapped = tuple(
        Measure(f"stage_{n}_mapped", f"coil, valve and nozzles of stage {n} belong together (1 yes)", "", 1, 1)
        for n in stages
    )
    return Step(
        "dry_run",
        "Dry run of the sequence, inert gas, fuel absent",
        "Order and times at the nozzle are what the simulator says, at full and at low volts.",
        (
            "carbon dioxide or nitrogen from its own labelled cylinder, never into a nitrous bottle",
            "fuel connectors unplugged and capped, fuel off",
            "fast pressure transducers at one nozzle a stage, logged with the commands",
        ),
        (
            "Inert gas suffocates: outdoors.",
            "Injected engine speed and throttle only with the strap fitted and lamps on the fuel outputs.",
            *GAS_CAUTIONS[:1],
            DEFERENCE,
        ),
        (
            "one stage at a time: which coil moves which valve feeds which nozzles",
            "every allowed pattern at 13.8 V and at the lowest bus voltage",
            "oxlatch commission trace LOG.csv gives opening and closing times",
            "shut the bottle, warm it, empty it: fuel must stay shut each time",
        ),
        (
            *mapped,
            Measure("lead_error_ms", "largest difference of lead from the setting", "ms", None, 5),
            Measure("tail_ms", "longest oxidizer tail at the valve", "ms", None, longest_tail_ms),
            Measure("release_to_shut_ms", "release to both fluids shut", "ms", None, 150),
            Measure("fuel_command_without_oxidizer", "fuel commands in the forced failures", "", 0, 0),
        ),
        ("A fuel command without oxidizer, once: stop; nothing goes on until it is explained.",),
        ("stages", "feed", "oxidizer_valve", "fuel_valve", "purge_valve", "timing", "limits", "sensors"),
    )
