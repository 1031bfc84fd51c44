"""`oxlatch watch`: a live view of a controller, with an optional recording."""

import sys
import time
from contextlib import nullcontext, suppress
from pathlib import Path
from typing import Any

import click
from rich.console import Console
from rich.live import Live

from oxlatch import vocabulary as v
from oxlatch.settings import GOOD, Settings, unpack
from oxlatch_sim.flight import plant_scales
from oxlatch_sim.observation import Tick, driven, reason_words
from oxlatch_sim.recording import Recorder, make_header
from oxlatch_tools.aircraft import Aircraft, installation_option, load_aircraft
from oxlatch_tools.outcome import BadInput, Outcome, bad_input_from, json_option, reporting
from oxlatch_tools.serial.client import Client, LinkError, Telemetry
from oxlatch_tools.serial.desk import NoMicroPython
from oxlatch_tools.serial.options import port_option
from oxlatch_tools.serial.port import PortError, far_end, open_line
from oxlatch_tools.serial.watch_view import Seen, draw, shown_text

PERIOD_TICKS = 20
SILENCE_S = 1.5
RETRY_S = 0.5
RESET_TICKS = 100
"""A controller this far behind where its ticks should be has been reset meanwhile."""


class Watcher:
    """Follows one port through unplugging and resets."""

    def __init__(self, name: str, aircraft: Aircraft, recording: Path | None) -> None:
        self.name = name
        self.aircraft = aircraft
        self.recording = recording
        self.seen = Seen(name, recording=str(recording) if recording else "")
        self.client: Client | None = None
        self.recorder: Recorder | None = None
        self.base = 0
        self.last_tick = -1
        self.last_n = -1
        self.heard_s = 0.0
        self.told_s = time.monotonic()
        self.first_error: str | None = None

    def step(self) -> None:
        """Take in what comes for a moment; reconnects when the port has gone or the controller is silent."""
        try:
            if self.client is None:
                self._connect()
                return
            for told in self.client.telemetry(0.1):
                self._take(told)
            if time.monotonic() - self.heard_s > SILENCE_S:
                raise LinkError("the controller is silent")
        except (PortError, LinkError) as error:
            self._lose(str(error))

    def _connect(self) -> None:
        line = open_line(self.name)
        client = Client(line)
        try:
            client.connect(1.0)
            identity = client.identity()
            record = client.settings_record()
            client.stream(PERIOD_TICKS)
        except (PortError, LinkError):
            line.close()
            raise
        self.client = client
        self.heard_s = time.monotonic()
        known = identity.get("installation") == self.aircraft.digest
        self.seen.identity = identity
        self.seen.scales = plant_scales(self.aircraft.plant) if known else {}
        self.seen.line = "live" if known else "live; pressures in mV: the installation file named is another one"
        if self.recording and self.recorder is None:
            self._begin_recording(record)

    def _begin_recording(self, record: bytes) -> None:
        settings = Settings()
        if unpack(record, settings) != GOOD:
            settings = Settings()
        identity = self.seen.identity
        header = make_header(settings, "controller", identity.get("installation", ""), dict(self.seen.scales))
        header["firmware"] = identity.get("firmware", "00000000")
        self.recorder = Recorder(header)

    def _take(self, told: Telemetry) -> None:
        silent_ticks = (time.monotonic() - self.told_s) * 1000 / v.TICK_MS
        was_reset = told.tick < self.last_tick + silent_ticks - RESET_TICKS
        self.heard_s = self.told_s = time.monotonic()
        self.seen.told = told
        self.seen.frames += 1
        if self.recorder is None:
            return
        if was_reset and self.last_tick >= 0:
            self.base = self.last_n + 1
            self.recorder.boot(self.base, told.raw[v.RAW_BOOT])
        self.last_tick = told.tick
        self.last_n = self.base + told.tick
        self.recorder.tick_data(tick_of(told, self.last_n))

    def _lose(self, why: str) -> None:
        if self.first_error is None and self.seen.frames == 0:
            self.first_error = why
        if self.client is not None:
            self.client.line.close()
            self.client = None
            self.seen.replugs += 1
        self.seen.line = f"{why}; trying again"
        time.sleep(RETRY_S)

    def end(self) -> None:
        """Stop the stream and save the recording."""
        if self.client is not None:
            with suppress(PortError, LinkError):
                self.client.stream(0)
            self.client.line.close()
        if self.recorder is not None and self.recording is not None and self.seen.frames:
            try:
                self.recorder.save(self.recording)
            except OSError as error:
                raise BadInput(f"{self.recording}: cannot be written ({error.strerror})") from error


