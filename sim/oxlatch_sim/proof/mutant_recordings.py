"""Recorded ticks that tell a changed controller from the real one: the cheapest argument against a mutant.

A recording is a list of ticks under one settings record. A tick begins where the last one ended or from a state set
before it, is given its inputs, and is compared in everything it leaves behind: every word of state, every verdict or
output. Only one number per tick is kept of that.
"""

from __future__ import annotations

import random
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from oxlatch.controller import Controller, Outputs
from oxlatch.gate import GateState, gate_step
from oxlatch.sense import VERDICT_NAMES, SenseState, Verdicts, sense_step
from oxlatch.settings import Settings
from oxlatch_sim.proof.lockstep import core_tick

NOT_SHOWN = -1  # makes the lamps be worked out again
Words = tuple[Any, ...]


class State:
    """All words of one object of the tick, taken out and put back at once."""

    def __init__(self, thing: Any) -> None:
        self.held = vars(thing)
        self.names = tuple(self.held)
        self.lists = [(at, name) for at, (name, value) in enumerate(self.held.items()) if isinstance(value, list)]

    def words(self) -> Words:
        """Every word; lists as tuples."""
        found = list(self.held.values())
        for at, name in self.lists:
            found[at] = tuple(self.held[name])
        return tuple(found)

    def put(self, words: Words) -> None:
        """Set every word."""
        self.held.update(zip(self.names, words))
        for at, name in self.lists:
            self.held[name] = list(words[at])


class CorePlayer:
    """Core, gate and lamps; a tick is given the verdicts."""

    def __init__(self, settings: Settings) -> None:
        self.controller = Controller(settings)
        self.states = (State(self.controller.core), State(self.controller.gate))
        self.out = self.controller.out
        self.verdicts = vars(self.controller.verdicts)

    def load(self, words: Words) -> None:
        """Begin from this state."""
        for state, kept in zip(self.states, words):
            state.put(kept)
        self.out.shown_state = NOT_SHOWN

    def words(self) -> Words:
        """The state as it is."""
        return tuple([state.words() for state in self.states])

    def tick(self, given: Sequence[int]) -> int:
        """Run one tick; one number over all it leaves behind."""
        self.verdicts.update(zip(VERDICT_NAMES, given))
        core_tick(self.controller)
        out = self.out
        return hash((*self.words(), out.ox, out.fuel, out.bits, out.lamps, out.text))


class GatePlayer:
    """The gate behind any sequencer; a tick is given what is asked, and the verdicts."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.gate = GateState()
        self.state = State(self.gate)
        self.asks = Asks()
        self.verdicts = Verdicts()
        self.out = Outputs()

    def load(self, words: Words) -> None:
        """Begin from this state."""
        self.state.put(words[0])

    def words(self) -> Words:
        """The state as it is."""
        return (self.state.words(),)

    def tick(self, given: tuple[tuple[int, int, int], Sequence[int]]) -> int:
        """Run one tick; one number over all it leaves behind."""
        asks, verdicts = given
        self.asks.ask_ox, self.asks.ask_fuel, self.asks.ask_bits = asks
        vars(self.verdicts).update(zip(VERDICT_NAMES, verdicts))
        gate_step(self.gate, self.asks, self.verdicts, self.settings, self.out)
        return hash((*self.words(), self.out.ox, self.out.fuel, self.out.bits))


class Asks:
    """What a gate is asked."""

    def __init__(self) -> None:
        self.ask_ox = self.ask_fuel = self.ask_bits = 0


class SensePlayer:
    """Sense; a tick is given raw samples, the coils driven before it, and the outputs driven before it."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.sense = SenseState()
        self.verdicts = Verdicts()
        self.states = (State(self.sense), State(self.verdicts))

    def load(self, words: Words) -> None:
        """Begin from this state."""
        for state, kept in zip(self.states, words):
            state.put(kept)

    def words(self) -> Words:
        """The state as it is."""
        return tuple([state.words() for state in self.states])

    def tick(self, given: tuple[Sequence[int], int, int]) -> int:
        """Run one tick; one number over all it leaves behind."""
        raw, self.sense.driven, self.sense.driven_bits = given
        sense_step(self.sense, raw, self.settings, self.verdicts)
        return hash(self.words())


