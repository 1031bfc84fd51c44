"""The settings record: one field table, cross-field rules, pack and unpack.

Everything the tick compares against is here, absolute and in the unit of the raw sample, so that
the tick multiplies and divides by no setting. The host turns bars and per cents into millivolts.

Record layout: b"OXS", version byte, field count (u16), the fields in table order (u32 each), CRC-32;
all little-endian.
"""

from oxlatch.crc import Crc32
from oxlatch.vocabulary import FIT_AIR, FIT_ALL, FIT_DETENT_NC, FIT_THROTTLE

VERSION = 2
MAGIC = b"OXS"
HEADER_BYTES = 6

# name, unit, min, max, default
FIELDS = (
    ("stages", "count", 1, 4, 3),
    ("fitted", "bits", 0, FIT_ALL, 0xFFFF),
    ("patterns", "bits", 0, 0xFFFE, 0x00FE),
    ("patterns_1", "bits", 0, 0xFFFE, 0x00FE),  # the altitude table: patterns of row 1 and thinner air
    ("patterns_2", "bits", 0, 0xFFFE, 0x00FE),
    ("patterns_3", "bits", 0, 0xFFFE, 0x00FE),
    ("patterns_4", "bits", 0, 0xFFFE, 0x00FE),
    ("patterns_5", "bits", 0, 0xFFFE, 0x00FE),
    ("installation_high", "bits", 0, 0xFFFF, 0),
    ("installation_low", "bits", 0, 0xFFFF, 0),
    # sequence
    ("wake_ticks", "ticks", 20, 300, 200),
    ("master_off_ticks", "ticks", 1, 1000, 100),
    ("contact_open_ticks", "ticks", 1, 200, 10),
    ("push_judge_ticks", "ticks", 1, 100, 20),
    ("release_ticks", "ticks", 1, 1000, 100),
    ("disarm_ticks", "ticks", 1, 2000, 200),
    ("ack_hold_ticks", "ticks", 2, 4000, 600),
    ("arm_ticks", "ticks", 2, 360000, 180000),
    ("arm_warn_ticks", "ticks", 1, 360000, 168000),
    ("selection_ticks", "ticks", 1, 400, 60),
    ("ready_ticks", "ticks", 1, 400, 60),
    ("lead_ticks", "ticks", 1, 15, 6),
    ("lead_limit_ticks", "ticks", 2, 16, 16),
    ("stagger_ticks", "ticks", 1, 200, 30),
    ("tail_ticks", "ticks", 0, 8, 8),
    ("run_off_ticks", "ticks", 1, 24, 24),
    ("gap_ticks", "ticks", 1, 2000, 100),
    ("run_ticks", "ticks", 2, 24000, 6000),
    ("run_warn_ticks", "ticks", 1, 24000, 5000),
    ("hold_off_ticks", "ticks", 1, 12000, 2000),
    ("start_cost_ticks", "ticks", 1, 2000, 500),
    ("start_limit_ticks", "ticks", 1, 12000, 2000),
    ("classify_ticks", "ticks", 1, 20, 4),
    # purge
    ("purge_press_ticks", "ticks", 2, 200, 4),
    ("purge_ticks", "ticks", 2, 1600, 500),
    ("purge_max_ticks", "ticks", 2, 2000, 1600),
    ("purge_good_ticks", "ticks", 1, 1600, 200),
    ("purge_confirm_ticks", "ticks", 1, 12000, 3000),
    ("purge_valid_ticks", "ticks", 1, 480000, 240000),
    ("purge_after_run_ticks", "ticks", 1, 480000, 120000),
    ("long_run_ticks", "ticks", 1, 4000, 400),
    ("purge_void_ticks", "ticks", 1, 2000, 100),
    ("purge_stuck_ticks", "ticks", 2, 6000, 2000),
    ("vent_ticks", "ticks", 2, 24000, 12000),
    # bench: oxidizer or current only
    ("bench_ticks", "ticks", 2, 240000, 120000),
    ("bench_push_ticks", "ticks", 2, 2000, 400),
    # bottle budget, in 1/1024 g; flows per tick
    ("bottle_full_g", "g", 1, 60000, 4500),
    ("flow_1", "g/1024", 0, 4096, 54),
    ("flow_2", "g/1024", 0, 4096, 90),
    ("flow_3", "g/1024", 0, 4096, 165),
    ("flow_4", "g/1024", 0, 4096, 0),
    ("flow_purge", "g/1024", 0, 4096, 60),
    ("need_1", "g/1024", 0, 0x3FFFFF, 54000),  # what a start with this stage asks for
    ("need_2", "g/1024", 0, 0x3FFFFF, 90000),
    ("need_3", "g/1024", 0, 0x3FFFFF, 165000),
    ("need_4", "g/1024", 0, 0x3FFFFF, 0),
    # coil heat, in units of the installation's choice
    ("coil_heat_up", "units", 0, 1000, 1),
    ("coil_heat_down", "units", 0, 1000, 1),
    ("coil_heat_start", "units", 0, 0xFFFFFF, 1000000),
    ("coil_heat_top", "units", 1, 0xFFFFFF, 1001000),
    # sense: contact, throttle, engine speed
    ("contact_fault_ticks", "ticks", 1, 200, 10),
    ("detent_stuck_ticks", "ticks", 1, 400, 20),
    ("chatter_cost_ticks", "ticks", 1, 400, 50),
    ("chatter_limit_ticks", "ticks", 1, 2000, 200),
    ("sensor_low_mv", "mV", 50, 500, 250),
    ("sensor_high_mv", "mV", 4500, 4950, 4750),
    ("throttle_half_mv", "mV", 500, 4500, 2500),
    ("throttle_low_mv", "mV", 500, 4500, 3700),
    ("throttle_drop_mv", "mV", 500, 4500, 4180),
    ("throttle_full_mv", "mV", 500, 4500, 4300),
    ("throttle_chop_mv", "mV", 50, 4000, 480),
    ("throttle_full_ticks", "ticks", 2, 200, 10),
    ("pulse_age_ms", "ms", 20, 1000, 100),
    ("rpm_cut", "rpm", 200, 10000, 2200),
    ("rpm_min", "rpm", 300, 10000, 2300),
    ("rpm_max", "rpm", 400, 12000, 2750),
    ("rpm_fall", "rpm", 20, 4000, 100),
    ("rpm_rise", "rpm", 20, 4000, 120),
    ("rpm_low_ticks", "ticks", 2, 100, 12),
    ("rpm_fall_ticks", "ticks", 2, 100, 8),
    ("rpm_window_ticks", "ticks", 2, 1000, 60),
    ("rpm_over_ticks", "ticks", 2, 100, 6),
    ("rpm_stopped_ticks", "ticks", 2, 4000, 1000),
    # sense: oxidizer line pressure
    ("line_empty_mv", "mV", 250, 4750, 540),
    ("line_dead_mv", "mV", 250, 4750, 1100),
    ("line_weak_mv", "mV", 250, 4750, 1300),
    ("line_lost_mv", "mV", 250, 4750, 1700),
    ("line_thin_mv", "mV", 250, 4750, 2100),
    ("line_trapped_mv", "mV", 250, 4750, 3700),
    ("supply_empty_mv", "mV", 250, 4750, 1500),
    ("supply_cut_mv", "mV", 250, 4750, 2020),
    ("supply_leave_mv", "mV", 250, 4750, 2220),
    ("supply_warn_mv", "mV", 250, 4750, 2260),
    ("supply_permit_mv", "mV", 250, 4750, 2300),
    ("supply_top_mv", "mV", 250, 4750, 3260),
    ("supply_over_mv", "mV", 250, 4750, 3300),
    ("supply_cut_ticks", "ticks", 2, 100, 12),
    ("supply_leave_ticks", "ticks", 2, 400, 60),
    ("supply_permit_ticks", "ticks", 2, 2000, 400),
    ("supply_blank_ticks", "ticks", 1, 60, 30),
    ("supply_fall_sum_mv", "mV", 50, 100000, 4000),
    ("line_fall_sum_mv", "mV", 50, 200000, 12000),
    # sense: fuel
    ("fuel_fail_mv", "mV", 250, 4750, 1350),
    ("fuel_cut_mv", "mV", 250, 4750, 1584),
    ("fuel_low_mv", "mV", 250, 4750, 1656),
    ("fuel_top_mv", "mV", 250, 4750, 1944),
    ("fuel_high_mv", "mV", 250, 4750, 1980),
    ("fuel_over_mv", "mV", 250, 4750, 2160),
    ("fuel_cut_ticks", "ticks", 2, 100, 8),
    ("fuel_leave_ticks", "ticks", 2, 400, 60),
    ("fuel_permit_ticks", "ticks", 2, 2000, 400),
    ("fuel_high_ticks", "ticks", 2, 400, 40),
    ("block_drop_mv", "mV", 10, 2000, 70),
    ("leak_watch_ticks", "ticks", 10, 6000, 2000),
    # sense: volts, coils, proofs
    ("bus_hard_mv", "mV", 5000, 30000, 9500),
    ("bus_cut_mv", "mV", 5000, 30000, 10800),
    ("bus_permit_mv", "mV", 5000, 30000, 12000),
    ("bus_surge_mv", "mV", 5000, 36000, 16500),
    ("bus_cut_ticks", "ticks", 2, 100, 4),
    ("bus_leave_ticks", "ticks", 2, 400, 60),
    ("rail_dead_mv", "mV", 100, 5000, 1000),
    ("rail_live_mv", "mV", 4000, 30000, 9000),
    ("rail_weld_ticks", "ticks", 2, 100, 10),
    ("shut_slow_ticks", "ticks", 2, 200, 20),
    ("shut_stuck_ticks", "ticks", 2, 400, 60),
    # sense: bottle temperature, and the saturation pressure at -10 to 35 degC in steps of five
    ("bottle_top_dk", "0.1 K", 2732, 3400, 3152),
    ("bottle_red_dk", "0.1 K", 2732, 3400, 3232),
    ("match_mv", "mV", 50, 2000, 320),
    ("match_turns", "turns", 2, 15000, 1500),
    ("sat_0_mv", "mV", 250, 4750, 1456),
    ("sat_1_mv", "mV", 250, 4750, 1596),
    ("sat_2_mv", "mV", 250, 4750, 1748),
    ("sat_3_mv", "mV", 250, 4750, 1916),
    ("sat_4_mv", "mV", 250, 4750, 2100),
    ("sat_5_mv", "mV", 250, 4750, 2300),
    ("sat_6_mv", "mV", 250, 4750, 2520),
    ("sat_7_mv", "mV", 250, 4750, 2760),
    ("sat_8_mv", "mV", 250, 4750, 3024),
    ("sat_9_mv", "mV", 250, 4750, 3316),
    # sense: air density in 1/10000 of the standard at sea level, below which a row of the table begins
    ("density_1", "1e-4", 100, 20000, 9000),
    ("density_2", "1e-4", 100, 20000, 8600),
    ("density_3", "1e-4", 100, 20000, 8200),
    ("density_4", "1e-4", 100, 20000, 7800),
    ("density_5", "1e-4", 100, 20000, 7400),
    ("row_turns", "turns", 1, 2000, 50),
    # sense: discretes, outlets, airspeed
    ("knock_window_ticks", "ticks", 2, 400, 40),
    ("outlet_cold_dk", "0.1 K", 1732, 2732, 2332),
    ("outlet_turns", "turns", 1, 200, 13),
    ("airspeed_top_mv", "mV", 250, 4750, 3000),
)

