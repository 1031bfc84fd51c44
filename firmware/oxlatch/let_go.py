"""Modules wanted for a moment: what only start-up or rest needs leaves the heap once it has been used."""

import gc
import sys

import oxlatch


def let_go(name):
    """Forget a module of this package; the next import loads it again. A desktop Python keeps what it has."""
    if sys.implementation.name != "micropython":
        return
    sys.modules.pop("oxlatch." + name, None)
    if hasattr(oxlatch, name):
        delattr(oxlatch, name)
    gc.collect()
