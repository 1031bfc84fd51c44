"""Why each invariant holds, in words that cannot go stale.

A guard is a piece of the firmware's own text inside a named function; `explain` finds its line, so an
explanation whose guard has gone is an error and not a stale sentence.
"""

from __future__ import annotations

import inspect
from importlib import import_module
from os.path import basename
from typing import Any

from oxlatch_sim.proof.symbolic_explain_flow import FLOW_EXPLANATIONS
from oxlatch_sim.proof.symbolic_explain_rest import REST_EXPLANATIONS
from oxlatch_sim.proof.symbolic_explained import Guard

EXPLANATIONS = (*FLOW_EXPLANATIONS, *REST_EXPLANATIONS)


def line_of(guard: Guard) -> int:
    """Line of a guard's text in its file; ValueError when the function no longer holds it."""
    module_name, _, name = guard.function.rpartition(".")
    function = getattr(import_module(f"oxlatch.{module_name}"), name)
    lines, first = inspect.getsourcelines(function)
    for at, line in enumerate(lines):
        if guard.text in line:
            return first + at
    raise ValueError(f"{guard.function} no longer holds {guard.text!r}")


def explain(invariant: str) -> dict[str, Any]:
    """Why an invariant holds, for the command and its JSON; KeyError names the known ones."""
    found = {one.id: one for one in EXPLANATIONS}.get(invariant.upper())
    if found is None:
        raise KeyError(f"no explanation of {invariant!r}; there are {', '.join(one.id for one in EXPLANATIONS)}")
    guards = []
    for guard in found.guards:
        module = import_module(f"oxlatch.{guard.function.rpartition('.')[0]}")
        where = f"{basename(str(module.__file__))}:{line_of(guard)}"
        guards.append({"layer": guard.layer, "where": where, "text": guard.text, "words": guard.words})
    return {"id": found.id, "words": found.words, "guards": guards, "hardware": found.hardware, "open": found.open}
