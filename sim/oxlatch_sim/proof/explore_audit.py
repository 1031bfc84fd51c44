"""Does the alphabet leave nothing out? Random whole verdict vectors must land on explored transitions.

Each trial takes an explored state, gives every word that the normal form drops or cuts a random value it can
stand for, gives every verdict a random level, runs the tick, and looks for the state reached among the
successors of the explored state. A miss means that the reduction merged two things the tick can tell apart.
"""

import random
from dataclasses import dataclass, field
from typing import Any

from oxlatch import vocabulary
from oxlatch.core import INJECT_ABSENT, INJECT_FITTED
from oxlatch.gate import BARRED, DRY_SHIFT, ON_MAX, ON_SHIFT
from oxlatch.sense import VERDICT_NAMES, Verdicts
from oxlatch.sequencer import CLASSIFY_0
from oxlatch.vocabulary import EXTRA_BITS
from oxlatch_sim.proof.explore import Exploration, FastSpace, Key
from oxlatch_sim.proof.explore_claims import NAMES
from oxlatch_sim.proof.explore_core import explored_tick
from oxlatch_sim.proof.explore_frontier import ColumnWorker
from oxlatch_sim.proof.explore_levels import ALIKE, PUSH_WHYS, levels, possible_extras
from oxlatch_sim.proof.explore_small import BUDGET_WHOLE, FREE_ALWAYS, SLOW, Small
from oxlatch_sim.proof.explore_words import BOOT, BOOT_FOR_GOOD, CORE_KEPT, unpack_past, unpack_state

SLOW_MAX = 1000
ASK_FUEL = CORE_KEPT.index("ask_fuel")
KEPT_SHARE = 0.5
EXTRAS_SHARE = 0.3


@dataclass
class Audit:
    """Trials done and the first misses: state, verdicts, words, state reached."""

    trials: int = 0
    misses: list[dict[str, Any]] = field(default_factory=list)
    breaches: list[str] = field(default_factory=list)

    @property
    def clean(self) -> bool:
        """Whether trials were made and none missed."""
        return self.trials > 0 and not self.misses and not self.breaches


