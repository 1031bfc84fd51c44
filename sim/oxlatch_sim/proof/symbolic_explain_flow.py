"""Why the invariants of a flow hold: what is driven, behind what, and for how long."""

from __future__ import annotations

from oxlatch_sim.proof.symbolic_explained import COMMAND, NOTHING_ADDED, Explanation, Guard

FLOW_EXPLANATIONS = (
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
        COMMAND,
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
        "Oxidizer without fuel for at most 16 ticks in a row, opening or closing; more only on the bench.",
        (
            Guard(
                "gate",
                "gate.gate_stage",
                "dry_n > DRY_MAX",
                "The gate counts the ticks of oxidizer alone and bars the stage when they pass the limit.",
            ),
            Guard(
                "gate",
                "gate.gate_step",
                "dry = 0 if v.bench and v.rpm == RPM_STOPPED else 1",
                "Only with the bench key in and the engine stopped does the gate not count them; it permits no fuel then.",
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
                "run & OUT_RUN and bits & OUT_PURGE and v.contact == CONTACT_OPEN",
                "The purge valve opens only with no fuel driven and the contact open.",
            ),
            Guard(
                "sequencer",
                "purge.begin_purge",
                "stop(s)",
                "The sequencer drops every wish before it asks for the purge.",
            ),
            Guard(
                "sequencer",
                "purge.may_vent",
                "v.rpm != RPM_STOPPED",
                "Venting, a purge that may run longer and lower, needs a stopped engine in every tick.",
            ),
        ),
        NOTHING_ADDED,
        COMMAND,
    ),
    Explanation(
        "I5",
        "Engine speed lost: every stage output off in that tick.",
        (
            Guard(
                "gate",
                "gate.gate_step",
                "v.rpm >= RPM_HOLD",
                "The gate lets no oxidizer pass, and so no fuel, without enough engine speed in this very tick; on the "
                "bench, with the engine stopped, oxidizer alone.",
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
        NOTHING_ADDED,
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
        COMMAND,
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
        NOTHING_ADDED,
        COMMAND,
    ),
)
