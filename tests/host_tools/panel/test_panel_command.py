"""`oxlatch panel` as a command: it serves until interrupted, and refuses what it cannot serve in one sentence."""

import http.client
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from oxlatch_tools.cli import main
from oxlatch_tools.panel.links import tick_link


def test_it_serves_until_interrupted_and_then_reports(tmp_path: Path) -> None:
    running = subprocess.Popen(
        [sys.executable, "-m", "oxlatch_tools.cli", "panel", "--web-port", "0", "--no-open", "--json", "--out", "."],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=tmp_path,
        env=dict(os.environ),
    )
    assert running.stderr is not None
    said = ""
    until = time.monotonic() + 60
    while "Panel:" not in said and time.monotonic() < until and running.poll() is None:
        said += running.stderr.readline()
    assert "Panel:" in said, said + running.stderr.read()
    port = int(re.search(r"http://127\.0\.0\.1:(\d+)/", said).group(1))  # type: ignore[union-attr]
    assert "A simulation" in said
    deadline = time.monotonic() + 10
    while True:
        try:
            page = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
            page.request("GET", "/")
            assert page.getresponse().status == 200
            break
        except ConnectionError:
            assert time.monotonic() < deadline
            time.sleep(0.05)
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=20)
    assert running.returncode == 0, err
    report = json.loads(out)
    assert report["ok"] and report["command"] == "panel" and report["result"]["messages_dropped"] == 0
    assert "Traceback" not in err and list(tmp_path.iterdir()) == []


def refusal(*arguments: str) -> str:
    done = CliRunner().invoke(main, ["panel", "--no-open", *arguments])
    assert done.exit_code == 2, done.output
    assert "Traceback" not in done.output
    return done.output


def test_a_port_that_is_taken_is_named() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        assert f"127.0.0.1 port {port}" in refusal("--web-port", str(port))


@pytest.mark.parametrize("address", ["0.0.0.0", "::"])
def test_it_will_not_listen_on_every_address_at_once(address: str) -> None:
    assert "one address" in refusal("--listen", address)


def test_a_recording_that_is_none_is_refused_before_anything_is_served(tmp_path: Path) -> None:
    broken = tmp_path / "broken.jsonl"
    broken.write_text("{}\n")
    assert "broken.jsonl" in refusal(str(broken))
    assert "nowhere.jsonl" in refusal(str(tmp_path / "nowhere.jsonl"))
    assert "--tick needs a RECORDING" in refusal("--tick", "3")


def test_a_serial_port_that_is_not_there_is_named() -> None:
    assert "/dev/no-such-port" in refusal("--port", "/dev/no-such-port", "--web-port", "0")


def test_a_link_names_recording_and_tick() -> None:
    assert tick_link("counter example.jsonl", 123) == "http://127.0.0.1:8765/?recording=counter+example.jsonl&tick=123"
