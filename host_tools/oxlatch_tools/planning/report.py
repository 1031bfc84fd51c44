"""The plan as one self-contained HTML page that prints well, as JSON, and as text for the terminal."""

import html
from typing import Any

from oxlatch_tools.installation_fitted import fitted
from oxlatch_tools.planning.page import Figure, Finding, Page, Table
from oxlatch_tools.planning.pictures import DRAWINGS, svg
from oxlatch_tools.planning.plan import Plan, missing_figures, reduced_claims
from oxlatch_tools.presentation import Units

STYLE = """
:root { --ink: #000; --line: #000; }
* { box-sizing: border-box; }
body { font: 16px/1.45 "DejaVu Sans", Verdana, sans-serif; color: var(--ink); background: #fff; margin: 0 auto;
  max-width: 60rem; padding: 1.2rem; }
h1 { font-size: 1.9rem; margin: 0 0 .3rem; } h2 { font-size: 1.5rem; margin: 0 0 .6rem; }
h3 { font-size: 1.05rem; margin: 1.2rem 0 .3rem; }
section { border-top: 3px solid var(--line); padding-top: .8rem; margin-top: 2rem; }
.answer { font-size: 1.1rem; } .box { border: 2px solid var(--line); padding: .5rem .9rem; margin: .8rem 0; }
.exceeded { border-width: 4px; } table { border-collapse: collapse; width: 100%; margin: .3rem 0; font-size: .8rem; }
th, td { border-bottom: 1px solid #777; padding: .22rem .4rem; text-align: right; vertical-align: top; }
th { border-bottom: 2px solid var(--line); vertical-align: bottom; } td.w, th.w { text-align: left; }
.wide { overflow-x: auto; } svg { width: 100%; height: auto; } details { margin: .15rem 0; }
summary { cursor: pointer; } ul { margin: .3rem 0; padding-left: 1.3rem; } dl { margin: .2rem 0 .2rem 1.3rem; }
dt { font-weight: bold; } dd { margin: 0 0 .3rem; } nav a { color: inherit; }
td { white-space: nowrap; } td.l { white-space: normal; }
@media print { body { font-size: 10.5pt; max-width: none; padding: 0; } section { break-before: page; margin-top: 0; }
  table { font-size: 8.2pt; } h3 { break-after: avoid; } tr, svg, .box { break-inside: avoid; } nav { display: none; }
  svg { width: 80%; display: block; margin: auto; } .wide { overflow: visible; } .table { break-inside: avoid; }
  .answer { font-size: 11.5pt; } details { display: none; } }
@page { margin: 14mm; }
"""


def report_html(plan: Plan, units: Units, date: str, firmware: str) -> str:
    """The page. `date` is printed as given; everything else follows from the installation."""
    installation = plan.installation
    title = f"Plan: {installation.aircraft.name}"
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{_text(title)} {installation.digest}</title><style>{STYLE}</style></head><body>",
        _head(plan, title, date, firmware),
        *(_section(plan, number, page, units) for number, page in enumerate(plan.pages, start=1)),
        "</body></html>",
    ]
    return "\n".join(parts) + "\n"


def _text(words: str) -> str:
    return html.escape(words, quote=True)


def _listed(lines: list[str]) -> str:
    return "<ul>" + "".join(f"<li>{_text(line)}</li>" for line in lines) + "</ul>"


def _head(plan: Plan, title: str, date: str, firmware: str) -> str:
    installation = plan.installation
    invented = INVENTED if installation.aircraft.example else ""
    links = "".join(
        f'<li><a href="#{page.key}">{number}. {_text(page.question)}</a></li>'
        for number, page in enumerate(plan.pages, 1)
    )
    parts = [
        f"<h1>{_text(title)}</h1>",
        f"<p>Installation {installation.digest} · firmware {_text(firmware)} · {_text(date)}</p>",
        invented,
        '<div class="box"><strong>Before anything else</strong>',
        _listed(CAUTIONS),
        "</div>",
        _gaps(plan),
        _findings(plan),
        f"<nav><ol style='list-style:none;padding:0'>{links}</ol></nav>",
    ]
    return "\n".join(parts)


INVENTED = "<p><strong>Invented example. No such aircraft exists.</strong></p>"
CAUTIONS = [
    "Not approved, not certified, no substitute for engine maker, propeller maker, gas supplier, authority or test.",
    "No power here is recommended. Every figure stands beside the one without boost and the one with boost lost.",
    "Limits come from the makers and from your own tests; local rules and licensed practice decide.",
    "Computed figures are uncertain as stated; weigh, time and measure before anything is flown.",
]


def _gaps(plan: Plan) -> str:
    """What is not fitted, not tested and not measured, in the same size as everything else."""
    installation = plan.installation
    gaps = reduced_claims(installation) + [f"Not yet in the file: {item}." for item in missing_figures(installation)]
    if not gaps:
        gaps = ["Everything that may be fitted is fitted, and the file carries the builder's own tested figures."]
    there = f"<p>Fitted: {_text(', '.join(fitted(installation)) or 'nothing beyond what always must be')}.</p>"
    return f'<div class="box"><strong>Not fitted, not tested, not measured</strong>{_listed(gaps)}{there}</div>'


def _findings(plan: Plan) -> str:
    found = plan.findings()
    exceeded = [finding for _page, finding in found if finding.severity == "exceeded"]
    notes = [finding for _page, finding in found if finding.severity == "note"]
    first = "No limit is exceeded." if not exceeded else f"{len(exceeded)} limit(s) exceeded"
    css = "box exceeded" if exceeded else "box"
    body = _listed([finding.text() for finding in exceeded]) if exceeded else ""
    more = "<p>To know:</p>" + _listed([finding.text() for finding in notes]) if notes else ""
    return f'<div class="{css}"><strong>{first}</strong>{body}{more}</div>'


