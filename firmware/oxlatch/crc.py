"""CRC-32 (the reflected 0x04C11DB7 of Ethernet and zip files) in two 16-bit halves.

A 32-bit value does not fit a small integer on the board's 31-bit machine words, and a big integer
allocates; two halves never do, so the same code serves start-up and the locked loop.
"""

from array import array

POLYNOMIAL_HIGH = 0xEDB8
POLYNOMIAL_LOW = 0x8320

# the register after a frame and its own CRC: CRC-32's fixed remainder, before the final inversion
REMAINDER_HIGH = 0xDEBB
REMAINDER_LOW = 0x20E3


def _tables():
    """What each value of a byte does to the register, its high halves and its low halves."""
    high = array("H", bytearray(512))
    low = array("H", bytearray(512))
    for value in range(256):
        h, l = 0, value
        for _ in range(8):
            carry = l & 1
            l = (l >> 1) | ((h & 1) << 15)
            h >>= 1
            if carry:
                h ^= POLYNOMIAL_HIGH
                l ^= POLYNOMIAL_LOW
        high[value] = h
        low[value] = l
    return high, low


_HIGH, _LOW = _tables()


class Crc32:
    """A running CRC-32. `high` and `low` hold the register, not yet inverted."""

    def __init__(self):
        self.reset()

    def reset(self):
        """Start afresh."""
        self.high = 0xFFFF
        self.low = 0xFFFF

    def feed(self, buffer, start, end):
        """Take in buffer[start:end]. Allocates nothing."""
        table_high = _HIGH
        table_low = _LOW
        high = self.high
        low = self.low
        for i in range(start, end):
            x = (low ^ buffer[i]) & 255
            low = ((low >> 8) | ((high & 255) << 8)) ^ table_low[x]
            high = (high >> 8) ^ table_high[x]
        self.high = high
        self.low = low

    def write(self, buffer, at):
        """Store the finished value as four little-endian bytes at buffer[at]."""
        h = self.high ^ 0xFFFF
        l = self.low ^ 0xFFFF
        buffer[at] = l & 255
        buffer[at + 1] = l >> 8
        buffer[at + 2] = h & 255
        buffer[at + 3] = h >> 8

    def matches(self, buffer, at):
        """Whether the four bytes at buffer[at] are the finished value."""
        h = self.high ^ 0xFFFF
        l = self.low ^ 0xFFFF
        return (
            buffer[at] == l & 255
            and buffer[at + 1] == l >> 8
            and buffer[at + 2] == h & 255
            and buffer[at + 3] == h >> 8
        )

    def ended_well(self):
        """Whether what was fed ended with its own CRC in little-endian order."""
        return self.high == REMAINDER_HIGH and self.low == REMAINDER_LOW
