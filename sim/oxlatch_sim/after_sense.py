"""One controller tick from verdicts instead of raw samples: what a recorded path of the proof is stepped with."""

from collections.abc import Mapping

from oxlatch.controller import Controller, feed_back
from oxlatch.gate import gate_step
from oxlatch.lamps import lamps_step
from oxlatch.sense import VERDICT_NAMES
from oxlatch.sequencer import core_step


def tick_after_sense(controller: Controller, verdicts: Mapping[str, int]) -> None:
    """Core, gate and lamps for these verdicts; verdicts that are not named are zero."""
    for name in VERDICT_NAMES:
        setattr(controller.verdicts, name, verdicts.get(name, 0))
    core_step(controller.core, controller.verdicts, controller.settings)
    gate_step(controller.gate, controller.core, controller.verdicts, controller.settings, controller.out)
    feed_back(controller.sense, controller.out)
    lamps_step(controller.core, controller.out)
