"""Pictures and texts of the cause-and-effect table for the documents: state diagram and matrix.

Everything is made from the table alone, as Mermaid text, as Markdown and as SVG drawn here; nothing outside is
called. Numbers on the arrows are the numbers of the transition rows, which the legend beside them explains.
"""

from collections.abc import Mapping
from html import escape
from textwrap import wrap
from typing import Any

from oxlatch_sim.proof.reference_table import CONSTANTS, load_table, reason_place
from oxlatch_sim.reason_words import REASONS

Table = Mapping[str, Any]

# Where the states stand, in a grid of columns and rows: the way of a flight runs down the middle.
PLACES: Mapping[str, tuple[int, int]] = {
    "WAKE": (0, 0),
    "BENCH-DRY": (1, 0),
    "BENCH-GAS": (2, 0),
    "SERVICE": (2, 1),
    "HELD": (0, 1),
    "REST": (1, 1),
    "WAITING": (1, 2),
    "PURGING": (0, 2),
    "READY": (1, 3),
    "GAP": (0, 3),
    "LEAD-IN": (1, 4),
    "RUN": (1, 5),
    "RUN-DOWN": (0, 4),
    "TRIP": (2, 2),
}
COLUMN, ROW, LEFT, TOP = 250, 130, 30, 70
BOX_WIDTH, BOX_HEIGHT = 130, 46
LEGEND_X = LEFT + 3 * COLUMN + 10
LINE_HEIGHT = 15
FONT = 'font-family="DejaVu Sans, Arial, sans-serif"'
LEGEND_CHARACTERS = 88
LABEL_AT = 0.3  # of the way along its arrow, so that labels of crossing arrows keep apart
LABELS_ELSEWHERE = {
    ("RUN-DOWN", "REST"): 0.17,
    ("LEAD-IN", "RUN-DOWN"): 0.5,
    ("RUN", "RUN-DOWN"): 0.5,
    ("SERVICE", "WAKE"): 0.14,
    ("REST", "BENCH-GAS"): 0.75,
}


def edges(table: Table) -> dict[tuple[str, str], list[int]]:
    """Rows of the transition table (numbered from 1) per pair of states, internal ones left out."""
    found: dict[tuple[str, str], list[int]] = {}
    for number, row in enumerate(table["transition"], start=1):
        for source in row["from"]:
            if "to" in row and (source != row["to"]):
                found.setdefault((source, row["to"]), []).append(number)
    return found


def state_mermaid(table: Table | None = None) -> str:
    """The state diagram as Mermaid text; each arrow carries the names of its rows."""
    table = table or load_table()
    names = [row["id"] for row in table["transition"]]
    lines = ["stateDiagram-v2", "    [*] --> WAKE"]
    for (source, target), rows in edges(table).items():
        told = ", ".join(names[number - 1] for number in rows)
        lines.append(f"    {_identifier(source)} --> {_identifier(target)}: {told}")
    for state in PLACES:
        if "-" in state:
            lines.insert(1, f'    state "{state}" as {_identifier(state)}')
    return "\n".join(lines) + "\n"


def _identifier(state: str) -> str:
    return state.replace("-", "_")


# --- state diagram as SVG ---------------------------------------------------------------------------


def _centre(state: str) -> tuple[float, float]:
    column, row = PLACES[state]
    return LEFT + column * COLUMN + BOX_WIDTH / 2, TOP + row * ROW + BOX_HEIGHT / 2


def _border(state: str, towards: tuple[float, float], aside: float) -> tuple[float, float]:
    """The point of a box's border on the way to another point, moved `aside` across that way."""
    x, y = _centre(state)
    dx, dy = towards[0] - x, towards[1] - y
    length = max((dx * dx + dy * dy) ** 0.5, 1e-9)
    ux, uy = dx / length, dy / length
    x, y = x - uy * aside, y + ux * aside
    reach = min(
        (BOX_WIDTH / 2 - abs(uy * aside)) / abs(ux) if abs(ux) > 1e-6 else 1e9,
        (BOX_HEIGHT / 2 - abs(ux * aside)) / abs(uy) if abs(uy) > 1e-6 else 1e9,
    )
    return x + ux * reach, y + uy * reach


def _arrow(source: str, target: str, told: str, both_ways: bool) -> list[str]:
    aside = 9.0 if both_ways else 0.0
    x1, y1 = _border(source, _centre(target), aside)
    x2, y2 = _border(target, _centre(source), -aside)
    at = LABELS_ELSEWHERE.get((source, target), LABEL_AT)
    near = (x1 + (x2 - x1) * at, y1 + (y2 - y1) * at)
    across = (y2 - y1, x1 - x2)
    length = max((across[0] ** 2 + across[1] ** 2) ** 0.5, 1e-9)
    side = -13 if both_ways else 13
    x, y = near[0] + across[0] / length * side, near[1] + across[1] / length * side
    width = 6.4 * len(told) + 4
    return [
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" class="arrow"/>',
        f'<rect x="{x - width / 2:.1f}" y="{y - 8:.1f}" width="{width:.1f}" height="15" class="plate"/>',
        f'<text x="{x:.1f}" y="{y + 4:.1f}" text-anchor="middle" class="number">{told}</text>',
    ]


