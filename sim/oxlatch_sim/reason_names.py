"""Reasons by the names of their constants, for files and messages that people write."""

from functools import lru_cache

from oxlatch import reasons, vocabulary

WORDS_BEFORE_TABLE = "RULES"


@lru_cache(maxsize=1)
def reasons_by_name() -> dict[str, tuple[int, int]]:
    """Word and bit of every reason, in the order of the table.

    The firmware names each bit of a word once, in the order of the words, and starts every word at bit 0.
    """
    rows = {(row[0], row[1]) for row in reasons.RULES}
    found: dict[str, tuple[int, int]] = {}
    word = -1
    for name, value in vars(reasons).items():
        if name == WORDS_BEFORE_TABLE:
            break
        if not isinstance(value, int) or name == "WORDS" or hasattr(vocabulary, name):
            continue
        if value == 1:
            word += 1
        if (word, value) in rows:
            found[name] = (word, value)
    return found


def standing(words: tuple[int, int, int, int]) -> list[str]:
    """Names of every reason that stands in the four words, in the order of the table."""
    return [name for name, (word, bit) in reasons_by_name().items() if words[word] & bit]