RECORD_BYTES = HEADER_BYTES + 4 * len(FIELDS) + 4

GOOD = 0
BAD_CRC = 1
BAD_VERSION = 2
BAD_BOUNDS = 3


class Settings:
    """The unpacked record: one integer attribute per field. Read-only to the tick."""

    def __init__(self):
        for field in FIELDS:
            setattr(self, field[0], field[4])


def rules_hold(c):
    """Whether the cross-field rules hold. Pure comparisons, so the proof can assume them verbatim."""
    if not (
        c.lead_ticks < c.lead_limit_ticks
        and c.tail_ticks <= c.run_off_ticks
        and c.contact_open_ticks <= c.release_ticks
        and c.master_off_ticks <= c.disarm_ticks
        and c.arm_warn_ticks < c.arm_ticks
        and c.run_warn_ticks < c.run_ticks
        and c.purge_ticks <= c.purge_max_ticks
        and c.purge_good_ticks <= c.purge_ticks
        and c.purge_after_run_ticks <= c.purge_valid_ticks
        and c.purge_max_ticks <= c.vent_ticks
        and c.coil_heat_start < c.coil_heat_top
    ):
        return False
    if not (
        c.throttle_half_mv < c.throttle_low_mv < c.throttle_drop_mv < c.throttle_full_mv
        and c.rpm_cut < c.rpm_min < c.rpm_max
        and c.line_empty_mv < c.line_dead_mv < c.line_weak_mv < c.line_lost_mv < c.line_thin_mv < c.line_trapped_mv
        and c.bus_hard_mv < c.bus_cut_mv < c.bus_permit_mv < c.bus_surge_mv
        and c.rail_dead_mv < c.rail_live_mv
        and c.shut_slow_ticks < c.shut_stuck_ticks
    ):
        return False
    if not (
        c.supply_empty_mv < c.supply_cut_mv < c.supply_leave_mv < c.supply_warn_mv
        and c.supply_warn_mv < c.supply_permit_mv < c.supply_top_mv < c.supply_over_mv
        and c.fuel_fail_mv < c.fuel_cut_mv < c.fuel_low_mv < c.fuel_top_mv
        and c.fuel_top_mv < c.fuel_high_mv < c.fuel_over_mv
        and c.line_thin_mv <= c.supply_permit_mv
        and c.supply_top_mv < c.line_trapped_mv
        and c.sensor_low_mv <= c.supply_empty_mv
        and c.supply_over_mv <= c.sensor_high_mv
        and c.sensor_low_mv <= c.fuel_fail_mv
        and c.fuel_over_mv <= c.sensor_high_mv
    ):
        return False
    if not (extras_rules_hold(c) and table_rules_hold(c)):
        return False
    return c.fitted & (FIT_DETENT_NC | FIT_THROTTLE) != 0


