"""PDF pages: paper sizes, the shipped fonts, styles, and the few shapes that both sheets use.

ReportLab sets the pages: pure Python, a permissive licence, real text in embedded subsets of the shipped TrueType fonts
(so accents print as they should and text can be searched), and tables that break over pages.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Any, Literal
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, landscape, letter
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import inch
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, Image, PageTemplate, Paragraph, Table, TableStyle

from render import __version__
from render.sheets.lettering import FONTS, INK, QUIET, RULE, tie

Paper = Literal["letter", "a4"]
MARGIN = 0.6 * inch
_MOST_IN_CELL = 600
_TOP, _FOOT = 0.5 * inch, 0.62 * inch
ACCENT = "#8a5a3c"  # fired clay
WASH = "#f4efe7"
TEXT, STRONG, TITLE, SERIF = "fb-text", "fb-strong", "fb-title", "fb-serif"
_FILES = {
    TEXT: "Lato-Regular.ttf",
    STRONG: "Lato-Bold.ttf",
    TITLE: "Vollkorn-SemiBold.ttf",
    SERIF: "Vollkorn-Regular.ttf",
}


@lru_cache(maxsize=1)
def use_fonts() -> None:
    """Make the shipped fonts known to ReportLab."""
    for name, file in _FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(FONTS / file)))


def page_size(paper: Paper, wide: bool) -> tuple[float, float]:
    """Return width and height in points."""
    size = A4 if paper == "a4" else letter
    width, height = landscape(size) if wide else size
    return float(width), float(height)


def style(name: str, size: float, *, colour: str = INK, leading: float = 1.32, **more: Any) -> ParagraphStyle:
    """Return a paragraph style in one of the shipped fonts."""
    use_fonts()
    return ParagraphStyle(
        f"{name}-{size}", fontName=name, fontSize=size, leading=size * leading, textColor=HexColor(colour),
        splitLongWords=1, bulletFontName=name, **more,
    )  # fmt: skip


def text(words: str, look: ParagraphStyle) -> Paragraph:
    """Return a paragraph of plain words: marks in them are shown, not obeyed; line breaks are kept."""
    return Paragraph("<br/>".join(escape(line) for line in tie(words).splitlines()), look)


def lead_and_text(lead: str, words: str, look: ParagraphStyle) -> Paragraph:
    """Return a paragraph that begins with some words in the strong face."""
    return Paragraph(f'<font name="{STRONG}">{escape(lead)}</font>&nbsp; {escape(tie(words))}', look)


def picture(jpeg: bytes, width: float, height: float) -> Image:
    """Return a picture set at a size in points, its JPEG kept as it is."""
    return Image(io.BytesIO(jpeg), width=width, height=height)


class Bar(Flowable):
    """Shares of a wall as one thin bar in the layers' colours."""

    def __init__(self, width: float, shares: Sequence[tuple[float, str]], height: float = 5.0) -> None:
        """Take shares (0..1) with their colours."""
        super().__init__()
        self.width, self.height, self.shares = width, height, shares

    def draw(self) -> None:
        """Draw the bar."""
        at, whole = 0.0, sum(share for share, _ in self.shares) or 1.0
        for share, code in self.shares:
            size = self.width * share / whole
            self.canv.setFillColor(HexColor(code))
            self.canv.rect(at, 0, size, self.height, stroke=0, fill=1)
            at += size
        self.canv.setStrokeColor(HexColor(RULE))
        self.canv.setLineWidth(0.4)
        self.canv.rect(0, 0, self.width, self.height, stroke=1, fill=0)