def tick_of(told: Telemetry, n: int) -> Tick:
    """One telemetry frame as a recording's tick."""
    return {
        "tick": n,
        "raw": list(told.raw),
        "state": v.STATE_NAMES[told.state],
        "why": list(reason_words(*told.why)),
        "first_cause": cause_of(told),
        "class": v.CLASS_NAMES[told.reaction],
        "latch": told.latch,
        "out": driven(told.ox, told.fuel, told.bits, told.lamps, told.text),
    }


def cause_of(told: Telemetry) -> str | None:
    """The first cause of a trip."""
    words = reason_words(*told.cause, 0, 0)
    return words[0] if words and told.state == v.TRIP else None


@click.command("watch")
@port_option(required=True)
@installation_option
@click.option("--record", type=click.Path(dir_okay=False, path_type=Path), help="Write what is seen as a recording.")
@click.option("--seconds", type=click.FloatRange(0.1), help="Stop by itself after so long; else Ctrl-C stops.")
@json_option
@reporting("watch")
def command(
    port: str, installation_path: Path | None, record: Path | None, seconds: float | None, as_json: bool
) -> Outcome:
    """Watch the controller at a port: state, reasons, readings, valves, times. Only reads.

    Survives unplugging and resets: it looks for the controller again until stopped.
    """
    aircraft = load_aircraft(installation_path)
    with bad_input_from(PortError, NoMicroPython), far_end(port) as name:
        if name != port or not port.startswith("socket://"):
            open_line(name).close()
        watcher = Watcher(name, aircraft, record)
        watcher.seen.port = port
        follow(watcher, seconds, as_json)
        watcher.end()
    return summary(watcher, port)


def follow(watcher: Watcher, seconds: float | None, as_json: bool) -> None:
    """Step the watcher until time is up or the user has seen enough."""
    until = time.monotonic() + seconds if seconds else None
    console = Console(file=sys.stdout if not as_json else sys.stderr)
    live = Live(draw(watcher.seen), console=console, auto_refresh=False) if console.is_terminal else None
    try:
        with live or nullcontext():
            while until is None or time.monotonic() < until:
                watcher.step()
                if live is not None:
                    live.update(draw(watcher.seen), refresh=True)
    except KeyboardInterrupt:
        return


def summary(watcher: Watcher, port: str) -> Outcome:
    """What was seen, once it is over."""
    seen = watcher.seen
    told = seen.told
    if told is None:
        raise BadInput(watcher.first_error or f"port {port}: no telemetry came")
    result: dict[str, Any] = {
        "frames": seen.frames,
        "replugs": seen.replugs,
        "state": v.STATE_NAMES[told.state],
        "text": shown_text(told),
        "why": list(reason_words(*told.why)),
        "tick": told.tick,
        "worst_us": told.worst_us,
        "late": told.late,
        "dropped": told.dropped,
        "recording": str(watcher.recording) if watcher.recording else None,
    }
    saved = f"; recording in {watcher.recording}" if watcher.recording else ""
    return Outcome(
        "watch",
        ok=True,
        result=result,
        installation=seen.identity.get("installation"),
        firmware=seen.identity.get("firmware"),
        text=f"{seen.frames} frames seen, last state {result['state']}{saved}",
    )
