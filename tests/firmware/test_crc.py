"""CRC-32 against its published check value and a general library."""

from binascii import crc32

from hypothesis import given
from hypothesis import strategies as st

from oxlatch.crc import Crc32


def value(crc):
    out = bytearray(4)
    crc.write(out, 0)
    return int.from_bytes(out, "little")


def test_check_value_of_the_nine_digits():
    # the check value published for this polynomial: CRC of "123456789"
    crc = Crc32()
    crc.feed(b"123456789", 0, 9)
    assert value(crc) == 0xCBF43926


@given(st.binary(max_size=300), st.integers(1, 20))
def test_agrees_with_a_general_library_in_any_slices(data, step):
    crc = Crc32()
    for at in range(0, len(data), step):
        crc.feed(data, at, min(at + step, len(data)))
    assert value(crc) == crc32(data)
    assert crc.high < 1 << 16
    assert crc.low < 1 << 16


@given(st.binary(max_size=60), st.integers(0, 500))
def test_a_frame_ends_well_with_its_own_crc_and_no_other(data, flip):
    frame = bytearray(data + crc32(data).to_bytes(4, "little"))
    crc = Crc32()
    crc.feed(frame, 0, len(frame))
    assert crc.ended_well()
    frame[flip % len(frame)] ^= 1 << flip % 8
    crc.reset()
    crc.feed(frame, 0, len(frame))
    assert not crc.ended_well()
