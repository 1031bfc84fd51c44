"""Verdicts for the recordings of core and gate: streams, scripts of the rarer states, and side steps from both.

A side step is a single tick, from a kind of state met for the first time, with one verdict at another level than
the stream had it. Together they cover the edges that no stream of bearable length takes.
"""

import random
from collections.abc import Iterator
from itertools import product
from typing import Any

from oxlatch import vocabulary as k
from oxlatch.core import CORE_WORDS
from oxlatch.sense import VERDICT_NAMES
from oxlatch.settings import Settings
from oxlatch_sim.proof.mutant_recordings import CorePlayer, GatePlayer, Recording, Sieve, Words
from oxlatch_sim.proof.mutant_scripts import script
from oxlatch_sim.proof.verdict_streams import VerdictStream, quiet, small_settings

EPISODES = 105
TICKS = 700
LOCKED_TICKS = 12
KINDS_PER_EPISODE = 14
CORRUPT = (-1, len(k.STATE_NAMES), 77)  # no states: the word has been damaged
FURTHER = 10  # small walks from every kind of state
LEVELS_MOST = 5  # of one verdict in the side steps from one state
STIRRED = 0.04
UNFITTED = 0.15  # chance of an input to be missing beside the one whose turn it is
KEPT_ASIDE = 0.3  # of the side steps that show nothing new, but under settings of their own
GATE_EPISODES = 60
GATE_TICKS = 400
GATE_CHANGE = 0.12
FLAGS = range(k.FIT_DETENT_NC.bit_length() - 1, k.FIT_ALL.bit_length())
GATE_VERDICTS = ("contact", "throttle", "master", "time", "bus", "rpm", "supply", "fuel", "bench", "proof", "current")
LATCH = next(at for at, (name, _count) in enumerate(CORE_WORDS) if name == "latch")
BITS = {"current": 11, "missing": 11, "stray": 11, "short": 11, "boot": 8, "extras": k.EXTRA_BITS}
COUNTS = {"row": range(k.ROWS), "service": range(3), "bottle_g": (0, 1, 40, 3000)}

Verdicts = tuple[int, ...]


def levels(stages: int) -> dict[str, tuple[int, ...]]:
    """Levels of every verdict: those the vocabulary names, single bits of words, else off and on."""
    found: dict[str, tuple[int, ...]] = {}
    for name in VERDICT_NAMES:
        prefix = name.upper() + "_"
        named = {value for word, value in vars(k).items() if word.startswith(prefix) and name not in BITS}
        if name in ("sel", "proof"):
            named = set(range(1 << stages))
        elif name in BITS:
            named = {0, *[1 << bit for bit in range(BITS[name])]}
        elif name in COUNTS:
            named = set(COUNTS[name])
        found[name] = tuple(sorted(named)) or (0, 1)
    return found


