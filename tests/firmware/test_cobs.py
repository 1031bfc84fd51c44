"""Byte stuffing against its published examples and a general library, whole and in slices."""

from cobs import cobs
from hypothesis import given
from hypothesis import strategies as st

from oxlatch.cobs import BROKEN, COMPLETE, MORE, Decoder, Encoder

# S. Cheshire and M. Baker, IEEE/ACM Trans. Networking 7(2), 1999, and the table of worked examples that
# accompanies it in the open literature: data, stuffed bytes without the delimiter.
RUN = bytes(range(1, 255))
PUBLISHED = (
    ("00", "01 01"),
    ("00 00", "01 01 01"),
    ("00 11 00", "01 02 11 01"),
    ("11 22 00 33", "03 11 22 02 33"),
    ("11 22 33 44", "05 11 22 33 44"),
    ("11 00 00 00", "02 11 01 01 01"),
    (RUN.hex(), "ff" + RUN.hex()),
    ("00" + RUN.hex(), "01 ff" + RUN.hex()),
    (RUN.hex() + "ff", "ff" + RUN.hex() + "02 ff"),
    (bytes(range(2, 256)).hex() + "00", "ff" + bytes(range(2, 256)).hex() + "01 01"),
    (bytes(range(3, 256)).hex() + "00 01", "fe" + bytes(range(3, 256)).hex() + "02 01"),
)


def encode(data, step=None):
    encoder = Encoder(len(data))
    encoder.begin()
    step = step or len(data) or 1
    for at in range(0, len(data), step):
        encoder.take(data, at, min(at + step, len(data)))
    encoder.finish()
    assert encoder.wire[0] == 0
    return bytes(encoder.wire[1 : encoder.length])


def decode(wire, step=None, room=2000):
    """Every complete frame in `wire`, and how many were broken."""
    decoder = Decoder(room)
    frames, broken = [], 0
    step = step or len(wire) or 1
    for start in range(0, len(wire), step):
        at, end = start, min(start + step, len(wire))
        while at < end:
            at = decoder.take(wire, at, end)
            if decoder.state == COMPLETE:
                frames.append(bytes(decoder.frame[: decoder.length]))
            elif decoder.state == BROKEN:
                broken += 1
    return frames, broken


def test_published_examples_encode_and_decode():
    for data_hex, wire_hex in PUBLISHED:
        data, wire = bytes.fromhex(data_hex), bytes.fromhex(wire_hex)
        assert encode(data) == wire + b"\0", data_hex
        assert decode(wire + b"\0") == ([data], 0), data_hex


@given(st.binary(max_size=600), st.integers(1, 7))
def test_agrees_with_a_general_library_in_any_slices(data, step):
    wire = encode(data, step)
    if data:
        # the library leaves off the last code byte after a full block; both forms decode alike
        assert cobs.decode(wire[:-1]) == data
        assert wire[:-1] in (cobs.encode(data), cobs.encode(data) + b"\x01")
    assert decode(cobs.encode(data) + b"\0", step) == ([data], 0)


def test_a_frame_cut_short_does_not_take_the_next_one_with_it():
    assert decode(b"\x09cut" + b"\0" + encode(b"whole")) == ([b"whole"], 1)


@given(st.binary(min_size=1, max_size=300))
def test_never_puts_a_zero_inside_a_frame(data):
    assert 0 not in encode(data)[:-1]


@given(st.lists(st.binary(min_size=1, max_size=40), max_size=6), st.binary(max_size=20), st.integers(1, 9))
def test_finds_its_feet_at_the_next_delimiter(frames, noise, step):
    wire = noise + b"\0" + b"".join(encode(data) for data in frames)
    found, _ = decode(wire, step)
    assert found[len(found) - len(frames) :] == frames


def test_a_frame_longer_than_the_room_is_broken_not_truncated():
    decoder = Decoder(4)
    wire = encode(b"12345")
    assert decoder.take(wire, 0, len(wire)) == len(wire)
    assert decoder.state == BROKEN
    wire = encode(b"1234")
    decoder.take(wire, 0, len(wire))
    assert decoder.state == COMPLETE
    assert bytes(decoder.frame[: decoder.length]) == b"1234"


def test_a_block_cut_short_is_broken():
    assert decode(b"\x05\x11\x22\0") == ([], 1)


def test_a_run_of_delimiters_is_no_frame():
    decoder = Decoder(4)
    assert decoder.take(b"\0\0\0", 0, 3) == 3
    assert decoder.state == MORE
