"""Verdicts tick by tick that lead the core to what few streams of verdicts find."""

from collections.abc import Callable
from typing import Any

from oxlatch import vocabulary as k

LONGEST = 300

Steps = list[tuple[int, dict[str, int]]]  # for how many ticks, and what is not as at rest


def script(c: Any, seed: int) -> list[dict[str, int]]:
    """Verdicts tick by tick, on top of a sound aircraft at rest, that lead to what few streams find."""
    parked = {"rpm": k.RPM_STOPPED, "sel": (1 << c.stages) - 1 if seed // 2 % 3 else 1, "line": k.LINE_EMPTY}
    steps: Steps = [(c.wake_ticks + 3, parked), (c.master_off_ticks + c.release_ticks + 2, parked)]
    if seed % 4 == 0:
        steps += refilling(c, parked)
    steps += (RARE[seed // 4 % len(RARE)] if seed % 2 else flight)(c, parked)
    return [changes for ticks, changes in steps for _ in range(ticks)]


def bench(c: Any, parked: dict[str, int], hand: str) -> Steps:
    """A bench mode: purge, a push with a stagger, another that lasts too long, and the end of its time."""
    key = {**parked, "bench": 1}
    on = {**key, "master": 1}
    pushed = {**on, "contact": k.CONTACT_CLOSED, "throttle": k.THROTTLE_FULL, "rail": k.RAIL_LIVE, "proof": 15, "current": 15}
    return [
        (2, key), (1, {**on, hand: 1}), (1, {**pushed}), (c.contact_open_ticks + 1, on), (c.purge_press_ticks + 3, {**on, "purge": 1}),
        (2, {**on, "purge": 1, "contact": k.CONTACT_UNSURE}), (2, on), (3 * c.stagger_ticks + 4, pushed), (c.contact_open_ticks + 1, on),
        (c.bench_push_ticks + 2, {**pushed, "sel": 1}), (c.purge_press_ticks + c.purge_max_ticks + 3, {**on, "purge": 1}), (c.bench_ticks, on),
    ]  # fmt: skip


def venting(c: Any, parked: dict[str, int]) -> Steps:
    """The line emptied on the ground until the time for that is over."""
    low = {**parked, "master": 1, "line": k.LINE_WEAK}
    return [(3, low), (c.purge_press_ticks + c.vent_ticks + c.purge_max_ticks + 4, {**low, "purge": 1}), (4, low)]


def refilling(c: Any, parked: dict[str, int]) -> Steps:
    """A full bottle is entered; the acknowledgement is held on a little."""
    return [(c.ack_hold_ticks + 3, {**parked, "ack": 1}), (3, parked)]


def to_ready(c: Any, air: dict[str, int]) -> Steps:
    """Armed, purged, acknowledged, settling."""
    return [
        (3, {**air, "master": 0}), (c.contact_open_ticks + 2, air), (c.purge_press_ticks + c.purge_ticks + 2, {**air, "purge": 1}),
        (2, air), (1, {**air, "ack": 1}), (c.selection_ticks, air),
    ]  # fmt: skip


def flight(c: Any, parked: dict[str, int]) -> Steps:
    """A push that is refused, one that is not; run until the time is over, let go, wait until the arming is over."""
    air = {**parked, "rpm": k.RPM_WINDOW, "line": k.LINE_GOOD, "master": 1}
    pushed = {**air, "contact": k.CONTACT_CLOSED, "throttle": k.THROTTLE_FULL}
    dead_rail = c.lead_limit_ticks + 4 if c.start_limit_ticks == c.start_cost_ticks else 3
    return [
        *to_ready(c, air), (c.ready_ticks + 3, air), (c.push_judge_ticks + 3, {**pushed, "throttle": k.THROTTLE_HOLD}),
        (c.contact_open_ticks + c.ready_ticks + 5, air), (dead_rail, pushed),
        (c.run_ticks + 4 * (c.lead_limit_ticks + c.stagger_ticks), {**pushed, "rail": k.RAIL_LIVE, "proof": 15, "current": 15}),
        (c.run_off_ticks + c.release_ticks + c.gap_ticks + 9, air), (min(c.arm_ticks, LONGEST), air),
    ]  # fmt: skip


def caught(c: Any, parked: dict[str, int]) -> Steps:
    """A fault while settling; master off with the throttle forward, so that it has to be cycled."""
    air = {**parked, "rpm": k.RPM_WINDOW, "line": k.LINE_GOOD, "master": 1}
    forward = {**air, "master": 0, "contact": k.CONTACT_UNSURE}
    return [*to_ready(c, air), (2, air), (1, {**air, "time": k.TIME_LATE}), (c.disarm_ticks + 4, forward), (2, {**air, "contact": 2})]


def locked(c: Any, parked: dict[str, int]) -> Steps:
    """A leak found while armed locks until the tests are passed: engine stopped, acknowledgement held, everything shut."""
    air = {**parked, "rpm": k.RPM_WINDOW, "line": k.LINE_GOOD, "master": 1}
    tested = {**parked, "ack": 1}
    return [
        (3, air), (2, {**air, "block": k.BLOCK_FALLING}), (3, air), (c.ack_hold_ticks + 3, {**tested, "rail": k.RAIL_WEAK}),
        (2, parked), (c.ack_hold_ticks + c.contact_open_ticks + 3, tested), (2, parked),
    ]  # fmt: skip


RARE: tuple[Callable[[Any, dict[str, int]], Steps], ...] = (
    lambda c, parked: bench(c, parked, "ack"),
    venting,
    refilling,
    lambda c, parked: bench(c, parked, "purge"),
    caught,
    locked,
)
