"""Small settings for the exploration, and the words it treats as inputs.

Runs under CPython and MicroPython alike. The settings here lie outside the bounds of the field table on
purpose: a timer of one or two ticks shows every order of events that a long one can show, and that
reduction is an assumption of the exhaustive argument, printed with its result.
"""

from oxlatch.settings import Settings

# Timers that count up or down by the tick, and how long they are here.
TICKS = {
    "wake_ticks": 1,
    "master_off_ticks": 1,
    "contact_open_ticks": 1,
    "push_judge_ticks": 1,
    "release_ticks": 1,
    "disarm_ticks": 1,
    "ack_hold_ticks": 2,
    "arm_ticks": 3,
    "arm_warn_ticks": 2,
    "selection_ticks": 1,
    "ready_ticks": 1,
    "lead_ticks": 1,
    "lead_limit_ticks": 2,
    "stagger_ticks": 1,
    "tail_ticks": 1,
    "run_off_ticks": 2,
    "gap_ticks": 1,
    "hold_off_ticks": 3,
    "start_cost_ticks": 1,
    "start_limit_ticks": 1,
    "classify_ticks": 1,
    "purge_press_ticks": 1,
    "purge_ticks": 1,
    "purge_max_ticks": 2,
    "purge_good_ticks": 1,
    "purge_confirm_ticks": 3,
    "purge_valid_ticks": 3,
    "purge_after_run_ticks": 3,
    "long_run_ticks": 1,
    "purge_void_ticks": 1,
}

# Stage sets that may be selected: for two and more stages one set is left out, so that a refusal shows.
PATTERNS = (0, 0b10, 0b1010, 0b11011110)

# Clocks of seconds to minutes. Here they either run or have run out, and any tick may be their last: that
# covers every length of theirs at once.
SLOW = ("arm_left", "hold_off_left", "purge_left", "confirm_left")

# Words remembered from earlier ticks that are treated as inputs: at each tick that reads one, every value it
# can hold is tried. That adds behaviour and removes none.
FREE_ALWAYS = ("sel_last", "purge_press_n", "ack_n", "starts_n", "stalled", "stuck_before", "no_show")

# Words that only ever add a wait. When they are inputs too, a wait may come and go at any tick.
WAIT_WORDS = ("arm_left", "hold_off_left", "push_why", "purge_flaw")


def subsets(bits):
    """Every subset of a word's bits, the whole first."""
    found = []
    part = bits
    while True:
        found.append(part)
        if not part:
            return found
        part = (part - 1) & bits


class Small:
    """One exploration's settings `c`, number of stages, words treated as inputs, and how currents are lost.

    `reduced`: words that only add a wait are inputs, and the open stages' coil currents are lost together.
    """

    def __init__(self, stages, reduced=False, ticks=None):
        self.stages = stages
        self.free_waits = reduced
        self.lost_together = reduced
        self.c = Settings()
        self.c.stages = stages
        self.c.patterns = PATTERNS[stages]
        for name in TICKS:
            setattr(self.c, name, TICKS[name])
        # Long enough for the last stage to open, and no longer.
        self.c.run_ticks = 4 * stages - 2
        self.c.run_warn_ticks = self.c.run_ticks - 1
        for name in ticks or {}:
            setattr(self.c, name, ticks[name])

    def lost_currents(self, asked):
        """Which of the asked stages' coil currents may be seen: any of them, or all or none."""
        if not self.lost_together or not asked:
            return subsets(asked)
        return [asked, 0]