def extras_rules_hold(c):
    """The rules among bottle temperature, saturation and airspeed."""
    return (
        c.bottle_top_dk < c.bottle_red_dk
        and c.sat_0_mv < c.sat_1_mv < c.sat_2_mv < c.sat_3_mv < c.sat_4_mv
        and c.sat_4_mv < c.sat_5_mv < c.sat_6_mv < c.sat_7_mv < c.sat_8_mv < c.sat_9_mv
        and c.sensor_low_mv <= c.airspeed_top_mv <= c.sensor_high_mv
    )


def table_rules_hold(c):
    """The rules of the altitude table, where air is measured: thinner air in every further row, stages that exist."""
    top = 1 << (1 << c.stages)
    if c.patterns >= top:
        return False
    if not c.fitted & FIT_AIR:
        return True
    return (
        c.density_1 > c.density_2 > c.density_3 > c.density_4 > c.density_5
        and c.patterns_1 < top
        and c.patterns_2 < top
        and c.patterns_3 < top
        and c.patterns_4 < top
        and c.patterns_5 < top
    )


def in_bounds(c):
    """Whether every field lies within its own bounds and the cross-field rules hold."""
    for name, _unit, low, high, _default in FIELDS:
        value = getattr(c, name)
        if value < low or value > high:
            return False
    return rules_hold(c)


