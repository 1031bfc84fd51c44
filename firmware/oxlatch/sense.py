"""Raw samples to verdicts, one function per channel.

A verdict is a small ordered number. Stop verdicts count consecutive raw samples, with no filter in
between, so each says something exact about the last samples. Switches need six equal samples to go
on and two to go off; proof and current bits need two both ways. Whole words are debounced at once:
the history of a word is kept, and a bit is on when it is on in every word of the history.
"""

from oxlatch.sense_engine import rpm_step, throttle_step
from oxlatch.sense_extras import FIT_EXTRAS, extras_step
from oxlatch.sense_fuel import DRY_LOOKS, block_step, fuel_step
from oxlatch.sense_supply import supply_step, trend_step
from oxlatch.sense_volts import rail_step, volts_step
from oxlatch.vocabulary import (  # fmt: skip
    BLOCK_CLEAN, COIL_OX, CONTACT_CLOSED, CONTACT_FAULT, CONTACT_OPEN, CONTACT_UNSURE, FIT_CURRENTS,
    FIT_DETENT_NC, FIT_PROOF, FIT_THROTTLE, FUEL_FAIL, RAW_BOOT, RAW_BOTTLE_G, RAW_CURRENTS, RAW_ELAPSED,
    RAW_SERVICE, RAW_SHORTS, RAW_SWITCHES, RAW_THROTTLE_MV, SHUT_CLEAN, SHUT_SLOW, SHUT_STUCK, SW_DETENT_NC,
    SW_DETENT_NO, SW_PROOF_SHIFT, SW_PURGE, SW_SEL_SHIFT, TIME_GOOD, TIME_HARD, TIME_LATE,
)

HISTORY_TICKS = 7  # a word unchanged for this long has filled every history
SLOPE_TICKS = 8  # length of the rings of throttle and engine speed

VERDICT_NAMES = (
    "master",
    "purge",
    "ack",
    "bench",
    "inject",
    "sel",
    "proof",
    "contact",
    "contact_stuck",
    "chatter",
    "throttle",
    "throttle_low_seen",
    "rpm",
    "supply",
    "supply_warn",
    "line",
    "falling",
    "line_lost",
    "fuel",
    "block",
    "leak_watch",
    "bus",
    "rail",
    "shut",
    "current",
    "missing",
    "stray",
    "short",
    "purge_held",
    "time",
    "late",
    "boot",
    "service",
    "extras",
    "row",
    "outlets",
    "bottle_g",
)

# name, number of words
SENSE_WORDS = (
    ("driven", 1),  # coils commanded after the previous tick, COIL_*
    ("driven_bits", 1),  # OUT_* commanded after the previous tick
    ("d1", 1),
    ("d2", 1),
    ("d3", 1),
    ("d4", 1),
    ("d5", 1),
    ("h1", 1),
    ("h2", 1),
    ("h3", 1),
    ("h4", 1),
    ("h5", 1),
    ("same_n", 1),
    ("switches", 1),
    ("proof", 1),
    ("coils_same_n", 1),
    ("current", 1),
    ("current_1", 1),
    ("absent_1", 1),
    ("stray_1", 1),
    ("short_1", 1),
    ("unsure_n", 1),
    ("stuck_n", 1),
    ("chatter_n", 1),
    ("purge_held_n", 1),
    ("phase", 1),
    ("throttle_ring", SLOPE_TICKS),
    ("throttle_fault_n", 1),
    ("throttle_drop_n", 1),
    ("throttle_full_n", 1),
    ("throttle_low_seen", 1),
    ("throttle_calm", 1),
    ("rpm_ring", SLOPE_TICKS),
    ("rpm_stopped_n", 1),
    ("rpm_low_n", 1),
    ("rpm_fall_n", 1),
    ("rpm_noise_n", 1),
    ("rpm_over_n", 1),
    ("rpm_window_n", 1),
    ("rpm_calm", 1),
    ("supply_fault_n", 1),
    ("supply_empty_n", 1),
    ("supply_cut_n", 1),
    ("supply_leave_n", 1),
    ("supply_high_n", 1),
    ("supply_permit_n", 1),
    ("supply_blank_n", 1),
    ("supply_ox", 1),
    ("supply_ok", 1),
    ("supply_calm", 1),
    ("sum_driven", 1),
    ("sum", 1),
    ("sum_n", 1),
    ("sum_before", 1),
    ("seconds", 1),
    ("sum_ring", 10),
    ("sum_at", 1),
    ("falling", 1),
    ("line_lost", 1),
    ("fuel_fault_n", 1),
    ("fuel_fail_n", 1),
    ("fuel_cut_n", 1),
    ("fuel_leave_n", 1),
    ("fuel_high_n", 1),
    ("fuel_over_n", 1),
    ("fuel_permit_n", 1),
    ("fuel_ok", 1),
    ("fuel_calm", 1),
    ("block_fault_n", 1),
    ("block_bled", 1),
    ("block_ref", 1),
    ("block_fall_n", 1),
    ("block_climb_n", 1),
    ("block_found", 1),
    ("block_level", 1),
    ("block_dry_n", 1),
    ("watch_n", 1),
    ("leak_watch", 1),
    ("bus_hard_n", 1),
    ("bus_cut_n", 1),
    ("bus_surge_n", 1),
    ("bus_ok", 1),
    ("bus_ok_n", 1),
    ("bus_calm", 1),
    ("rail_calm", 1),
    ("rail_live", 1),
    ("rail_live_n", 1),
    ("rail_weak_n", 1),
    ("rail_dead_n", 1),
    ("rail_weld_n", 1),
    ("shut_watch", 1),
    ("shut_n", 1),
    ("late", 1),
    ("extras", 1),
    ("knock_1", 1),
    ("knock_left", 1),
    ("rich_n", 1),
    ("retard_n", 1),
    ("fire_n", 1),
    ("red_n", 1),
    ("match_n", 1),
    ("row", 1),
    ("row_n", 1),
    ("outlet_1_n", 1),
    ("outlet_2_n", 1),
    ("outlets", 1),
)


