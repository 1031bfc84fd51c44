"""The settings record keeps what it is given and refuses everything else."""

import binascii

import pytest

from oxlatch.crc import Crc32
from oxlatch.settings import (
    BAD_BOUNDS,
    BAD_CRC,
    BAD_VERSION,
    FIELDS,
    GOOD,
    RECORD_BYTES,
    Settings,
    in_bounds,
    pack,
    rules_hold,
    unpack,
)


def record(settings: Settings | None = None) -> bytearray:
    buffer = bytearray(RECORD_BYTES)
    pack(settings or Settings(), buffer)
    return buffer


def resealed(buffer: bytearray) -> bytearray:
    crc = Crc32()
    crc.feed(buffer, 0, RECORD_BYTES - 4)
    crc.write(buffer, RECORD_BYTES - 4)
    return buffer


def test_crc_has_the_published_check_value_and_agrees_with_a_general_library():
    # 0xCBF43926 is the published check value of CRC-32/ISO-HDLC for "123456789".
    crc = Crc32()
    crc.feed(b"123456789", 0, 9)
    out = bytearray(4)
    crc.write(out, 0)
    assert int.from_bytes(out, "little") == 0xCBF43926
    for data in (b"", b"\x00", bytes(range(256)), b"oxlatch" * 100):
        crc.reset()
        crc.feed(data, 0, len(data))
        crc.write(out, 0)
        assert int.from_bytes(out, "little") == binascii.crc32(data)


def test_defaults_are_valid_and_survive_the_record():
    settings = Settings()
    settings.rpm_max = 2801
    back = Settings()
    assert in_bounds(settings)
    assert unpack(record(settings), back) == GOOD
    assert all(getattr(back, f[0]) == getattr(settings, f[0]) for f in FIELDS)


def test_any_flipped_bit_is_refused():
    good = record()
    for at in range(RECORD_BYTES):
        bad = bytearray(good)
        bad[at] ^= 1 << (at % 8)
        assert unpack(bad, Settings()) != GOOD, at


def test_a_short_or_empty_record_is_refused():
    good = record()
    for length in (0, 3, 9, RECORD_BYTES - 1):
        assert unpack(good[:length], Settings()) == BAD_CRC


def test_another_version_is_named_as_such():
    other = record()
    other[3] += 1
    assert unpack(resealed(other), Settings()) == BAD_VERSION


@pytest.mark.parametrize("field", FIELDS, ids=lambda f: f[0])
def test_a_field_beyond_its_bound_is_refused(field):
    name, _unit, low, high, _default = field
    settings = Settings()
    setattr(settings, name, high + 1)
    assert not in_bounds(settings)
    if high < 0x7FFFFFFF:
        assert unpack(record(settings), Settings()) == BAD_BOUNDS
    if low > 0:
        setattr(settings, name, low - 1)
        assert unpack(record(settings), Settings()) == BAD_BOUNDS


@pytest.mark.parametrize(
    "changes",
    [
        {"lead_ticks": 15, "lead_limit_ticks": 15},
        {"tail_ticks": 8, "run_off_ticks": 7},
        {"contact_open_ticks": 101},
        {"master_off_ticks": 201},
        {"purge_good_ticks": 501},
        {"purge_ticks": 1600, "purge_max_ticks": 1599},
        {"throttle_full_mv": 4180},
        {"rpm_min": 2200},
        {"supply_cut_mv": 2220},
        {"supply_permit_mv": 2099},
        {"supply_top_mv": 3300},
        {"fuel_low_mv": 1584},
        {"bus_cut_mv": 12000},
        {"rail_live_mv": 4000, "rail_dead_mv": 5000},
        {"shut_slow_ticks": 60},
        {"fitted": 0xFFFF & ~(1 << 8) & ~(1 << 9)},
        {"stages": 2, "patterns": 0x00FE},
    ],
    ids=str,
)
def test_fields_that_contradict_each_other_are_refused(changes):
    settings = Settings()
    for name, value in changes.items():
        setattr(settings, name, value)
    assert not rules_hold(settings)
