"""A real controller on a serial port, looked at and never touched.

The only requests that leave here ask who it is, which settings it has, and to send telemetry: `Watched` has nothing
else. Every message of a page is refused.
"""

import threading
import time
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Protocol

from oxlatch import settings as record
from oxlatch.vocabulary import (
    CLASS_NAMES,
    RAW_BUS_MV,
    RAW_CURRENTS,
    RAW_PULSE_AGE_MS,
    RAW_RAIL_MV,
    RAW_RPM,
    RAW_SHORTS,
    RAW_SWITCHES,
    STATE_NAMES,
    SW_ACK,
    SW_DETENT_NC,
    SW_DETENT_NO,
    SW_MASTER,
    SW_PROOF_SHIFT,
    SW_PURGE,
    SW_SEL_SHIFT,
    TRIP,
)
from oxlatch_sim.flight import plant_scales
from oxlatch_sim.observation import ANALOGUE, Scales, driven, reason_words
from oxlatch_sim.reason_words import REASONS
from oxlatch_tools.aircraft import Aircraft
from oxlatch_tools.outcome import bad_input_from
from oxlatch_tools.panel.about import about_controller
from oxlatch_tools.panel.messages import Message, MessageError
from oxlatch_tools.panel.session import AT_ONCE, IN_ITS_TURN, NOTHING_NEW
from oxlatch_tools.panel.shown import Frame
from oxlatch_tools.panel.traces import Traces, row_text, word
from oxlatch_tools.panel.units import shown_units
from oxlatch_tools.presentation import Units
from oxlatch_tools.serial.client import Client, LinkError, Telemetry
from oxlatch_tools.serial.port import PortError, far_end, open_line

TELEMETRY_TICKS = 12
"""As often as a frame of telemetry fits through the controller's slice of work per tick."""
WAIT_S = 0.1
SILENT_S = 1.0
AGAIN_S = 0.5
QUEUE_MAX = 400
MOVES_MAX = 8
DETENTS = {0: "UNSURE", SW_DETENT_NO: "CLOSED", SW_DETENT_NC: "OPEN", SW_DETENT_NO | SW_DETENT_NC: "FAULT"}


class Watched(Protocol):
    """What the panel may ask of a controller."""

    def connect(self, wait_s: float = ...) -> None:
        """Find it."""

    def identity(self) -> dict[str, str]:
        """Its start-up record."""

    def settings_record(self) -> bytes:
        """Its settings."""

    def stream(self, period_ticks: int) -> None:
        """Ask for telemetry."""

    def telemetry(self, wait_s: float) -> Iterator[Telemetry]:
        """Telemetry that comes."""


