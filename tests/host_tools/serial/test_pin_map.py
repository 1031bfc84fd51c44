"""The pin map check finds nothing in the map, and finds each fault planted in it."""

import pytest

from oxlatch.boards.rp2_pins import GATES, PINS
from oxlatch_tools.serial.pin_map import DIRECT, main, problems


def changed(name, **new):
    fields = ("gpio", "name", "kind", "outside")
    return [tuple(new.get(key, row[i]) for i, key in enumerate(fields)) if row[1] == name else row for row in PINS]


def test_the_map_has_no_problem(capsys):
    assert problems() == []
    assert main() == 0
    assert "0 problems" in capsys.readouterr().out


@pytest.mark.parametrize("name", DIRECT)
def test_every_valve_gate_needs_its_pull_down_and_its_own_pin(name):
    assert any("needs a pull-down" in found for found in problems(changed(name, outside="none")))
    assert any("must be a direct pin" in found for found in problems(changed(name, kind="latch")))
    assert any("used twice" in found for found in problems(changed(name, gpio=22)))


def test_a_peripheral_on_a_pin_that_cannot_do_it_is_found():
    found = problems(changed("CONVERTER_CLOCK", gpio=28))
    assert "GP28 (CONVERTER_CLOCK) cannot be spi0_sck; these can: GP2, GP6, GP18, GP22" in found


def test_a_pin_that_is_not_brought_out_is_found():
    assert problems(changed("INJECT_STRAP", gpio=24)) == ["GP24 (INJECT_STRAP) is not brought out on the board"]


def test_gates_are_the_twelve_outputs():
    assert len(GATES) == len(DIRECT) == 12
