"""The interval of every word: raw samples, verdicts, state, outputs.

A name stands for the settings field whose largest allowed value is meant. The intervals of raw samples
are assumed (a board delivers unsigned 16-bit words); all others are proved: no tick leaves them. None
comes near 2^30, so nothing on the board ever becomes a big integer.
"""

from __future__ import annotations

from oxlatch import vocabulary as v
from oxlatch.gate import BARRED, DRY_MAX, DRY_SHIFT, ON_SHIFT, STAGE_FUEL, STAGE_OX
from oxlatch.reasons import RULES, WORDS
from oxlatch.sense import HISTORY_TICKS
from oxlatch.sense_engine import CALM_FULL
from oxlatch.sense_extras import CONTACT_TICKS, FIRE_TICKS
from oxlatch.sense_fuel import BLOCK_EVERY_TICKS, DRY_LOOKS, LEAK_COUNT, LEAK_SETTLE_TICKS
from oxlatch.sense_supply import SECONDS_MAX, TREND_SAMPLES
from oxlatch.sense_volts import CALM_LIVE
from oxlatch.settings import FIELDS
from oxlatch.stock import GRAM_SHIFT

Range = tuple[int, int]

SMALL_INTEGER = (1 << 30) - 1
RAW_WORD: Range = (0, 0xFFFF)
STAGE_BITS = (1 << v.STAGES_MAX) - 1
COIL_BITS = v.COIL_OX | v.COIL_FUEL | v.COIL_PURGE | v.COIL_MASTER_FUEL | v.COIL_MASTER_OX
OUT_BITS = v.OUT_MASTER_FUEL | v.OUT_PURGE | v.OUT_RUN | v.OUT_MASTER_OX
EXTRA_BITS = (1 << v.EXTRA_BITS) - 1
SECOND_SUM = TREND_SAMPLES << 16  # sums are kept below samples times 2^16, shifted and not multiplied

_LARGEST = {name: high for name, _unit, _low, high, _default in FIELDS}
_REASON_BITS = [0] * WORDS
for _row in RULES:
    _REASON_BITS[_row[0]] |= _row[1]

SETTINGS: dict[str, Range] = {f"c.{name}": (low, high) for name, _unit, low, high, _default in FIELDS}

VERDICTS: dict[str, int] = {
    "master": 1,
    "purge": 1,
    "ack": 1,
    "bench": 1,
    "inject": 1,
    "sel": STAGE_BITS,
    "proof": STAGE_BITS,
    "contact": v.CONTACT_CLOSED,
    "contact_stuck": 1,
    "chatter": 1,
    "throttle": v.THROTTLE_FULL,
    "throttle_low_seen": 1,
    "rpm": v.RPM_OVER,
    "supply": v.SUPPLY_HIGH,
    "supply_warn": 1,
    "line": v.LINE_TRAPPED,
    "falling": 1,
    "line_lost": 1,
    "fuel": v.FUEL_OVER,
    "block": v.BLOCK_CLEAN,
    "leak_watch": 1,
    "bus": v.BUS_SURGE,
    "rail": v.RAIL_LIVE,
    "shut": v.SHUT_CLEAN,
    "current": RAW_WORD[1],
    "missing": COIL_BITS,
    "stray": RAW_WORD[1],
    "short": RAW_WORD[1],
    "purge_held": 1,
    "time": v.TIME_HARD,
    "late": 1,
    "boot": RAW_WORD[1],
    "service": RAW_WORD[1],
    "extras": EXTRA_BITS,
    "row": v.ROWS - 1,
    "outlets": v.OUTLETS_COLD,
    "bottle_g": RAW_WORD[1],
}