class Swatches(Flowable):
    """Colours in a row, each with words under it."""

    def __init__(self, width: float, colours: Sequence[tuple[str, str, str]], height: float = 20.0) -> None:
        """Take (sRGB code, first line, second line)."""
        super().__init__()
        self.width, self.height, self.colours, self.block = width, height + 20.0, colours, height

    def draw(self) -> None:
        """Draw the blocks and their words."""
        gap = 5.0
        size = (self.width - gap * (len(self.colours) - 1)) / max(1, len(self.colours))
        for number, (code, first, second) in enumerate(self.colours):
            left = number * (size + gap)
            self.canv.setFillColor(HexColor(code))
            self.canv.setStrokeColor(HexColor(RULE))
            self.canv.setLineWidth(0.4)
            self.canv.rect(left, 20.0, size, self.block, stroke=1, fill=1)
            self.canv.setFillColor(HexColor(INK))
            self.canv.setFont(STRONG, 6.6)
            self.canv.drawString(left, 11.5, first)
            self.canv.setFillColor(HexColor(QUIET))
            self.canv.setFont(TEXT, 6.4)
            self.canv.drawString(left, 3.5, second)


class Scale(Flowable):
    """A scale bar of the wall, beside words."""

    def __init__(self, width: float, bar: float, length: str, words: str) -> None:
        """Take the width of the picture and of the bar in points, how long the bar is on the wall, and the words."""
        super().__init__()
        self.width, self.height, self.bar, self.length, self.words = width, 13.0, bar, length, words

    def draw(self) -> None:
        """Draw the bar, and the words at the right."""
        bar, canvas = self.bar, self.canv
        canvas.setStrokeColor(HexColor(QUIET))
        canvas.setLineWidth(0.6)
        canvas.line(0, 8, bar, 8)
        for at in (0.0, bar):
            canvas.line(at, 6, at, 10)
        canvas.setFillColor(HexColor(QUIET))
        canvas.setFont(TEXT, 6.6)
        canvas.drawString(bar + 4, 5.8, self.length)
        if self.width > 1.7 * inch:
            canvas.drawRightString(self.width, 5.8, self.words)


class Tick(Flowable):
    """An empty box to tick, with a letter beside it."""

    def __init__(self, words: str, size: float = 10.0) -> None:
        """Take the words."""
        super().__init__()
        use_fonts()
        self.words, self.size = words, size
        self.width, self.height = size + 6 + pdfmetrics.stringWidth(words, STRONG, 9.5), size

    def draw(self) -> None:
        """Draw box and words."""
        self.canv.setStrokeColor(HexColor(INK))
        self.canv.setLineWidth(0.8)
        self.canv.rect(0, 0, self.size, self.size, stroke=1, fill=0)
        self.canv.setFillColor(HexColor(INK))
        self.canv.setFont(STRONG, 9.5)
        self.canv.drawString(self.size + 5, 1.2, self.words)


class SignLine(Flowable):
    """A line to write on, with its words beneath."""

    def __init__(self, width: float, words: str, height: float = 34.0) -> None:
        """Take width and words."""
        super().__init__()
        self.width, self.height, self.words = width, height, words

    def draw(self) -> None:
        """Draw the line."""
        self.canv.setStrokeColor(HexColor(INK))
        self.canv.setLineWidth(0.5)
        self.canv.line(0, 11, self.width, 11)
        self.canv.setFillColor(HexColor(QUIET))
        self.canv.setFont(TEXT, 7.2)
        self.canv.drawString(0, 2, self.words)


def _cut(words: str) -> str:
    """Return what a cell of a table holds: a row does not break over pages, so it must not outgrow one."""
    return words if len(words) <= _MOST_IN_CELL else words[: _MOST_IN_CELL - 1] + "…"


def height_of(flowables: Sequence[Flowable], width: float) -> float:
    """Return the height of things set beneath each other in a column, in points."""
    return sum(one.wrap(width, 1e6)[1] + one.getSpaceBefore() + one.getSpaceAfter() for one in flowables)


