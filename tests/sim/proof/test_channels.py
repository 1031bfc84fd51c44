"""Each channel of sense alone keeps its lemma, and a weakened one does not."""

import pytest

from oxlatch_sim.proof.channel_lemmas import CHANNELS
from oxlatch_sim.proof.channels import explore_channel
from oxlatch_sim.proof.mutant_source import applied, module_of

CHANNEL = {channel.name: channel for channel in CHANNELS}
WEAKENED = (
    ("switch", "sense", "& s.h2 & s.h3 & s.h4 & s.h5)", "& s.h2 & s.h3 & s.h4)"),
    ("coil", "sense", "s.d1 & s.d2 & ~x", "s.d1 & ~x"),
    ("throttle", "sense_engine", "s.throttle_fault_n > 1", "s.throttle_fault_n > 2"),
    ("rpm", "sense_engine", "s.rpm_window_n >= c.rpm_window_ticks", "s.rpm_window_n >= 1"),
    ("supply", "sense_supply", "s.supply_empty_n > 1", "s.supply_empty_n > 2"),
    ("fuel", "sense_fuel", "s.fuel_fail_n > 1", "s.fuel_fail_n > 2"),
    ("bus", "sense_volts", "s.bus_hard_n > 1", "s.bus_hard_n > 2"),
    ("rail", "sense_volts", "s.rail_weld_n >= c.rail_weld_ticks", "s.rail_weld_n > c.rail_weld_ticks"),
)


@pytest.mark.parametrize("name", CHANNEL)
def test_lemma_holds_to_a_fixpoint_and_every_level_occurs(name):
    found = explore_channel(CHANNEL[name])
    assert found.broken == ""
    assert all(len(levels) > 1 for levels in found.levels.values())


@pytest.mark.parametrize(("name", "module", "old", "new"), WEAKENED, ids=[row[0] for row in WEAKENED])
def test_weakened_channel_breaks_its_lemma(name, module, old, new):
    import inspect

    text = inspect.getsource(module_of(module))
    assert text.count(old) == 1
    with applied(module, text.replace(old, new)):
        assert explore_channel(CHANNEL[name]).broken
