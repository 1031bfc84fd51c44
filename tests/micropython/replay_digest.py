"""Step a controller through recorded raw samples and print digests. The same under MicroPython and CPython.

Arguments: firmware folder, sample file. The file holds scenarios: a settings record, the number of rows (u32), rows of
RAW_COUNT u16; a row of 65535s is a reset. For each scenario a line: ticks, states visited as bits, digest. The digest
takes in every tick's state, reasons and outputs, and the whole state every 16 ticks.
"""

import sys
from array import array
from binascii import hexlify
from hashlib import sha256
from struct import pack_into

sys.path.insert(0, sys.argv[1])

from oxlatch.controller import STATE_WORDS, Controller
from oxlatch.settings import GOOD, RECORD_BYTES, Settings, unpack
from oxlatch.vocabulary import RAW_COUNT

RESET = 65535
WHOLE_EVERY = 16


def replay(stream, record):
    """One scenario: (ticks, states visited as bits, digest)."""
    settings = Settings()
    words = [0] * STATE_WORDS
    line = bytearray(52)
    whole = bytearray(4 * STATE_WORDS)
    row = bytearray(2 * RAW_COUNT)
    total = sha256()
    ticks = 0
    states = 0
    if unpack(record, settings) != GOOD:
        raise SystemExit("settings record is not good")
    controller = Controller(settings)
    for _ in range(int.from_bytes(stream.read(4), "little")):
        stream.readinto(row)
        raw = list(array("H", row))
        if raw[0] == RESET:
            controller = Controller(settings)
            continue
        controller.tick(raw)
        core, out = controller.core, controller.out
        states |= 1 << core.state
        pack_into(
            "<I6i4I2I", line, 0, ticks, core.state, core.latch, out.ox, out.fuel, out.bits | out.lamps << 8,
            out.text,
            core.why0, core.why1, core.why2, core.why3, core.cause0, core.cause1,
        )  # fmt: skip
        total.update(line)
        if ticks % WHOLE_EVERY == 0:
            controller.state_words(words)
            for i in range(STATE_WORDS):
                pack_into("<i", whole, 4 * i, words[i])
            total.update(whole)
        ticks += 1
    return ticks, states, hexlify(total.digest()).decode()


def main():
    with open(sys.argv[2], "rb") as stream:
        while True:
            record = stream.read(RECORD_BYTES)
            if not record:
                break
            print(*replay(stream, record))


main()