def _box(state: str) -> list[str]:
    x, y = _centre(state)
    flows = state in ("LEAD-IN", "RUN", "RUN-DOWN", "BENCH-GAS")
    width = 3 if flows else 1.4
    left, top = x - BOX_WIDTH / 2, y - BOX_HEIGHT / 2
    return [
        f'<rect x="{left:.1f}" y="{top:.1f}" width="{BOX_WIDTH}" height="{BOX_HEIGHT}" rx="6" '
        f'class="box" stroke-width="{width}"/>',
        f'<text x="{x:.1f}" y="{y + 5:.1f}" text-anchor="middle" class="name">{state}</text>',
    ]


def told_in_words(table: Table) -> list[int]:
    """Rows too many arrows would be needed for: all that lead to TRIP, and those from three states or more."""
    return [
        number
        for number, row in enumerate(table["transition"], start=1)
        if "to" in row and (row["to"] == "TRIP" or len(row["from"]) > 2)
    ]


def origin(row: Mapping[str, Any]) -> str:
    """The states a transition leaves, in words."""
    return "every state" if len(row["from"]) == len(PLACES) else ", ".join(row["from"])


def _legend(table: Table, undrawn: list[int]) -> tuple[list[str], int]:
    lines, y = [], TOP
    heading = "Transitions, tried in this order; the first that holds is taken"
    lines.append(f'<text x="{LEGEND_X}" y="{y}" class="heading">{heading}</text>')
    y += 8
    for number, row in enumerate(table["transition"], start=1):
        told = f"{number}  {row['id']}: {row['guard']}"
        for place, part in enumerate(wrap(told, LEGEND_CHARACTERS, subsequent_indent="      ")):
            y += LINE_HEIGHT
            text = part if place == 0 else "      " + part.strip()
            lines.append(f'<text x="{LEGEND_X}" y="{y}" class="legend" xml:space="preserve">{escape(text)}</text>')
    y += 2 * LINE_HEIGHT
    notes = ["Not drawn:"]
    for number in undrawn:
        row = table["transition"][number - 1]
        notes += wrap(f"  {number}  from {origin(row)} to {row['to']}", LEGEND_CHARACTERS, subsequent_indent="      ")
    notes += [
        "Thick frames: states in which something may flow.",
        "Rows without a target stay in their state and are not drawn.",
    ]
    for note in notes:
        lines.append(f'<text x="{LEGEND_X}" y="{y}" class="legend" xml:space="preserve">{escape(note)}</text>')
        y += LINE_HEIGHT
    return lines, y


def state_svg(table: Table | None = None) -> str:
    """The state diagram as SVG with its legend."""
    table = table or load_table()
    undrawn = told_in_words(table)
    drawn = {pair: [number for number in rows if number not in undrawn] for pair, rows in edges(table).items()}
    drawn = {pair: rows for pair, rows in drawn.items() if rows}
    body: list[str] = []
    for (source, target), rows in drawn.items():
        body += _arrow(source, target, " ".join(map(str, rows)), (target, source) in drawn)
    body.sort(key=lambda part: not part.startswith("<line"))  # labels over all lines
    for state in PLACES:
        body += _box(state)
    legend, bottom = _legend(table, undrawn)
    height = max(bottom, TOP + 6 * ROW)
    title = f"{table['title']}: states"
    return _svg(LEGEND_X + 660, height + 20, title, [*body, *legend])


# --- cause-and-effect matrix ---------------------------------------------------------------------------

EFFECTS = (
    "F off now",
    "O off now",
    "O off after tail",
    "run off now",
    "run off later",
    "TRIP",
    "purge void",
    "hold-off",
)
WHEN_TOLD = {
    "run": "LEAD-IN, RUN",
    "flow": "flow",
    "guarded": "WAITING, READY, GAP",
    "found": "start-up",
    "always": "always",
    "driven": "flow, bench with O on",
    "powered": "flow, bench",
    "energized": "flow, bench, PURGING",
}


def _effects(row: Mapping[str, Any]) -> set[str]:
    """Which effect columns a cause has, from its class and what it does besides."""
    reaction = row["class"]
    found = {"TRIP"}
    if reaction == "FUEL-FIRST":
        found |= {"F off now", "O off after tail", "run off later"}
    elif reaction in ("ALL-STOP", "HARD"):
        found |= {"F off now", "O off now", "run off now"}
    also = row.get("also", ())
    if "void" in also or row["latch"] >= 2:
        found.add("purge void")
    if "hold_off" in also:
        found.add("hold-off")
    return found


def _shown_words(reason: str) -> str:
    word, bit = reason_place(reason)
    return next(row[2] for row in REASONS if row[0] == word and row[1] == bit)


