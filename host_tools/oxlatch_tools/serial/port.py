"""Opening a port: a board on USB, a pseudo-terminal, socket://host:port, or a desk controller started for it."""

import errno
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import serial
from serial.tools import list_ports

from oxlatch_tools.serial.desk import Desk
from oxlatch_tools.serial.frames import Frame, FrameReader

DESK = "desk"
DESK_FOLDER = Path("out") / "desk"
BAUD = 115200
READ_S = 0.05
WRITE_S = 2.0
BITS_PER_BYTE = 10


class PortError(ValueError):
    """The port cannot be opened or has gone. The message says which, and what to do."""


class Line:
    """An open port that sends bytes and yields frames."""

    def __init__(self, name: str, device: serial.Serial) -> None:
        self.name = name
        self.device = device
        self.reader = FrameReader()

    def send(self, wire: bytes) -> None:
        """Send bytes. Raises PortError when the port has gone or the far end takes nothing."""
        try:
            self.device.write(wire)
        except serial.SerialTimeoutException as error:
            raise PortError(f"{self.name}: the far end takes no bytes; is another program stopping it?") from error
        except (serial.SerialException, OSError) as error:
            raise PortError(f"{self.name}: the port has gone; plug the cable in and run the command again") from error

    def receive(self, wait_s: float = READ_S) -> Iterator[Frame]:
        """Frames that have come; waits at most so long for the first byte. Raises PortError when the port has gone."""
        try:
            self.device.timeout = wait_s
            data = self.device.read(1)
            if data:
                data += self.device.read(self.device.in_waiting)
        except (serial.SerialException, OSError, TypeError) as error:
            raise PortError(f"{self.name}: the port has gone; plug the cable in and run the command again") from error
        return self.reader.feed(data)

    def drain(self, quiet_s: float = 0.05) -> None:
        """Throw away what is still coming."""
        until = time.monotonic() + 1.0
        while time.monotonic() < until:
            seen = len(self.reader.unframed())
            if not list(self.receive(quiet_s)) and len(self.reader.unframed()) == seen:
                break
        self.reader = FrameReader()

    def close(self) -> None:
        """Let the port go."""
        with suppress(OSError):
            self.device.close()


def open_line(name: str, baud: int = BAUD) -> Line:
    """Open a port by name. Raises PortError."""
    try:
        device = serial.serial_for_url(name, baudrate=baud, timeout=READ_S, write_timeout=WRITE_S, do_not_open=True)
        if not name.startswith("socket://"):
            device.exclusive = True
        device.open()
        device.reset_input_buffer()
    except (serial.SerialException, OSError, ValueError) as error:
        raise PortError(_why_not(name, error)) from error
    return Line(name, device)


def _why_not(name: str, error: BaseException) -> str:
    code = getattr(error, "errno", None)
    text = str(error)
    if code == errno.ENOENT or "No such file" in text:
        return f"port {name}: there is no such port; {ports_seen()}"
    if code in (errno.EBUSY, errno.EAGAIN) or "exclusively lock" in text or "busy" in text:
        return f"port {name}: another program holds it; close that program and run the command again"
    if code in (errno.EACCES, errno.EPERM) or "Permission" in text:
        return f"port {name}: you may not open it; join the group that owns it (often dialout) and log in again"
    if code == errno.ECONNREFUSED or "refused" in text:
        return f"port {name}: nothing answers there; start the far end first"
    if "invalid URL" in text:
        return f"port {name}: not a port; allowed are {DESK}, a device name or socket://host:port"
    return f"port {name}: cannot be opened ({text})"


def ports_seen() -> str:
    """What ports there are, in words."""
    names = [port.device for port in list_ports.comports()]
    return "ports seen: " + ", ".join(names) if names else f"no port is plugged in; '{DESK}' is always there"


@contextmanager
def far_end(name: str, desk_folder: Path = DESK_FOLDER, straps: str = "inject") -> Iterator[str]:
    """The name to open for a port the user named: itself, or that of a desk controller started meanwhile."""
    if name != DESK:
        yield name
        return
    try:
        running = Desk(desk_folder, straps)
    except OSError as error:
        raise PortError(f"desk controller: {desk_folder} cannot be used ({error.strerror})") from error
    try:
        yield running.port
    finally:
        running.close()
