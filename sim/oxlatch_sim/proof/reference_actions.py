"""What the actions named in the cause-and-effect table do to its memory.

The table says when; these say how. None of them changes the state: that is the machine's.
"""

from typing import Any

from oxlatch import vocabulary
from oxlatch.settings import Settings
from oxlatch_sim.proof.reference_program import Program


class Actions:
    """Methods named as the table's actions; mixed into the reference, which owns what they work on."""

    memory: Any
    settings: Settings
    hits: list[int]
    verdicts: Any
    why0: int
    program: Program

    def begin_run_down(self) -> None:
        """Fuel off; oxidizer keeps its tail where fuel was on and goes at once where it was not."""
        m = self.memory
        opening = m.latched & m.ox & ~m.fuel
        for number in range(self.settings.stages):
            if m.fuel >> number & 1:
                m.tail_at[number] = m.now
        m.ox &= ~opening
        m.fuel = m.latched = 0
        m.stopped = 0

    def leave_tick_out(self) -> None:
        """A cause ends the flow: this tick does not count as run time."""
        m = self.memory
        if m.fuel and m.state != vocabulary.RUN_DOWN:
            m.fuel_for -= 1

    def credit_run(self) -> None:
        """The flow ends: a long one renews a purge that is still valid; one that grew too old meanwhile stays void."""
        m, c = self.memory, self.settings
        if m.state != vocabulary.RUN_DOWN and m.purge_ok and m.fuel_for >= c.long_run_ticks:
            m.purge_left = c.purge_after_run_ticks

    def stop_all(self) -> None:
        """Every stage command off, no tail."""
        m = self.memory
        m.ox = m.fuel = m.latched = 0
        m.stopped = 1

    def begin_classifying(self) -> None:
        """Outputs have stopped; why is settled classify_ticks later."""
        m, v = self.memory, self.verdicts
        m.pending, m.pending_age = 1, 0
        m.pending0 = self.why0 & self.program.classify & ~m.held0
        m.let_go = int(v.master == 0 or v.contact != vocabulary.CONTACT_CLOSED)

    def start_arm_time(self) -> None:
        """Arming: the arm time starts; a marker is set if it is needed to know at the next start-up what was lost."""
        fitted = self.settings.fitted
        self.memory.arm_age = self.memory.disarmed = 0
        self.memory.marker = int(not fitted & vocabulary.FIT_LOCKOUT_MEMORY or bool(fitted & vocabulary.FIT_BUDGET))

    def enter_refill(self) -> None:
        """The bottle is full again; its purge is void."""
        m = self.memory
        m.budget = self.settings.bottle_full_g << 10
        m.purge_ok = m.confirm_left = 0

    def begin_bench(self) -> None:
        """No push on the bench has been made ready."""
        self.memory.bench_n = 0

    def begin_purge(self) -> None:
        """The purge valve opens; nothing has spoilt this purge yet."""
        self.memory.purge_clean = 1
        self.memory.purge_ok = 0
        self.memory.purge_dead = 0

    def judge_purge(self) -> None:
        """A purge that was long, good at its end and clean counts if every outlet is cold, or waits for confirmation."""
        m, c = self.memory, self.settings
        if not (m.age >= c.purge_ticks and m.line_good_for >= c.purge_good_ticks and m.purge_clean):
            return
        if self.verdicts.outlets == vocabulary.OUTLETS_COLD:
            m.purge_ok, m.purge_left = 1, c.purge_valid_ticks
        else:
            m.confirm_left = c.purge_confirm_ticks

    def spend_press(self) -> None:
        """The press held now cannot begin another purge."""
        self.memory.press_spent = int(self.verdicts.purge != 0)

    def remember_dead_purge(self) -> None:
        """The purge coil carried no current: said until the next press."""
        self.memory.purge_dead = 1

    def refuse_push(self) -> None:
        """The push is spent; every guard that was false is told."""
        m, v = self.memory, self.verdicts
        m.push = vocabulary.PUSH_SPENT
        for bit, index, test in self.program.refusals:
            if test(v, m):
                m.refused |= bit
                self.hits[index] += 1

    def latch_selection(self) -> None:
        """The push is used: the selected stages are those of this flow."""
        m = self.memory
        m.latched = self.verdicts.sel & ((1 << self.settings.stages) - 1)
        m.push = vocabulary.PUSH_SPENT
        m.fuel_wait = -1
        m.fuel_for = m.fuel_before = 0

    def count_start(self) -> None:
        """A start costs; too many in a short time hold off the next."""
        m, c = self.memory, self.settings
        m.starts += c.start_cost_ticks
        if m.starts > c.start_limit_ticks:
            m.hold_off = c.hold_off_ticks

    def forget(self) -> None:
        """The latch opens: recorded causes are cleared."""
        m = self.memory
        m.held0 = m.held1 = m.first0 = m.latch = 0
        m.first = -1

    def forget_repeats(self) -> None:
        """What would make the next failed proof or stuck contact a repeated one is cleared as well."""
        m = self.memory
        m.not_proved_seen = m.stuck_seen = 0

    def forget_stall(self) -> None:
        """The next stall is a first one again, and nothing is armed."""
        self.memory.stall_seen = self.memory.marker = 0

    def count_good_start(self) -> None:
        """Every latched stage has opened: a failed proof before this one no longer counts."""
        self.memory.not_proved_seen = 0
