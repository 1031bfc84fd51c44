"""The proof's own history of a controller since its reset: what the pilot did, and what flowed.

Kept from the verdicts, the state's name and the outputs, never from the sequencer's own counters.
Written in the firmware's subset.
"""

# mypy: disallow-untyped-defs=False

from oxlatch.vocabulary import (
    COIL_PURGE,
    CONTACT_CLOSED,
    CONTACT_OPEN,
    FIT_AIR,
    FIT_CURRENTS,
    FIT_VENT_DOWN,
    LEAD_IN,
    LINE_EMPTY,
    LINE_GOOD,
    LINE_LOST,
    OUT_PURGE,
    PURGING,
    READY,
    REST,
    RPM_STOPPED,
    RUN,
    RUN_DOWN,
    STAGES_MAX,
    SUPPLY_FAULT,
    THROTTLE_HOLD,
    WAITING,
)

COUNT_MAX = 32767  # longer than any setting a count is compared with

MASTER_UNSEEN = 0
MASTER_SEEN_OFF = 1
MASTER_CYCLED = 2  # seen off, then on


class Boot:
    """What start-up found; constant until the next reset."""

    def __init__(self) -> None:
        self.word = 0


def give_boot(v, boot):
    """The boot word is the same in every tick since the reset."""
    v.boot = boot.word


def give_row(v, c):
    """Without barometer and outside air the altitude row is 0, as is shown of sense."""
    if not c.fitted & FIT_AIR:
        v.row = 0


class Story:
    """All zero at a reset."""

    def __init__(self) -> None:
        # before this tick
        self.state_before = 0
        self.contact_before = 0
        self.ox_before = 0
        self.purge_before = 0
        self.latch_before = 0
        self.valid_before = 0
        self.confirm_before = 0
        self.press_before = 0  # purge button
        self.press_edge = 0
        self.timer_before = 0
        self.budget_before = 0
        self.heat_before = 0
        self.ox_asked = 0
        self.purge_asked = 0
        self.hold_off_before = 0
        # since the reset
        self.master = MASTER_UNSEEN
        self.opened = 0  # contact seen open long enough
        self.ever_closed = 0
        self.doubted = 0  # since all was off, the gate has seen the bench key or missed a fuel stage's current
        self.purge_n = 0  # purge valve driven, ticks in a row; not on the bench
        self.vented = 0  # the line was vented in this purge
        self.good_n = 0  # good pressure, ticks in a row while purging
        self.purged = 0  # a complete purge has been made
        self.fresh = 0  # one has been made since the master was last off
        self.unbroken = 0  # armed from REST, and the master has not been off since
        self.ready_open = 0  # contact seen open in this READY
        # this push
        self.open_n = 0
        self.off_n = 0  # master off, ticks in a row
        self.ack_n = 0
        self.line_n = 0  # line pressure below the level that voids a purge
        self.edge_n = 0  # ticks since the edge
        self.flaw = 0  # this purge's valve current was missing
        self.edge = 0  # the contact closed while READY and has stayed closed
        self.flow = 0  # the present flow began at such an edge
        self.allowed = 0  # stages selected in that tick
        self.gone = 0  # stages that have flowed and stopped since then
        self.fuel_n = 0  # ticks of the present flow with fuel
        self.released_n = 0  # ticks in a row without push


def one_more(count):
    """A count one tick later."""
    return count + 1 if count < COUNT_MAX else COUNT_MAX


def story_before(story, core, v, out):
    """Keep what the tick will change, and take in what the pilot does now."""
    story.state_before = core.state
    story.press_edge = 1 if v.purge and not story.press_before else 0
    story.ox_before = out.ox
    story.timer_before = core.timer
    story.budget_before = core.budget
    story.heat_before = core.coil_heat
    story.ox_asked = core.ask_ox
    story.purge_asked = core.ask_bits & OUT_PURGE
    story.hold_off_before = core.hold_off_left
    story.purge_before = 1 if out.bits & OUT_PURGE and core.state == PURGING else 0
    story.latch_before = core.latch
    story.valid_before = core.purge_valid
    story.confirm_before = 1 if core.confirm_left else 0
    pilot_story(story, core, v)


