"""`oxlatch panel`: fly the virtual bench by hand in a browser, or look at a real controller."""

import os
import socket
import sys
import time
import webbrowser
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from urllib.parse import urlencode

import click

from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.recording import RecordingError, read_recording
from oxlatch_tools.aircraft import Aircraft, installation_option, load_aircraft
from oxlatch_tools.outcome import BadInput, Outcome, bad_input_from, json_option, out_option, reporting
from oxlatch_tools.panel.bench_session import BenchSession
from oxlatch_tools.panel.controller_session import watched_controller
from oxlatch_tools.panel.door import is_loopback, own_names
from oxlatch_tools.panel.library import Library
from oxlatch_tools.panel.links import DEFAULT_WEB_PORT
from oxlatch_tools.panel.server import Panel, serve
from oxlatch_tools.panel.session import Session

ANY_ADDRESS = ("0.0.0.0", "::", "")


@click.command("panel")
@click.argument("recording", required=False, type=click.Path(dir_okay=False, path_type=Path))
@click.option("--tick", type=click.IntRange(0), help="Tick of RECORDING to begin at.")
@click.option("--port", "serial_port", metavar="P", help="Look at the controller on this serial port; view only.")
@installation_option
@click.option("--listen", "address", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option(
    "--web-port",
    type=click.IntRange(0, 65535),
    default=DEFAULT_WEB_PORT,
    show_default=True,
    help="Port of the page; 0 takes a free one.",
)
@click.option("--open/--no-open", "opens", default=None, help="Open a browser; by default where there is a screen.")
@out_option
@json_option
@reporting("panel")
def command(
    recording: Path | None,
    tick: int | None,
    serial_port: str | None,
    installation_path: Path | None,
    address: str,
    web_port: int,
    opens: bool | None,
    out_dir: Path,
    as_json: bool,
) -> Outcome:
    """Sit in the cockpit before anything is bolted in: a local page on which the controller's own code is flown.

    RECORDING, a recording or counterexample, is opened at its tick; without one the virtual bench is. The page also
    opens every recording in the output folder. It listens on this machine alone unless --listen says otherwise.
    """
    started = time.monotonic()
    check_recording(recording, tick)
    aircraft = load_aircraft(installation_path)
    listening = bound(address, web_port)
    port = listening.getsockname()[1]
    library = Library(out_dir, (recording.resolve(),) if recording else ())
    link = page_link(address, port, recording, tick)
    with listening, live_session(aircraft, serial_port, out_dir) as session:
        panel = Panel(session, library, own_names(address, port))
        click.echo(opening(aircraft, address, link, serial_port), err=as_json)
        if has_screen() if opens is None else opens:
            webbrowser.open(link)
        serve(panel, listening)
    return Outcome(
        "panel",
        ok=True,
        installation=aircraft.digest,
        firmware=firmware_digest(),
        result={
            "link": link,
            "seconds": round(time.monotonic() - started, 1),
            "messages_dropped": panel.main.dropped,
        },
    )


def check_recording(recording: Path | None, tick: int | None) -> None:
    """Refuse a recording that cannot be read before a server is started for it."""
    if recording is None:
        if tick is not None:
            raise BadInput("--tick needs a RECORDING")
        return
    with bad_input_from(RecordingError):
        read_recording(recording)


def live_session(aircraft: Aircraft, serial_port: str | None, out_dir: Path) -> AbstractContextManager[Session]:
    """The virtual bench, or the controller on a serial port."""
    if serial_port is None:
        return nullcontext(BenchSession(aircraft, out_dir))
    return watched_controller(aircraft, serial_port)


def bound(address: str, web_port: int) -> socket.socket:
    """A listening socket. Raises BadInput when the address or the port cannot be had."""
    if address in ANY_ADDRESS:
        raise BadInput(f"--listen {address!r} would answer to any name; give the one address pages shall use")
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    try:
        return socket.create_server((address, web_port), family=family)
    except OSError as error:
        raise BadInput(
            f"cannot listen on {address} port {web_port} ({error.strerror}); choose another with --web-port or --listen"
        ) from error


def page_link(address: str, port: int, recording: Path | None, tick: int | None) -> str:
    """The link to open."""
    shown = f"[{address}]" if ":" in address else address
    query = f"?{urlencode({'recording': recording.name, 'tick': tick or 0})}" if recording else ""
    return f"http://{shown}:{port}/{query}"


def has_screen() -> bool:
    """Whether a person sits at this machine with something to open a browser on."""
    has_display = bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
    return sys.stdout.isatty() and (has_display or sys.platform in ("darwin", "win32"))


def opening(aircraft: Aircraft, address: str, link: str, serial_port: str | None) -> str:
    """What is shown at the start."""
    if serial_port is None:
        lines = [
            f"{aircraft.name}, installation {aircraft.digest}, firmware {firmware_digest()}.",
            "A simulation: numbers come from a model, not from your aircraft. Engine maker, gas supplier, local rules",
            "and licensed practice come first.",
        ]
    else:
        lines = [
            f"Controller on {serial_port}, view only; pressures by the sensors of {aircraft.name} {aircraft.digest}.",
            "A bench controller drives lamps, not valves, until the engine maker, the gas supplier, local rules and",
            "licensed practice have had their say.",
        ]
    if not is_loopback(address):
        lines.append(f"Listening on {address}: anybody who can reach it can move the switches of the virtual bench.")
    return "\n".join([*lines, f"Panel: {link}  (Ctrl-C ends it)"])