def pack(c, buffer):
    """Write the record of settings `c` into a bytearray of RECORD_BYTES."""
    buffer[0:3] = MAGIC
    buffer[3] = VERSION
    buffer[4] = len(FIELDS) & 255
    buffer[5] = len(FIELDS) >> 8
    at = HEADER_BYTES
    for field in FIELDS:
        value = getattr(c, field[0])
        for shift in (0, 8, 16, 24):
            buffer[at] = (value >> shift) & 255
            at += 1
    crc = Crc32()
    crc.feed(buffer, 0, at)
    crc.write(buffer, at)


def unpack(buffer, c):
    """Read a record into settings `c`; return GOOD, BAD_CRC, BAD_VERSION or BAD_BOUNDS.

    On anything but GOOD the contents of `c` must not be used to drive an output; the caller hands
    the verdict to the tick, which stays in TRIP.
    """
    if len(buffer) < HEADER_BYTES + 4 or bytes(buffer[0:3]) != MAGIC:
        return BAD_CRC
    if buffer[3] != VERSION or buffer[4] | (buffer[5] << 8) != len(FIELDS):
        return BAD_VERSION
    if len(buffer) != RECORD_BYTES:
        return BAD_CRC
    crc = Crc32()
    crc.feed(buffer, 0, RECORD_BYTES - 4)
    if not crc.matches(buffer, RECORD_BYTES - 4):
        return BAD_CRC
    at = HEADER_BYTES
    for name, _unit, _low, high, _default in FIELDS:
        if buffer[at + 3] > high >> 24:
            return BAD_BOUNDS
        setattr(c, name, buffer[at] | (buffer[at + 1] << 8) | (buffer[at + 2] << 16) | (buffer[at + 3] << 24))
        at += 4
    if not in_bounds(c):
        return BAD_BOUNDS
    return GOOD