def matrix_rows(table: Table | None = None) -> list[dict[str, Any]]:
    """One row per cause in hazard order: words, when, class, latch, hazard row, effects, test, note."""
    table = table or load_table()
    order = {name: place for place, name in enumerate(CONSTANTS)}
    rows = [
        {
            "reason": row["reason"],
            "words": _shown_words(row["reason"]),
            "when": WHEN_TOLD[row["when"]],
            "class": row["class"],
            "latch": row["latch"],
            "hazard": row["row"],
            "effects": _effects(row),
            "later": bool(row.get("classify")),
            "test": row["test"],
            "note": row.get("note", ""),
        }
        for row in table["cause"]
    ]
    return sorted(rows, key=lambda row: (row["hazard"], order[row["reason"]]))


def matrix_markdown(table: Table | None = None) -> str:
    """The cause-and-effect matrix as a Markdown table."""
    head = ["hazard", "cause", "judged in", "class", "latch", *EFFECTS]
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    for row in matrix_rows(table):
        marks = ["X" if effect in row["effects"] else "" for effect in EFFECTS]
        cells = [str(row["hazard"]), row["words"], row["when"], row["class"], f"L{row['latch']}", *marks]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def matrix_svg(table: Table | None = None) -> str:
    """The cause-and-effect matrix as SVG."""
    rows = matrix_rows(table)
    row_height, top, mark_width = 21, 150, 34
    columns = {"hazard": 30, "words": 75, "when": 290, "class": 450, "latch": 550}
    marks_x = 610
    width = marks_x + mark_width * len(EFFECTS) + 40
    body: list[str] = []
    for name, told in (
        ("hazard", "row"),
        ("words", "cause"),
        ("when", "judged in"),
        ("class", "class"),
        ("latch", "latch"),
    ):
        body.append(f'<text x="{columns[name]}" y="{top - 10}" class="heading">{told}</text>')
    for place, effect in enumerate(EFFECTS):
        x = marks_x + place * mark_width + mark_width / 2
        turned = f'transform="rotate(-60 {x:.1f} {top - 10})"'
        body.append(f'<text x="{x:.1f}" y="{top - 10}" {turned} class="heading">{effect}</text>')
    for place, row in enumerate(rows):
        y = top + place * row_height
        if place % 2 == 0:
            body.append(f'<rect x="20" y="{y}" width="{width - 40}" height="{row_height}" class="band"/>')
        base = y + 15
        words = row["words"] + (" *" if row["later"] else "")
        cells = {"hazard": str(row["hazard"]), "words": words, "when": row["when"], "class": row["class"]}
        cells["latch"] = f"L{row['latch']}"
        body += [
            f'<text x="{columns[name]}" y="{base}" class="legend">{escape(text)}</text>' for name, text in cells.items()
        ]
        for column, effect in enumerate(EFFECTS):
            if effect in row["effects"]:
                x = marks_x + column * mark_width + mark_width / 2
                body.append(f'<text x="{x:.1f}" y="{base}" text-anchor="middle" class="mark">X</text>')
    bottom = top + len(rows) * row_height
    body.append(f'<rect x="20" y="{top}" width="{width - 40}" height="{bottom - top}" class="frame"/>')
    notes = [
        "* outputs stop in the tick; whether it was a release or a fault is settled classify_ticks later.",
        "F: fuel and master fuel. O: oxidizer. L1: throttle released. L2: master off. L3: engine stopped, master off,",
        "ACK held, tests pass. L4: maintenance. In the same tick the strongest class acts and the highest latch holds.",
    ]
    for place, note in enumerate(notes):
        body.append(f'<text x="30" y="{bottom + 24 + place * 17}" class="legend">{escape(note)}</text>')
    source = table or load_table()
    return _svg(width, bottom + 90, f"{source['title']}: causes and effects", body)


def _svg(width: float, height: float, title: str, body: list[str]) -> str:
    style = (
        ".box{fill:#fff;stroke:#000}.arrow{stroke:#000;stroke-width:1.2;marker-end:url(#head)}"
        ".plate{fill:#fff;stroke:none}.band{fill:#eee;stroke:none}.frame{fill:none;stroke:#000}"
        ".name{font-size:15px;font-weight:bold}.number{font-size:11px}.legend{font-size:11.5px}"
        ".heading{font-size:12.5px;font-weight:bold}.mark{font-size:13px;font-weight:bold}.title{font-size:18px;font-weight:bold}"
    )
    head = (
        '<marker id="head" viewBox="0 0 10 10" refX="9" refY="5" markerWidth="8" markerHeight="8" orient="auto">'
        '<path d="M0 0 L10 5 L0 10 z"/></marker>'
    )
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0f}" height="{height:.0f}" '
            f'viewBox="0 0 {width:.0f} {height:.0f}" {FONT}>',
            f"<title>{escape(title)}</title><style>{style}</style><defs>{head}</defs>",
            f'<rect width="{width:.0f}" height="{height:.0f}" fill="#fff"/>',
            f'<text x="{LEFT}" y="34" class="title">{escape(title)}</text>',
            *body,
            "</svg>",
            "",
        ]
    )
