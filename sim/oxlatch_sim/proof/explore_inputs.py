"""Which inputs are tried in a state: verdicts that the tick can tell apart there, and no others.

`Inputs.letters(key)` answers the list of letters for a state. A letter is a verdict vector and values for the
words treated as inputs. Two vectors share a letter when they differ only in what the tick does not read in
that state, or reads through reasons of the same effect. The rules are checked by a random audit with whole
verdict vectors (see `explore_audit`). Runs under CPython and MicroPython alike.
"""

from oxlatch.core import CoreState
from oxlatch.permits import permits_step
from oxlatch.reasons import DETENT_CHATTERS, LATCH_2_0, LATCH_2_1, LATCH_3_0, LATCH_3_1, LATCH_4_0, LATCH_4_1, RPM_LOST
from oxlatch.sense import Verdicts
from oxlatch.sequencer import only_lost_power
from oxlatch.vocabulary import (  # fmt: skip
    ALL_STOP,
    BENCH_DRY,
    BENCH_GAS,
    BUS_HARD,
    FIT_AIR,
    FIT_CURRENTS,
    FUEL_FIRST,
    GAP,
    HELD,
    LEAD_IN,
    LINE_DEAD,
    LINE_EMPTY,
    LINE_GOOD,
    LINE_LOST,
    LINE_THIN,
    LINE_WEAK,
    OUT_PURGE,
    OUTLETS_COLD,
    PURGING,
    PUSH_JUDGED,
    PUSH_READY,
    RAIL_DEAD,
    READY,
    REST,
    RPM_HOLD,
    RPM_STOPPED,
    RUN,
    RUN_DOWN,
    SERVICE,
    SUPPLY_HIGH,
    THROTTLE_DROP,
    TRIP,
    WAITING,
    WAKE,
)
from oxlatch_sim.proof.explore_bench import bench_letters, to_bench
from oxlatch_sim.proof.explore_hands import (
    BENCH,
    CONTACTS,
    HELD_DOWN,
    LET_GO,
    NOTHING,
    OFF,
    PUSHED,
    WAIT,
    joined,
)
from oxlatch_sim.proof.explore_levels import FAULTS, GOOD, MEMORY, as_fitted, singles
from oxlatch_sim.proof.explore_small import USUAL, subsets
from oxlatch_sim.proof.explore_words import BOOT, CORE_KEPT, SOME

FIRST_FUEL, CLASSIFY, STOP = 0, 1, 2  # what a set of faults does to a flow: fuel first, stop and name later, trip


class Letter:
    """One input: the words it presets and the verdicts of the tick."""

    def __init__(self, preset, v):
        self.preset = preset
        self.v = v


def apart(deviations):
    """Words of the core among the deviations, and the verdicts."""
    remembered = {}
    seen = {}
    for name in deviations:
        if name in MEMORY:
            remembered[name] = deviations[name]
        else:
            seen[name] = deviations[name]
    return remembered, seen


def effect(s):
    """What the standing faults of core state `s` do to a flow: (kind, latch, with hold-off), or None."""
    if s.reaction < FUEL_FIRST:
        return None
    kind = STOP
    if s.reaction == FUEL_FIRST:
        kind = FIRST_FUEL
    elif s.reaction == ALL_STOP and only_lost_power(s, s.state):
        kind = CLASSIFY
    if s.why0 & LATCH_4_0 or s.why1 & LATCH_4_1:
        latch = 4
    elif s.why0 & LATCH_3_0 or s.why1 & LATCH_3_1:
        latch = 3
    else:
        latch = 2 if s.why0 & LATCH_2_0 or s.why1 & LATCH_2_1 else 1
    return kind, latch, 1 if s.why0 & (RPM_LOST | DETENT_CHATTERS) else 0


