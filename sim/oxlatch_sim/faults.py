"""Single faults by name: found in the catalogue, begun on a bench and ended again.

A fault names the hazard row it belongs to and what it disturbs: attributes of plant and board that take another
value while it lasts. `name@2` is the fault at stage 2; a fault of one stage without a number is at stage 1. Nothing
here knows what the controller makes of it.
"""

import difflib
from typing import TYPE_CHECKING, Any

from oxlatch_sim.fault_catalogue import CATALOGUE
from oxlatch_sim.fault_kinds import STAGE, Change, Contact, ExtraContact, Fault, Pickup
from oxlatch_sim.inputs import INPUT_BITS
from oxlatch_sim.plant import engine, sensors

if TYPE_CHECKING:
    from oxlatch_sim.bench import Bench

__all__ = ["CATALOGUE", "Fault", "FaultError", "apply", "parse_name"]


class FaultError(ValueError):
    """No such fault, or no such stage."""


def parse_name(name: str, stages: int) -> tuple[Fault, int]:
    """The fault and the index of its stage from `name` or `name@stage`.

    Errors: `FaultError` naming what is allowed, with the nearest names.
    """
    base, _, place = name.partition("@")
    fault = CATALOGUE.get(base)
    if fault is None:
        near = difflib.get_close_matches(base, CATALOGUE, n=3)
        hint = f"; nearest are {', '.join(near)}" if near else ""
        raise FaultError(f"fault {base!r} does not exist{hint}")
    if not place:
        return fault, 0
    if fault.part != STAGE:
        raise FaultError(f"fault {base!r} belongs to no stage, so it takes no @{place}")
    if not place.isdigit() or not 1 <= int(place) <= stages:
        raise FaultError(f"fault {name!r}: stage {place} does not exist; allowed are 1 to {stages}")
    return fault, int(place) - 1


def apply(bench: "Bench", name: str, on: bool = True) -> None:
    """Begin a fault on a bench, or end it and restore what it disturbed."""
    fault, stage = parse_name(name, bench.settings.stages)
    if fault.needs and not bench.settings.fitted & INPUT_BITS[fault.needs]:
        raise FaultError(f"fault {name!r} is one of the {fault.needs}, which this aircraft does not have")
    for effect in fault.effects:
        if isinstance(effect, Change):
            _change(bench, effect, stage, on)
        elif isinstance(effect, Contact):
            bit = effect.bit << stage if fault.part == STAGE else effect.bit
            bench.plant.contacts.fail(bit, effect.fault if on else sensors.GOOD)
        elif isinstance(effect, ExtraContact):
            bench.plant.extras.fail_contact(effect.bit, effect.fault if on else sensors.GOOD)
        elif isinstance(effect, Pickup):
            bench.plant.engine.fail_pickup(effect.fault if on else engine.PICKUP_GOOD)
        elif on:
            effect.act(bench, stage)
    bench.plant.wake()


def _change(bench: "Bench", change: Change, stage: int, on: bool) -> None:
    path = change.path.replace("{n}", str(stage))
    *steps, attribute = path.split(".")
    target: Any = bench
    for step in steps:
        target = target[int(step)] if step.isdigit() else getattr(target, step)
    if on:
        bench.disturbed.setdefault(path, getattr(target, attribute))
        setattr(target, attribute, change.value)
    elif path in bench.disturbed:
        setattr(target, attribute, bench.disturbed.pop(path))
