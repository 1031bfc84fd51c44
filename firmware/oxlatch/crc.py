"""CRC-32 (the reflected 0x04C11DB7 of Ethernet and zip files) in two 16-bit halves.

A 32-bit value does not fit a small integer on the board's 31-bit machine words, and a big integer
allocates; two halves never do, so the same code serves start-up and the locked loop.
"""


def _nibble_tables():
    high = []
    low = []
    for value in range(16):
        h, l = 0, value
        for _ in range(4):
            carry = l & 1
            l = (l >> 1) | ((h & 1) << 15)
            h >>= 1
            if carry:
                h ^= 0xEDB8
                l ^= 0x8320
        high.append(h)
        low.append(l)
    return bytes_of(high), bytes_of(low)


def bytes_of(halves):
    """Sixteen 16-bit values as little-endian bytes, so that the table lives outside the heap walk."""
    out = bytearray()
    for half in halves:
        out.append(half & 255)
        out.append(half >> 8)
    return bytes(out)


_HIGH, _LOW = _nibble_tables()


class Crc32:
    """A running CRC-32. `high` and `low` hold the register, not yet inverted."""

    def __init__(self):
        self.high = 0xFFFF
        self.low = 0xFFFF

    def reset(self):
        """Start afresh."""
        self.high = 0xFFFF
        self.low = 0xFFFF

    def update(self, byte):
        """Take in one byte (0 to 255). Allocates nothing."""
        h = self.high
        l = self.low ^ byte
        for _ in range(2):
            i = (l & 15) << 1
            l = ((l >> 4) | ((h & 15) << 12)) ^ (_LOW[i] | (_LOW[i + 1] << 8))
            h = (h >> 4) ^ (_HIGH[i] | (_HIGH[i + 1] << 8))
        self.high = h
        self.low = l

    def feed(self, buffer, start, end):
        """Take in buffer[start:end]. Allocates nothing."""
        for i in range(start, end):
            self.update(buffer[i])

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
