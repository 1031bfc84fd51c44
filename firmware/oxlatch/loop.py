"""The fixed tick: sample, step, drive, then journal and link.

The clock is the board's `ticks_us`, compared wrap-safe in 30 bits. The heap is locked while a tick runs.
The run switch is kicked and the watchdog fed only from here, after a tick that was completed and in
time. What must write flash waits for an announced pause between ticks, outputs off and heap free, after
which the clock starts afresh: the controller sees a pause as no time at all, never as a late tick.

A board offers, beyond what one tick needs: `feed()` the watchdog, `idle(us)` when there is time to
spare, `interruptible(flag)` whether the keyboard interrupt may stop the loop.
"""

from oxlatch import protocol
from oxlatch.core import INJECT_FITTED, INJECT_UNREAD
from oxlatch.lamps import BENCH_PATTERN
from oxlatch.link import REST_BYTES, SESSION_TICKS, TICK_BYTES, WISH_NONE
from oxlatch.rest_work import LEAVE_NO, has_lockout_memory
from oxlatch.vocabulary import (
    BOOT_CRC_BAD,
    OUT_RUN,
    RAW_BOOT,
    RAW_BOTTLE_G,
    RAW_COUNT,
    RAW_ELAPSED,
    RAW_PULSE_AGE_MS,
    RAW_SERVICE,
    REST,
    SERVICE,
)

try:
    from micropython import heap_lock, heap_unlock
except ImportError:

    def heap_lock():
        """CPython has no heap lock."""

    def heap_unlock():
        """CPython has no heap lock."""


TICK_US = 5000
LATE_US = 8000  # jitter up to 3 ms is on time
CLOCK_MASK = 0x3FFFFFFF
LINK_LATEST_US = 3800  # a tick that is busy for longer leaves the link to the next one
LIVE_LEAD = 4  # injected ticks queued before a live replay starts
LIVE_REPORT_TICKS = 20
NO_PULSE_MS = 10000
STEPS_GONE_US = 500000  # a bench whose samples stop for so long lets everything go off

_SAMPLED = 1
_STEPPED = 2
_DRIVEN = 4
_COMPLETE = _SAMPLED | _STEPPED | _DRIVEN


def elapsed_ticks(gone_us):
    """Whole ticks in the microseconds since the last one; 1 while on time, 4 from 20 ms on."""
    if gone_us < LATE_US:
        return 1
    ticks = gone_us // TICK_US
    return ticks if ticks > 2 else 2