def settings_for(seed: int) -> Settings:
    """Small random settings; in most of them one input, each in its turn, is not fitted."""
    chance = random.Random(seed)
    c: Any = small_settings(chance)
    c.fitted = k.FIT_ALL & ~(1 << FLAGS[seed // 2 % len(FLAGS)])
    for flag in FLAGS:
        if chance.random() < UNFITTED:
            c.fitted &= ~(1 << flag)
    if seed % 29 == 7:
        c.fitted &= ~k.FIT_RPM
    if not c.fitted & (k.FIT_DETENT_NC | k.FIT_THROTTLE):
        c.fitted |= k.FIT_THROTTLE
    if seed % 7 == 0:
        c.tail_ticks = 0
    c.bench_ticks, c.bench_push_ticks = 90 + chance.randrange(60), 3 * c.stagger_ticks + 2
    c.vent_ticks = c.purge_max_ticks + 3
    if seed % 16 < 4:
        c.start_cost_ticks = c.start_limit_ticks
    if seed % 8 == 7:
        c.contact_open_ticks = c.release_ticks = 60  # armed before the contact counts as seen open
    if seed % 5 == 1:
        c.arm_warn_ticks, c.arm_ticks = 60 + chance.randrange(60), 150 + chance.randrange(60)
    stock_settings(c, chance)
    c.coil_heat_up, c.coil_heat_down, c.coil_heat_start = chance.choice(((3, 1, 8), (5, 2, 30), (1, 4, 9)))
    c.coil_heat_top = chance.choice((25, 31, 400))
    for row in range(1, k.ROWS):
        setattr(c, f"patterns_{row}", chance.choice((c.patterns, 0xFFFE, 0x1010 << row & 0xFFFE)))
    return c


def stock_settings(c: Any, chance: random.Random) -> None:
    """A bottle that lasts, one that is used up in a run, or one that holds exactly what a start asks for."""
    c.bottle_full_g = chance.choice((1, 3, 60))
    c.flow_purge = chance.choice((0, 60))
    flow, need = chance.choice(((0, 1024), (150, 1), (50, 700)))
    for number in range(1, k.STAGES_MAX + 1):
        setattr(c, f"flow_{number}", flow * number and flow * number + chance.randrange(9))
        setattr(c, f"need_{number}", need * number)


def core_recordings(episodes: int = EPISODES) -> Iterator[Recording]:
    """Streams, scripts and side steps under many small settings."""
    known: set[Words] = set()
    for seed in range(episodes):
        yield Walk(seed, known).recording()


class Walk:
    """One way through the core's states, and the side steps from it."""

    def __init__(self, seed: int, known: set[Words]) -> None:
        self.chance = random.Random(f"walk {seed}")
        self.settings: Any = settings_for(seed)
        self.player = CorePlayer(self.settings)
        self.levels = levels(self.settings.stages)
        self.stream = VerdictStream(self.settings, seed, self.player.controller.verdicts)
        self.script = [] if seed % 4 == 3 else script(self.settings, seed)
        self.sieve = Sieve(known, self.player, self.settings)
        self.kinds = 0
        self.stirred: dict[str, int] = {}
        self.bottle_g = self.chance.choice((0, 1, 2, 3, 40, 40, 40, 40, 40))

    def recording(self) -> Recording:
        """What the way and its side steps show that no walk before has."""
        core, out, v = self.player.controller.core, self.player.out, self.player.controller.verdicts
        locked = 0
        for tick in range(TICKS):
            if tick < len(self.script):
                quiet(v)
                vars(v).update(self.script[tick])
            else:
                self.stream.step(core.state, core.why2, out.ox, out.fuel, out.bits, core.why3)
                self._stir(v)
            v.bottle_g = self.bottle_g
            given = tuple(vars(v).values())
            start = self.player.words()
            self.sieve.tick(given, (core.state, core.latch))
            self._step_aside(start, given, tick < len(self.script))
            locked = locked + 1 if core.latch == 4 and core.state == k.TRIP else 0
            if locked > LOCKED_TICKS:
                break
        return self.sieve.recording

    def _stir(self, v: Any) -> None:
        """Now and then any verdict at any level, for some ticks."""
        chance = self.chance
        if chance.random() < STIRRED:
            name = chance.choice(VERDICT_NAMES)
            self.stirred = {name: chance.choice(self.levels[name])} if chance.random() < 0.5 else {}
        for name, level in self.stirred.items():
            setattr(v, name, level)

    def _step_aside(self, start: Words, given: Verdicts, wanted: bool) -> None:
        """From a kind of tick met for the first time, one verdict after the other at other levels."""
        end = self.player.words()
        state = start[0][0]
        kind = (state, end[0][0], start[0][LATCH], self.settings.fitted, *[bool(word) for word in start[0]])
        if kind in self.sieve.known or (self.kinds >= KINDS_PER_EPISODE and not wanted):
            return
        self.sieve.known.add(kind)
        self.kinds += 1
        self._steps_from(state, start, given)
        self.player.load(end)

    def _steps_from(self, state: int, start: Words, given: Verdicts) -> None:
        for at, name in enumerate(VERDICT_NAMES):
            others = [level for level in self.levels[name] if level != given[at]]
            for level in self.chance.sample(others, min(LEVELS_MOST, len(others))):
                self.sieve.aside((*given[:at], level, *given[at + 1 :]), (state, name, level), start, self.chance.random() < KEPT_ASIDE)
        if state == k.WAKE:
            for hands in product((0, 1), (0, 1), self.levels["rpm"]):
                seen = dict(zip(VERDICT_NAMES, given)) | dict(zip(("inject", "master", "rpm"), hands))
                self.sieve.aside(tuple(seen.values()), (state, *hands), start)
        for _ in range(FURTHER):
            self._step_further(given, start)
        for corrupt in CORRUPT:
            self.sieve.aside(given, (corrupt, state), ((corrupt, *start[0][1:]), *start[1:]))

    def _step_further(self, given: Verdicts, start: Words) -> None:
        """From the same place several ticks, in each of which some verdicts change."""
        self.player.load(start)
        core = self.player.controller.core
        row = list(given)
        for _ in range(self.chance.randrange(2, 6)):
            for at in self.chance.sample(range(len(row)), self.chance.choice((0, 1, 1, 2))):
                row[at] = self.chance.choice(self.levels[VERDICT_NAMES[at]])
            self.sieve.tick(tuple(row), (core.state, core.latch, "further"))


def gate_recordings() -> Iterator[Recording]:
    """Requests and verdicts held for a few ticks each, with nothing sensible behind the requests."""
    seen: set[Words] = set()
    for seed in range(GATE_EPISODES):
        chance = random.Random(seed)
        settings = settings_for(seed)
        known = levels(settings.stages)
        sieve = Sieve(seen, GatePlayer(settings), settings)
        asks, good = (0, 0, 0), sound_push()
        verdicts = dict.fromkeys(VERDICT_NAMES, 0)
        for _ in range(GATE_TICKS):
            if chance.random() < GATE_CHANGE:
                ox = chance.choice((0, 15, 15, chance.randrange(16)))
                bits = chance.choice((0, k.OUT_RUN, 5, 5, 5, 13, 13, chance.randrange(16)))
                asks = ox, chance.choice((ox, ox, chance.randrange(16))), bits
            if chance.random() < GATE_CHANGE:
                verdicts = dict(good)
                for name in chance.sample(GATE_VERDICTS, chance.choice((0, 0, 1, 1, 2))):
                    verdicts[name] = chance.choice(known[name])
                if chance.random() < 0.2:
                    verdicts |= {"bench": 1, "rpm": k.RPM_STOPPED}
            sieve.tick((asks, tuple(verdicts.values())), (), keep=True)
        yield sieve.recording


def sound_push() -> dict[str, int]:
    """Verdicts of a sound aircraft in flow."""
    from oxlatch.sense import Verdicts as Seen

    v: Any = Seen()
    quiet(v)
    v.master, v.contact, v.throttle, v.rail = 1, k.CONTACT_CLOSED, k.THROTTLE_FULL, k.RAIL_LIVE
    v.proof = v.current = k.COIL_OX
    return dict(vars(v))