def table(
    head: Sequence[str],
    rows: Sequence[Sequence[Any]],
    widths: Sequence[float],
    right: Sequence[int] = (),
    size: float = 8.2,
) -> Table:
    """Return a quiet table whose head is repeated on every page; ``right`` are columns set to the right.

    A cell is words, or something already set.
    """
    cell, strong = style(TEXT, size), style(STRONG, size - 0.8, colour=QUIET)
    cell_r, strong_r = style(TEXT, size, alignment=2), style(STRONG, size - 0.8, colour=QUIET, alignment=2)
    body = [[text(word, strong_r if i in right else strong) for i, word in enumerate(head)]]
    body += [
        [text(_cut(one), cell_r if i in right else cell) if isinstance(one, str) else one for i, one in enumerate(row)]
        for row in rows
    ]
    made = Table(body, colWidths=list(widths), repeatRows=1)
    made.setStyle(
        TableStyle(
            [
                ("FONT", (0, 0), (-1, -1), TEXT),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (0, -1), 0),
                ("RIGHTPADDING", (-1, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 2.2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2.8),
                ("LINEBELOW", (0, 0), (-1, 0), 0.6, HexColor(QUIET)),
                ("LINEBELOW", (0, 1), (-1, -1), 0.3, HexColor(RULE)),
                ("NOSPLIT", (0, -2), (-1, -1)),
            ]
        )
    )
    return made


def bare(rows: Sequence[Sequence[Any]], widths: Sequence[float], gap: float = 0.0) -> Table:
    """Return a table without rules or padding, for things beside each other; ``gap`` between them."""
    made = Table([list(row) for row in rows], colWidths=list(widths), hAlign="LEFT")
    made.setStyle(
        TableStyle(
            [
                ("FONT", (0, 0), (-1, -1), TEXT),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-2, -1), gap),
                ("TOPPADDING", (0, 0), (-1, -1), 0),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
            ]
        )
    )
    return made


def bullets(lines: Sequence[str], look: ParagraphStyle) -> list[Paragraph]:
    """Return lines with a small dash before each."""
    hung = style(look.fontName, look.fontSize, leftIndent=12, bulletIndent=0, spaceAfter=2.5)
    return [Paragraph(escape(tie(line)), hung, bulletText="–") for line in lines]


def make(story: list[Any], paper: Paper, wide: bool, title: str, author: str, foot: Callable[[int], str]) -> bytes:
    """Return the PDF of a story; ``foot`` gives the words at the foot of a page.

    The same story gives the same bytes: dates and identifiers of the file are fixed.
    """
    width, height = page_size(paper, wide)
    out = io.BytesIO()

    def footer(canvas: Canvas, _document: BaseDocTemplate) -> None:
        canvas.saveState()
        canvas.setFont(TEXT, 7.2)
        canvas.setFillColor(HexColor(QUIET))
        canvas.drawString(MARGIN, 0.36 * inch, foot(canvas.getPageNumber()))
        canvas.drawRightString(width - MARGIN, 0.36 * inch, f"page {canvas.getPageNumber()}")
        canvas.restoreState()

    document = BaseDocTemplate(
        out, pagesize=(width, height), title=title, author=author, creator=f"finishboard {__version__}",
        producer=f"finishboard {__version__}", invariant=1, initialFontName=TEXT, leftMargin=MARGIN, rightMargin=MARGIN,
        topMargin=MARGIN, bottomMargin=MARGIN, lang="en",
    )  # fmt: skip
    use_fonts()
    frame = Frame(MARGIN, _FOOT, width - 2 * MARGIN, height - _TOP - _FOOT, 0, 0, 0, 0)
    document.addPageTemplates([PageTemplate(frames=[frame], onPage=footer)])
    document.build(story)
    return out.getvalue()


def content_height(paper: Paper, wide: bool) -> float:
    """Return the height between the margins, in points."""
    return page_size(paper, wide)[1] - _TOP - _FOOT


def content_width(paper: Paper, wide: bool) -> float:
    """Return the width between the margins, in points."""
    return page_size(paper, wide)[0] - 2 * MARGIN
