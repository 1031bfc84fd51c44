"""Every drawing by its name, and the fingerprint that tells when a file is stale."""

import hashlib
import inspect
import sys
from collections.abc import Callable
from pathlib import Path

from notes import (
    draw_bench,
    draw_driver,
    draw_gas,
    draw_pack,
    draw_power,
    draw_sensors,
    draw_system,
    draw_throttle,
    draw_words,
    glyphs,
    ink,
    schematic,
    symbols,
)
from notes.facts import Facts
from notes.ink import Sheet

DRAWINGS: dict[str, Callable[[Facts], Sheet]] = {
    "system": draw_system.system,
    "plumbing": draw_system.plumbing,
    "states": draw_words.states,
    "cockpit": draw_words.cockpit,
    "rails": draw_power.rails,
    "one_shot": draw_power.one_shot,
    "supervisors": draw_power.supervisors,
    "driver": draw_driver.driver,
    "interlock": draw_driver.interlock,
    "release": draw_driver.release,
    "detent": draw_throttle.detent,
    "contact": draw_throttle.contact,
    "inputs": draw_sensors.inputs,
    "scales": draw_sensors.scales,
    "bottle": draw_gas.bottle_sheet,
    "purge": draw_gas.purge,
    "nozzles": draw_gas.nozzles,
    "rig": draw_bench.rig,
    "injection": draw_bench.injection,
    "dry_run": draw_bench.dry_run,
    "harness": draw_pack.harness,
    "pins": draw_pack.pins,
    "grounding": draw_pack.grounding,
}
_TOOLS = (ink, glyphs, symbols, schematic)


def drawn(name: str, facts: Facts) -> tuple[Sheet, str]:
    """The sheet of that name and its SVG. Errors: KeyError for no such drawing."""
    maker = DRAWINGS[name]
    sheet = maker(facts)
    return sheet, sheet.svg(fingerprint(maker, sheet))


def fingerprint(maker: Callable[[Facts], Sheet], sheet: Sheet) -> str:
    """Eight digits over the script of a drawing, what it is drawn with, and every word on it.

    A change of a library that draws changes no digit: the words and scripts are what a reader relies on.
    """
    digest = hashlib.sha256()
    for module in (*_TOOLS, sys.modules[maker.__module__]):
        digest.update(Path(inspect.getfile(module)).read_bytes())
    digest.update("\n".join(sheet.texts()).encode())
    return digest.hexdigest()[:8]