class WholePlayer:
    """The whole controller; a tick is given raw samples."""

    def __init__(self, settings: Settings) -> None:
        self.controller = Controller(settings)
        held = self.controller
        self.states = (State(held.sense), State(held.core), State(held.gate))

    def load(self, words: Words) -> None:
        """Begin from this state."""
        for state, kept in zip(self.states, words):
            state.put(kept)
        self.controller.out.shown_state = NOT_SHOWN

    def words(self) -> Words:
        """The state as it is."""
        return tuple([state.words() for state in self.states])

    def tick(self, given: Sequence[int]) -> int:
        """Run one tick; one number over all it leaves behind."""
        self.controller.tick(given)
        out = self.controller.out
        return hash((*self.words(), out.ox, out.fuel, out.bits, out.lamps, out.text))


Player = CorePlayer | GatePlayer | SensePlayer | WholePlayer


@dataclass
class Recording:
    """Ticks under one settings record: where each began, its inputs, what it left behind.

    A start of None means where the tick before ended.
    """

    player: type[Player]
    settings: Settings
    starts: list[Words | None] = field(default_factory=list)
    given: list[Any] = field(default_factory=list)
    after: array[int] = field(default_factory=lambda: array("q"))

    def add(self, start: Words | None, given: Any, after: int) -> None:
        """One more tick."""
        self.starts.append(start)
        self.given.append(given)
        self.after.append(after)

    def differs(self) -> bool:
        """Whether any tick now leaves something else behind."""
        player: Any = self.player(self.settings)
        for start, given, after in zip(self.starts, self.given, self.after, strict=True):
            if start is not None:
                player.load(start)
            if player.tick(given) != after:
                return True
        return False


class Tick:
    """One recorded tick with a start of its own."""

    __slots__ = ("after", "given", "player", "start")

    def __init__(self, player: Any, start: Words, given: Any, after: int) -> None:
        self.player, self.start, self.given, self.after = player, start, given, after

    def differs(self) -> bool:
        """Whether it now leaves something else behind."""
        self.player.load(self.start)
        return bool(self.player.tick(self.given) != self.after)


def shuffled(recordings: list[Recording]) -> list[Tick]:
    """All ticks with a start of their own, mixed, so that the first few are of every kind."""
    ticks = []
    for recording in recordings:
        player = recording.player(recording.settings)
        rows = zip(recording.starts, recording.given, recording.after, strict=True)
        ticks += [Tick(player, start, given, after) for start, given, after in rows if start is not None]
    random.Random(len(ticks)).shuffle(ticks)
    return ticks


class Sieve:
    """Keeps of many ticks those that do something new: words change together as they have not before."""

    def __init__(self, known: set[Any], player: Player, settings: Settings) -> None:
        self.known = known
        self.player: Any = player
        self.recording = Recording(type(player), settings)

    def tick(self, given: Any, label: Words, keep: bool = False) -> None:
        """Run a tick from where the player is; keep it if wanted or the first of its label and pattern of change."""
        start = self.player.words()
        after = self.player.tick(given)
        sight = (*label, _changed(start, self.player.words()))
        if keep or sight not in self.known:
            self.known.add(sight)
            self.recording.add(start, given, after)

    def aside(self, given: Any, label: Words, start: Words, keep: bool = False) -> None:
        """The same from another place."""
        self.player.load(start)
        self.tick(given, label, keep)


def _changed(before: Words, after: Words) -> Words:
    return tuple([one != other for was, now in zip(before, after) for one, other in zip(was, now)])
