"""Time of a controller tick: under desktop MicroPython for every scenario, and per core under CPython."""

import time
from array import array

from oxlatch.controller import Controller
from oxlatch.settings import Settings
from oxlatch.vocabulary import RAW_COUNT
from oxlatch_tools.evidence.board_times import BOARD_FACTOR, RESET, samples_of_scenarios, ticks


def cpython_ticks_per_s(samples: array, used: list[Settings]) -> float:
    """Ticks per second of one core, over the same samples."""
    raw = [0] * RAW_COUNT
    controller = Controller(used[0])
    rows = len(samples) // RAW_COUNT
    begin = time.process_time()
    for row in range(rows):
        at = row * RAW_COUNT
        if samples[at] == RESET:
            controller = Controller(used[samples[at + 1]])
            continue
        raw[:] = samples[at : at + RAW_COUNT]
        controller.tick(raw)
    return rows / (time.process_time() - begin)


def main() -> None:
    figures = ticks().result
    print(f"{'ticks of all scenarios':44}{figures['ticks']:>12,}")
    rows = (("median", "median_us", 8), ("99th percentile", "percentile_99_us", 0), ("worst", "worst_us", 12))
    for name, key, wanted in rows:
        target = f"   wanted under {wanted}" if wanted else ""
        board_ms = figures[key] * BOARD_FACTOR / 1e3
        words = f"tick, {name}, us (MicroPython here)"
        print(f"{words:44}{figures[key]:>12.1f}{target}; about {board_ms:.1f} ms on the RP2040")
    print(f"{'worst tick was in state':44}{figures['worst_in_state']:>12}")
    print(f"{'bytes allocated, all ticks, heap locked':44}{figures['bytes_allocated']:>12}")
    rate = cpython_ticks_per_s(*samples_of_scenarios())
    print(f"{'ticks per second, CPython, one core':44}{rate:>12,.0f}   wanted over 60,000")


if __name__ == "__main__":
    main()
