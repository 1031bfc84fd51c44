"""The server: who may come in, what it gives out, and that no page can disturb another."""

import http.client
import json
import socket
import time
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from tests.host_tools.panel.served import Served, heard, say
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from oxlatch_tools.panel.audience import PAGES_MAX
from oxlatch_tools.panel.server import STATIC


def ask(
    served: Served, path: str, method: str = "GET", body: bytes | None = None, **headers: str
) -> tuple[int, dict[str, str], bytes]:
    """One request; `headers` with underscores for dashes."""
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=5)
    connection.request(method, path, body, {name.replace("_", "-"): value for name, value in headers.items()})
    answer = connection.getresponse()
    found = answer.status, {name.lower(): value for name, value in answer.getheaders()}, answer.read()
    connection.close()
    return found


def test_the_page_and_all_its_files_come_from_here_and_are_small(served: Served) -> None:
    total = 0
    for path in STATIC.iterdir():
        status, headers, body = ask(served, "/static/" + path.name)
        assert status == 200 and body == path.read_bytes()
        assert "default-src 'none'" in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        total += len(body)
        text = body.decode()
        outside = [word for word in text.split() if "://" in word and "w3.org" not in word and "location" not in word]
        assert not outside, f"{path.name} reaches out: {outside}"
    assert total < 500_000
    assert ask(served, "/")[2] == (STATIC / "index.html").read_bytes()


def test_it_listens_on_this_machine_alone(served: Served) -> None:
    names = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)}
    for address in names - {"127.0.0.1", "127.0.1.1"}:
        with pytest.raises(OSError):
            socket.create_connection((str(address), served.port), timeout=1)


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "localhost:1", "127.0.0.1.evil.example:80", ""])
def test_a_foreign_host_name_is_turned_away(served: Served, host: str) -> None:
    assert ask(served, "/", Host=host)[0] == 403


def test_its_own_names_are_let_in(served: Served) -> None:
    for name in ("127.0.0.1", "localhost", "LOCALHOST"):
        assert ask(served, "/", Host=f"{name}:{served.port}")[0] == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1", None])
def test_a_socket_from_elsewhere_is_turned_away(served: Served, origin: str | None) -> None:
    with pytest.raises(InvalidStatus) as refused:
        connect(f"ws://{served.host}/live", origin=origin)
    assert refused.value.response.status_code == 403


def test_a_change_from_elsewhere_is_turned_away(served: Served) -> None:
    for headers in ({}, {"Origin": "http://evil.example"}):
        assert ask(served, "/recordings/x.jsonl", "POST", b"{}", **headers)[0] == 403
    status, _, body = ask(served, "/recordings/x.jsonl", "POST", b"{}", Origin=f"http://{served.host}")
    assert status == 400 and b"header" in body


def test_nothing_outside_the_page_can_be_had(served: Served) -> None:
    for path in ("/static/../server.py", "/static/%2e%2e/server.py", "/recordings/%2e%2e%2fx.jsonl", "/server.py"):
        assert ask(served, path)[0] == 404, path


def test_a_page_is_told_who_it_looks_at_then_shown_frames(served: Served) -> None:
    with served.page() as page:
        hello = json.loads(page.recv(timeout=5))["hello"]
        assert hello["kind"] == "bench" and hello["stages"] == 3 and len(hello["faults"]) > 150
        say(page, "start_over")
        first = heard(page, lambda message: message["frame"]["out"]["text"] == "MASTER OFF")
        assert first["frame"]["state"] == "REST"
        say(page, "switch", name="master", on=True)
        waits = heard(page, lambda message: "NOTHING SELECTED" in message["frame"]["why"])
        assert waits["frame"]["state"] == "WAITING" and waits["frame"]["out"]["lamps"]["check"] == "on"


def test_what_is_no_message_is_dropped_and_counted_and_the_page_lives_on(served: Served) -> None:
    with served.page() as page:
        before = heard(page, lambda message: True)["counts"]["dropped"]
        for junk in ("junk", '{"do":"dance"}', '{"do":"switch","name":"run","on":true}', b"\x00\x01"):
            page.send(junk)
        after = heard(page, lambda message: message["counts"]["dropped"] == before + 4)
        assert after["counts"]["why_dropped"]
        say(page, "run")
        heard(page, lambda message: message["frame"]["time"]["running"])


def test_a_huge_message_ends_only_its_own_page(served: Served) -> None:
    with served.page() as good, served.page() as bad:
        bad.send('{"do":"heal","x":"' + "y" * 100_000 + '"}')
        with pytest.raises(ConnectionClosed):
            for _ in range(1000):
                bad.recv(timeout=5)
        heard(good, lambda message: message["counts"]["pages"] == 1)


def test_a_flood_is_dropped_beyond_what_a_person_can_do(served: Served) -> None:
    with served.page() as page:
        before = heard(page, lambda message: True)["counts"]["dropped"]
        for _ in range(2000):
            say(page, "pause")
        flooded = heard(page, lambda message: message["counts"]["why_dropped"] == "too many messages")
        assert flooded["counts"]["dropped"] > before