class Verdicts:
    """What the rest of the tick may know. One integer attribute per name; all zero means unknown."""

    def __init__(self):
        for name in VERDICT_NAMES:
            setattr(self, name, 0)


class SenseState:
    """Histories and counters of every channel."""

    def __init__(self):
        for name, count in SENSE_WORDS:
            setattr(self, name, [0] * count if count > 1 else 0)
        self.block_found = BLOCK_CLEAN
        self.block_level = BLOCK_CLEAN


def sense_step(s, raw, c, v):
    """One tick of every channel: list `raw` in, verdicts `v` out, for settings `c`.

    The two slow channels, the leak watch and the pressure trend, take turns on every fourth tick.
    """
    s.phase = (s.phase + 1) & 7
    switches_step(s, raw, c, v)
    coils_step(s, raw, c, v)
    throttle_step(s, raw, c, v)
    rpm_step(s, raw, c, v)
    supply_step(s, raw, c, v)
    fuel_step(s, raw, c, v)
    volts_step(s, raw, c, v)
    rail_step(s, raw, c, v)
    if raw[RAW_ELAPSED] == 1:
        s.late = 0
        v.late = 0
        v.time = TIME_GOOD
    else:
        time_step(s, raw, v)
    turn = s.phase & 3
    if turn == 1:
        block_step(s, raw, c)
    elif turn == 3:
        trend_step(s, raw, c)
    if s.block_dry_n >= DRY_LOOKS:
        v.fuel = FUEL_FAIL
    v.block = s.block_level
    v.leak_watch = s.leak_watch
    v.falling = s.falling
    v.line_lost = s.line_lost
    if c.fitted & FIT_EXTRAS:
        extras_step(s, raw, c, v)
    v.bottle_g = raw[RAW_BOTTLE_G]
    v.boot = raw[RAW_BOOT]
    v.service = raw[RAW_SERVICE]


def switches_step(s, raw, c, v):
    """Debounce every switch; turn the detent's two poles into one contact verdict."""
    x = raw[RAW_SWITCHES]
    made = x & (SW_DETENT_NO | SW_DETENT_NC)
    if made == SW_DETENT_NO | SW_DETENT_NC or not made:
        if not c.fitted & FIT_DETENT_NC:
            x ^= SW_DETENT_NC
        elif made:
            x ^= made
    # From here the NO bit means "poles agree: closed" and the NC bit "poles agree: open".
    before = s.h1
    if x != before or s.same_n < HISTORY_TICKS:
        debounce(s, x, before, c)
    w = s.switches
    v.proof = s.proof
    v.master = w & 1
    v.purge = (w >> 1) & 1
    v.ack = (w >> 2) & 1
    v.bench = (w >> 5) & 1
    v.inject = (w >> 6) & 1
    v.sel = (w >> SW_SEL_SHIFT) & 15
    if (x ^ before) & SW_DETENT_NO:
        s.chatter_n += c.chatter_cost_ticks
        if s.chatter_n > c.chatter_limit_ticks + c.chatter_cost_ticks:
            s.chatter_n = c.chatter_limit_ticks + c.chatter_cost_ticks
    elif s.chatter_n:
        s.chatter_n -= 1
    v.chatter = 1 if s.chatter_n > c.chatter_limit_ticks else 0
    contact_step(s, raw, c, v, w)


