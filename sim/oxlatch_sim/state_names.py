"""A name for every word of the controller's state, in the order of its `state_words`."""

from oxlatch.core import CORE_WORDS
from oxlatch.gate import GATE_WORDS
from oxlatch.sense import SENSE_WORDS


def _names(prefix: str, table: tuple[tuple[str, int], ...]) -> list[str]:
    names = []
    for name, count in table:
        names += [prefix + name] if count == 1 else [f"{prefix}{name}[{i}]" for i in range(count)]
    return names


STATE_WORD_NAMES = tuple(_names("sense.", SENSE_WORDS) + _names("core.", CORE_WORDS) + _names("gate.", GATE_WORDS))
