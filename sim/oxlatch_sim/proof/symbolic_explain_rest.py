"""Why the invariants around a flow hold: what must come before it, what ends it, what stays, and the bench."""

from __future__ import annotations

from oxlatch_sim.proof.symbolic_explained import COMMAND, NOTHING_ADDED, Explanation, Guard

REST_EXPLANATIONS = (
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
            Guard(
                "sequencer", "purge.purging", "not s.vent_n", "A press that vented the line never counts as a purge."
            ),
            Guard("sequencer", "purge.purge_step", "not v.master", "Master off voids the purge at once."),
        ),
        "A reset drops the run switch within 30 ms; every output has a pull-down.",
        "Whether the plume was steady is the pilot's word, given with ACK, where no outlet temperature is fitted. The "
        "bench asks for no purge: its engine is stopped and its fuel off.",
    ),
    Explanation(
        "I9",
        "The selection that latches is a pattern that the row of the present air density allows.",
        (
            Guard(
                "sequencer",
                "permits.waits",
                "(row_patterns(v.row, c) >> v.sel) & 1",
                "A pattern the row does not allow keeps READY away, in the tick of the push as in any other.",
            ),
            Guard(
                "sense",
                "sense_extras.air_step",
                "elif s.row_n < c.row_turns:",
                "Thinner air counts only after its whole time, one row at a time; denser air counts at once.",
            ),
            Guard(
                "sense",
                "sense_extras.air_step",
                "row = 0",
                "A bad signal of barometer or outside air gives the row of the densest air, which allows least.",
            ),
            Guard("sequencer", "flow.start", "s.latched = v.sel", "What latches is the selection of that same tick."),
        ),
        NOTHING_ADDED,
        "Which patterns a row allows is decided by the plan, from the power ceiling and what has been tested. Without "
        "barometer and outside air the first row stands for all air.",
    ),
    Explanation(
        "I10",
        "Valves and run switch are off in every state but PURGING, LEAD-IN, RUN, RUN-DOWN and the bench modes; the "
        "master oxidizer valve in every state that is neither armed nor the gas bench.",
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
                "run = bits & (OUT_RUN | OUT_MASTER_OX)",
                "Without the run switch asked the gate drives nothing but the master oxidizer valve, and that only if "
                "asked.",
            ),
            Guard(
                "sequencer",
                "sequencer.master_ox_step",
                "WAITING <= s.state <= GAP",
                "The master oxidizer valve is asked for in armed states and on the gas bench only.",
            ),
        ),
        "Rails are dead without the one-shot, which the loop kicks only while the run switch is driven.",
        COMMAND,
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
        COMMAND,
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
        "With the bench key no fuel and no master fuel; a bench mode never asks for either.",
        (
            Guard(
                "gate",
                "gate.gate_step",
                "not v.bench",
                "The gate permits no fuel with the key in, and opens the master fuel valve only with fuel.",
            ),
            Guard(
                "sequencer",
                "bench_modes.bench_push",
                "s.ask_bits = OUT_RUN",
                "On the bench a push asks for the run switch and oxidizer stages, never for fuel or its master valve.",
            ),
            Guard(
                "sequencer",
                "bench_modes.bench",
                "not v.bench or not v.master or v.rpm != RPM_STOPPED",
                "Key out, master off or a turning engine ends a bench mode in that tick.",
            ),
            Guard(
                "sequencer",
                "permits.waits",
                "BENCH_KEY_FITTED",
                "With the key in READY is not reached, so no flow of a flight begins.",
            ),
        ),
        "The fuel connector is unplugged on the bench.",
        COMMAND,
    ),
)
