"""A real controller looked at: what is shown, and that nothing is ever asked of it but to tell."""

import threading
from collections.abc import Iterator
from struct import pack
from typing import Any

import pytest
from tests.host_tools.panel.served import Served, heard, say, serve_session

from oxlatch import protocol
from oxlatch.reasons import PURGE_NEEDED
from oxlatch.vocabulary import (
    LAMP_CHECK_SHIFT,
    LAMP_ON,
    RAW_COUNT,
    RAW_RPM,
    RAW_SUPPLY_MV,
    RAW_SWITCHES,
    SW_DETENT_NC,
    SW_MASTER,
    WAITING,
)
from oxlatch_sim.flight import plant_scales
from oxlatch_sim.reason_words import REASONS
from oxlatch_tools.aircraft import Aircraft
from oxlatch_tools.panel.controller_session import ControllerSession, follow
from oxlatch_tools.panel.messages import MessageError
from oxlatch_tools.panel.session import AT_ONCE
from oxlatch_tools.serial.client import Client, LinkError, Telemetry, telemetry_of
from oxlatch_tools.serial.frames import Frame, FrameReader

READ_ONLY = {protocol.HELLO, protocol.STREAM, protocol.READ}


def told(tick: int = 100, **changes: Any) -> Telemetry:
    """Telemetry of a controller that waits for a purge."""
    raw = [0] * RAW_COUNT
    raw[RAW_SWITCHES] = SW_MASTER | SW_DETENT_NC
    raw[RAW_RPM] = 2400
    raw[RAW_SUPPLY_MV] = 2500
    text = next(at for at, row in enumerate(REASONS) if row[:2] == (2, PURGE_NEEDED))
    lamps = LAMP_ON << LAMP_CHECK_SHIFT
    fields = (tick, WAITING, 1, 0, 0, 0, 0, 1, 0, text, lamps, 0, 0, PURGE_NEEDED, 0, 0, 0, *[0] * 10, *raw)
    made = telemetry_of(pack(protocol.TELEMETRY_FORMAT, *fields))
    return Telemetry(**{**vars(made), **changes})


@pytest.fixture()
def controller(tug: Aircraft) -> ControllerSession:
    identity = {"installation": "c0ffee00", "firmware": "12345678", "not_fitted": "PROOF"}
    return ControllerSession("a port", identity, tug.settings, plant_scales(tug.plant))


def test_telemetry_becomes_the_same_frame_as_any_other(controller: ControllerSession) -> None:
    controller.feed(told())
    assert controller.advance(0.0) == AT_ONCE
    shown = controller.frame()
    assert shown["state"] == "WAITING" and shown["why"] == ("PURGE",) and shown["powered"]
    assert shown["out"]["text"] == "PURGE" and shown["out"]["lamps"]["check"] == "on"
    assert shown["read"]["rpm"] == 2400 and shown["read"]["supply_bar"] == pytest.approx(50.0)
    assert shown["read"]["detent"] == "OPEN" and shown["cmd"] is None and shown["nozzle"] is None


def test_what_is_not_fitted_is_told(controller: ControllerSession) -> None:
    assert controller.hello()["not_fitted"][0][0] == "PROOF"


def test_a_silent_controller_goes_dark_and_says_so(
    controller: ControllerSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    controller.feed(told())
    controller.advance(0.0)
    controller._heard_s -= 5.0
    assert controller.advance(0.0) == AT_ONCE
    assert "nothing heard" in controller.frame()["trouble"] and not controller.frame()["powered"]


def test_a_reset_starts_the_charts_afresh(controller: ControllerSession) -> None:
    controller.feed(told(5000))
    controller.advance(0.0)
    epoch = controller.traces.epoch
    controller.feed(told(3))
    controller.advance(0.0)
    assert controller.traces.epoch > epoch


def test_an_unknown_reason_is_shown_as_none(controller: ControllerSession) -> None:
    controller.feed(told(text=9999))
    controller.advance(0.0)
    assert controller.frame()["out"]["text"] is None


def test_every_message_of_a_page_is_refused(controller: ControllerSession) -> None:
    for deed in ("switch", "push", "run", "seek", "save", "service", "fault"):
        with pytest.raises(MessageError, match="only looked at"):
            controller.take({"do": deed}, 1)


class RecordingLine:
    """A line that notes every frame that goes out and answers as a controller would."""

    name = "noted"

    def __init__(self) -> None:
        self.reader = FrameReader()
        self.sent: list[int] = []
        self._outgoing = FrameReader()
        self._due: list[Frame] = []

    def send(self, wire: bytes) -> None:
        for frame in self._outgoing.feed(wire):
            self.sent.append(frame.kind)
            payload = pack("<BBHH", frame.payload[0], 0, 0, 0) if frame.kind == protocol.READ else b""
            self._due.append(Frame(frame.kind | protocol.REPLY, frame.seq, payload))

    def receive(self, wait_s: float = 0.0) -> Iterator[Frame]:
        due, self._due = self._due, []
        yield from due


def test_only_requests_to_tell_go_out_on_the_line(controller: ControllerSession) -> None:
    line = RecordingLine()
    client = Client(line)  # type: ignore[arg-type]
    client.connect()
    client.settings_record()
    client.identity()
    ends = threading.Event()
    reader = threading.Thread(target=follow, args=(client, controller, ends))
    reader.start()
    for deed in ("switch", "push", "fault"):
        with pytest.raises(MessageError):
            controller.take({"do": deed}, 1)
    ends.wait(1.2)
    ends.set()
    reader.join(3)
    assert protocol.STREAM in line.sent and len(line.sent) > 4
    assert set(line.sent) <= READ_ONLY


class Flaky:
    """A controller that breaks off once."""

    def __init__(self) -> None:
        self.streams = 0

    def connect(self, wait_s: float = 0.0) -> None: ...

    def identity(self) -> dict[str, str]:
        return {}

    def settings_record(self) -> bytes:
        return b""

    def stream(self, period_ticks: int) -> None:
        self.streams += 1

    def telemetry(self, wait_s: float) -> Iterator[Telemetry]:
        if self.streams == 1:
            raise LinkError("the cable is out")
        yield told(self.streams)


def test_after_a_break_telemetry_is_asked_for_again(controller: ControllerSession) -> None:
    ends = threading.Event()
    flaky = Flaky()
    reader = threading.Thread(target=follow, args=(flaky, controller, ends))
    reader.start()
    ends.wait(0.9)
    ends.set()
    reader.join(3)
    assert flaky.streams == 2
    controller.advance(0.0)
    assert controller.frame()["tick"] == 2 and not controller.frame()["trouble"]


@pytest.fixture()
def watched(controller: ControllerSession, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    yield from serve_session(controller, tmp_path_factory.mktemp("none"))


def test_the_page_of_a_controller_is_view_only(watched: Served, controller: ControllerSession) -> None:
    with watched.page() as page:
        controller.feed(told())
        heard(page, lambda message: message["frame"]["state"] == "WAITING")
        say(page, "switch", name="master", on=False)
        heard(page, lambda message: "no command" in message["counts"]["why_dropped"])
