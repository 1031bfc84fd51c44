"""Frames of the serial protocol on the host: made and read with general libraries, not with the firmware's code."""

from collections.abc import Iterator
from dataclasses import dataclass
from struct import pack, unpack_from
from zlib import crc32

from cobs import cobs

from oxlatch import protocol

KEYBOARD_INTERRUPT = 3
"""A byte that stops a MicroPython program whose keyboard interrupt is on."""


@dataclass(frozen=True)
class Frame:
    """One whole frame."""

    kind: int
    seq: int
    payload: bytes


def encode_frame(kind: int, payload: bytes = b"", seq: int = 0) -> bytes:
    """The wire bytes of one frame, a delimiter at both ends."""
    body = pack("<BBH", protocol.VERSION, kind, seq & 0xFFFF) + payload
    return b"\0" + cobs.encode(body + pack("<I", crc32(body))) + b"\0"


def quiet_hello(seq: int) -> tuple[int, bytes]:
    """A HELLO, with the first sequence number from `seq` on that keeps the interrupt byte off the wire."""
    while True:
        wire = encode_frame(protocol.HELLO, b"", seq)
        if KEYBOARD_INTERRUPT not in wire:
            return seq & 0xFFFF, wire
        seq += 1


class FrameReader:
    """Takes wire bytes as they come and yields whole frames; counts what is none."""

    def __init__(self) -> None:
        self._rest = b""
        self.broken = 0
        self.text = b""
        """The last bytes that were no frame, for telling what else is at the far end."""

    def feed(self, data: bytes) -> Iterator[Frame]:
        """Frames completed by `data`."""
        *wires, rest = (self._rest + data).split(b"\0")
        self._rest = rest[-2 * protocol.FRAME_MAX :]
        for wire in wires:
            if not wire:
                continue
            frame = decode_frame(wire)
            if frame is None:
                self.broken += 1
                self.text = (self.text + wire)[-400:]
            else:
                yield frame

    def unframed(self) -> bytes:
        """What has come and made no frame."""
        return self.text + self._rest


def decode_frame(wire: bytes) -> Frame | None:
    """The frame between two delimiters, or none when it is not one of this version."""
    try:
        body = cobs.decode(wire)
    except cobs.DecodeError:
        return None
    if not protocol.FRAME_MIN <= len(body) <= protocol.FRAME_MAX or body[0] != protocol.VERSION:
        return None
    if crc32(body[:-4]) != unpack_from("<I", body, len(body) - 4)[0]:
        return None
    return Frame(body[1], unpack_from("<H", body, 2)[0], body[4:-4])
