"""Cards as PDF: one font, embedded; black on white; the same bytes for the same card."""

import datetime
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import matplotlib
from fpdf import FPDF

from oxlatch_tools.cards.card import Block, Card, Caution, Grid, Picture, Placard, Steps, Words

FONT = "DejaVu"
MARGIN_MM = 10.0
SIZE_MM = {"A5": (148.0, 210.0), "A4": (210.0, 297.0)}
POINT_MM = 0.3528
FOOT_MM = 15.0
SIGNATURE_MM = 15.0


@dataclass(frozen=True)
class Origin:
    """What stands on every card: aircraft, digest, date, firmware, and whether it is a draft or an example."""

    aircraft: str
    digest: str
    date: str
    firmware: str
    is_draft: bool
    is_example: bool

    def marks(self) -> str:
        """Words for the head of the card; empty for a card that is neither draft nor example."""
        words = (["DRAFT"] if self.is_draft else []) + (["INVENTED EXAMPLE"] if self.is_example else [])
        return " · ".join(words)


class Sheet(FPDF):
    """One document of cards of the same origin."""

    def __init__(self, origin: Origin):
        super().__init__(unit="mm", format=SIZE_MM["A5"])
        self.origin = origin
        self.card: Card | None = None
        # One margin for every format: the foot of a page is drawn when the next card has already begun.
        self.set_margins(MARGIN_MM, MARGIN_MM - 2, MARGIN_MM)
        self.set_auto_page_break(True, FOOT_MM)
        fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
        self.add_font(FONT, "", str(fonts / "DejaVuSans.ttf"))
        self.add_font(FONT, "B", str(fonts / "DejaVuSans-Bold.ttf"))
        day = datetime.datetime.fromisoformat(origin.date).replace(tzinfo=datetime.UTC)
        self.set_creation_date(day)
        self.set_title(f"{origin.aircraft} {origin.digest}")
        self.set_producer("oxlatch")

    def header(self) -> None:
        """Title and marks; repeated on every page of a card."""
        if self.card is None:
            return
        self.set_font(FONT, "B", 19 if self.card.format == "A5" else 22)
        self.cell(0, 9, self.card.title, new_x="LMARGIN", new_y="NEXT")
        marks = self.origin.marks()
        if marks:
            self.set_font(FONT, "B", 14)
            self.cell(0, 6.5, marks, new_x="LMARGIN", new_y="NEXT")
        self.set_line_width(0.8)
        self.line(self.l_margin, self.get_y() + 1, self.w - self.r_margin, self.get_y() + 1)
        self.ln(3)

    def footer(self) -> None:
        """Origin, and what makes the card worthless."""
        if self.card is None:
            return
        origin = self.origin
        self.set_y(-12)
        self.set_font(FONT, "", 7.5)
        verify = "Draft: verify before use." if origin.is_draft else "Verify before use."
        text = f"{origin.aircraft} · installation {origin.digest} · firmware {origin.firmware} · {origin.date}"
        self.cell(0, 4, text, new_x="LMARGIN", new_y="NEXT")
        self.cell(0, 4, f"{verify} Void when the controller shows another installation. Not approved.")

    def add_card(self, card: Card) -> None:
        """Draw one card, on as many pages as it needs."""
        self.card = card
        self.add_page(format=SIZE_MM[card.format])
        for block in card.blocks:
            self._block(block)
        self._signatures(card)

    def _block(self, block: Block) -> None:
        if isinstance(block, Words):
            self._words(block.lines, block.size, "B" if block.is_bold else "")
            self.ln(1.5)
        elif isinstance(block, Steps):
            self._steps(block)
        elif isinstance(block, Grid):
            self._grid(block)
        elif isinstance(block, Placard):
            self._framed(block.lines, block.heading, 14, 12.5)
        elif isinstance(block, Caution):
            self._framed(block.lines, "CAUTION", 11, 11)
        else:
            self._picture(block)

    def _words(self, lines: Sequence[str], size: float, style: str) -> None:
        self.set_font(FONT, style, size)
        for line in lines:
            self.multi_cell(0, 1.35 * POINT_MM * size, str(line), align="L", new_x="LMARGIN", new_y="NEXT")

    def _steps(self, block: Steps) -> None:
        self._keep_together(1.4 * POINT_MM * block.size * (len(block.steps) + 2))
        self.set_font(FONT, "B", block.size + 1)
        self.cell(0, 1.55 * POINT_MM * block.size, block.heading, new_x="LMARGIN", new_y="NEXT")
        self.set_font(FONT, "", block.size)
        height = 1.4 * POINT_MM * block.size
        for number, step in enumerate(block.steps, start=1):
            self._marker(number, block.is_ticked, height)
            self.multi_cell(0, height, step, align="L", new_x="LMARGIN", new_y="NEXT")
        self.ln(1.5)

    def _marker(self, number: int, is_ticked: bool, height: float) -> None:
        x, y = self.get_x(), self.get_y()
        if is_ticked:
            self.set_line_width(0.4)
            self.rect(x + 1, y + 0.22 * height, 0.58 * height, 0.58 * height)
        else:
            self.set_xy(x, y)
            self.cell(8, height, f"{number}")
        self.set_xy(x + 8, y)

    def _grid(self, block: Grid) -> None:
        widths = [share * self.epw for share in block.widths]
        rows = [list(row) for row in block.rows] + [[""] * len(block.head) for _ in range(block.empty_rows)]
        self._grid_row(list(block.head), widths, block, "B")
        for row in rows:
            if self.get_y() + self._row_height(row, widths, block) > self.h - FOOT_MM:
                self._next_page()
                self._grid_row(list(block.head), widths, block, "B")
            self._grid_row(row, widths, block, "")
        self.ln(2)

    def _row_height(self, row: list[str], widths: list[float], block: Grid, style: str = "") -> float:
        line = 1.25 * POINT_MM * block.size
        self.set_font(FONT, style, block.size)
        most = max(self._line_count(width, line, text) for text, width in zip(row, widths, strict=True))
        return max(block.row_mm, most * line + 1.5)

    def _grid_row(self, row: list[str], widths: list[float], block: Grid, style: str) -> None:
        height = self._row_height(row, widths, block, style)
        line = 1.25 * POINT_MM * block.size
        self.set_font(FONT, style, block.size)
        self.set_line_width(0.25)
        x, y = self.get_x(), self.get_y()
        for index, (text, width) in enumerate(zip(row, widths, strict=True)):
            self.rect(x, y, width, height)
            count = self._line_count(width, line, text)
            self.set_xy(x, y + (height - line * count) / 2)
            centred = index > 0 and len(text) <= 7 and len(widths) > 3
            self.multi_cell(width, line, text, align="C" if centred else "L")
            x += width
        self.set_xy(self.l_margin, y + height)

    def _framed(self, lines: Sequence[str], heading: str, heading_size: float, size: float) -> None:
        texts = [str(line) for line in lines]
        line = 1.35 * POINT_MM * size
        self.set_font(FONT, "", size)
        count = sum(self._line_count(self.epw - 6, line, text) for text in texts)
        height = 1.5 * POINT_MM * heading_size + count * line + 4
        self._keep_together(height + 2)
        x, y = self.l_margin, self.get_y()
        self.set_line_width(0.8)
        self.rect(x, y, self.epw, height)
        self.set_xy(x + 3, y + 1.5)
        self.set_font(FONT, "B", heading_size)
        self.cell(0, 1.5 * POINT_MM * heading_size, heading)
        self.set_xy(x + 3, y + 1.5 + 1.5 * POINT_MM * heading_size)
        self.set_font(FONT, "", size)
        for text in texts:
            self.set_x(x + 3)
            self.multi_cell(self.epw - 6, line, text, align="L", new_x="LMARGIN", new_y="NEXT")
        self.set_xy(x, y + height + 2.5)

    def _picture(self, block: Picture) -> None:
        room = self.h - FOOT_MM - SIGNATURE_MM - self.get_y() - 2
        self.image(io.BytesIO(block.png), x=self.l_margin, w=self.epw, h=room, keep_aspect_ratio=True)
        self.ln(2)

    def _next_page(self) -> None:
        if self.card is not None:
            self.add_page(format=SIZE_MM[self.card.format])

    def _line_count(self, width: float, line: float, text: str) -> int:
        """Lines that a text takes in the font that is set."""
        found = self.multi_cell(width, line, text or " ", dry_run=True, output="LINES")
        return len(found) if isinstance(found, list) else 1

    def _keep_together(self, height: float) -> None:
        if self.get_y() + height > self.h - FOOT_MM:
            self._next_page()

    def _signatures(self, card: Card) -> None:
        self._keep_together(SIGNATURE_MM)
        self.set_y(max(self.get_y(), self.h - FOOT_MM - SIGNATURE_MM))
        width = self.epw / len(card.signatures)
        self.set_font(FONT, "", 8)
        self.set_line_width(0.3)
        x, y = self.l_margin, self.get_y() + 9
        for index, name in enumerate(card.signatures):
            self.line(x + index * width, y, x + (index + 1) * width - 5, y)
            self.set_xy(x + index * width, y + 0.5)
            self.cell(width, 4, name)


def cards_pdf(cards: list[Card], origin: Origin) -> bytes:
    """One PDF of all the cards given."""
    sheet = Sheet(origin)
    for card in cards:
        sheet.add_card(card)
    return bytes(sheet.output())
