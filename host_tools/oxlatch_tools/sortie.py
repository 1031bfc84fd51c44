"""One demonstration sortie, told line by line as it is flown on the virtual bench.

One push that is refused; one flow from first opening to release; one flow that a fault ends.
Every number in a line is read from the flight, none is written here.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from oxlatch.vocabulary import SW_DETENT_NO, TICK_MS
from oxlatch_sim.flight import Flight
from oxlatch_sim.observation import RAW_NAMES, Tick
from oxlatch_sim.reason_words import REASONS

SWITCHES = RAW_NAMES.index("switches")
NOTE_WORD = 3
TICKS_PER_S = 1000 // TICK_MS
NOTES = {row[2] for row in REASONS if row[0] == NOTE_WORD}
LAMP_COLOURS = {"ready": "green", "flow": "white", "check": "amber", "stop": "red"}


@dataclass(frozen=True)
class Line:
    """One line of the story: when, in which state, with which lamp, and what happened."""

    time_s: float
    state: str
    lamp: str
    words: str


class StoryError(Exception):
    """The controller did not do what the story tells next; the message says what was awaited."""


class Sortie:
    """Flies the sortie; `lines` tells it."""

    def __init__(self, flight: Flight, stages: Sequence[int]) -> None:
        self.flight = flight
        self.stages = stages
        self.bench = flight.bench
        self.now: Tick = {}
        self.ticks = 0

    def lines(self) -> Iterator[Line]:
        """Fly, and yield each line as it happens. Raises StoryError when the controller does otherwise."""
        yield from self._power_up()
        yield from self._refused()
        yield from self._purge()
        yield from self._flow()
        yield from self._fault_in_flow()
        yield from self._disarm()

    def _step(self) -> None:
        self.now = self.flight.step() or self.now
        self.ticks += 1

    def _wait(self, seconds: float) -> None:
        for _ in range(round(seconds * TICKS_PER_S)):
            self._step()

    def _until(self, awaited: str, holds: Callable[[Tick], bool], limit_s: float) -> int:
        """Step until something holds; the number of ticks it took."""
        for taken in range(1, round(limit_s * TICKS_PER_S) + 1):
            self._step()
            if holds(self.now):
                return taken
        raise StoryError(f"after {limit_s:g} s still no {awaited}; the controller is in {self.now['state']}")

    def _until_state(self, state: str, limit_s: float) -> int:
        return self._until(state, lambda tick: tick["state"] == state, limit_s)

    def _until_driven(self, fluid: str, bit: int) -> int:
        return self._until(f"open {fluid} valve", lambda tick: bool(tick["out"][fluid] & bit), 0.5)

    def _line(self, words: str) -> Line:
        lamps = self.now["out"]["lamps"]
        lit = [
            colour + (" blinking" if lamps[name] == "blink" else "")
            for name, colour in LAMP_COLOURS.items()
            if lamps[name] != "off"
        ]
        lamp = "all" if len(lit) == len(LAMP_COLOURS) else ", ".join(lit) or "dark"
        return Line(self.ticks / TICKS_PER_S, self.now["state"], lamp, words)

    def _power_up(self) -> Iterator[Line]:
        self.bench.plant.engine.start(self.bench.plant.parameters.engine.idle_rpm)
        self._step()
        yield self._line("power on: every output off, lamp test")
        self._until_state("REST", 3.0)
        self._wait(0.5)
        self.bench.set_switch("master", True)
        self.bench.select(self.stages)
        self._until_state("WAITING", 1.0)
        self._wait(0.5)
        selected = " and ".join(f"stage {stage}" for stage in self.stages)
        yield self._line(f"MASTER on, {selected} selected; it waits for: {'; '.join(self._waits())}")

    def _waits(self) -> list[str]:
        return [words for words in self.now["why"] if words not in NOTES]

    def _refused(self) -> Iterator[Line]:
        self.bench.set_throttle(100.0)
        self._until("take-off speed", lambda tick: tick["in"]["rpm"] > self.bench.settings.rpm_min, 6.0)
        self.bench.push()
        self._wait(0.5)
        if self.now["out"]["ox"] | self.now["out"]["fuel"]:
            raise StoryError("a push without a purge opened a valve")
        yield self._line(f"full throttle and PUSH: refused, nothing opens, because: {'; '.join(self._waits())}")
        self.bench.release()
        self.bench.set_throttle(20.0)
        self._wait(0.5)

    def _purge(self) -> Iterator[Line]:
        self.bench.set_switch("purge", True)
        self._until_state("PURGING", 1.0)
        held = self.bench.settings.purge_ticks / TICKS_PER_S + 0.3
        bar = self.now["in"]["supply_bar"]
        yield self._line(f"PURGE pressed: oxidizer clears the line of air, line at {bar:.0f} bar")
        self._wait(held)
        self.bench.set_switch("purge", False)
        self._wait(0.3)
        self.bench.set_switch("ack", True)
        self._wait(0.2)
        self.bench.set_switch("ack", False)
        self._until_state("READY", 4.0)
        yield self._line(f"purged for {held:.1f} s, plume confirmed with ACK")

    def _push(self) -> int:
        """Throttle forward and through the detent; the tick at which the contact's pole made."""
        self.bench.set_throttle(100.0)
        self._wait(4.0)
        self.bench.push()
        self._until("made contact", lambda tick: bool(tick["raw"][SWITCHES] & SW_DETENT_NO), 0.5)
        return self.ticks

    def _flow(self) -> Iterator[Line]:
        pushed = self._push()
        for stage in self.stages:
            bit = 1 << stage - 1
            self._until_driven("ox", bit)
            opened = self.ticks
            yield self._line(f"O{stage} opens, {(opened - pushed) * TICK_MS} ms after the contact made")
            self._until_driven("fuel", bit)
            lead = (self.ticks - opened) * TICK_MS
            yield self._line(f"F{stage} opens {lead} ms behind its oxidizer, which has proved itself")
        self._wait(5.0)
        flow = self.now["nozzle"]
        yield self._line(f"boost: {sum(flow['ox']):.1f} g/s O and {sum(flow['fuel']):.1f} g/s F at the nozzles")
        yield self._release()

    def _release(self) -> Line:
        self.bench.release()
        self._until("open contact", lambda tick: not tick["raw"][SWITCHES] & SW_DETENT_NO, 0.5)
        released = self.ticks - 1
        self._until("fuel off", lambda tick: not tick["out"]["fuel"], 0.1)
        fuel_off = self.ticks - released
        self._until("oxidizer off", lambda tick: not tick["out"]["ox"], 0.1)
        ox_off = self.ticks - released
        self._until("run switch off", lambda tick: not tick["out"]["run"], 0.3)
        self._until_state("READY", 2.0)
        times = f"F off after {fuel_off * TICK_MS} ms, O after {ox_off * TICK_MS} ms"
        return self._line(f"throttle back through the detent: {times}; ready again")

    def _fault_in_flow(self) -> Iterator[Line]:
        self._push()
        self._until_state("RUN", 1.0)
        self._wait(1.0)
        self.bench.inject("hand_valve_shut")
        shut = self.ticks
        self._until("TRIP", lambda tick: tick["state"] == "TRIP", 5.0)
        taken = (self.ticks - shut) * TICK_MS
        what = f"{self.now['class']} after {taken} ms, because: {self.now['first_cause']}"
        yield self._line(f"second push; in flow somebody shuts the bottle's hand valve: {what}")

    def _disarm(self) -> Iterator[Line]:
        self.bench.release()
        self.bench.set_throttle(20.0)
        self._wait(1.0)
        self.bench.plant.line.open_hand_valve()
        self.bench.plant.wake()
        self._wait(2.5)
        self.bench.set_switch("master", False)
        self._until_state("REST", 3.0)
        self._wait(0.2)
        yield self._line("valve open again, throttle back, MASTER off: the latch clears, every output off")


def stages_to_fly(patterns: int, stages: int) -> list[int]:
    """The allowed pattern of at most two stages that shows most: two rather than one, the lowest numbers first."""
    allowed = [pattern for pattern in range(1, 1 << stages) if patterns >> pattern & 1]
    shown = [pattern for pattern in allowed if pattern.bit_count() <= 2]
    if not shown:
        raise StoryError("no pattern of one or two stages is allowed by this installation")
    best = max(shown, key=lambda pattern: (pattern.bit_count(), -pattern))
    return [stage for stage in range(1, stages + 1) if best >> stage - 1 & 1]
