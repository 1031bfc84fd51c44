"""Check the pin map of the two-core 264 kB board: nothing used twice, every pin can do its job, off at reset.

Pin functions and reset state are those of the chip's data sheet (RP2040 Datasheet, sections 1.4.3 "GPIO
Functions" and 2.19.6.3 "Pad Control - User Bank", from memory): after a reset every user pad is an input
with its pull-down on. `python -m oxlatch_tools.serial.pin_map` prints the map and what is wrong with it.
"""

import sys
from collections.abc import Iterable

from oxlatch.boards.rp2_pins import PINS

Row = tuple[int, str, str, str]

USABLE = frozenset((*range(23), 26, 27, 28))
"""Pins brought out on the common board; 23, 24, 25 and 29 serve its own supply and lamp."""

PERIPHERALS: dict[str, frozenset[int]] = {
    "spi0_rx": frozenset((0, 4, 16, 20)),
    "spi0_sck": frozenset((2, 6, 18, 22)),
    "spi0_tx": frozenset((3, 7, 19)),
    "spi1_rx": frozenset((8, 12, 24, 28)),
    "spi1_sck": frozenset((10, 14, 26)),
    "spi1_tx": frozenset((11, 15, 27)),
    "uart0_tx": frozenset((0, 12, 16, 28)),
    "uart0_rx": frozenset((1, 13, 17, 29)),
}

NEEDED = {
    "gate": "pull-down",
    "select": "pull-up",
    "strap": "pull-up",
    "pulse": "pull-down",
    "latch": "pull-down",
}
"""What must be fitted outside the chip, per kind, so that the pin is off or silent without the chip."""

STAGES = range(1, 5)
DIRECT = ("RUN", "MASTER_FUEL", "MASTER_OX", "PURGE", *(f"OX{n}" for n in STAGES), *(f"FU{n}" for n in STAGES))
"""Outputs that must be pins of the chip itself and never behind an expander."""


def problems(rows: Iterable[Row] = PINS) -> list[str]:
    """Every fault of a pin map, one sentence each."""
    rows = list(rows)
    found = []
    for index, (gpio, name, kind, outside) in enumerate(rows):
        for other in rows[:index]:
            if other[0] == gpio:
                found.append(f"GP{gpio} is used twice: {other[1]} and {name}")
            if other[1] == name:
                found.append(f"{name} is on two pins: GP{other[0]} and GP{gpio}")
        if gpio not in USABLE:
            found.append(f"GP{gpio} ({name}) is not brought out on the board")
        if kind in PERIPHERALS and gpio not in PERIPHERALS[kind]:
            able = ", ".join(f"GP{pin}" for pin in sorted(PERIPHERALS[kind] & USABLE))
            found.append(f"GP{gpio} ({name}) cannot be {kind}; these can: {able}")
        elif kind not in PERIPHERALS and kind not in NEEDED:
            found.append(f"{name} has unknown kind {kind!r}")
        if kind in NEEDED and outside != NEEDED[kind]:
            found.append(f"GP{gpio} ({name}) needs a {NEEDED[kind]} outside the chip, has {outside}")
    kinds = {name: kind for _, name, kind, _ in rows}
    found += [f"{name} must be a direct pin of kind gate" for name in DIRECT if kinds.get(name) != "gate"]
    return found


def main() -> int:
    """Print the map and its problems; 1 when there are any."""
    for gpio, name, kind, outside in PINS:
        print(f"GP{gpio:<3} {name:<18} {kind:<9} outside: {outside}")
    wrong = problems()
    for problem in wrong:
        print(problem)
    print(f"{len(PINS)} pins used, {len(USABLE) - len(PINS)} spare, {len(wrong)} problems")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