class Inputs:
    """The letters of every state, made once per kind of state."""

    def __init__(self, small):
        self.small = small
        self.all = (1 << small.stages) - 1
        self.allowed = [sel for sel in range(1, self.all + 1) if (small.c.patterns_1 >> sel) & 1]
        self.well = joined(GOOD, {"sel": self.allowed[-1], "row": 1 if small.c.fitted & FIT_AIR else 0})
        self._cache = {}
        self._vectors = {}
        self._presets = {}
        self._fixed = [Letter(preset, self.vector(deviations)) for preset, deviations in small.alphabet]
        self.flow_faults = self._effects(RUN)
        self.lead_faults = self._effects(LEAD_IN)
        self.tail_faults = self._effects(RUN_DOWN)
        self.rest_faults = self._effects(WAITING)
        self.purge_faults = self._effects(PURGING)
        self.bench_faults = self._effects(BENCH_GAS)
        self.still_faults = self._effects(WAITING, [part for part in FAULTS if "rail" not in part])

    def vector(self, deviations):
        """The verdict object that is GOOD but for the deviations; the same object for the same vector."""
        short = tuple(sorted(deviations.items()))
        found = self._vectors.get(short)
        if found is None:
            whole = joined(self.well, deviations)
            as_fitted(whole, self.small.c.fitted)
            mark = tuple(sorted(whole.items()))
            found = self._vectors.get(mark)
            if found is None:
                found = self._vectors[mark] = Verdicts()
                for name in whole:
                    setattr(found, name, whole[name])
            self._vectors[short] = found
        return found

    def _effects(self, state, faults=FAULTS):
        """Deviations for every effect that faults, alone or joined, can have in a state of this kind."""
        s = CoreState()
        s.state = state
        for name in USUAL:
            setattr(s, name, USUAL[name])
        if state == RUN:
            s.ask_ox = s.ask_fuel = s.latched = 1
        elif state == LEAD_IN:  # before its first stage
            s.latched = 1
        elif state == RUN_DOWN or state == BENCH_GAS:
            s.ask_ox = 1
        found = []  # a list keeps its order where a dict need not
        kinds = []
        parts = faults
        while parts:
            fresh = []
            for part in parts:
                remembered, seen = apart(part)
                for name in MEMORY:
                    setattr(s, name, remembered.get(name, 0))
                permits_step(s, self.vector(joined(PUSHED, {"proof": 1}, seen)), self.small.c)
                kind = effect(s)
                if kind is not None and kind not in kinds:
                    kinds.append(kind)
                    found.append((kind, part))
                    fresh.append(part)
            parts = []
            for part in fresh:
                for other in faults:
                    if not [name for name in other if name in part]:
                        parts.append(joined(part, other))
        return found

    def letters(self, key):
        """The letters of the state `key` (see `explore_words`)."""
        if self._fixed:
            return self._fixed
        s = dict(zip(CORE_KEPT, key))
        # Everything a rule below looks at, so that states of one kind share their list.
        kind = (
            s["state"], s["timer"], s["latch"], s["ask_ox"], s["ask_fuel"], s["push"], s["arm_left"],
            s["hold_off_left"], s["purge_valid"], s["confirm_left"], s["latched"], s["opening"], s["lead_n"],
            s["stagger_n"], s["classify0"], key[BOOT], s["bench_n"], s["ask_bits"] & OUT_PURGE, s["push_why"], s["inject"],
        )  # fmt: skip
        found = self._cache.get(kind)
        if found is None:
            found = self._make(s, key[BOOT])
            self._cache[kind] = found
        return found

    def _make(self, s, boot):
        state = s["state"]
        if state == WAITING or state == READY or state == GAP or state == PURGING:
            plans = self._armed(s, state)
        elif state == LEAD_IN or state == RUN or state == RUN_DOWN:
            plans = self._flow(s, state)
        elif state == BENCH_GAS or state == BENCH_DRY:
            plans = bench_letters(self, s)
        else:
            plans = self._apart(s, state)
        letters = []
        marks = set()
        clocks = self._clocks(s)
        for preset, deviations in plans:
            for clock, chatter in clocks:
                self._add(letters, marks, joined(preset, clock), joined({"boot": boot}, chatter, deviations))
        if not self.small.free_waits:
            for preset, deviations in self._singles(s, state, boot):
                self._add(letters, marks, joined(clocks[0][0], preset), joined({"boot": boot}, deviations))
        return letters

    def _add(self, letters, marks, preset, deviations):
        """Append a letter unless the list has it already."""
        remembered, seen = apart(deviations)
        preset = joined(preset, remembered)
        v = self.vector(seen)
        preset["sel_last"] = preset.get("sel_last", v.sel)  # a selector that moves is one more wait
        mark = tuple(sorted(preset.items()))
        preset = self._presets.setdefault(mark, preset)
        if (mark, id(v)) not in marks:
            marks.add((mark, id(v)))
            letters.append(Letter(preset, v))

    def _singles(self, s, state, boot):
        """Every single deviation from the hands that keep this state, or let it go on."""
        base = LET_GO
        if state == LEAD_IN or state == RUN or state == RUN_DOWN:
            asked = s["ask_fuel"]
            base = joined(PUSHED, {"proof": asked, "current": asked, "sel": s["latched"]})
        elif state == BENCH_GAS or state == BENCH_DRY:
            base = joined(PUSHED, BENCH, {"line": LINE_EMPTY})
        elif state == REST or state == HELD or state == WAKE or state == SERVICE:
            base = joined(LET_GO, OFF, {"rail": RAIL_DEAD})
        elif state == PURGING:
            base = joined(LET_GO, {"purge": 1})
        return [(joined(HELD_DOWN, preset), joined(base, deviation)) for preset, deviation in singles(self.small, s, boot)]

    def _clocks(self, s):
        """Whether the slow clocks run on or out in this tick; chatter sets one of them."""
        if self.small.free_waits:
            return [(NOTHING, NOTHING)]
        arm = [{"arm_left": SOME}, {"arm_left": 1}] if s["arm_left"] else [NOTHING]
        if s["hold_off_left"]:
            hold = [({"hold_off_left": SOME}, NOTHING), ({"hold_off_left": 1}, NOTHING)]
        else:
            hold = [(NOTHING, NOTHING), (NOTHING, {"chatter": 1})]
            flowing = s["ask_ox"] or s["state"] == LEAD_IN or s["state"] == RUN
            if s["state"] == WAKE or (flowing and s["state"] < BENCH_GAS):
                hold = hold[:1]
        return [(joined(a, h), chatter) for a in arm for h, chatter in hold]

    def _voids(self, s):
        """Whether the line is lost, which voids a purge."""
        lost = s["purge_valid"] or s["confirm_left"] or self.small.c.purge_void_ticks > 1
        return [NOTHING, {"line_lost": 1}] if lost else [NOTHING]

    def _presses(self):
        """The purge button: off, or on for so many ticks before this one."""
        held = [({"purge_press_n": n}, {"purge": 1}) for n in range(self.small.c.purge_press_ticks + 2)]
        return [(NOTHING, NOTHING)] + held

    def _armed(self, s, state):
        """Letters of WAITING, READY, PURGING and GAP."""
        plans = [(NOTHING, joined(OFF, contact)) for contact in CONTACTS]
        faults = self.purge_faults if state == PURGING else self.rest_faults
        for _kind, fault in faults:
            for void in self._voids(s):
                for master in (NOTHING, OFF):
                    plans += [(NOTHING, joined(contact, master, void, fault)) for contact in CONTACTS]
        for contact in CONTACTS:
            if state == PURGING:
                plans += self._purging_letters(contact)
            elif state == WAITING:
                plans += self._waiting_letters(s, contact)
            else:
                pushing = state == READY and contact is PUSHED and s["push"] in (PUSH_READY, PUSH_JUDGED)
                for void in self._voids(s):
                    for wait in (NOTHING, WAIT):
                        plans.append((NOTHING, joined(contact, void, wait)))
                        if state == READY:
                            plans.append(({"purge_press_n": 0}, joined(contact, void, wait, {"purge": 1})))
                if pushing:
                    plans += self._pushing_letters()
        return plans

    def _pushing_letters(self):
        """A push being judged: every stage set, good enough to start or not, the start counter full or not."""
        plans = [(NOTHING, joined(PUSHED, {"rpm": RPM_HOLD}))]  # not good enough to start
        if self.small.c.fitted & FIT_AIR:  # dense air allows less
            plans += [(NOTHING, joined(PUSHED, {"sel": sel, "row": 0})) for sel in range(1, self.all + 1)]
        for sel in range(1, self.all + 1):
            for starts in (0, self.small.c.start_limit_ticks + 1):
                plans.append(({"starts_n": starts}, joined(PUSHED, {"sel": sel})))
        return plans

    def _purging_letters(self, contact):
        plans = []
        for line in (LINE_GOOD, LINE_THIN, LINE_DEAD):
            for button in ({"purge": 1}, NOTHING):
                for coil in (NOTHING, {"missing": 256}):
                    plans.append((HELD_DOWN, joined(contact, {"line": line}, button, coil)))
        for button in ({"purge": 1}, NOTHING):
            plans.append((HELD_DOWN, joined(contact, button, {"outlets": OUTLETS_COLD})))
            vent = {"line": LINE_DEAD, "rpm": RPM_STOPPED}
            for outlets in (NOTHING, {"outlets": OUTLETS_COLD}):
                for coil in (NOTHING, {"missing": 256}):
                    plans.append((HELD_DOWN, joined(contact, button, vent, outlets, coil)))
        return plans

    def _waiting_letters(self, s, contact):
        plans = []
        lines = self._voids(s)
        for press, button in self._presses():
            shown = lines
            if button and contact is LET_GO:
                shown = lines + [{"line": LINE_LOST}, {"line": LINE_WEAK}]
                shown.append({"line": LINE_DEAD, "rpm": RPM_STOPPED})
            for line in shown:
                for ack in (NOTHING, {"ack": 1}) if s["confirm_left"] else (NOTHING,):
                    for wait in (NOTHING, WAIT):
                        plans.append((press, joined(contact, button, line, ack, wait)))
        return plans

    def _flow(self, s, state):
        """Letters of LEAD-IN, RUN and RUN-DOWN."""
        asked = s["ask_fuel"]
        base = {"proof": asked, "current": asked, "sel": s["latched"]}
        hands = [joined(contact, master) for contact in CONTACTS for master in (NOTHING, OFF)]
        hands.append(joined(PUSHED, {"throttle": THROTTLE_DROP}))
        plans = []
        faults = self.flow_faults if s["ask_ox"] else self.lead_faults
        if state == RUN_DOWN:
            faults = self.tail_faults if s["ask_ox"] else self.rest_faults
        for (kind, _latch, _hold), fault in faults:
            # Without oxidizer a bus too low for the run switch is no fault, and may come with one.
            low_bus = kind == FIRST_FUEL and state == RUN_DOWN and not s["ask_ox"]
            for hand in hands if kind != STOP else hands[:-1]:
                for void in self._voids(s):
                    plans.append((NOTHING, joined(base, hand, void, fault)))
                    if low_bus:
                        plans.append((NOTHING, joined(base, hand, void, fault, {"bus": BUS_HARD})))
        inner = self._run_down_letters(base) if state == RUN_DOWN else self._flowing_letters(s, state, base)
        for hand in hands:
            for void in self._voids(s):
                plans += [(preset, joined(inside, hand, void)) for preset, inside in inner]
        return plans

    def _run_down_letters(self, base):
        """Whether every proof and current has gone, and whether the gate drops the run switch at once."""
        gone = joined(base, {"current": 0, "proof": 0})
        there = joined(base, {"current": 256, "proof": base["proof"] | 1})
        return [(NOTHING, joined(proofs, bus)) for proofs in (gone, there) for bus in (NOTHING, {"bus": BUS_HARD})]

    def _flowing_letters(self, s, state, base):
        """Selectors, proof of the opening stage, currents of the open ones, rail and pressure between two."""
        plans = []
        asked = s["ask_fuel"]
        opening = s["opening"]
        insides = [(NOTHING, NOTHING)]
        if state == LEAD_IN and opening:
            proved = {"proof": asked | opening}
            insides = [({"no_show": no_show}, NOTHING) for no_show in (0, 1)]
            insides.append((NOTHING, joined(proved, {"bench": 1, "current": asked | opening})))
        elif state == LEAD_IN:
            insides.append((NOTHING, {"supply": SUPPLY_HIGH}))
            if not s["ask_ox"]:
                insides.append((NOTHING, {"rail": RAIL_DEAD}))
        if not self.small.c.fitted & FIT_CURRENTS:  # the gate drops fuel without a fault for the key alone
            insides.append((NOTHING, {"bench": 1}))
        for sel in subsets(s["latched"]):
            chosen = joined(base, {"sel": sel})
            plans += [(preset, joined(chosen, inside)) for preset, inside in insides]
            for current in self.small.lost_currents(asked):
                if current != asked:
                    plans += [(preset, joined(chosen, {"current": current}, inside)) for preset, inside in insides]
                if state == LEAD_IN and opening:
                    proved = {"proof": asked | opening, "current": current | opening}
                    plans.append((NOTHING, joined(chosen, proved)))
        return plans

    def _apart(self, s, state):
        """Letters of WAKE, REST, HELD, TRIP and SERVICE."""
        plans = []
        quiet = {"rpm": RPM_STOPPED, "rail": RAIL_DEAD}
        base = {"rail": RAIL_DEAD} if state == WAKE else NOTHING
        for contact in CONTACTS:
            for master in (NOTHING, OFF):
                hand = joined(base, contact, master)
                for void in self._voids(s):
                    plans.append((NOTHING, joined(hand, void)))
                    plans += [(NOTHING, joined(hand, void, fault)) for _kind, fault in self.rest_faults]
                if state == WAKE or state == HELD:
                    plans.append((NOTHING, joined(hand, {"purge": 1})))
                if state == REST and master is NOTHING:
                    plans += to_bench(self, contact)
                if state == TRIP:
                    held = {"ack_n": self.small.c.ack_hold_ticks}
                    plans.append((held, joined(hand, quiet, {"ack": 1})))
                if state == SERVICE:
                    for extra in self._with_faults():
                        plans += [(NOTHING, joined(hand, quiet, {"service": n}, extra)) for n in (0, 1, 2)]
                        plans += [(NOTHING, joined(hand, {"service": n}, extra)) for n in (1, 2)]
            if state == HELD or state == REST or state == TRIP:
                for extra in self._with_faults() if state == TRIP else (NOTHING,):
                    plans.append((NOTHING, joined(contact, OFF, quiet, {"service": 1}, extra)))
        return plans

    def _with_faults(self):
        """Nothing wrong, and every effect of a fault that leaves the rail dead."""
        return [NOTHING] + [fault for _kind, fault in self.still_faults]
