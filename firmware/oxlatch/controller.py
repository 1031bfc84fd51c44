"""One tick of the whole controller: sense, core, gate, lamps. No clock is read and nothing is written to a pin."""

from oxlatch.core import CORE_WORDS, CoreState
from oxlatch.gate import GATE_WORDS, GateState, gate_step
from oxlatch.lamps import lamps_step
from oxlatch.sense import SENSE_WORDS, SenseState, Verdicts, sense_step
from oxlatch.sequencer import core_step
from oxlatch.vocabulary import (
    COIL_FUEL_SHIFT,
    COIL_MASTER_FUEL_SHIFT,
    COIL_MASTER_OX_SHIFT,
    COIL_PURGE_SHIFT,
    OUT_MASTER_FUEL,
    OUT_MASTER_OX,
    OUT_PURGE,
)

# From an output bit to its coil bit.
_TO_PURGE = COIL_PURGE_SHIFT - 1
_TO_MASTER = COIL_MASTER_FUEL_SHIFT
_TO_MASTER_OX = COIL_MASTER_OX_SHIFT - 3


class Outputs:
    """What is driven after the gate, and what is shown."""

    def __init__(self):
        self.ox = 0
        self.fuel = 0
        self.bits = 0
        self.lamps = 0
        self.text = -1
        self.shown_state = -1  # what lamps and text were last made from
        self.shown_waits = 0
        self.shown_notes = 0


def _words(*tables):
    return sum([count for table in tables for _name, count in table])


STATE_WORDS = _words(SENSE_WORDS, CORE_WORDS, GATE_WORDS)


class Controller:
    """The tick and its state.

    `tick(raw)` is a function of (state, raw, settings) alone. The state is `STATE_WORDS` small
    integers, in the order of the three tables of words, copied out and in by `state_words` and `load_words`.
    """

    def __init__(self, settings):
        self.settings = settings
        self.sense = SenseState()
        self.verdicts = Verdicts()
        self.core = CoreState()
        self.gate = GateState()
        self.out = Outputs()

    def tick(self, raw):
        """One tick: raw samples in, `out` written."""
        sense = self.sense
        verdicts = self.verdicts
        core = self.core
        out = self.out
        settings = self.settings
        sense_step(sense, raw, settings, verdicts)
        core_step(core, verdicts, settings)
        gate_step(self.gate, core, verdicts, settings, out)
        feed_back(sense, out)
        lamps_step(core, out)

    def state_words(self, buffer):
        """Copy the whole state into `buffer`, a list or array of at least STATE_WORDS integers."""
        at = _copy_out(self.sense, SENSE_WORDS, buffer, 0)
        at = _copy_out(self.core, CORE_WORDS, buffer, at)
        _copy_out(self.gate, GATE_WORDS, buffer, at)

    def load_words(self, buffer):
        """Set the whole state from `buffer`."""
        at = _copy_in(self.sense, SENSE_WORDS, buffer, 0)
        at = _copy_in(self.core, CORE_WORDS, buffer, at)
        _copy_in(self.gate, GATE_WORDS, buffer, at)
        self.out.shown_state = -1


def feed_back(sense, out):
    """Let the next tick's sense know what was commanded in this one."""
    bits = out.bits
    sense.driven_bits = bits
    stages = out.ox | (out.fuel << COIL_FUEL_SHIFT)
    masters = ((bits & OUT_MASTER_FUEL) << _TO_MASTER) | ((bits & OUT_MASTER_OX) << _TO_MASTER_OX)
    sense.driven = stages | ((bits & OUT_PURGE) << _TO_PURGE) | masters


def _copy_out(state, table, buffer, at):
    for name, count in table:
        value = getattr(state, name)
        if count == 1:
            buffer[at] = value
            at += 1
        else:
            for i in range(count):
                buffer[at] = value[i]
                at += 1
    return at


def _copy_in(state, table, buffer, at):
    for name, count in table:
        if count == 1:
            setattr(state, name, buffer[at])
            at += 1
        else:
            value = getattr(state, name)
            for i in range(count):
                value[i] = buffer[at]
                at += 1
    return at