def pilot_story(story, core, v):
    """Master, contact and the edge that may begin a flow."""
    story.off_n = 0 if v.master else one_more(story.off_n)
    story.ack_n = one_more(story.ack_n) if v.ack else 0
    story.line_n = one_more(story.line_n) if v.line <= LINE_LOST else 0
    if not v.master:
        story.fresh = 0
        story.unbroken = 0
        if story.master != MASTER_CYCLED:
            story.master = MASTER_SEEN_OFF
    elif story.master == MASTER_SEEN_OFF:
        story.master = MASTER_CYCLED
    if v.contact == CONTACT_CLOSED:
        story.ever_closed = 1
        if core.state == READY and story.ready_open and story.contact_before != CONTACT_CLOSED:
            story.edge = 1
            story.edge_n = 0
        elif story.edge:
            story.edge_n = one_more(story.edge_n)
    else:
        story.edge = 0
    story.contact_before = v.contact


def is_venting(v, c):
    """The line is being emptied on the ground: engine stopped, pressure below a purge's own."""
    if not c.fitted & FIT_VENT_DOWN or v.rpm != RPM_STOPPED or v.supply == SUPPLY_FAULT:
        return False
    return LINE_EMPTY < v.line < LINE_LOST


def purge_story(story, v, c):
    """Whether a purge driven until the tick before was complete; called after the tick."""
    if not story.purge_before:
        story.good_n = 0
        story.flaw = 0
        story.vented = 0
    elif v.line >= LINE_GOOD:
        story.good_n = one_more(story.good_n)
    else:
        story.good_n = 0
    if story.purge_before and v.missing & COIL_PURGE:
        story.flaw = 1
    if story.purge_before and is_venting(v, c):
        story.vented = 1
    if story.purge_n >= c.purge_ticks and story.good_n >= c.purge_good_ticks and not story.vented:
        story.purged = 1
        if v.master:
            story.fresh = 1


def story_after(story, core, v, c, out):
    """What flows now, after the tick."""
    if v.contact == CONTACT_OPEN:
        story.open_n = one_more(story.open_n)
        if story.open_n >= c.contact_open_ticks:
            story.opened = 1
    else:
        story.open_n = 0
    if core.state != READY:
        story.ready_open = 0
    elif v.contact == CONTACT_OPEN:
        story.ready_open = 1
    if core.state == WAITING and story.state_before == REST:
        story.unbroken = 1
    story.press_before = v.purge
    purge_story(story, v, c)
    if out.bits & OUT_PURGE and core.state == PURGING:
        story.purge_n = one_more(story.purge_n)
    else:
        story.purge_n = 0
    if core.state == LEAD_IN and story.state_before == READY:
        story.flow = story.edge
        story.allowed = v.sel
        story.fuel_n = 0
        story.gone = 0
    elif core.state != LEAD_IN and core.state != RUN and core.state != RUN_DOWN:
        story.flow = 0
    if v.bench or (c.fitted & FIT_CURRENTS and core.ask_fuel & ~v.current):
        story.doubted = 1
    elif not core.ask_ox:
        story.doubted = 0
    if out.fuel:
        story.fuel_n = one_more(story.fuel_n)
    story.gone |= story.ox_before & ~out.ox
    if v.contact == CONTACT_CLOSED and v.throttle >= THROTTLE_HOLD and v.master:
        story.released_n = 0
    elif story.released_n < COUNT_MAX:
        story.released_n += 1


def some_stage(word):
    """The number of stages in a word, as far as two: 0, 1, or 2 for more than one."""
    count = 0
    for i in range(STAGES_MAX):
        if (word >> i) & 1 and count < 2:
            count += 1
    return count
