"""`oxlatch flash`: put firmware and settings on a board, verify them, and say what is proved of them."""

import sys
from pathlib import Path
from typing import Any

import click
from rich.progress import Progress
from serial.tools import list_ports

from oxlatch_sim.identity import firmware_digest
from oxlatch_tools.aircraft import load_aircraft
from oxlatch_tools.installation_settings import record_bytes
from oxlatch_tools.outcome import BadInput, Outcome, bad_input_from, json_option, out_option, reporting, write_output
from oxlatch_tools.serial.certificate import FILES, PROOF_FILE, certificate_lines, find_proof
from oxlatch_tools.serial.client import LinkError
from oxlatch_tools.serial.desk import NoMicroPython
from oxlatch_tools.serial.device_files import BuildError
from oxlatch_tools.serial.flash import Flashed, Flasher, FlashError
from oxlatch_tools.serial.options import port_option, stopped_by_hand
from oxlatch_tools.serial.port import DESK, PortError, far_end
from oxlatch_tools.serial.prompt import PromptError

ERRORS = (PortError, PromptError, LinkError, FlashError, BuildError, NoMicroPython)

BLANK_BOARD = """\
A blank board of the RP2040 kind: hold its boot button while plugging it in, download the MicroPython UF2 file
for exactly that board (1.28 or newer) from the MicroPython project's download pages, copy it to the drive that
appears, and wait until the drive goes away. Then run 'oxlatch flash' with its port."""

STOPPED = (
    "the board's outputs are off, each of its files is the old one or the new one whole, "
    "and the same command goes on from there"
)

CAUTION = """\
CAUTION: only on the ground, engine stopped, bottle shut and line vented, coil power off. Flashing changes what
opens the valves; repeat the commissioning steps afterwards. The engine maker, the gas supplier, local rules and
licensed practice have the last word."""


@click.command("flash")
@click.argument("file", required=False, type=click.Path(dir_okay=False, path_type=Path))
@port_option(required=False)
@click.option("--dry-run", is_flag=True, help="Look and compare; touch nothing.")
@click.option("--list", "only_list", is_flag=True, help="List ports and boards, and how to begin with a blank one.")
@click.option("--sign-off", is_flag=True, help="Maintenance sign-off: clear every latch and lockout on the board.")
@click.option(
    "--proof",
    "proof_path",
    type=click.Path(dir_okay=False, path_type=Path),
    default=PROOF_FILE,
    show_default=True,
    help="Output of 'oxlatch prove --json'.",
)
@out_option
@json_option
@reporting("flash")
def command(
    file: Path | None,
    port: str | None,
    dry_run: bool,
    only_list: bool,
    sign_off: bool,
    proof_path: Path,
    out_dir: Path,
    as_json: bool,
) -> Outcome:
    """Put the firmware and the settings of installation FILE on the board at a port.

    Looks before it touches: the board, its MicroPython, and that a running controller is at rest. Uploads only
    what changed, verifies every file by SHA-256, writes the settings, restarts, reads everything back and
    prints a certificate. Can be interrupted anywhere and run again.
    """
    if only_list:
        return listing()
    if port is None:
        raise BadInput(f"--port is missing; allowed are a port of 'oxlatch flash --list' or {DESK}")
    aircraft = load_aircraft(file)
    if not as_json:
        click.echo(CAUTION + "\n")
    with bad_input_from(*ERRORS), stopped_by_hand(STOPPED), far_end(port) as name:
        done = flash(name, record_bytes(aircraft.settings), dry_run, sign_off, as_json)
    done.port = port
    if dry_run:
        return looked(done, aircraft.digest)
    proof = find_proof(proof_path, done.firmware, done.settings)
    lines = certificate_lines(done, proof)
    path = write_output(out_dir, f"certificate-{done.installation or aircraft.digest}.txt", "\n".join(lines) + "\n")
    return Outcome(
        "flash",
        ok=not done.problems,
        result={**as_data(done), "proof": proof.digest or None, "proof_line": proof.line, "certificate": str(path)},
        problems=done.problems,
        installation=done.installation,
        firmware=done.firmware,
        text="\n" + "\n".join(lines[: lines.index(FILES)]) + f"\n\nwritten, with every file's SHA-256, to {path}",
    )


def flash(name: str, record: bytes, dry_run: bool, sign_off: bool, as_json: bool) -> Flashed:
    """Run the flasher with a progress bar where somebody can see it."""
    with Progress(transient=True, disable=as_json or not sys.stderr.isatty()) as bar:
        task = bar.add_task("uploading", total=None)

        def progress(at: int, of: int, what: str) -> None:
            bar.update(task, total=of, completed=at, description=f"uploading {what}")

        def say(text: str) -> None:
            if not as_json:
                bar.console.print(text, highlight=False, markup=False)

        return Flasher(name, record, say, progress).run(dry_run, sign_off)


def looked(done: Flashed, installation: str) -> Outcome:
    """What a dry run found."""
    would = "\n".join(f"  {name}" for name in done.changed) or "  no file"
    settings = "\nthe settings would be written" if done.settings_changed else ""
    return Outcome(
        "flash",
        ok=True,
        result=as_data(done),
        installation=installation,
        firmware=done.firmware,
        text=f"nothing was touched. To be written to {done.port}:\n{would}{settings}",
    )


def as_data(done: Flashed) -> dict[str, Any]:
    """What was done, as plain data."""
    return dict(vars(done))


def listing() -> Outcome:
    """Ports on this machine, and how to begin with a blank board."""
    ports = [{"port": port.device, "what": port.description, "usb": usb(port)} for port in list_ports.comports()]
    rows = [f"{row['port']:24} {row['what']}  {row['usb']}" for row in ports]
    rows.append(f"{DESK:24} a controller without a board, on this machine, started when named")
    text = "\n".join(rows) + "\n\n" + BLANK_BOARD
    return Outcome("flash", ok=True, result={"ports": ports}, firmware=firmware_digest(), text=text)


def usb(port: Any) -> str:
    """Maker and product number of a USB port."""
    return f"usb {port.vid:04x}:{port.pid:04x}" if port.vid is not None else ""
