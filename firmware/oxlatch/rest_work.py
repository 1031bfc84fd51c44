"""What is done between ticks with every output off and the heap free: flash, settings, bench begin.

The loop announces the pause; here it is only decided whether one is wanted and what is done in it.
"""

from oxlatch import protocol
from oxlatch.core import STORE_NOTHING
from oxlatch.in_force import in_force
from oxlatch.journal import EVENT_BOOT, EVENT_INJECTED
from oxlatch.link import CHUNK_BYTES, TICK_BYTES, WISH_BEGIN, WISH_KEEP_SETTINGS, WISH_MAINTENANCE, WISH_NONE
from oxlatch.settings import BAD_CRC, BAD_VERSION, GOOD
from oxlatch.stock import GRAM_SHIFT
from oxlatch.vocabulary import FIT_BUDGET, FIT_LOCKOUT_MEMORY, OUT_MASTER_OX, RAW_BOTTLE_G, REST, SERVICE, WAKE

STORE_JOURNAL_TICKS = 400  # this long at rest before the journal is stored
DRAIN_POLLS = 200  # polls left for the last answer to reach the host
DRAIN_US = 1000

LEAVE_NO = 0
LEAVE_RESTART = 1
LEAVE_MAINTENANCE = 2


class RestWork:
    """Work that waits for rest. `leave` is set when the host has asked for a restart."""

    def __init__(self, board, controller, journal, link, timing, store, raw, lockout):
        """`lockout` is what stands in the lockout memory; `raw` holds what was found of the bottle."""
        self.board = board
        self.controller = controller
        self.journal = journal
        self.link = link
        self.timing = timing
        self.store = store
        self.raw = raw
        self.leave = LEAVE_NO
        self.lockout = lockout
        self.rest_n = 0  # ticks at rest, saturating
        self.bottle_g = raw[RAW_BOTTLE_G]  # what the store says
        self.bottle_failed = False
        self._kept_settings = controller.settings
        self._budget = has_budget(controller.settings)

    def lockout_due(self):
        """Whether the lockout memory no longer says what the controller wants; injected flights leave it alone.

        The armed marker stays until the bottle's content is stored: a power cut between makes it unknown, not wrong.
        """
        core = self.controller.core
        if core.store == self.lockout or core.state == WAKE or self.link.inject != protocol.INJECT_NONE:
            return False
        return core.store != STORE_NOTHING or not self.bottle_behind()

    def write_lockout(self):
        """Write it."""
        self.lockout = self.controller.core.store
        self.board.lockout_write(self.lockout)

    def bottle_behind(self):
        """Whether the store says something else of the bottle than the controller has counted."""
        if not self._budget or self.link.inject != protocol.INJECT_NONE:
            return False
        core = self.controller.core
        return core.state != WAKE and core.budget >> GRAM_SHIFT != self.bottle_g

    def bottle_due(self):
        """Whether it is to be brought up now; a store that failed is not worn any further."""
        state = self.controller.core.state
        return (state == REST or state == SERVICE) and not self.bottle_failed and self.bottle_behind()

    def journal_due(self):
        """Whether an armed session has ended and its records are still only in memory."""
        return (
            self.journal.worth_storing
            and self.rest_n >= STORE_JOURNAL_TICKS
            and self.link.inject == protocol.INJECT_NONE
        )

    def wanted(self):
        """Asked once after every tick: whether to pause before the next.

        Injection may begin at any time, the rest waits for all outputs off. The master oxidizer valve, open all the
        time the controller is armed, does not count: it shuts for the pause.
        """
        if self.controller.core.state != REST:
            self.rest_n = 0
        elif self.rest_n < STORE_JOURNAL_TICKS:
            self.rest_n += 1
        wish = self.link.wish
        if wish == WISH_BEGIN:
            return True
        out = self.controller.out
        if out.ox or out.fuel or out.bits & ~OUT_MASTER_OX:
            return False
        return wish != WISH_NONE or self.bottle_due() or self.lockout_due() or self.journal_due()

    def do(self):
        """Do what waits. Outputs go off first, whatever they were."""
        self.board.outputs_off()
        self.board.feed()
        if self.link.wish != WISH_NONE:
            self._grant()
        if self.bottle_due():
            self._store_bottle()
        if self.lockout_due():
            self.write_lockout()
        if self.journal_due():
            self._store_journal()
        self.timing.pauses += 1
        self.board.feed()

    def _store_bottle(self):
        grams = self.controller.core.budget >> GRAM_SHIFT
        if self.store.bottle.save(bytes((grams & 255, grams >> 8))):
            self.bottle_g = grams
        else:
            self.bottle_failed = True

    def _store_journal(self):
        if self.store.journal.save(self.journal.image()):
            self.journal.mark_stored()

    def _grant(self):
        link = self.link
        wish = link.wish
        link.wish = WISH_NONE
        if wish == WISH_KEEP_SETTINGS:
            self._keep_settings()
        elif wish == WISH_BEGIN:
            self._begin_injection()
        else:
            self._drain()
            self.leave = LEAVE_MAINTENANCE if wish == WISH_MAINTENANCE else LEAVE_RESTART

    def _keep_settings(self):
        link = self.link
        found = in_force(link.staged)[1]
        if found == BAD_CRC:
            link.refuse(protocol.SETTINGS_REFUSED_CRC)
        elif found == BAD_VERSION:
            link.refuse(protocol.SETTINGS_REFUSED_VERSION)
        elif found != GOOD:
            link.refuse(protocol.SETTINGS_REFUSED_BOUNDS)
        elif self.store.settings.save(bytes(link.staged)):
            link.answer()
        else:
            link.refuse(protocol.STORE_FAILED)

    def _begin_injection(self):
        """Set state and settings for the injected flight; the settings kept in the store are never touched."""
        link = self.link
        self.controller.settings = self._kept_settings
        if link.with_staged and link.inject != protocol.INJECT_NONE:
            bench_settings, found = in_force(link.staged)
            if found != GOOD:
                link.inject = protocol.INJECT_NONE
                link.refuse(protocol.BAD_VALUE)
                return
            self.controller.settings = bench_settings
        if link.inject == protocol.INJECT_NONE:
            for i in range(len(link.loaded)):
                link.loaded[i] = 0
        link.budget = TICK_BYTES if link.inject == protocol.INJECT_NONE else CHUNK_BYTES
        self.controller.load_words(link.loaded)
        if self.journal.mark and self.journal.worth_storing:
            self._store_journal()
        self.journal.mark = EVENT_INJECTED if link.inject != protocol.INJECT_NONE else 0
        self.timing.tick = 0
        self.journal.note(EVENT_BOOT, 0, self.controller, self.raw)
        link.answer()

    def _drain(self):
        for _ in range(DRAIN_POLLS):
            if self.link.idle():
                return
            self.link.poll()
            self.board.feed()
            self.board.idle(DRAIN_US)


def has_lockout_memory(settings):
    """Whether the lockout word may be written within a tick."""
    return settings.fitted & FIT_LOCKOUT_MEMORY != 0


def has_budget(settings):
    """Whether the bottle's content is counted."""
    return settings.fitted & FIT_BUDGET != 0
