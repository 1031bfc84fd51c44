"""What hands, line and engine do in one tick, as deviations from the vector in which all is well.

Runs under CPython and MicroPython alike.
"""

from oxlatch.vocabulary import BUS_LOW, CONTACT_CLOSED, CONTACT_OPEN, CONTACT_UNSURE, RPM_STOPPED

PUSHED = {"contact": CONTACT_CLOSED}
LET_GO = {"contact": CONTACT_OPEN}
BETWEEN = {"contact": CONTACT_UNSURE}
CONTACTS = (LET_GO, PUSHED, BETWEEN)
OFF = {"master": 0}
WAIT = {"bus": BUS_LOW}
HELD_DOWN = {"purge_press_n": 2}  # the purge button, past the count that begins a purge
BENCH = {"bench": 1, "rpm": RPM_STOPPED}
NOTHING: dict = {}


def joined(*parts):
    """The deviations of several parts in one."""
    whole = {}
    for part in parts:
        for name in part:
            whole[name] = part[name]
    return whole