SENSE: dict[str, int | str] = {
    "driven": COIL_BITS,
    "driven_bits": OUT_BITS,
    "d1": COIL_BITS,
    "d2": COIL_BITS,
    "d3": COIL_BITS,
    "d4": COIL_BITS,
    "d5": COIL_BITS,
    "h1": RAW_WORD[1],
    "h2": RAW_WORD[1],
    "h3": RAW_WORD[1],
    "h4": RAW_WORD[1],
    "h5": RAW_WORD[1],
    "same_n": HISTORY_TICKS,
    "coils_same_n": HISTORY_TICKS,
    "switches": RAW_WORD[1],
    "proof": STAGE_BITS,
    "current": RAW_WORD[1],
    "current_1": RAW_WORD[1],
    "absent_1": COIL_BITS,
    "stray_1": RAW_WORD[1],
    "short_1": RAW_WORD[1],
    "unsure_n": "contact_fault_ticks",
    "stuck_n": "detent_stuck_ticks",
    "chatter_n": _LARGEST["chatter_limit_ticks"] + _LARGEST["chatter_cost_ticks"],
    "purge_held_n": "purge_stuck_ticks",
    "phase": 7,
    "throttle_ring": RAW_WORD[1],
    "throttle_fault_n": 2,
    "throttle_drop_n": 2,
    "throttle_full_n": "throttle_full_ticks",
    "throttle_low_seen": 1,
    "rpm_ring": RAW_WORD[1],
    "rpm_stopped_n": "rpm_stopped_ticks",
    "rpm_low_n": "rpm_low_ticks",
    "rpm_fall_n": "rpm_fall_ticks",
    "rpm_noise_n": "rpm_low_ticks",
    "rpm_over_n": "rpm_over_ticks",
    "rpm_window_n": "rpm_window_ticks",
    "supply_fault_n": 2,
    "supply_empty_n": 2,
    "supply_cut_n": "supply_cut_ticks",
    "supply_leave_n": "supply_leave_ticks",
    "supply_high_n": "supply_leave_ticks",
    "supply_permit_n": "supply_permit_ticks",
    "supply_blank_n": "supply_blank_ticks",
    "supply_ok": 1,
    "supply_ox": v.COIL_OX,
    "supply_calm": 1,
    "sum_driven": v.COIL_OX | v.COIL_PURGE,
    "rpm_calm": 1,
    "throttle_calm": CALM_FULL,
    "rail_calm": CALM_LIVE,
    "fuel_calm": 1,
    "bus_calm": 1,
    "sum": SECOND_SUM,
    "sum_n": TREND_SAMPLES - 1,
    "sum_before": SECOND_SUM,
    "seconds": SECONDS_MAX,
    "sum_ring": SECOND_SUM,
    "sum_at": 9,
    "falling": 1,
    "line_lost": 1,
    "fuel_fault_n": 2,
    "fuel_fail_n": 2,
    "fuel_cut_n": "fuel_cut_ticks",
    "fuel_leave_n": "fuel_leave_ticks",
    "fuel_high_n": "fuel_high_ticks",
    "fuel_over_n": 2,
    "fuel_permit_n": "fuel_permit_ticks",
    "fuel_ok": 1,
    "block_fault_n": 2,
    "block_bled": 1,
    "block_ref": RAW_WORD[1],
    "block_fall_n": LEAK_COUNT,
    "block_climb_n": LEAK_COUNT,
    "block_found": v.BLOCK_CLEAN,
    "block_level": v.BLOCK_CLEAN,
    "block_dry_n": DRY_LOOKS,
    "watch_n": LEAK_SETTLE_TICKS + _LARGEST["leak_watch_ticks"] + BLOCK_EVERY_TICKS - 1,
    "leak_watch": 1,
    "bus_hard_n": 2,
    "bus_cut_n": "bus_cut_ticks",
    "bus_surge_n": "bus_cut_ticks",
    "bus_ok": 1,
    "bus_ok_n": "bus_leave_ticks",
    "rail_live": 1,
    "rail_live_n": 2,
    "rail_weak_n": 2,
    "rail_dead_n": 2,
    "rail_weld_n": "rail_weld_ticks",
    "shut_watch": STAGE_BITS,
    "shut_n": "shut_stuck_ticks",
    "late": 1,
    "extras": EXTRA_BITS,
    "knock_1": v.EX_KNOCK,
    "knock_left": "knock_window_ticks",
    "rich_n": CONTACT_TICKS,
    "retard_n": CONTACT_TICKS,
    "fire_n": FIRE_TICKS,
    "red_n": 2,
    "match_n": "match_turns",
    "row": v.ROWS - 1,
    "row_n": "row_turns",
    "outlet_1_n": "outlet_turns",
    "outlet_2_n": "outlet_turns",
    "outlets": v.OUTLETS_COLD,
}