def pace_of(page: Any) -> float:
    """Simulated seconds per second that a page which reads is shown, over one second and a half."""
    begin = time.monotonic()
    first = last = heard(page, lambda message: True)["frame"]["tick"]
    while time.monotonic() - begin < 1.5:
        last = heard(page, lambda message: True)["frame"]["tick"]
    return (last - first) * 0.005 / (time.monotonic() - begin)


def test_twenty_pages_that_never_read_do_not_slow_the_one_that_does(served: Served) -> None:
    """Against the same machine a moment before, so that a busy machine is no failure."""
    with served.page() as page:
        say(page, "start_over")
        heard(page, lambda message: message["frame"]["tick"] > 100)
        alone = pace_of(page)
        with ExitStack() as stuck:
            for _ in range(20):
                stuck.enter_context(served.page(max_queue=1, close_timeout=0.05))
            crowded = pace_of(page)
    assert crowded > 0.4 * alone, f"{crowded:.2f} times real time, {alone:.2f} alone"
    assert crowded < 1.3


def test_only_so_many_pages_are_served(served: Served) -> None:
    with ExitStack() as pages:
        for _ in range(PAGES_MAX):
            pages.enter_context(served.page(close_timeout=0.05))
        with pytest.raises((ConnectionClosed, InvalidStatus)), served.page() as one_more:
            heard(one_more, lambda message: True, 2.0)
    with served.page() as page:
        heard(page, lambda message: True)


def test_a_page_that_goes_lets_go_of_what_it_held(served: Served) -> None:
    with served.page() as stays:
        with served.page() as goes:
            say(goes, "start_over")
            say(goes, "switch", name="ack", on=True)
            heard(stays, lambda message: message["frame"]["controls"]["panel"] & 4)
        heard(stays, lambda message: not message["frame"]["controls"]["panel"] & 4)


def test_a_saved_recording_opens_at_any_tick_by_its_link(served: Served) -> None:
    with served.page() as page:
        say(page, "start_over")
        heard(page, lambda message: message["frame"]["state"] == "REST")
        say(page, "save", seconds=600)
        name = heard(page, lambda message: message["frame"]["saved"])["frame"]["saved"]
    listed = json.loads(ask(served, "/recordings")[2])
    assert name in [row["name"] for row in listed]
    assert ask(served, f"/recordings/{name}")[2] == (served.folder / name).read_bytes()
    with served.page(f"recording/{name}?tick=150") as walk:
        hello = json.loads(walk.recv(timeout=5))["hello"]
        assert hello["kind"] == "recording" and hello["title"] == name
        shown = heard(walk, lambda message: True)["frame"]
        assert shown["tick"] == 150 and shown["state"] == "WAKE"
        say(walk, "seek", tick=10**6)
        heard(walk, lambda message: message["frame"]["state"] == "REST")
        say(walk, "switch", name="master", on=True)
        heard(walk, lambda message: "walked through" in message["counts"]["why_dropped"])


@pytest.mark.parametrize("path", ["recording/none.jsonl", "recording/..%2Fx.jsonl", "recording/broken.jsonl"])
def test_a_recording_that_cannot_be_shown_says_why(served: Served, path: str) -> None:
    (served.folder / "broken.jsonl").write_text('{"kind": "tick"}\n')
    try:
        with served.page(path) as page, pytest.raises(ConnectionClosed) as closed:
            page.recv(timeout=5)
    except InvalidStatus as refused:
        assert refused.response.status_code in (403, 404)
        return
    assert closed.value.rcvd is not None and closed.value.rcvd.code == 4404 and closed.value.rcvd.reason


def test_every_static_file_is_in_the_package() -> None:
    assert {path.suffix for path in STATIC.iterdir()} == {".html", ".css", ".js"}
    assert (STATIC / "index.html").is_file() and Path(STATIC).parent.name == "panel"


def test_the_order_of_a_row_is_the_page_s_own(served: Served) -> None:
    """The page names the columns of a row; the numbers must be those of the server."""
    text = (STATIC / "rows.js").read_text()
    names: dict[str, Any] = {}
    for part in text.split("export const ")[1:]:
        for piece in part.split(";")[0].split(","):
            name, _, value = piece.partition("=")
            if value.strip().isdigit():
                names[name.strip()] = int(value)
    with served.page() as page:
        hello = json.loads(page.recv(timeout=5))["hello"]
        row = heard(page, lambda message: message["rows"])["rows"][-1]
        frame = heard(page, lambda message: True)["frame"]
    assert len(row) == names["NOZZLES"] + 2 * hello["stages"]
    assert row[names["BUS"]] == pytest.approx(frame["read"]["bus_v"], abs=0.2)
    assert row[names["BOTTLE"]] == pytest.approx(frame["plant"]["bottle"]["bar"], abs=1.0)
    assert row[names["FUEL"]] == pytest.approx(frame["plant"]["fuel"]["bar"], abs=0.05)
