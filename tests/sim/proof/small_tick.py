"""A small tick written in the accepted subset, with every construct the firmware may use."""

from oxlatch.vocabulary import STAGES_MAX, TICK_MS

LIMIT = 12
STEPS = (3, 5, 9, 17)


class Small:
    def __init__(self):
        self.mode = 0
        self.count = 0
        self.bits = 0
        self.age = [0] * STAGES_MAX
        self.trace = 0
        self.share = 0


class Bounds:
    def __init__(self):
        self.stages = 3
        self.limit = 5
        self.threshold = 2300


def advance(s, i, on):
    """Age of one output, saturating; 0 when off."""
    if not on:
        s.age[i] = 0
        return 0
    if s.age[i] < LIMIT:
        s.age[i] += 1
        return 1
    return 2


def bump(s):
    s.trace ^= 5
    return s.trace & 1


def level(value, c):
    if value < 250 or value > 4750:
        return 0
    return 2 if value >= c.threshold else 1


def small_tick(s, raw, c):
    """Returns the bits driven this tick."""
    heard = level(raw[0], c)
    if s.mode == 0 and heard == 2 and raw[1] & 1:
        s.mode = 1
        s.count = 0
    elif s.mode == 1:
        if heard == 0:
            s.mode = 3
            s.bits = 0
            return 0
        s.count = s.count + 1 if s.count < c.limit else c.limit
        if s.count >= c.limit and not raw[1] & 2:
            s.mode = 2
    elif s.mode == 2 or raw[1] & 4:
        s.mode = 0
    if raw[1]:
        s.share = raw[0] * 7 // raw[1]
    step = STEPS[s.mode]
    s.bits &= ~(1 << STAGES_MAX)
    for i in range(c.stages):
        on = s.mode == 2 and raw[1] >> i & 1
        if advance(s, i, on) == 2:
            s.bits |= 1 << i
        else:
            s.bits &= ~(1 << i)
    first = raw[2]
    if 0 <= first < c.stages and bump(s) and s.age[first] > 3:
        s.bits = s.bits | 8
        s.age[first] = step - TICK_MS
    return s.bits if s.bits > -1 else 0