def debounce(s, x, before, c):
    """Six equal samples turn a bit on, two turn it off; proof bits need two both ways."""
    s.same_n = s.same_n + 1 if x == before else 0
    both = x & before
    either = x | before
    s.switches = (s.switches & either) | (both & s.h2 & s.h3 & s.h4 & s.h5)
    s.h5 = s.h4
    s.h4 = s.h3
    s.h3 = s.h2
    s.h2 = before
    s.h1 = x
    if c.fitted & FIT_PROOF:
        s.proof = ((s.proof & (either >> SW_PROOF_SHIFT)) | (both >> SW_PROOF_SHIFT)) & 15


def contact_step(s, raw, c, v, w):
    """The contact verdict from debounced word `w`; a contact that cannot be true; a purge button held too long."""
    v.contact_stuck = 0
    if w & SW_DETENT_NC:
        v.contact = CONTACT_OPEN
        s.unsure_n = 0
    elif w & SW_DETENT_NO:
        v.contact = CONTACT_CLOSED
        s.unsure_n = 0
    elif s.unsure_n < c.contact_fault_ticks:
        s.unsure_n += 1
        v.contact = CONTACT_UNSURE
    else:
        v.contact = CONTACT_FAULT
    if s.h1 & SW_DETENT_NO and raw[RAW_THROTTLE_MV] < c.throttle_low_mv and c.fitted & FIT_THROTTLE:
        if s.stuck_n < c.detent_stuck_ticks:
            s.stuck_n += 1
        else:
            v.contact_stuck = 1
    else:
        s.stuck_n = 0
    v.purge_held = 0
    if not w & SW_PURGE:
        s.purge_held_n = 0
    elif s.purge_held_n < c.purge_stuck_ticks:
        s.purge_held_n += 1
    else:
        v.purge_held = 1


def coils_step(s, raw, c, v):
    """Coil currents against what was commanded, and proof switches that stay up too long."""
    driven = s.driven
    if not c.fitted & FIT_CURRENTS:
        v.current = 0
        v.missing = 0
        v.stray = 0
        v.short = 0
    else:
        x = raw[RAW_CURRENTS]
        if s.coils_same_n >= HISTORY_TICKS and x == s.current_1 and driven == s.d1:
            v.current = x
            v.missing = driven & ~x
            v.stray = x & ~driven
        else:
            currents_step(s, x, driven, v)
        x = raw[RAW_SHORTS]
        v.short = x & s.short_1
        s.short_1 = x
    v.shut = SHUT_CLEAN
    s.shut_watch = (s.shut_watch & s.proof) | (driven & COIL_OX)
    if v.master:
        s.shut_watch |= s.proof  # armed, a proof that stands without its coil is one that has not shut
    if not s.shut_watch & s.proof & ~driven:
        s.shut_n = 0
    elif s.shut_n < c.shut_stuck_ticks:
        s.shut_n += 1
        if s.shut_n > c.shut_slow_ticks:
            v.shut = SHUT_SLOW
    else:
        v.shut = SHUT_STUCK


def currents_step(s, x, driven, v):
    """Current present, missing for two samples 15 ms after its command, or present 30 ms after it."""
    s.coils_same_n = s.coils_same_n + 1 if x == s.current_1 and driven == s.d1 else 0
    s.current = (s.current & (x | s.current_1)) | (x & s.current_1)
    s.current_1 = x
    v.current = s.current
    absent = driven & s.d1 & s.d2 & ~x
    v.missing = absent & s.absent_1
    s.absent_1 = absent
    stray = x & ~(driven | s.d1 | s.d2 | s.d3 | s.d4 | s.d5)
    v.stray = stray & s.stray_1
    s.stray_1 = stray
    s.d5 = s.d4
    s.d4 = s.d3
    s.d3 = s.d2
    s.d2 = s.d1
    s.d1 = driven


def time_step(s, raw, v):
    """Elapsed ticks are an input like any other: one late tick is told, two in a row stop, 20 ms is hard."""
    elapsed = raw[RAW_ELAPSED]
    v.time = TIME_GOOD
    v.late = 0
    if elapsed > 1:
        v.late = 1
        if elapsed > 3:
            v.time = TIME_HARD
        elif s.late:
            v.time = TIME_LATE
    s.late = v.late