class Auditor:
    """Runs trials on one exploration."""

    def __init__(self, found: Exploration, seed: int = 0) -> None:
        self.found = found
        self.small = found.small
        self.space = FastSpace(found.small)
        self.random = random.Random(seed)
        self.levels = levels(found.small)
        self.extras = possible_extras(found.small.c.fitted)
        self.worker = ColumnWorker(found.small)

    def run(self, trials: int, per_state: int = 8) -> Audit:
        """Make `trials` trials, `per_state` of them in a row at each state drawn."""
        audit = Audit()
        by_state: dict[int, list[int]] = {}
        for number, key in enumerate(self.found.order):
            by_state.setdefault(key[0], []).append(number)
        states = sorted(by_state)
        rounds = (trials + per_state - 1) // per_state
        numbers = [self.random.choice(by_state[self.random.choice(states)]) for _ in range(rounds)]
        drawn = sorted(set(numbers))
        successors = dict(zip(drawn, self.worker.successors([self.found.order[number] for number in drawn])))
        for number in numbers:
            for _ in range(per_state):
                self._trial(number, successors[number], audit)
        return audit

    def _trial(self, number: int, successors: set[Key], audit: Audit) -> None:
        key = self.found.order[number]
        letter = self.random.choice(self.worker.inputs.letters(key))
        v = self._verdicts(letter.v, key)
        words = self._load(key, letter.preset)
        space = self.space
        explored_tick(space.core, space.gate, space.past, v, space.small, space.out, space.found)
        after, claim = space.pack(), NAMES[space.found.claim]
        audit.trials += 1
        if after not in successors:
            if len(audit.misses) < 20:
                shown = {name: getattr(v, name) for name in VERDICT_NAMES}
                audit.misses.append({"state": key, "verdicts": shown, "words": words, "after": after})
        elif claim and claim not in self.found.breaches:
            audit.breaches.append(claim)

    def _verdicts(self, near: Verdicts, key: Key) -> Verdicts:
        """A vector near one of the letters: some verdicts redrawn from all their levels."""
        rng = self.random
        v = Verdicts()
        redrawn = rng.choice((0, 1, 2, 3, 6, len(VERDICT_NAMES)))
        chosen = rng.sample(list(self.levels), min(redrawn, len(self.levels)))
        for name in VERDICT_NAMES:
            setattr(v, name, rng.choice(self.levels[name]) if name in chosen else getattr(near, name))
        if rng.random() < EXTRAS_SHARE:
            v.extras = rng.getrandbits(EXTRA_BITS) & rng.getrandbits(EXTRA_BITS) & self.extras
        v.boot = self._boot(key[BOOT])
        asked = key[ASK_FUEL]
        if self.small.lost_together and v.current & asked != asked:
            v.current &= ~asked
        return v

    def _boot(self, boot: int) -> int:
        """A start-up finding that the explored one stands for."""
        for group in ALIKE:
            if boot in group:
                boot = self.random.choice(group)
        return boot | self.random.choice((0, vocabulary.BOOT_WATCHDOG))

    def _load(self, key: Key, preset: dict[str, int]) -> dict[str, int]:
        """Load a state that the explored one stands for, drawing what the normal form dropped or cut."""
        rng, s, g, small = self.random, self.space.core, self.space.gate, self.small
        unpack_state(key, s, g, small.stages)
        unpack_past(key, self.space.past, small.stages)
        self.space.found.boot = key[BOOT]
        drawn = dict(preset)
        if rng.random() > KEPT_SHARE:
            drawn["sel_last"] = rng.randrange(1 << small.stages)
        for name in FREE_ALWAYS[1:]:
            if rng.random() > KEPT_SHARE:
                drawn[name] = rng.choice(self._values(name, s))
        for name in SLOW:
            if getattr(s, name) and rng.random() > KEPT_SHARE:
                drawn[name] = rng.choice((1, 2, 3, SLOW_MAX))
        if s.push_why:
            drawn["push_why"] = rng.choice(PUSH_WHYS)
        if s.classify0:
            drawn["classify0"] = rng.choice([b for b in range(1, 1 << 14) if b & CLASSIFY_0 == b and b])
        if s.inject == INJECT_ABSENT:
            drawn["inject"] = rng.choice((INJECT_ABSENT, INJECT_FITTED))
        if s.cause0:
            drawn["cause0"] = 1 << rng.randrange(22)
        if key[BOOT] & ~BOOT_FOR_GOOD == 0:
            drawn["boot_cleared"] = rng.randrange(2)
        drawn.update(self._dropped(s, small))
        for name, value in drawn.items():
            setattr(s, name, value)
        self._draw_gate(s)
        return drawn

    def _values(self, name: str, s: Any) -> tuple[int, ...]:
        """What a word that is treated as an input can hold."""
        c = self.small.c
        if name == "budget":
            return 0, 50, 250, 299, 300, 500, BUDGET_WHOLE
        if name == "coil_heat":
            return tuple(range(c.coil_heat_top + 1))
        if name == "purge_press_n":  # a purge goes on with the button that began it
            return (1, 2) if s.ask_bits & vocabulary.OUT_PURGE else (0, 1, 2)
        return (0, 1, 2) if name in ("ack_n", "starts_n") else (0, 1)

    def _dropped(self, s: Any, small: Small) -> dict[str, int]:
        """Random values for the words that the normal form drops in this state."""
        rng, c = self.random, small.c
        drawn: dict[str, int] = {}
        flowing = s.state in (vocabulary.LEAD_IN, vocabulary.RUN, vocabulary.RUN_DOWN)
        bench = s.state >= vocabulary.BENCH_GAS
        armed = flowing or s.state in (vocabulary.WAITING, vocabulary.READY, vocabulary.PURGING, vocabulary.GAP)
        if s.state != vocabulary.PURGING:
            drawn["purge_good_n"] = rng.randrange(c.purge_good_ticks + 1)
        if s.state != vocabulary.LEAD_IN:
            drawn["lead_n"] = rng.randrange(c.lead_limit_ticks + 1)
            if not bench or not s.bench_n:
                drawn["stagger_n"] = rng.randrange(c.stagger_ticks + 1)
            if bench or (s.state != vocabulary.RUN and not s.ask_ox):
                drawn["run_n"] = rng.randrange(c.run_ticks + 1)
        if bench:
            drawn["timer"] = rng.randrange(c.bench_ticks)
        else:
            drawn["bench_n"] = rng.randrange(c.bench_push_ticks + 1)
        if s.state not in (vocabulary.PURGING, vocabulary.BENCH_GAS):
            drawn["vent_n"] = rng.randrange(c.vent_ticks + 1)
        if not armed and s.latch != 1:
            if not bench:
                drawn["ready_n"] = rng.randrange(c.ready_ticks + 1)
            if not bench and s.state != vocabulary.REST:
                drawn["disarm"] = rng.randrange(2)
            if s.state == vocabulary.TRIP:
                drawn["arm_left"] = rng.choice((0, 1, SLOW_MAX))
        if not s.classify0:
            drawn["classify_n"] = rng.randrange(c.classify_ticks + 1)
        if s.push != vocabulary.PUSH_JUDGED:
            drawn["push_n"] = rng.randrange(c.push_judge_ticks + 1)
        if s.push == vocabulary.PUSH_BLOCKED:
            drawn["push"] = rng.choice((vocabulary.PUSH_BLOCKED, vocabulary.PUSH_SPENT))
        for name, limit in (
            ("open_n", c.release_ticks),
            ("off_n", c.disarm_ticks),
            ("sel_n", c.selection_ticks),
            ("line_lost_n", c.purge_void_ticks),
        ):
            if limit == 1:
                drawn[name] = rng.randrange(2)
        return drawn

    def _draw_gate(self, s: Any) -> None:
        rng, g, c = self.random, self.space.gate, self.space.c
        flowing = s.state in (vocabulary.LEAD_IN, vocabulary.RUN, vocabulary.RUN_DOWN)
        if not flowing and not (s.state >= vocabulary.BENCH_GAS and any(g.stage)):
            g.away_n = rng.randrange(c.run_off_ticks + 2)
        for i in range(self.small.stages):
            word = g.stage[i]
            on_n = (word >> ON_SHIFT) & 31
            if c.lead_ticks <= on_n < BARRED:
                on_n = rng.randrange(c.lead_ticks, ON_MAX + 1)
                g.stage[i] = (word & 3) | on_n << ON_SHIFT | (word >> DRY_SHIFT) << DRY_SHIFT