CORE: dict[str, int | str] = {
    "state": v.BENCH_DRY,
    "timer": max(
        _LARGEST[name] for name in ("wake_ticks", "purge_max_ticks", "gap_ticks", "run_off_ticks", "bench_ticks")
    ),
    "why0": _REASON_BITS[0],
    "why1": _REASON_BITS[1],
    "why2": _REASON_BITS[2],
    "why3": _REASON_BITS[3],
    "reaction": v.HARD,
    "ask_ox": STAGE_BITS,
    "ask_fuel": STAGE_BITS,
    "ask_bits": OUT_BITS,
    "latch": 4,
    "cause0": _REASON_BITS[0],
    "cause1": _REASON_BITS[1],
    "store": 4,
    "boot_cleared": 1,
    "disarm": 1,
    "inject": 2,
    "stalled": 1,
    "stuck_before": 1,
    "no_show": 1,
    "open_n": "release_ticks",
    "off_n": "disarm_ticks",
    "ack_n": "ack_hold_ticks",
    "push": v.PUSH_SPENT,
    "push_n": "push_judge_ticks",
    "push_why": _REASON_BITS[2],
    "sel_last": STAGE_BITS,
    "sel_n": "selection_ticks",
    "ready_n": "ready_ticks",
    "arm_left": "arm_ticks",
    "hold_off_left": "hold_off_ticks",
    "starts_n": "start_limit_ticks",
    "purge_valid": 1,
    "purge_left": "purge_valid_ticks",
    "confirm_left": "purge_confirm_ticks",
    "purge_press_n": _LARGEST["purge_press_ticks"] + 1,
    "purge_good_n": "purge_good_ticks",
    "purge_flaw": 1,
    "line_lost_n": "purge_void_ticks",
    "latched": STAGE_BITS,
    "opening": STAGE_BITS,
    "lead_n": "lead_limit_ticks",
    "stagger_n": "stagger_ticks",
    "run_n": "run_ticks",
    "tail": "tail_ticks",
    "classify_n": "classify_ticks",
    "classify0": _REASON_BITS[0],
    "budget": RAW_WORD[1] << GRAM_SHIFT,
    "coil_heat": "coil_heat_top",
    "vent_n": "vent_ticks",
    "bench_n": "bench_push_ticks",
}

GATE: dict[str, int | str] = {
    "stage": STAGE_OX | STAGE_FUEL | BARRED << ON_SHIFT | DRY_MAX << DRY_SHIFT,
    "away_n": _LARGEST["run_off_ticks"] + 1,
    "idle": 1,
}

OUT: dict[str, Range] = {
    "ox": (0, STAGE_BITS),
    "fuel": (0, STAGE_BITS),
    "bits": (0, OUT_BITS),
}


def word_range(cell: str, settings: object = None) -> Range:
    """Interval of a word such as "core.timer", "sense.rpm_ring[3]", "raw[4]", "c.tail_ticks".

    Over all settings, or over one record when it is given. KeyError names a word this table lacks.
    """
    if cell in SETTINGS:
        return SETTINGS[cell]
    owner, _, name = cell.partition("[")[0].partition(".")
    if owner == "raw":
        return RAW_WORD
    if owner == "out":
        return OUT[name]
    table: dict[str, int | str] = {"v": VERDICTS, "sense": SENSE, "core": CORE, "gate": GATE}[owner]  # type: ignore[assignment]
    if name not in table:
        raise KeyError(f"{cell} has no entry in the table of ranges")
    high = table[name]
    if isinstance(high, int):
        return 0, high
    return 0, _LARGEST[high] if settings is None else getattr(settings, high)
