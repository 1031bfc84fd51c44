"""Write the controller's rules as an inspector reads them, from the cause-and-effect table: states, causes, effects."""

import sys
from pathlib import Path

from oxlatch_sim.proof import diagram
from oxlatch_sim.proof.reference_table import load_table
from oxlatch_sim.whole_file import write_whole

HERE = Path(__file__).resolve().parent / "rules"
PAGE = """# Rules: states, causes, effects

**Cautions first.** These are the rules of a draft for an invented aircraft. What the engine maker, the gas
supplier, your authority's rules and licensed practice say comes first; where this page and one of them differ, this
page is wrong for you. A rule says what the controller does with what its sensors tell it, not what a valve or an
engine then does.

The rules stand in one table, written a second time, apart from the firmware's source, and run beside it: in
`oxlatch prove` for some hundred thousand ticks, in `make bench` for ten million. Every row must be used, and not
one answer may differ. This page is made from that table. Some of its rows follow the firmware where nothing else
decides (a tick more or less, which of two words is shown); there the comparison shows only that both say the same.

## States

![States and transitions](states.svg)

The same as text, for tools that draw:

```mermaid
{mermaid}```

## Transitions

Tried in this order; the first that holds is taken.

{transitions}

## Causes and effects

![Causes and effects](causes.svg)

X marks what happens. F is fuel and master fuel, O is oxidizer. L1 opens when the throttle is released, L2 with the
master off, L3 with the engine stopped, master off, ACK held and the tests passed, L4 by maintenance only. In one
tick the strongest class acts, the highest latch holds and the lowest row is the first cause.

{matrix}

## How a sentence was read

Where a rule could be read in two ways, this is how it was read.

{notes}
"""


def pages() -> dict[str, str]:
    """Every file of this folder by its name."""
    table = load_table()
    transitions = ["| row | name | from | to | when |", "|---|---|---|---|---|"]
    for number, row in enumerate(table["transition"], start=1):
        cells = [str(number), row["id"], diagram.origin(row), row.get("to", "stays"), f"`{row['guard']}`"]
        transitions.append("| " + " | ".join(cells) + " |")
    notes = [
        f"- {kind} {row.get('reason') or row.get('id') or row.get('name') or row['output']}: {row['note']}."
        for kind in ("transition", "cause", "wait", "note", "rule", "stage", "output", "interlock")
        for row in table[kind]
        if "note" in row
    ]
    page = PAGE.format(
        mermaid=diagram.state_mermaid(table),
        transitions="\n".join(transitions),
        matrix=diagram.matrix_markdown(table).rstrip(),
        notes="\n".join(notes),
    )
    return {"README.md": page, "states.svg": diagram.state_svg(table), "causes.svg": diagram.matrix_svg(table)}


def main() -> int:
    HERE.mkdir(exist_ok=True)
    for name, text in pages().items():
        print(write_whole(HERE / name, text))
    return 0


if __name__ == "__main__":
    sys.exit(main())
