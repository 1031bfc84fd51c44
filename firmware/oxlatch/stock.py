"""What a run uses up: the oxidizer in the bottle and the coolness of the coils. Both are counted, not measured.

Bottle, in 1/1024 g: every tick takes the rated flow of each stage whose oxidizer is asked for, or that of
the purge; a refill is entered by hand. Coils: one estimate for the hottest stage coil; it rises by
`coil_heat_up` in every tick in which oxidizer is asked for and falls by `coil_heat_down` in every other.
"""

from oxlatch.purge import void_purge
from oxlatch.vocabulary import BOOT_WATCHDOG, FIT_BUDGET, OUT_PURGE

GRAM_SHIFT = 10


def stock_found(s, v, c):
    """After a reset: what the store remembers of the bottle; coils cold, unless a stalled tick was the cause."""
    s.budget = v.bottle_g << GRAM_SHIFT
    s.coil_heat = c.coil_heat_start if v.boot & BOOT_WATCHDOG else 0


def stock_step(s, c):
    """Count what the previous tick used up."""
    if s.ask_ox:
        s.coil_heat += c.coil_heat_up
        if s.coil_heat > c.coil_heat_top:
            s.coil_heat = c.coil_heat_top
        if c.fitted & FIT_BUDGET:
            spend(s, flow(s.ask_ox, c))
        return
    if s.coil_heat:
        s.coil_heat = s.coil_heat - c.coil_heat_down if s.coil_heat > c.coil_heat_down else 0
    if s.ask_bits & OUT_PURGE and c.fitted & FIT_BUDGET:
        spend(s, c.flow_purge)


def spend(s, used):
    """Take from the budget; it ends at nothing."""
    s.budget = s.budget - used if s.budget > used else 0


def flow(stages, c):
    """Oxidizer of these stages in one tick, 1/1024 g."""
    used = 0
    if stages & 1:
        used = c.flow_1
    if stages & 2:
        used += c.flow_2
    if stages & 4:
        used += c.flow_3
    if stages & 8:
        used += c.flow_4
    return used


def refill(s, c):
    """The crew says that a full bottle is fitted: the budget is whole again, and no purge outlives a bottle."""
    s.budget = c.bottle_full_g << GRAM_SHIFT
    void_purge(s)