class ControllerSession:
    """The newest telemetry as frames; `feed` is called by the thread that reads the port."""

    kind = "controller"

    def __init__(
        self, name: str, identity: dict[str, str], settings: Any, scales: Scales, units: Units = "metric"
    ) -> None:
        self.name = name
        self.identity = identity
        self.settings = settings
        self.scales = scales
        self.units = units
        self.traces = Traces()
        self.trouble = "waiting for telemetry"
        self._come: deque[Telemetry] = deque(maxlen=QUEUE_MAX)
        self._now: Telemetry | None = None
        self._moves: deque[tuple[int, str, str]] = deque(maxlen=MOVES_MAX)
        self._heard_s = time.monotonic()

    def hello(self) -> dict[str, Any]:
        unfitted = [part for part in self.identity.get("not_fitted", "").split(",") if part]
        return {
            "kind": self.kind,
            **about_controller(self.settings),
            "title": f"Controller on {self.name}",
            "units": shown_units(self.units),
            "installation": self.identity.get("installation", "unknown"),
            "firmware": self.identity.get("firmware", "unknown"),
            "not_fitted": [[part, "The claim that rests on it is lost; the evidence names it."] for part in unfitted],
        }

    def take(self, message: Message, hand: int) -> None:
        raise MessageError("a real controller is only looked at: no command to it exists here")

    def leave(self, hand: int) -> None:
        """Nobody holds anything here."""

    def alone(self, nobody: bool) -> None:
        """The controller does not mind."""

    def feed(self, told: Telemetry) -> None:
        """One frame of telemetry has come."""
        self._come.append(told)

    def advance(self, elapsed_s: float) -> int:
        news = NOTHING_NEW
        while self._come:
            news = max(news, self._take_in(self._come.popleft()))
            self._heard_s = time.monotonic()
            self.trouble = ""
        if not self.trouble and time.monotonic() - self._heard_s > SILENT_S:
            self.trouble = f"{self.name}: nothing heard for a second; what is shown is old"
            return AT_ONCE
        return news

    def _take_in(self, told: Telemetry) -> int:
        before, self._now = self._now, told
        if before is not None and told.tick < before.tick:
            self.traces.start_afresh()
            self._moves.clear()
        elif before is not None and told.state != before.state:
            self._moves.append((told.tick, STATE_NAMES[before.state], STATE_NAMES[told.state]))
        self._row(told)
        is_new = before is None or (before.lamps, before.text, before.state) != (told.lamps, told.text, told.state)
        return AT_ONCE if is_new else IN_ITS_TURN

    def _row(self, told: Telemetry) -> None:
        read = self._readings(told)
        out = word(driven(told.ox, told.fuel, told.bits, 0, -1))
        row = [told.tick, None, None, read["supply_bar"], read["fuel_bar"], read["block_bar"]]
        row += [read["bus_v"], read["rail_v"], None, out, *[None] * (2 * self.settings.stages)]
        self.traces.add(told.tick, row_text(row))

    def _readings(self, told: Telemetry) -> dict[str, Any]:
        raw = told.raw
        switches = raw[RAW_SWITCHES]
        shown: dict[str, Any] = {key: self.scales[key].value(raw[at]) for key, at in ANALOGUE.items()}
        return {
            **shown,
            "master": switches & SW_MASTER,
            "purge": switches & SW_PURGE,
            "ack": switches & SW_ACK,
            "sel": switches >> SW_SEL_SHIFT & 15,
            "proof": switches >> SW_PROOF_SHIFT & 15,
            "detent": DETENTS[switches & (SW_DETENT_NO | SW_DETENT_NC)],
            "rpm": raw[RAW_RPM],
            "pulse_age_ms": raw[RAW_PULSE_AGE_MS],
            "bus_v": round(raw[RAW_BUS_MV] / 1000, 2),
            "rail_v": round(raw[RAW_RAIL_MV] / 1000, 2),
            "currents": raw[RAW_CURRENTS],
            "shorts": raw[RAW_SHORTS],
        }

    def frame(self) -> Frame:
        told = self._now
        shown: Frame = {"trouble": self.trouble, "moves": list(self._moves), "nozzle": None, "cmd": None}
        if told is None:
            return {**shown, "tick": 0, "powered": False, "state": None, "why": [], "out": None, "latch": 0}
        causes = reason_words(told.cause[0], told.cause[1], 0, 0)
        return {
            **shown,
            "tick": told.tick,
            "powered": not self.trouble,
            "state": STATE_NAMES[told.state],
            "why": reason_words(*told.why),
            "cause": causes[0] if causes and told.state == TRIP else None,
            "class": CLASS_NAMES[told.reaction],
            "latch": told.latch,
            "out": driven(told.ox, told.fuel, told.bits, told.lamps, _row_of(told.text)),
            "read": self._readings(told),
        }


def _row_of(text: int) -> int:
    """A row of the table of reasons, or none when the controller names one that this table does not have."""
    return text if 0 <= text < len(REASONS) else -1


def follow(client: Watched, session: ControllerSession, ends: threading.Event) -> None:
    """Read telemetry until told to end; after a break ask for it again."""
    while not ends.is_set():
        try:
            client.stream(TELEMETRY_TICKS)
            while not ends.is_set():
                for told in client.telemetry(WAIT_S):
                    session.feed(told)
        except (LinkError, PortError) as error:
            session.trouble = str(error)
            ends.wait(AGAIN_S)


@contextmanager
def watched_controller(aircraft: Aircraft, serial_port: str) -> Iterator[ControllerSession]:
    """A session fed from a serial port for the length of a with block. Raises BadInput when there is no controller."""
    with bad_input_from(PortError, LinkError), far_end(serial_port) as name:
        line = open_line(name)
        try:
            client = Client(line)
            client.connect()
            settings = record.Settings()
            if record.unpack(client.settings_record(), settings) != record.GOOD:
                settings = aircraft.settings
            units = aircraft.installation.aircraft.units
            scales = plant_scales(aircraft.plant)
            session = ControllerSession(serial_port, client.identity(), settings, scales, units)
        except BaseException:
            line.close()
            raise
        ends = threading.Event()
        reader = threading.Thread(target=follow, args=(client, session, ends), daemon=True)
        reader.start()
        try:
            yield session
        finally:
            ends.set()
            reader.join(2.0)
            line.close()
