"""The programme on paper: one self-contained HTML page, a sheet a step, printed or filled in by hand."""

from html import escape

from oxlatch_tools.commissioning.results import Standing
from oxlatch_tools.installation import Installation

STYLE = """
body{font:16px/1.45 sans-serif;color:#000;background:#fff;max-width:60em;margin:2em auto;padding:0 1em}
h1{font-size:1.7em}h2{font-size:1.25em;border-top:3px solid #000;padding-top:.6em;margin-top:2em}
.caution{border:3px solid #000;padding:.5em 1em;margin:1em 0}.caution b{display:block}
table{border-collapse:collapse;width:100%;margin:1em 0}
th,td{border:1px solid #000;padding:.35em .5em;text-align:left;vertical-align:top}
.empty{min-width:8em}ul,ol{margin:.4em 0}.sign{margin-top:1.6em}
a{color:#000}
@media print{section{break-before:page}body{margin:0;max-width:none}}
"""


def programme_html(installation: Installation, found: list[Standing], date: str) -> str:
    """The whole programme with where each step stands."""
    rows = "".join(
        f"<tr><td>{number}</td><td><a href='#{item.step.key}'>{escape(item.step.title)}</a></td>"
        f"<td>{item.status}</td><td>{escape(item.why)}</td></tr>"
        for number, item in enumerate(found, start=1)
    )
    sheets = "".join(_sheet(number, item) for number, item in enumerate(found, start=1))
    mark = "<p><b>Invented example. No such aircraft exists.</b></p>" if installation.aircraft.example else ""
    title = f"Commissioning: {escape(installation.aircraft.name)}"
    draft = "DRAFT: to be checked by those who answer for the aircraft."
    return (
        f"<!doctype html><html lang='en'><meta charset='utf-8'><title>{title}</title><style>{STYLE}</style>"
        f"<h1>{title}</h1><p>Installation {installation.digest}, {date}. {draft}</p>{mark}"
        f"<table><tr><th>No.</th><th>Step</th><th>Stands</th><th>Why</th></tr>{rows}</table>{sheets}</html>"
    )


def _sheet(number: int, item: Standing) -> str:
    step = item.step
    cautions = "".join(f"<li>{escape(text)}</li>" for text in step.cautions)
    measures = "".join(
        f"<tr><td>{escape(measure.words)}<br><small>{measure.key}</small></td><td>{escape(measure.allowed)}</td>"
        f"<td class='empty'>{_value(item, measure.key)}</td></tr>"
        for measure in step.measures
    )
    return (
        f"<section id='{step.key}'><h2>{number}. {escape(step.title)}</h2>"
        f"<div class='caution'><b>CAUTION</b><ul>{cautions}</ul></div>"
        f"<p><b>Purpose.</b> {escape(step.purpose)}</p><p><b>Stands:</b> {item.status}; {escape(item.why)}.</p>"
        f"<p><b>Set-up</b></p><ul>{_items(step.set_up)}</ul><p><b>Do</b></p><ol>{_items(step.actions)}</ol>"
        f"<table><tr><th>Measure</th><th>Passes</th><th>Found</th></tr>{measures}</table>"
        f"<p><b>Stop</b></p><ul>{_items(step.stop_rules)}</ul>"
        f"<p class='sign'>Done by ______________________ Date ____________ Seen by ______________________</p></section>"
    )


def memo_html(installation: Installation, text: str, date: str) -> str:
    """The limit memo as a page to print and sign."""
    title = f"Limit memo: {escape(installation.aircraft.name)}"
    mark = "<p><b>Invented example. No such aircraft exists.</b></p>" if installation.aircraft.example else ""
    return (
        f"<!doctype html><html lang='en'><meta charset='utf-8'><title>{title}</title><style>{STYLE}"
        f"pre{{font:inherit;white-space:pre-wrap}}</style><h1>{title}</h1><p>{date}</p>{mark}<pre>{escape(text)}</pre></html>"
    )


def blank_sheet(item: Standing) -> str:
    """The sheet of one step to fill in and hand to `oxlatch commission enter`: every measure with what passes."""
    step = item.step
    lines = [
        f"# {step.title}",
        *(f"# CAUTION: {text}" for text in step.cautions),
        "# Fill in and keep with: oxlatch commission enter THIS_FILE",
        f'step = "{step.key}"',
        "date =            # such as 2026-05-01, without quotes",
        'by = ""           # who did it',
        'note = ""',
        '# not_done = "why it was left out"   # instead of [values]; the evidence shows it in red',
    ]
    if item.status == "failed":
        lines.append('changed = ""      # what was changed since it failed, or why nothing was')
    lines += ["", "[values]"]
    for measure in step.measures:
        lines.append(f"{measure.key} =   # {measure.words}: {measure.allowed}")
    return "\n".join(lines) + "\n"


def _items(texts: tuple[str, ...]) -> str:
    return "".join(f"<li>{escape(text)}</li>" for text in texts)


def _value(item: Standing, key: str) -> str:
    if item.result is None or key not in item.result.values:
        return "&nbsp;"
    return f"{item.result.values[key]:g}"
