"""Why each invariant holds, as data: which guard of which layer, what hardware adds, and what is left open.

A guard is a piece of the firmware's own text inside a named function; `explain` finds its line, so an
explanation whose guard has gone is an error and not a stale sentence.
"""

from __future__ import annotations

import inspect
from dataclasses import dataclass
from importlib import import_module
from os.path import basename
from typing import Any

LAYERS = ("sense", "sequencer", "gate", "loop", "store", "hardware")


@dataclass(frozen=True)
class Guard:
    """One reason: its layer, the function (module.function) and text that do it, and a sentence."""

    layer: str
    function: str
    text: str
    words: str


@dataclass(frozen=True)
class Explanation:
    """One invariant: what it says, the guards that hold it, what hardware adds, what is not covered."""

    id: str
    words: str
    guards: tuple[Guard, ...]
    hardware: str
    open: str


_NOTHING_ADDED = "Hardware adds nothing here."
_COMMAND = "Commands only: a valve that sticks or a coil that fails is the matter of the other planes."

EXPLANATIONS = (
    Explanation(
        "I1",
        "Fuel of a stage only while its oxidizer is on and has been on for the lead.",
        (
            Guard(
                "gate",
                "gate.gate_stage",
                "on_n >= lead_ticks",
                "The gate counts the ticks it has itself driven oxidizer and lets fuel pass only when the count "
                "has reached the lead.",
            ),
            Guard(
                "gate",
                "gate.gate_stage",
                "if not ask_ox:",
                "Without oxidizer in this tick the stage's whole word is zero, fuel included, and the count "
                "starts afresh.",
            ),
            Guard(
                "sequencer",
                "flow.open_fuel",
                "proved and s.lead_n >= c.lead_ticks",
                "The sequencer asks for fuel only after the same lead, so the gate never has to say no.",
            ),
        ),
        "The driver of each fuel coil is gated by current in its oxidizer coil and by its proof switch.",
        _COMMAND,
    ),
    Explanation(
        "I2",
        "Fuel needs its oxidizer, master fuel valve, run switch, proof, and in the same tick push, "
        "engine speed, pressures and bus.",
        (
            Guard(
                "gate",
                "gate.gate_step",
                "pushed and v.rpm < RPM_OVER and not v.bench",
                "No stage's fuel is permitted unless the throttle is pushed, the engine not over its limit and "
                "the bench key out.",
            ),
            Guard(
                "gate",
                "gate.gate_step",
                "v.supply > SUPPLY_CUT",
                "Pressures, bus and time are looked at again by the gate, in the tick in which they are read.",
            ),
            Guard(
                "gate",
                "gate.gate_step",
                "fuel_ok = v.proof",
                "Proof and coil current of the stage mask the permission where they are fitted.",
            ),
        ),
        "Run switch, throttle contact and master pole stand in the fuel rail; proof and oxidizer "
        "current gate the fuel driver.",
        "Where proof, master fuel valve or currents are not fitted the claim is that much weaker, and is printed so.",
    ),
    Explanation(
        "I3",
        "Oxidizer without fuel for at most 16 ticks in a row, opening or closing.",
        (
            Guard(
                "gate",
                "gate.gate_stage",
                "dry_n > DRY_MAX",
                "The gate counts the ticks of oxidizer alone and bars the stage when they pass the limit.",
            ),
            Guard(
                "sequencer",
                "flow.open_fuel",
                "s.lead_n >= c.lead_limit_ticks",
                "The sequencer gives up an opening that is not proved within its limit.",
            ),
            Guard(
                "sequencer",
                "flow.tails_step",
                "s.ask_ox &= ~(1 << i)",
                "After the fuel, oxidizer ends with the tail, at most eight ticks.",
            ),
        ),
        "The oxidizer rail dies 100 ms after the throttle contact opens.",
        "At the nozzle the lines add their own time; the plan computes it.",
    ),
    Explanation(
        "I4",
        "Never purge with any stage valve.",
        (
            Guard(
                "gate",
                "gate.gate_step",
                "not bits & OUT_PURGE",
                "While purge is asked the gate lets no oxidizer pass, so no fuel either.",
            ),
            Guard(
                "gate",
                "gate.gate_step",
                "run and bits & OUT_PURGE and v.contact == CONTACT_OPEN",
                "The purge valve opens only with no fuel driven and the contact open.",
            ),
            Guard(
                "sequencer",
                "purge.begin_purge",
                "stop(s)",
                "The sequencer drops every wish before it asks for the purge.",
            ),
        ),
        _NOTHING_ADDED,
        _COMMAND,
    ),
    Explanation(
        "I5",
        "Engine speed lost: every stage output off in that tick.",
        (
            Guard(
                "gate",
                "gate.gate_step",
                "v.rpm >= RPM_HOLD",
                "The gate lets no oxidizer pass, and so no fuel, without enough engine speed in this very tick.",
            ),
            Guard(
                "sense",
                "sense_engine.rpm_verdict",
                "elif silent",
                "One sample without pulses for too long is enough for the verdict.",
            ),
            Guard(
                "sequencer",
                "permits.engine_faults",
                "v.rpm < RPM_HOLD",
                "The sequencer stops on the same verdict and keeps the cause.",
            ),
        ),
        _NOTHING_ADDED,
        "Between the last pulse and the verdict lies the pulse age of the settings.",
    ),
    Explanation(
        "I6",
        "No opening without the contact closing after READY.",
        (
            Guard(
                "sequencer",
                "pilot.contact_step",
                "PUSH_JUDGED if s.state == READY else PUSH_SPENT",
                "A closing contact counts only when it comes while READY; any other push is spent.",
            ),
            Guard(
                "sequencer",
                "sequencer.ready",
                "s.push == PUSH_JUDGED",
                "A flow begins only from READY and only with such a push.",
            ),
            Guard(
                "gate",
                "gate.gate_stage",
                "on_n == 0 and not pushed",
                "The gate opens no stage in a tick in which throttle, contact and master do not agree.",
            ),
        ),
        "The fuel rail runs through the throttle contact itself.",
        _COMMAND,
    ),
    Explanation(
        "I7",
        "The set of stages never grows in flow.",
        (
            Guard("sequencer", "flow.start", "s.latched = v.sel", "The selection is taken once, at the push."),
            Guard("sequencer", "flow.drop_unselected", "s.latched &= ~gone", "In flow, stages only leave the set."),
            Guard(
                "gate",
                "gate.gate_stage",
                "on_n == BARRED",
                "A stage that the gate has barred stays off until it is no longer asked for.",
            ),
        ),
        _NOTHING_ADDED,
        _COMMAND,
    ),
    Explanation(
        "I8",
        "After a reset nothing opens without master off then on, contact seen open, and a whole purge.",
        (
            Guard(
                "sequencer",
                "sequencer.rest",
                "elif not v.master:",
                "Arming starts in REST, and counts the master only after it was seen off there.",
            ),
            Guard(
                "sequencer",
                "pilot.contact_step",
                "s.open_n >= c.contact_open_ticks",
                "A push can count only after the contact has been open long enough.",
            ),
            Guard("sequencer", "permits.waits", "PURGE_NEEDED", "Without a valid purge READY is not reached."),
            Guard(
                "sequencer",
                "purge.purging",
                "s.timer >= c.purge_ticks and s.purge_good_n >= c.purge_good_ticks",
                "A purge counts only when it ran its whole time in one press at good pressure.",
            ),
            Guard("sequencer", "purge.purge_step", "not v.master", "Master off voids the purge at once."),
        ),
        "A reset drops the run switch within 30 ms; every output has a pull-down.",
        "Whether the plume was steady is the pilot's word, given with ACK.",
    ),
    Explanation(
        "I9",
        "The selection that latches is an allowed pattern.",
        (
            Guard(
                "sequencer",
                "permits.waits",
                "(c.patterns >> v.sel) & 1",
                "A pattern the settings do not allow keeps READY away, in the tick of the push as in any other.",
            ),
            Guard("sequencer", "flow.start", "s.latched = v.sel", "What latches is the selection of that same tick."),
        ),
        _NOTHING_ADDED,
        "Which patterns are allowed is decided by the plan, from the power ceiling and what has been tested.",
    ),
    Explanation(
        "I10",
        "Valves and run switch are off in every state but PURGING, LEAD-IN, RUN and RUN-DOWN.",
        (
            Guard(
                "sequencer",
                "core.stop",
                "s.ask_bits = 0",
                "Every way out of a flow or a purge drops all wishes before the state changes.",
            ),
            Guard(
                "gate",
                "gate.gate_step",
                "run = bits & OUT_RUN",
                "Without the run switch asked the gate drives nothing at all.",
            ),
        ),
        "Rails are dead without the one-shot, which the loop kicks only while the run switch is driven.",
        _COMMAND,
    ),
    Explanation(
        "I11",
        "With the contact open nothing flows, whatever single input is lost.",
        (
            Guard(
                "sense",
                "sense.switches_step",
                "x ^= made",
                "Two poles that contradict each other agree on nothing, and are not closed.",
            ),
            Guard(
                "gate",
                "gate.gate_stage",
                "on_n == 0 and not pushed",
                "Without a closed contact the gate opens no stage.",
            ),
        ),
        "The fuel rail is open at the contact.",
        "Where only the normally open pole is fitted, a short on it counts as closed; throttle position "
        "is then the other witness.",
    ),
    Explanation(
        "I12",
        "Release: fuel off in that tick, oxidizer within the tail, run switch within the run-off time.",
        (
            Guard(
                "gate",
                "gate.gate_step",
                "g.away_n <= c.tail_ticks",
                "The gate counts the ticks since the push and passes no oxidizer beyond the tail.",
            ),
            Guard(
                "gate", "gate.gate_step", "pushed and v.rpm < RPM_OVER", "No fuel passes in a tick without the push."
            ),
            Guard(
                "sequencer",
                "flow.run_down",
                "s.timer >= c.run_off_ticks",
                "The run switch is dropped when its time is up.",
            ),
            Guard(
                "sense", "sense.debounce", "s.switches & either", "Two samples off are enough for any switch to be off."
            ),
        ),
        "The contact takes the fuel rail with it at once and the oxidizer rail after 100 ms.",
        _COMMAND,
    ),
    Explanation(
        "I13",
        "Latches 3 and 4 outlive a loss of power.",
        (
            Guard(
                "sequencer",
                "trip.note_cause",
                "s.store = s.latch",
                "The latch is handed to the lockout memory in the tick that raises it.",
            ),
            Guard(
                "sequencer",
                "permits.boot_faults",
                "BOOT_LOCKED_L4",
                "What start-up finds there stands as a fault until it is cleared by its rule.",
            ),
        ),
        "The memory keeps its word without power.",
        "That the word reaches the memory is shown by the tests of loop and store, not here.",
    ),
    Explanation(
        "I16",
        "With the bench key no fuel and no master fuel.",
        (
            Guard(
                "gate",
                "gate.gate_step",
                "not v.bench",
                "The gate permits no fuel with the key in, and opens the master fuel valve only with fuel.",
            ),
        ),
        "The fuel connector is unplugged on the bench.",
        _COMMAND,
    ),
)


def line_of(guard: Guard) -> int:
    """Line of a guard's text in its file; ValueError when the function no longer holds it."""
    module_name, _, name = guard.function.rpartition(".")
    function = getattr(import_module(f"oxlatch.{module_name}"), name)
    lines, first = inspect.getsourcelines(function)
    for at, line in enumerate(lines):
        if guard.text in line:
            return first + at
    raise ValueError(f"{guard.function} no longer holds {guard.text!r}")


def explain(invariant: str) -> dict[str, Any]:
    """Why an invariant holds, for the command and its JSON; KeyError names the known ones."""
    found = {one.id: one for one in EXPLANATIONS}.get(invariant.upper())
    if found is None:
        raise KeyError(f"no explanation of {invariant!r}; there are {', '.join(one.id for one in EXPLANATIONS)}")
    guards = []
    for guard in found.guards:
        module = import_module(f"oxlatch.{guard.function.rpartition('.')[0]}")
        where = f"{basename(str(module.__file__))}:{line_of(guard)}"
        guards.append({"layer": guard.layer, "where": where, "text": guard.text, "words": guard.words})
    return {"id": found.id, "words": found.words, "guards": guards, "hardware": found.hardware, "open": found.open}
