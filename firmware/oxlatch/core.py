"""Everything the sequencer and the permits remember, and the two ways to change state."""

from oxlatch.vocabulary import STAGES_MAX

# name, number of words
CORE_WORDS = (
    ("state", 1),
    ("timer", 1),  # ticks in this state, saturating
    ("why0", 1),  # standing reasons, four words
    ("why1", 1),
    ("why2", 1),
    ("why3", 1),
    ("reaction", 1),  # strongest class standing
    ("ask_ox", 1),  # stages, what is asked of the gate
    ("ask_fuel", 1),
    ("ask_bits", 1),  # OUT_*
    ("latch", 1),
    ("cause0", 1),  # first cause of the present latch: one bit in one of the two
    ("cause1", 1),
    ("store", 1),  # what must stand in the lockout memory
    ("boot_cleared", 1),  # the locks found at start-up have been cleared
    ("inject", 1),  # INJECT_*
    ("stalled", 1),
    ("stuck_before", 1),
    ("no_show", 1),
    ("open_n", 1),  # ticks the contact has been open
    ("off_n", 1),  # ticks the master has been off
    ("disarm", 1),  # the master has been off since arming
    ("ack_n", 1),
    ("push", 1),
    ("push_n", 1),
    ("push_why", 1),  # why the last push was refused, until the contact opens
    ("sel_last", 1),
    ("sel_n", 1),
    ("ready_n", 1),
    ("arm_left", 1),
    ("hold_off_left", 1),
    ("starts_n", 1),  # fills with every start, drains with time
    ("purge_valid", 1),
    ("purge_left", 1),
    ("confirm_left", 1),
    ("purge_press_n", 1),
    ("purge_good_n", 1),
    ("purge_flaw", 1),
    ("line_lost_n", 1),
    ("latched", 1),  # stages this push may flow
    ("opening", 1),  # the one stage whose oxidizer is open and whose fuel is not yet
    ("lead_n", 1),
    ("stagger_n", 1),
    ("run_n", 1),
    ("tail", STAGES_MAX),
    ("classify_n", 1),
    ("classify0", 1),
    ("budget", 1),  # what is left in the bottle, 1/1024 g
    ("coil_heat", 1),
    ("vent_n", 1),  # ticks of venting in this press of PURGE
    ("bench_n", 1),  # ticks of this bench push; 0 until the contact was seen open
)

STORE_NOTHING = 0
STORE_ARMED = 1  # levels 3 and 4 stand for themselves

INJECT_UNREAD = 0
INJECT_ABSENT = 1
INJECT_FITTED = 2


class CoreState:
    """One integer attribute per name of CORE_WORDS; all zero is the state after a reset."""

    def __init__(self):
        for name, count in CORE_WORDS:
            setattr(self, name, [0] * count if count > 1 else 0)


def enter(s, state):
    """Change state; its clock starts at zero."""
    s.state = state
    s.timer = 0


def stop(s):
    """Ask for nothing, at once."""
    s.ask_ox = 0
    s.ask_fuel = 0
    s.ask_bits = 0
    s.latched = 0
    s.opening = 0
    s.classify0 = 0
    s.classify_n = 0
    for i in range(STAGES_MAX):
        s.tail[i] = 0
