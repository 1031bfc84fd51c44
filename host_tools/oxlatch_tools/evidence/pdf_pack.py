"""A pack as a PDF: one embedded font, one type size for all text, the same bytes for the same document."""

import datetime
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import matplotlib
from fpdf import FPDF
from fpdf.fonts import FontFace
from PIL import Image

from oxlatch_tools.evidence.page import Block, Box, Document, Heading, Line, Listing, Picture, Rows, Signatures, Words

FONT = "DejaVu"
SIZE = 9.0
LINE_MM = 4.4
RED = (176, 0, 0)
BLACK = (0, 0, 0)
FOOT_MM = 16.0
SIGN_MM = 14.0


class Pack(FPDF):
    """The document being drawn."""

    def __init__(self, document: Document) -> None:
        super().__init__(unit="mm", format="A4")
        self.document = document
        self.set_margins(14, 12, 14)
        self.set_auto_page_break(True, FOOT_MM)
        fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
        self.add_font(FONT, "", str(fonts / "DejaVuSans.ttf"))
        self.add_font(FONT, "B", str(fonts / "DejaVuSans-Bold.ttf"))
        day = datetime.datetime.fromisoformat(document.date).replace(tzinfo=datetime.UTC)
        self.set_creation_date(day)
        self.set_title(document.title)
        self.set_producer("oxlatch")

    def footer(self) -> None:
        """What the page belongs to, and its number."""
        self.set_y(-12)
        self._ink(False)
        self.set_font(FONT, "", SIZE)
        self.cell(0, 5, f"{self.document.foot} · page {self.page_no()} of {{nb}}")

    def draw(self) -> None:
        """Every block."""
        self.add_page()
        self.set_font(FONT, "B", 18)
        self.cell(0, 10, self.document.title, new_x="LMARGIN", new_y="NEXT")
        drawers: dict[type, Callable[[Any], None]] = {
            Heading: self._heading,
            Words: self._words,
            Listing: self._listing,
            Box: self._box,
            Rows: self._rows,
            Signatures: self._signatures,
            Picture: self._picture,
        }
        for block in self.document.blocks:
            self._before(block)
            drawers[type(block)](block)

    def _before(self, block: Block) -> None:
        """A heading is never the last thing on a page."""
        needs = block.room_mm if isinstance(block, Heading) else 0.0
        if isinstance(block, Signatures):
            needs = SIGN_MM * (len(block.roles) + 1)
        if needs and self.get_y() + needs > self.h - FOOT_MM:
            self.add_page()

    def _ink(self, is_red: bool) -> None:
        self.set_text_color(*(RED if is_red else BLACK))
        self.set_draw_color(*(RED if is_red else BLACK))

    def _write(self, line: Line, indent: float = 0.0) -> None:
        self._ink(line.is_red)
        self.set_font(FONT, "B" if line.is_bold else "", SIZE)
        self.set_x(self.l_margin + indent)
        self.multi_cell(self.epw - indent, LINE_MM, line.text, align="L", new_x="LMARGIN", new_y="NEXT")

    def _heading(self, block: Heading) -> None:
        if block.level == 1:
            self.ln(4)
            self._ink(False)
            self.set_line_width(0.8)
            self.line(self.l_margin, self.get_y(), self.w - self.r_margin, self.get_y())
            self.ln(1.5)
        else:
            self.ln(2)
        self._ink(block.is_red)
        self.set_font(FONT, "B", 13 if block.level == 1 else SIZE)
        self.multi_cell(
            0, 6.5 if block.level == 1 else LINE_MM + 0.6, block.text, align="L", new_x="LMARGIN", new_y="NEXT"
        )
        self.ln(1 if block.level == 1 else 0)

    def _words(self, block: Words) -> None:
        self._write(block.line)
        self.ln(1)

    def _listing(self, block: Listing) -> None:
        for line in block.lines:
            if self.get_y() + LINE_MM > self.h - FOOT_MM:
                self.add_page()
            self._ink(line.is_red)
            self.set_font(FONT, "", SIZE)
            self.cell(5, LINE_MM, "–")
            self._write(line, 5)
        self.ln(1)

    def _box(self, block: Box) -> None:
        texts = [line.text for line in block.lines]
        self.set_font(FONT, "", SIZE)
        found = [self.multi_cell(self.epw - 11, LINE_MM, text, dry_run=True, output="LINES") for text in texts]
        count = sum(len(lines) if isinstance(lines, list) else 1 for lines in found)
        height = (count + 1) * LINE_MM + 4
        if self.get_y() + height > self.h - FOOT_MM and height < self.eph:
            self.add_page()
        top, page = self.get_y() + 0.5, self.page_no()
        self.set_y(top + 1.5)
        self._write(Line(block.title, block.is_red, True), 3)
        for line in block.lines:
            self._ink(line.is_red)
            self.set_font(FONT, "", SIZE)
            self.set_x(self.l_margin + 3)
            self.cell(5, LINE_MM, "–")
            self._write(line, 8)
        if self.page_no() == page:
            self._ink(block.is_red)
            self.set_line_width(0.9 if block.is_red else 0.5)
            self.rect(self.l_margin, top, self.epw, self.get_y() + 1.5 - top)
        self.ln(4)

    def _rows(self, block: Rows) -> None:
        self._ink(False)
        self.set_font(FONT, "", SIZE)
        self.set_line_width(0.2)
        with self.table(
            col_widths=block.widths,
            headings_style=_face(Line("", is_bold=True)),
            line_height=LINE_MM,
            text_align="LEFT",
            padding=0.8,
            v_align="TOP",
        ) as table:
            table.row(list(block.head))
            for cells in block.rows:
                row = table.row()
                for cell in cells:
                    row.cell(cell.text, style=_face(cell))
        self.ln(2)

    def _signatures(self, block: Signatures) -> None:
        self._ink(False)
        self.set_line_width(0.3)
        widths = [share * self.epw for share in (0.3, 0.27, 0.15, 0.28)]
        for number, role in enumerate(("Who", *block.roles)):
            cells = ("Who", "Name", "Date", "Signature") if number == 0 else (role, "", "", "")
            self.set_font(FONT, "B" if number == 0 else "", SIZE)
            for words, width in zip(cells, widths, strict=True):
                self.cell(width, 6 if number == 0 else SIGN_MM, words, border=1)
            self.ln()


    def _picture(self, block: Picture) -> None:
        lines = self.multi_cell(self.epw, LINE_MM, block.caption.text, dry_run=True, output="LINES")
        with Image.open(io.BytesIO(block.png)) as image:
            height = self.epw * image.height / image.width
        needs = height + LINE_MM * (len(lines) if isinstance(lines, list) else 1) + 3
        if self.get_y() + needs > self.h - FOOT_MM:
            self.add_page()
        self.image(io.BytesIO(block.png), x=self.l_margin, w=self.epw, alt_text=block.shows)
        self.ln(1)
        self._write(block.caption)
        self.ln(3)


def _face(line: Line) -> FontFace:
    return FontFace(FONT, "B" if line.is_bold else "", SIZE, RED if line.is_red else BLACK)


def pdf_pack(document: Document) -> bytes:
    """The file's bytes."""
    pack = Pack(document)
    pack.draw()
    return bytes(pack.output())
