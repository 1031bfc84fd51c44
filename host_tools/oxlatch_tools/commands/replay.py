"""`oxlatch replay`: step a recording through a controller, simulated or on the bench, and compare."""

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
from rich.progress import Progress

from oxlatch.vocabulary import TICK_MS
from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.recording import Recording, RecordingError, read_recording
from oxlatch_sim.replay import Difference
from oxlatch_sim.replay import replay as replay_here
from oxlatch_tools.outcome import BadInput, Outcome, bad_input_from, json_option, reporting
from oxlatch_tools.serial.client import Client, LinkError
from oxlatch_tools.serial.desk import NoMicroPython
from oxlatch_tools.serial.inject import Injected, Injector, ReplayRefused, check_match, packed
from oxlatch_tools.serial.options import port_option, stopped_by_hand
from oxlatch_tools.serial.port import PortError, far_end, open_line

CAUTION = """\
CAUTION: bench only. Lamps, never valves, on the valve outputs; no bottle, no engine, no coil power. Take the inject
strap out before anything else is connected. The engine maker, the gas supplier, local rules and licensed
practice have the last word."""


@click.command("replay")
@click.argument("recording", type=click.Path(dir_okay=False, path_type=Path))
@port_option(required=False)
@click.option("--live", is_flag=True, help="At the tick rate, by the controller's own clock, instead of tick by tick.")
@click.option("--anyway", is_flag=True, help="Replay even a recording of another firmware or installation.")
@json_option
@reporting("replay")
def command(recording: Path, port: str | None, live: bool, anyway: bool, as_json: bool) -> Outcome:
    """Step RECORDING through a controller and compare state and outputs tick by tick.

    Without a port the simulator's controller is stepped. With one, the recorded samples are injected over the
    link into a bench controller whose inject strap is fitted. Stops at the first difference and shows the ten
    ticks before it.
    """
    with bad_input_from(RecordingError):
        read = read_recording(recording)
    if port is None:
        return simulated(read, recording, anyway)
    if not as_json:
        click.echo(CAUTION + "\n")
    with (
        bad_input_from(PortError, LinkError, ReplayRefused, RecordingError, NoMicroPython),
        stopped_by_hand("the controller has gone back to its pins, through start-up, outputs off"),
        far_end(port) as name,
    ):
        line = open_line(name)
        try:
            client = Client(line)
            client.connect(5.0)
            apart = check_match(client, read, anyway)
            done = injected(client, read, live, as_json)
        finally:
            line.close()
    return bench_outcome(read, recording, port, done, apart)


def simulated(read: Recording, path: Path, anyway: bool) -> Outcome:
    """Step the controller of this installation of the package."""
    firmware = read.header.get("firmware")
    if firmware != firmware_digest() and not anyway:
        raise BadInput(
            f"{path}: recorded with firmware {firmware}, this is {firmware_digest()}. --anyway replays it all the same"
        )
    done = replay_here(read)
    problems = list(done.problems)
    text = f"{done.compared} ticks compared in the simulator: " + ("all the same." if done.same else "NOT the same.")
    if done.difference:
        problems.append(difference_text(done.difference))
    return Outcome(
        "replay",
        ok=done.same and read.complete,
        result={"compared": done.compared, "mode": "simulator", "difference": difference_data(done.difference)},
        problems=problems,
        installation=read.header.get("installation"),
        firmware=firmware_digest(),
        text=text,
    )


def injected(client: Client, read: Recording, live: bool, as_json: bool) -> Injected:
    """Inject with a progress bar where somebody can see it."""
    with Progress(transient=True, disable=as_json or not sys.stderr.isatty()) as bar:
        task = bar.add_task("replaying", total=read.ticks_total or None)
        progress: Callable[[int, int], None] = lambda at, of: bar.update(task, completed=at, total=of or None)  # noqa: E731
        return Injector(client, progress, packed(read.settings)).run(read, live)


def bench_outcome(read: Recording, path: Path, port: str, done: Injected, apart: list[str]) -> Outcome:
    """What came of a replay into a bench controller."""
    flown_s = done.compared * TICK_MS / 1000
    speed = flown_s / done.seconds if done.seconds else 0.0
    lines = [
        f"{done.compared} ticks compared on the controller at {port}, {done.mode}: "
        + ("all the same." if done.same else "NOT the same."),
        f"{flown_s:.1f} s of flight in {done.seconds:.1f} s: {speed:.1f} times real time",
    ]
    result: dict[str, Any] = {
        "compared": done.compared,
        "mode": done.mode,
        "seconds": round(done.seconds, 3),
        "times_real_time": round(speed, 2),
        "difference": difference_data(done.difference),
    }
    if done.releases:
        worst_ms = max(done.releases) * TICK_MS + done.worst_us / 1000
        result["release_to_fuel_off_ms"] = round(worst_ms, 2)
        lines.append(
            f"contact opened to fuel off, {len(done.releases)} times: worst {worst_ms:.1f} ms "
            f"({max(done.releases)} ticks and {done.worst_us / 1000:.1f} ms, the longest tick by its own clock)"
        )
    problems = [*apart, *done.problems]
    if done.difference:
        problems.append(difference_text(done.difference))
    return Outcome(
        "replay",
        ok=done.same and read.complete,
        result=result,
        problems=problems,
        installation=read.header.get("installation"),
        firmware=read.header.get("firmware"),
        text="\n".join(lines),
    )


def difference_data(found: Difference | None) -> dict[str, Any] | None:
    """A difference as plain data."""
    if found is None:
        return None
    return {"tick": found.tick, "key": found.key, "recorded": found.recorded, "got": found.got, "before": found.before}


def difference_text(found: Difference) -> str:
    """A difference in words, with the ticks before it."""
    rows = [
        f"first difference at tick {found.tick} ({found.tick * TICK_MS / 1000:.3f} s): {found.key} is recorded as "
        f"{json.dumps(found.recorded)}, the controller has {json.dumps(found.got)}"
    ]
    for tick in found.before:
        rows.append(f"  tick {tick['tick']}: {tick.get('state')} {json.dumps(tick.get('out'))} {tick.get('why')}")
    return "\n".join(rows)
