"""Settings as the controller flies with them: read from a record, then held without the table they were read by.

The table of fields takes a tenth of the heap and is wanted only at start-up and at rest, so it is let go
again each time.
"""

from oxlatch.let_go import let_go


class InForce:
    """One integer attribute per field; `names` lists them in the order of the record. Read-only to the tick."""


def in_force(record):
    """(settings, verdict of unpack) of a record or None; anything but GOOD gives the defaults, to drive nothing.

    Allocates.
    """
    from oxlatch.settings import BAD_CRC, FIELDS, GOOD, Settings, unpack

    read = Settings()
    found = BAD_CRC if record is None else unpack(record, read)
    if found != GOOD:
        read = Settings()
    settings = InForce()
    settings.names = [field[0] for field in FIELDS]
    for name in settings.names:
        setattr(settings, name, getattr(read, name))
    let_go("settings")
    return settings, found
