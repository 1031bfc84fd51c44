"""Re-checks the settings in memory against the record they came from, one field a tick.

The record's CRC was checked at start-up; what could change after that is memory. A whole round takes
as many ticks as there are fields. Allocates nothing.
"""

from oxlatch.settings import HEADER_BYTES


class SettingsWatch:
    """Compares settings `c` with the packed `record`; `good` falls once and stays down until a reset."""

    def __init__(self, c, names, record):
        """`names` are the fields in the order of the record."""
        self.c = c
        self.names = names
        self.record = record
        self.at = 0
        self.good = True

    def step(self):
        """Check the next field; return whether all has been well so far."""
        at = self.at
        value = getattr(self.c, self.names[at])
        byte = HEADER_BYTES + 4 * at
        record = self.record
        if (
            record[byte] != value & 255
            or record[byte + 1] != (value >> 8) & 255
            or record[byte + 2] != (value >> 16) & 255
            or record[byte + 3] != value >> 24
        ):
            self.good = False
        self.at = at + 1 if at + 1 < len(self.names) else 0
        return self.good
