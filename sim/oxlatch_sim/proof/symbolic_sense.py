"""Sense: what each verdict guarantees about the last raw samples, for every settings record.

The counters of the firmware are shown to be the proof's own runs, cut off where the settings say. From
that follows, channel by channel, which samples a verdict stands for. The same claims cover the firmware's
short cuts: a calm channel is shown to say what the long way would have said.
"""

from __future__ import annotations

from oxlatch.sense_supply import SECONDS_MAX, TREND_SAMPLES
from oxlatch.vocabulary import COIL_OX, COIL_PURGE, ROWS
from oxlatch_sim.proof.symbolic_engine import Range, System
from oxlatch_sim.proof.symbolic_extras import EXTRA_CLAIMS, EXTRA_STRENGTHENINGS, EXTRA_WITNESSES
from oxlatch_sim.proof.symbolic_extras_past import EXTRA_FLAGS, ExtraPast, extras_before, extras_past
from oxlatch_sim.proof.symbolic_parts import objects, sense_part
from oxlatch_sim.proof.symbolic_past import RUN_MAX, SUMS, Fed, Past, feed, remember, runs_past
from oxlatch_sim.proof.symbolic_ranges import COIL_BITS, OUT_BITS, RAW_WORD, SECOND_SUM, VERDICTS, word_range
from oxlatch_sim.proof.symbolic_sense_claims import CLAIMS
from oxlatch_sim.proof.symbolic_sense_exact import EXACT_CLAIMS, WITNESSES
from oxlatch_sim.proof.symbolic_sense_invariants import STRENGTHENINGS


def ranges(cell: str) -> Range:
    """The past's words; everything else as everywhere."""
    owner, _, name = cell.partition("[")[0].partition(".")
    if owner == "fed":
        return 0, COIL_BITS if name == "driven" else OUT_BITS
    if owner == "extra":
        if name in EXTRA_FLAGS:
            return 0, 1
        return (0, ROWS - 1) if name in ("allowed", "row_before") else (0, RUN_MAX)
    if owner != "past":
        return word_range(cell)
    if name in ("x", "coil", "throttle", "rpm", "short_0", "short_1", "switches", "current"):
        return RAW_WORD
    if name == "driven":
        return 0, COIL_BITS
    if name == "sums_at":
        return 0, SUMS - 1
    if name in ("second_sum", "sums", "last_sum", "before_sum", "oldest_sum"):
        return 0, SECOND_SUM
    if name == "sum_coils":
        return 0, COIL_OX | COIL_PURGE
    if name in ("contact", "supply", "fuel", "proof"):
        return 0, VERDICTS[name]
    if name == "found":
        return 0, VERDICTS["block"]
    if name in ("chatter", "noise"):
        return word_range(f"sense.{'chatter_n' if name == 'chatter' else 'rpm_noise_n'}")
    if name == "watched":
        return 0, COIL_OX
    if name == "seconds":
        return 0, SECONDS_MAX
    if name in ("bus_good", "rail_good", "bled", "look", "second", "falling", "line_lost"):
        return 0, 1
    return (0, TREND_SAMPLES - 1) if name == "second_n" else (0, RUN_MAX)


SENSE = System(
    name="sense",
    objects={**objects("c", "raw", "v", "sense"), "fed": Fed, "past": Past, "extra": ExtraPast},
    steps=(feed, remember, extras_before, sense_part, runs_past, extras_past),
    ranges=ranges,
    invariants=(*STRENGTHENINGS, *EXTRA_STRENGTHENINGS),
    claims=(*CLAIMS, *EXACT_CLAIMS, *EXTRA_CLAIMS),
    witnesses=(*WITNESSES, *EXTRA_WITNESSES),
    fresh=frozenset({"raw", "fed"}),
    split="sense.phase",
    loose=True,
    assumptions=("every raw sample is an unsigned 16-bit word",),
)
