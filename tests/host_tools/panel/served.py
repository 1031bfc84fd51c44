"""A panel served for real on a free port, and short ways to talk to it and to a session."""

import json
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from websockets.sync.client import ClientConnection, connect

from oxlatch_tools.commands.panel import bound
from oxlatch_tools.panel.bench_session import BenchSession
from oxlatch_tools.panel.door import own_names
from oxlatch_tools.panel.library import Library
from oxlatch_tools.panel.server import Panel, server_of
from oxlatch_tools.panel.session import Session


@dataclass
class Served:
    """A running panel."""

    panel: Panel
    port: int
    folder: Path

    @property
    def host(self) -> str:
        return f"127.0.0.1:{self.port}"

    @property
    def link(self) -> str:
        return f"http://{self.host}/"

    def page(self, path: str = "live", **more: Any) -> ClientConnection:
        """A page's socket, as a browser that was given the page by this server would open it."""
        return connect(f"ws://{self.host}/{path}", origin=f"http://{self.host}", max_size=None, **more)


def serve_session(session: Session, folder: Path) -> Iterator[Served]:
    listening = bound("127.0.0.1", 0)
    port = listening.getsockname()[1]
    panel = Panel(session, Library(folder), own_names("127.0.0.1", port))
    server = server_of(panel)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    until = time.monotonic() + 10
    while not server.started and time.monotonic() < until:
        time.sleep(0.01)
    assert server.started
    yield Served(panel, port, folder)
    server.should_exit = True
    thread.join(8)
    assert not thread.is_alive(), "the server does not end"


def let_pass(session: BenchSession, seconds: float) -> None:
    """Simulated time at speed 1, in slices as the server gives them, however slow the machine is."""
    goal = session.flown.tick + round(seconds * 200)
    for _ in range(100_000):
        if session.flown.tick >= goal or not session.clock.running:
            return
        session.advance(min(0.05, (goal - session.flown.tick) / 200))


def arrive(session: BenchSession) -> None:
    """Let a re-simulation come to its end."""
    for _ in range(100_000):
        session.advance(0.0)
        if session.frame()["time"]["busy"] is None and session._target < 0:
            return


def heard(page: ClientConnection, wanted: Callable[[dict[str, Any]], Any], wait_s: float = 10.0) -> dict[str, Any]:
    """The first message from the panel for which `wanted` holds."""
    until = time.monotonic() + wait_s
    while time.monotonic() < until:
        message: dict[str, Any] = json.loads(page.recv(timeout=max(0.05, until - time.monotonic())))
        if "frame" in message and wanted(message):
            return message
    raise AssertionError("the panel never said it")


def say(page: ClientConnection, do: str, **arguments: Any) -> None:
    page.send(json.dumps({"do": do, **arguments}))
