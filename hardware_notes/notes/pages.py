"""Pages with generated parts: what stands between two marks is written by a table of `notes.tables`."""

import re

from notes.facts import Facts
from notes.tables import TABLES

_PART = re.compile(r"<!-- table: ([a-z ]+) -->\n.*?<!-- end -->", re.DOTALL)


class PageError(ValueError):
    """A page asks for a table that does not exist, or a mark is not closed."""


def renewed(text: str, facts: Facts, name: str = "page") -> str:
    """The page with every generated part made anew. Errors: PageError."""
    if text.count("<!-- table: ") != text.count("<!-- end -->"):
        raise PageError(f"{name}: every '<!-- table: ... -->' needs its '<!-- end -->'")

    def part(found: re.Match[str]) -> str:
        table = TABLES.get(found.group(1))
        if table is None:
            raise PageError(f"{name}: no table {found.group(1)!r}; there are {', '.join(TABLES)}")
        body = "\n".join(table(facts))
        return f"<!-- table: {found.group(1)} -->\n\n{body}\n\n<!-- end -->"

    return _PART.sub(part, text)
