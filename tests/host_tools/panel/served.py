"""A panel served for real on a free port, and short ways to talk to it and to a session."""

import json
import threading
import time
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from websockets.sync.client import ClientConnection, connect

from oxlatch_sim.scenario import find, load, play
from oxlatch_tools.aircraft import Aircraft
from oxlatch_tools.commands.panel import bound
from oxlatch_tools.panel.bench_session import BenchSession
from oxlatch_tools.panel.door import own_names
from oxlatch_tools.panel.library import Library
from oxlatch_tools.panel.server import Panel, server_of
from oxlatch_tools.panel.session import Session

HAND = 1


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


def serve_session(session: Session, folder: Path, port: int = 0) -> Iterator[Served]:
    """Serve until the iterator is asked to go on."""
    listening = bound("127.0.0.1", port)
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


def do(session: BenchSession, deed: str, **arguments: Any) -> None:
    """What a page sends, handed over without one."""
    session.take({"do": deed, **arguments}, HAND)


def do_sortie(session: BenchSession) -> None:
    """A whole sortie up to boost, by the deeds a page sends."""
    do(session, "engine", on=True)
    let_pass(session, 1.2)
    do(session, "select", stage=1, on=True)
    do(session, "select", stage=2, on=True)
    do(session, "switch", name="master", on=True)
    let_pass(session, 2.5)
    do(session, "switch", name="purge", on=True)
    let_pass(session, 4.0)
    do(session, "switch", name="purge", on=False)
    let_pass(session, 0.5)
    do(session, "switch", name="ack", on=True)
    let_pass(session, 0.2)
    do(session, "switch", name="ack", on=False)
    do(session, "throttle", percent=100)
    let_pass(session, 4.0)
    do(session, "push", on=True)
    let_pass(session, 1.5)
    assert session.frame()["state"] == "RUN"


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


def counterexample(aircraft: Aircraft, folder: Path) -> str:
    """A recording that says it is a counterexample."""
    played = play(load(find("oxidizer-valve-does-not-open")), aircraft.plant, aircraft.settings, None, aircraft.digest)
    lines = played.recorder.end().splitlines(keepends=True)
    lines[0] = json.dumps({**json.loads(lines[0]), "source": "counterexample"}).encode() + b"\n"
    body = b"".join(lines[:-1])
    end = {**json.loads(lines[-1]), "crc32": f"{zlib.crc32(body):08x}"}
    (folder / "counterexample.jsonl").write_bytes(body + json.dumps(end).encode() + b"\n")
    return "counterexample.jsonl"