class Loop:
    """Runs a controller on a board. Everything is made before `run`."""

    def __init__(self, board, controller, journal, link, timing, rest_work, raw, settings_watch):
        """`raw` is the list sampled into, with what start-up found in it.

        `settings_watch` re-checks the settings in memory, or is None where there are no good ones.
        """
        self.board = board
        self.controller = controller
        self.journal = journal
        self.link = link
        self.timing = timing
        self.rest_work = rest_work
        self.raw = raw
        self.boot_word = raw[RAW_BOOT]
        self.settings_watch = settings_watch
        self.strap = INJECT_UNREAD  # latched once, when the controller leaves WAKE for the first time
        self._live = 0
        self._shown = 0  # lamps and text of the last injected tick
        self._started_us = 0
        self._due_us = 0
        self._interruptible = -1
        self._lockout_memory = has_lockout_memory(controller.settings)

    def run(self):
        """Tick until asked to leave, and say how; outputs are off whichever way this ends."""
        rest_work = self.rest_work
        try:
            self.restart_clock()
            while rest_work.leave == LEAVE_NO:
                heap_lock()
                try:
                    if self.wait():
                        self.tick()
                finally:
                    heap_unlock()
                if rest_work.wanted():
                    rest_work.do()
                    self._live = 0
                    self.restart_clock()
        finally:
            self.board.outputs_off()
        return rest_work.leave

    def restart_clock(self):
        """Let the next tick be on time, whatever went before."""
        now_us = self.board.ticks_us()
        self._started_us = now_us
        self._due_us = (now_us + TICK_US) & CLOCK_MASK

    def injecting(self):
        """Whether samples come from the link: only ever with the strap latched at start-up."""
        return self.strap == INJECT_FITTED and self.link.inject != protocol.INJECT_NONE

    # --- waiting ---------------------------------------------------------------------------------
    def wait(self):
        """Wait for the next tick's time, or on the bench for its samples; 0 when there is no tick to do."""
        if self.injecting():
            if self.link.inject == protocol.INJECT_STEPPED:
                return self._wait_for_steps(1)
            if not self._live:
                self._live = self._wait_for_steps(LIVE_LEAD)
                return self._live
        self._wait_for_time()
        return 1

    def _wait_for_time(self):
        """Wait out the tick; after an overrun the next one starts at once and the phase moves."""
        board = self.board
        now_us = board.ticks_us()
        left_us = (self._due_us - now_us) & CLOCK_MASK
        if left_us > TICK_US:
            self._due_us = (now_us + TICK_US) & CLOCK_MASK
            return
        while 0 < left_us <= TICK_US:
            board.idle(left_us)
            left_us = (self._due_us - board.ticks_us()) & CLOCK_MASK
        self._due_us = (self._due_us + TICK_US) & CLOCK_MASK

    def _wait_for_steps(self, count):
        """Bench only: time stands still until `count` ticks have come; the dog is fed, nothing is kicked.

        Outputs go off when the samples stop coming; the next one drives them again.
        """
        link = self.link
        board = self.board
        began_us = board.ticks_us()
        waits = 1
        while link.steps < count or link.reports_full():
            if link.wish != WISH_NONE:
                return 0
            link.poll()
            board.feed()
            if waits and (board.ticks_us() - began_us) & CLOCK_MASK > STEPS_GONE_US:
                waits = 0
                board.outputs_off()
            if link.steps < count and link.idle():
                board.idle(0)
        self.restart_clock()
        return 1

    # --- one tick --------------------------------------------------------------------------------
    def tick(self):
        """One whole tick. Allocates nothing."""
        board = self.board
        controller = self.controller
        started_us = board.ticks_us()
        elapsed = elapsed_ticks((started_us - self._started_us) & CLOCK_MASK)
        self._started_us = started_us
        done = self._sample(elapsed)
        controller.tick(self.raw)
        done |= _STEPPED
        out = controller.out
        board.drive(out.ox, out.fuel, out.bits)
        done |= _DRIVEN
        if self._lockout_memory and self.rest_work.lockout_due():
            self.rest_work.write_lockout()
        work_us = (board.ticks_us() - started_us) & CLOCK_MASK
        if done == _COMPLETE and elapsed == 1 and work_us < TICK_US:
            board.feed()
            if out.bits & OUT_RUN:
                board.kick()
        self._show(out)
        event = self.journal.watch(self.timing.tick, controller, self.raw)
        if self.injecting():
            self._tell(event)
        self._book(elapsed)
        if (board.ticks_us() - started_us) & CLOCK_MASK < LINK_LATEST_US:
            self.link.poll()
        self._time((board.ticks_us() - started_us) & CLOCK_MASK)

    def _sample(self, elapsed):
        """Fill `raw` from the pins, or from the link where the strap was latched and injection has begun."""
        raw = self.raw
        link = self.link
        if self.injecting():
            if link.steps:
                link.take_injected(raw)
            else:
                link.missed += 1
                self._lose_inputs()
            return _SAMPLED
        self.board.sample(raw)
        raw[RAW_ELAPSED] = elapsed
        raw[RAW_BOOT] = self.boot_word
        raw[RAW_SERVICE] = link.service
        raw[RAW_BOTTLE_G] = self.rest_work.bottle_g
        return _SAMPLED

    def _lose_inputs(self):
        raw = self.raw
        for i in range(RAW_COUNT):
            raw[i] = 0
        raw[RAW_ELAPSED] = 1
        raw[RAW_PULSE_AGE_MS] = NO_PULSE_MS

    def _show(self, out):
        """Lamps; on the bench strap the bench pattern lies over them."""
        if self.strap == INJECT_FITTED:
            self.board.lamps(out.lamps | BENCH_PATTERN, out.text)
            return
        self.board.lamps(out.lamps, out.text)
        if self.strap == INJECT_UNREAD:
            self.strap = self.controller.core.inject
            self.link.strap = 1 if self.strap == INJECT_FITTED else 0

    def _tell(self, event):
        """Report an injected tick: every one when stepped, else those with an event and now and then one without."""
        tick = self.timing.tick
        out = self.controller.out
        shown = out.lamps | (out.text & 255) << 16
        if (
            event
            or shown != self._shown
            or self.link.inject == protocol.INJECT_STEPPED
            or tick % LIVE_REPORT_TICKS == 0
        ):
            self.link.report(tick)
        self._shown = shown

    def _time(self, work_us):
        self.timing.work_us = work_us
        if work_us > self.timing.worst_us:
            self.timing.worst_us = work_us

    def _book(self, elapsed):
        """Keep the counts, and let the keyboard interrupt through only at rest with no host on the line."""
        timing = self.timing
        timing.tick += 1
        if elapsed > 1:
            timing.late += 1
        watch = self.settings_watch
        if watch and not self.controller.out.ox and not watch.step():
            self.boot_word |= BOOT_CRC_BAD
        link = self.link
        link.tick()
        state = self.controller.core.state
        if link.inject == protocol.INJECT_NONE:
            link.budget = REST_BYTES if state == REST or state == SERVICE else TICK_BYTES
        quiet = 1 if state == REST and link.quiet_n >= SESSION_TICKS else 0
        if quiet != self._interruptible:
            self._interruptible = quiet
            self.board.interruptible(quiet)
