"""The protocol page says what the protocol does: its worked frame, its kinds, its layouts, its refusals."""

import re
from pathlib import Path
from struct import calcsize, unpack_from
from zlib import crc32

from oxlatch import protocol
from oxlatch.cobs import COMPLETE, Decoder, Encoder
from oxlatch_tools.serial.frames import decode_frame, encode_frame

PAGE = (Path(__file__).parents[3] / "hardware_notes" / "protocol.md").read_text("utf-8")


def worked(name):
    return bytes.fromhex(re.search(rf"^{name} +([0-9a-f ]+)$", PAGE, re.MULTILINE)[1])


def test_the_worked_frame_is_worked_out_again():
    plain = worked("plain")
    assert plain[0] == protocol.VERSION
    assert plain[1] == protocol.STREAM
    assert unpack_from("<HH", plain, 2) == (7, 20)
    crc = crc32(plain)
    assert worked("crc-32") == crc.to_bytes(4, "big")
    assert worked("frame") == plain + crc.to_bytes(4, "little")
    assert worked("wire") == encode_frame(plain[1], plain[4:], 7)


def test_the_firmware_reads_and_writes_the_worked_frame():
    wire, frame = worked("wire"), worked("frame")
    decoder = Decoder(protocol.FRAME_MAX)
    decoder.take(wire, 0, len(wire))
    assert decoder.state == COMPLETE
    assert bytes(decoder.frame[: decoder.length]) == frame
    encoder = Encoder(protocol.FRAME_MAX)
    encoder.begin()
    encoder.take(frame, 0, len(frame))
    encoder.finish()
    assert bytes(encoder.wire[: encoder.length]) == wire
    assert decode_frame(wire.strip(b"\0")).seq == 7


def test_every_request_is_on_the_page_under_its_number():
    rows = dict(re.findall(r"^\| ([0-9A-F]{2}) \| ([A-Z_]+) \|", PAGE, re.MULTILINE))
    assert rows
    for kind, name in rows.items():
        assert getattr(protocol, name) == int(kind, 16)
    numbers = {v for k, v in vars(protocol).items() if isinstance(v, int) and k in rows.values()}
    names = [
        "HELLO",
        "STREAM",
        "READ",
        "JOURNAL",
        "PUT_SETTINGS",
        "KEEP_SETTINGS",
        "ASK_SERVICE",
        "RESTART",
        "LOAD_STATE",
        "BEGIN",
        "STEP",
    ]
    assert numbers == {getattr(protocol, name) for name in names}


def test_every_refusal_is_on_the_page_in_the_firmware_s_words():
    rows = re.findall(r"^\| (\d+) \| (.+?) \|$", PAGE, re.MULTILINE)
    told = {int(code): words for code, words in rows if int(code) and words in protocol.REFUSALS}
    assert told == dict(enumerate(protocol.REFUSALS[1:], start=1))


def test_layouts_and_lengths_are_those_of_the_firmware():
    for layout, size in (
        (protocol.TELEMETRY_FORMAT, protocol.TELEMETRY_BYTES),
        (protocol.REPORT_FORMAT, protocol.REPORT_BYTES),
    ):
        assert f"{size} bytes, layout `{layout}`" in PAGE.replace("\n", " ")
        assert calcsize(layout) == size <= protocol.PAYLOAD_MAX
