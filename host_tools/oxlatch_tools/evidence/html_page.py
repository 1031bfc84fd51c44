"""A pack as one HTML file that needs nothing beside it. Everything but headings is in one type size."""

import base64
import html
from collections.abc import Callable
from typing import Any

from oxlatch_tools.evidence.page import Block, Box, Document, Heading, Line, Listing, Picture, Rows, Signatures, Words

STYLE = """
* { box-sizing: border-box; }
body { font: 15px/1.45 "DejaVu Sans", Verdana, sans-serif; color: #000; background: #fff; margin: 0 auto;
  max-width: 66rem; padding: 1.2rem; }
h1 { font-size: 1.8rem; margin: 0 0 .4rem; } h3 { font-size: 1rem; margin: 1.1rem 0 .2rem; }
h2 { font-size: 1.3rem; border-top: 3px solid #000; padding-top: .6rem; margin: 2rem 0 .5rem; }
p { margin: .4rem 0; } ul { margin: .2rem 0 .5rem; padding-left: 1.3rem; } li { margin: .12rem 0; }
.box { border: 2px solid #000; padding: .5rem .9rem; margin: .8rem 0; } .red { color: #b00000; }
.box.red { border: 4px solid #b00000; color: #000; } .box.red > strong { color: #b00000; }
table { border-collapse: collapse; width: 100%; margin: .6rem 0; table-layout: fixed; }
th, td { border: 1px solid #777; padding: .22rem .4rem; text-align: left; vertical-align: top;
  overflow-wrap: anywhere; }
th { border-bottom: 2px solid #000; } .sign td { height: 3.2rem; }
figure { margin: .8rem 0; break-inside: avoid; } figure img { width: 100%; height: auto; display: block; }
@media print { body { font-size: 9.5pt; max-width: none; padding: 0; } h2, h3 { break-after: avoid; }
  tr, .box { break-inside: avoid; } thead { display: table-header-group; } }
@page { margin: 14mm; }
"""


def html_page(document: Document) -> str:
    """The file's text. The same document gives the same text."""
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{_text(document.title)}</title><style>{STYLE}</style></head><body>",
        f"<h1>{_text(document.title)}</h1>",
        *(_block(block) for block in document.blocks),
        f"<p>{_text(document.foot)}</p>",
        "</body></html>",
    ]
    return "\n".join(parts) + "\n"


def _text(words: str) -> str:
    return html.escape(words, quote=True)


def _line(line: Line) -> str:
    words = f"<strong>{_text(line.text)}</strong>" if line.is_bold else _text(line.text)
    return f'<span class="red">{words}</span>' if line.is_red else words


def _block(block: Block) -> str:
    drawn: dict[type, Callable[[Any], str]] = {
        Heading: _heading,
        Words: lambda words: f"<p>{_line(words.line)}</p>",
        Listing: lambda listing: _list(listing.lines),
        Box: _box,
        Rows: _rows,
        Signatures: _signatures,
        Picture: _picture,
    }
    return drawn[type(block)](block)


def _heading(block: Heading) -> str:
    level = block.level + 1
    return f"<h{level}{_red(block.is_red)}>{_text(block.text)}</h{level}>"


def _red(is_red: bool) -> str:
    return ' class="red"' if is_red else ""


def _list(lines: tuple[Line, ...]) -> str:
    return "<ul>" + "".join(f"<li>{_line(line)}</li>" for line in lines) + "</ul>"


def _box(block: Box) -> str:
    css = "box red" if block.is_red else "box"
    return f'<div class="{css}"><strong>{_text(block.title)}</strong>{_list(block.lines)}</div>'


def _rows(block: Rows) -> str:
    columns = "".join(f'<col style="width:{100 * width:.0f}%">' for width in block.widths)
    head = "".join(f"<th>{_text(words)}</th>" for words in block.head)
    body = "".join("<tr>" + "".join(f"<td>{_line(cell)}</td>" for cell in row) + "</tr>" for row in block.rows)
    return f"<table><colgroup>{columns}</colgroup><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _signatures(block: Signatures) -> str:
    head = "<tr><th>Who</th><th>Name</th><th>Date</th><th>Signature</th></tr>"
    body = "".join(f"<tr><td>{_text(role)}</td><td></td><td></td><td></td></tr>" for role in block.roles)
    return f'<table class="sign"><thead>{head}</thead><tbody>{body}</tbody></table>'


def _picture(block: Picture) -> str:
    data = base64.b64encode(block.png).decode()
    image = f'<img alt="{_text(block.shows)}" src="data:image/png;base64,{data}">'
    return f"<figure>{image}<figcaption>{_line(block.caption)}</figcaption></figure>"