def _section(plan: Plan, number: int, page: Page, units: Units) -> str:
    parts = [f'<section id="{page.key}"><h2>{number}. {_text(page.question)}</h2>']
    parts += [f'<p class="answer">{_text(line)}</p>' for line in page.answer_text(units)]
    if page.key in DRAWINGS:
        parts.append(f'<figure style="margin:0">{svg(plan, page.key, units)}</figure>')
    parts += [_finding(finding) for finding in page.findings]
    parts += [_figures(page.figures, units)]
    parts += [_table(table, units) for table in page.tables]
    if page.assumptions:
        parts.append("<h3>Assumed</h3>" + _listed(page.assumptions))
    if page.cautions:
        parts.append('<div class="box"><strong>Cautions</strong>' + _listed(page.cautions) + "</div>")
    return "\n".join([*parts, "</section>"])


def _finding(finding: Finding) -> str:
    name = "Limit exceeded" if finding.severity == "exceeded" else "To know"
    css = "box exceeded" if finding.severity == "exceeded" else "box"
    return f'<div class="{css}"><strong>{name}:</strong> {_text(finding.text())}</div>'


def _figures(figures: list[Figure], units: Units) -> str:
    rows = []
    for figure in figures:
        origin = " · ".join(part for part in (figure.formula, figure.source) if part)
        more = f"<details><summary>how</summary>{_text(origin)}</details>" if origin else ""
        cells = f'<td class="w">{_text(figure.label)}</td><td>{_text(figure.text(units))}</td><td class="w">{more}</td>'
        rows.append(f"<tr>{cells}</tr>")
    return "<table>" + "".join(rows) + "</table>"


def _table(table: Table, units: Units) -> str:
    rows = table.texts(units)
    classes = [
        _class(column.kind == "text", [row[index] for row in rows]) for index, column in enumerate(table.columns)
    ]
    head = "".join(
        f'<th class="{name}">{_text(column.heading(units))}</th>'
        for name, column in zip(classes, table.columns, strict=True)
    )
    body = "".join(f"<tr>{_cells(row, classes)}</tr>" for row in rows)
    origin = " · ".join(part for part in (table.formula, table.source) if part)
    more = f"<details><summary>how</summary>{_text(origin)}</details>" if origin else ""
    note = f"<p>{_text(table.note)}</p>" if table.note else ""
    whole = f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
    return f'<div class="table"><h3>{_text(table.title)}</h3><div class="wide">{whole}</div>{note}{more}</div>'


def _class(is_text: bool, cells: list[str]) -> str:
    """Texts stand left; only long ones may be broken."""
    return "w l" if is_text and any(len(cell) > 24 for cell in cells) else "w" if is_text else ""


def _cells(row: list[str], classes: list[str]) -> str:
    return "".join(f'<td class="{name}">{_text(cell)}</td>' for cell, name in zip(row, classes, strict=True))


def report_data(plan: Plan) -> dict[str, Any]:
    """The same numbers for machines, in SI units (rev/min and degrees excepted)."""
    installation = plan.installation
    return {
        "aircraft": installation.aircraft.name,
        "example": installation.aircraft.example,
        "within_limits": plan.is_within_limits,
        "fitted": fitted(installation),
        "not_fitted": reduced_claims(installation),
        "not_measured": missing_figures(installation),
        "pages": [page.data() for page in plan.pages],
    }


def terminal_table(table: Table, units: Units, keys: tuple[str, ...]) -> list[str]:
    """Some columns of a table, aligned for the terminal."""
    chosen = [index for index, column in enumerate(table.columns) if column.key in keys]
    rows = [[table.columns[index].heading(units) for index in chosen]]
    rows += [[row[index] for index in chosen] for row in table.texts(units)]
    widths = [max(len(row[place]) for row in rows) for place in range(len(chosen))]
    is_text = [table.columns[index].kind == "text" for index in chosen]
    return [
        "   "
        + "  ".join(
            cell.ljust(width) if left else cell.rjust(width)
            for cell, width, left in zip(row, widths, is_text, strict=True)
        ).rstrip()
        for row in rows
    ]


TERMINAL_TABLES = {
    "stages": ("patterns", ("pattern", "power", "oxidizer", "fuel", "current", "seconds", "band", "tested")),
    "jets": ("jets", ("jet", "count", "bore_mm", "bore_inch", "metric", "numbered", "band")),
    "takeoff": ("leave", ("field", "length", "plain", "boosted", "lost", "verdict")),
}


def report_text(plan: Plan, units: Units) -> str:
    """A readable summary for the terminal: every answer, and the three tables one looks for."""
    lines = [f"Plan of {plan.installation.aircraft.name}, installation {plan.installation.digest}"]
    if plan.installation.aircraft.example:
        lines[0] += " (invented example)"
    for number, page in enumerate(plan.pages, start=1):
        lines += ["", f"{number}. {page.question}", *(f"   {line}" for line in page.answer_text(units))]
        if page.key in TERMINAL_TABLES:
            key, columns = TERMINAL_TABLES[page.key]
            lines += ["", *terminal_table(page.table(key), units, columns)]
    gaps = reduced_claims(plan.installation) + [
        f"Not yet in the file: {item}." for item in missing_figures(plan.installation)
    ]
    lines += ["", f"Fitted: {', '.join(fitted(plan.installation)) or 'nothing beyond what always must be'}."]
    lines += ["", *gaps] if gaps else []
    for _page, finding in plan.findings():
        name = "LIMIT EXCEEDED" if finding.severity == "exceeded" else "To know"
        lines.append(f"{name}: {finding.text()}")
    return "\n".join(lines)
