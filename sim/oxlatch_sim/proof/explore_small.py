"""Small settings for the exploration, and the words it treats as inputs.

Runs under CPython and MicroPython alike. The settings here lie outside the bounds of the field table on
purpose: a timer of one or two ticks shows every order of events that a long one can show, and that
reduction is an assumption of the exhaustive argument, printed with its result.
"""

from oxlatch.settings import Settings
from oxlatch.vocabulary import BOOT_BOUNDS_BAD, BOOT_LOCKED_L3, BOOT_LOCKED_L4, FIT_AIR, FIT_ALL, ROWS

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
    "vent_ticks": 3,
    "bench_ticks": 3,
}

# What is used up, so small that the last of it shows: a bottle of 1,024 units, coils of a few.
STOCK = {
    "bottle_full_g": 1,
    "flow_1": 100,
    "flow_2": 100,
    "flow_3": 100,
    "flow_purge": 100,
    "need_1": 300,
    "need_2": 300,
    "need_3": 300,
    "coil_heat_up": 1,
    "coil_heat_down": 1,
    "coil_heat_start": 1,
}
BUDGET_WHOLE = 1 << 10

# Start-up findings: nothing, two locks, bad settings. The others act like one of these.
BOOTS = (0, BOOT_LOCKED_L3, BOOT_LOCKED_L4, BOOT_BOUNDS_BAD)

# Stage sets that may be selected in thin air: for two and more stages one set is left out, so that a refusal
# shows. In the densest air, row 0, the first stage alone; with a single stage, none.
PATTERNS = (0, 0b10, 0b1010, 0b11011110)
PATTERNS_DENSE = (0, 0, 0b10, 0b10)

# Clocks of seconds to minutes. Here they either run or have run out, and any tick may be their last: that
# covers every length of theirs at once.
SLOW = ("arm_left", "hold_off_left", "purge_left", "confirm_left")

# Words remembered from earlier ticks that are treated as inputs: at each tick that reads one, every value it
# can hold is tried. That adds behaviour and removes none.
FREE_ALWAYS = (
    "sel_last", "purge_press_n", "ack_n", "starts_n", "stalled", "stuck_before", "no_show", "budget", "coil_heat",
)  # fmt: skip
USUAL = {"budget": BUDGET_WHOLE}  # what such a word is where no rule below says otherwise, if not zero

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

    `reduced`: words that only add a wait are inputs, the open stages' coil currents are lost together, and what
    has the same effect shares a letter. `fitted`: the optional inputs and valves that are there.
    """

    def __init__(self, stages, reduced=False, ticks=None, fitted=FIT_ALL):
        self.stages = stages
        self.free_waits = reduced
        self.lost_together = reduced
        self.alphabet = ()  # (preset, deviations) of every letter in every state, when these are to be all
        self.boots = BOOTS
        self.c = Settings()
        self.c.stages = stages
        self.c.fitted = fitted
        for name in TICKS:
            setattr(self.c, name, TICKS[name])
        for name in STOCK:
            setattr(self.c, name, STOCK[name])
        self.c.patterns = PATTERNS_DENSE[stages] if fitted & FIT_AIR else PATTERNS[stages]
        for row in range(1, ROWS):
            setattr(self.c, "patterns_%d" % row, PATTERNS[stages])
        # Long enough for the last stage to open, and no longer.
        self.c.run_ticks = 4 * stages - 2
        self.c.run_warn_ticks = self.c.run_ticks - 1
        self.c.bench_push_ticks = 2 * stages + 2
        self.c.coil_heat_top = self.c.run_ticks + 3  # a run of full length does not end for its coils
        for name in ticks or {}:
            setattr(self.c, name, ticks[name])

    def lost_currents(self, asked):
        """Which of the asked stages' coil currents may be seen: any of them, or all or none."""
        if not self.lost_together or not asked:
            return subsets(asked)
        return [asked, 0]
