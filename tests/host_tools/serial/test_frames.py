"""Frames on the host: made with general libraries, read by the firmware's decoder, and the other way round."""

import random

from hypothesis import given
from hypothesis import strategies as st

from oxlatch import protocol
from oxlatch.cobs import COMPLETE, Decoder
from oxlatch.crc import Crc32
from oxlatch_tools.serial.frames import KEYBOARD_INTERRUPT, FrameReader, encode_frame, quiet_hello


@given(st.integers(0, 255), st.binary(max_size=protocol.PAYLOAD_MAX), st.integers(0, 65535))
def test_the_firmware_reads_what_the_host_writes(kind, payload, seq):
    wire = encode_frame(kind, payload, seq)
    decoder = Decoder(protocol.FRAME_MAX)
    assert decoder.take(wire, 0, len(wire)) == len(wire)
    assert decoder.state == COMPLETE
    crc = Crc32()
    crc.feed(decoder.frame, 0, decoder.length)
    assert crc.ended_well()
    assert bytes(decoder.frame[4 : decoder.length - 4]) == payload
    (frame,) = FrameReader().feed(wire)
    assert (frame.kind, frame.payload, frame.seq) == (kind, payload, seq)


@given(st.integers(0, 65535))
def test_a_hello_never_carries_the_byte_that_stops_a_program(seq):
    number, wire = quiet_hello(seq)
    assert KEYBOARD_INTERRUPT not in wire
    (frame,) = FrameReader().feed(wire)
    assert (frame.kind, frame.seq) == (protocol.HELLO, number)


def test_frames_are_found_between_text_noise_and_cut_frames_in_any_pieces():
    rng = random.Random(3)
    reader = FrameReader()
    wire = b"MicroPython v1.28\r\n>>> "
    for n in range(200):
        wire += encode_frame(protocol.TELEMETRY, rng.randbytes(rng.randrange(60)), n)
        wire += rng.choice((b"", b"text\r\n", encode_frame(1, b"x" * 30, 2)[:17], rng.randbytes(9)))
    found = []
    at = 0
    while at < len(wire):
        step = rng.randrange(1, 40)
        found += reader.feed(wire[at : at + step])
        at += step
    assert [frame.seq for frame in found] == list(range(200))
    assert reader.broken > 50
    assert len(reader.unframed()) <= 1000
