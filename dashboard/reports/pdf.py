"""Writes a document as PDF with vector drawings. Each page shows its number, the sortie, the date and the caution."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from io import BytesIO
from itertools import zip_longest
from typing import Any

from reportlab.graphics import shapes
from reportlab.lib.colors import HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import CondPageBreak, LongTable, PageBreak, SimpleDocTemplate, Spacer
from reportlab.platypus import Paragraph as Flowing

from dashboard.figures.drawing import Drawing, Line, Mark, Rect
from dashboard.figures.theme import LIGHT
from dashboard.markup import Markup, joined, text
from dashboard.reports.document import Document, Heading, Paper, Paragraph, Part, Picture, Table

TICK, BAR = 8.0, 3.0  # a box to tick, and the width of a change bar
LONGEST_WHOLE, CHARACTERS_PER_LINE = 800, 25  # a row with more text may be split between pages
MISSING = "?"
NOT_ALL = f"Characters that no font on this computer has are shown as {MISSING} in this PDF; the HTML page shows them."
# The first comes with the PDF library. The second is searched for on this computer when a text needs more characters.
FAMILIES = (("Vera.ttf", "VeraBd.ttf"), ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf"))


def pdf(document: Document) -> bytes:
    """Write a document as a PDF file.

    Parameters
    ----------
    document
        When no font has some of its characters, a note at the top of the PDF says so.

    Returns
    -------
    bytes
        The content of the file.
    """
    fonts, paper = _Fonts(document), document.paper
    buffer = BytesIO()
    pages = SimpleDocTemplate(
        buffer, pagesize=(paper.width, paper.height), leftMargin=paper.margin, rightMargin=paper.margin,
        topMargin=paper.top, bottomMargin=paper.bottom,
        title=document.title, subject=document.running, creator=document.made, author="", allowSplitting=1,
    )  # fmt: skip
    parts = (*_head(document), *((Paragraph(NOT_ALL, "small"),) if fonts.lacking else ()), *document.parts)
    story = [flow for part, following in zip_longest(parts, parts[1:]) for flow in _flow(part, following, fonts, paper)]
    pages.build(story, canvasmaker=_numbered(document, fonts))
    return buffer.getvalue()


def _head(document: Document) -> Iterator[Part]:
    yield Heading(document.title, 1)
    yield Paragraph(document.subtitle)
    yield Paragraph(f"{document.made}.", "small")
    yield Paragraph(document.caution, "caution")


# Fonts ------------------------------------------------------------------------------------------


class _Fonts:
    """The first font family with every character of the document. If none has all, the rest are shown as `MISSING`."""

    def __init__(self, document: Document) -> None:
        used = set(_all_text(document)) - {"\n"}
        for names in FAMILIES:
            faces = _faces(names)
            if faces is None:
                continue
            self.regular, self.bold, known = faces
            self._missing = {ord(c): MISSING for c in used if ord(c) not in known}
            if not self._missing:
                break

    @property
    def lacking(self) -> bool:
        """Whether some characters are shown as `MISSING`."""
        return bool(self._missing)

    def shown(self, text: str) -> str:
        return text.translate(self._missing)

    def style(self, size: float, bold: bool = False, **more: Any) -> ParagraphStyle:
        font = self.bold if bold else self.regular
        return ParagraphStyle(
            f"{font}{size}", fontName=font, fontSize=size, leading=size * 1.28, textColor=HexColor(LIGHT["text"]),
            splitLongWords=1, **more,
        )  # fmt: skip


@cache
def _faces(names: tuple[str, str]) -> tuple[str, str, frozenset[int]] | None:
    """The names of a regular and a bold font, and the characters that both have; None when they are not installed."""
    try:
        fonts = [TTFont(name.removesuffix(".ttf"), name) for name in names]
    except (TTFError, OSError):
        return None
    for font in fonts:
        pdfmetrics.registerFont(font)
    known = frozenset(fonts[0].face.charToGlyph) & frozenset(fonts[1].face.charToGlyph)
    return fonts[0].fontName, fonts[1].fontName, known


def _all_text(document: Document) -> str:
    found = [document.title, document.subtitle, document.made, document.caution, document.running]
    for part in document.parts:
        if isinstance(part, Heading | Paragraph):
            found.append(part.text)
        elif isinstance(part, Picture):
            found.append(part.caption)
            found += [mark.text for drawing in part.drawings for mark in drawing.marks if not isinstance(mark, Rect | Line)]
        else:
            found += [column.head for column in part.columns] + [cell for row in part.rows for cell in row]
    return "".join(found)


# Parts ------------------------------------------------------------------------------------------


def _flow(part: Part, following: Part | None, fonts: _Fonts, paper: Paper) -> Iterator[Any]:
    if isinstance(part, Heading):
        if part.new_page:
            yield PageBreak()
        size = paper.heading * {1: 1.0, 2: 0.78, 3: 0.66}[part.level]
        if part.level > 1:
            below = following.drawings[0].height if isinstance(following, Picture) and following.drawings else 50.0
            # A heading stays with the next part.
            yield CondPageBreak(min(below + 40.0, paper.height - paper.top - paper.bottom - 12.0))
        yield _words(part.text, fonts, fonts.style(size, bold=True, spaceBefore=10, spaceAfter=4))
    elif isinstance(part, Paragraph):
        yield _words(part.text, fonts, _paragraph_style(part.kind, fonts, paper))
    elif isinstance(part, Picture):
        for drawing in part.drawings:
            yield _drawn(drawing, fonts)
        yield _words(part.caption, fonts, fonts.style(paper.table, spaceBefore=3, spaceAfter=6))
    else:
        yield _table(part, fonts, paper)
        yield Spacer(0, 4)


def _paragraph_style(kind: str, fonts: _Fonts, paper: Paper) -> ParagraphStyle:
    if kind == "caution":
        border = {"borderWidth": 1, "borderColor": HexColor(LIGHT["text"]), "borderPadding": 4}
        return fonts.style(paper.text, bold=True, spaceBefore=6, spaceAfter=8, **border)
    return fonts.style(paper.table if kind == "small" else paper.text, spaceAfter=4)


def _words(words: str, fonts: _Fonts, style: ParagraphStyle) -> Flowing:
    """A paragraph of words. They are escaped, because the PDF library reads its input as markup."""
    return _paragraph(joined(map(text, fonts.shown(words).split("\n")), Markup("<br/>")), style)


def _paragraph(content: Markup, style: ParagraphStyle) -> Flowing:
    return Flowing(str(content), style)


def _table(table: Table, fonts: _Fonts, paper: Paper) -> LongTable:
    whole = sum(column.share for column in table.columns)
    styles = [
        fonts.style(paper.table, alignment=2 if column.figures else 0) for column in table.columns
    ]
    bold = [fonts.style(paper.table, bold=True, alignment=2 if column.figures else 0) for column in table.columns]
    cells = [[_words(column.head, fonts, style) for column, style in zip(table.columns, bold, strict=True)]]
    for place, row in enumerate(table.rows):
        chosen = bold if place in table.strong else styles
        cells.append([
            _box() if column.ticks else _words(cell, fonts, style)
            for column, cell, style in zip(table.columns, row, chosen, strict=True)
        ])
    line, head = HexColor(LIGHT["line"]), HexColor(LIGHT["text"])
    look = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 1), (-1, -1), 0.4, line),
        ("LINEBELOW", (0, 0), (-1, 0), 0.8, head),
        ("LEFTPADDING", (0, 0), (-1, -1), 4), ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
        *(("LINEABOVE", (0, place + 1), (-1, place + 1), 1.0, head) for place in table.strong),
        *(("LINEBEFORE", (0, place + 1), (0, place + 1), BAR, head) for place in table.changed),
    ]  # fmt: skip
    widths = [paper.text_width * column.share / whole for column in table.columns]
    tall = any(len(cell) + CHARACTERS_PER_LINE * cell.count("\n") > LONGEST_WHOLE for row in table.rows for cell in row)
    return LongTable(cells, colWidths=widths, repeatRows=1, style=look, splitInRow=int(tall), hAlign="LEFT")


def _box() -> shapes.Drawing:
    """An empty box to tick."""
    box = shapes.Drawing(TICK, TICK + 2)
    edge = HexColor(LIGHT["text"])
    box.add(shapes.Rect(0.5, 0.5, TICK - 1, TICK - 1, fillColor=None, strokeColor=edge, strokeWidth=0.8))
    return box


def _drawn(drawing: Drawing, fonts: _Fonts) -> shapes.Drawing:
    found = shapes.Drawing(drawing.width, drawing.height)
    for mark in drawing.marks:
        found.add(_shape(mark, drawing.height, fonts))
    return found


def _shape(mark: Mark, height: float, fonts: _Fonts) -> Any:
    """A mark as a shape of the PDF library, whose y runs upwards."""
    if isinstance(mark, Rect):
        return shapes.Rect(
            mark.x, height - mark.y - mark.height, mark.width, mark.height,
            fillColor=HexColor(LIGHT[mark.fill]) if mark.fill else None,
            strokeColor=HexColor(LIGHT[mark.edge]) if mark.edge else None,
            strokeWidth=mark.line, strokeDashArray=list(mark.dash) or None,
        )  # fmt: skip
    if isinstance(mark, Line):
        return shapes.PolyLine(
            [part for x, y in mark.points for part in (x, height - y)], strokeColor=HexColor(LIGHT[mark.role]),
            strokeWidth=mark.line, strokeDashArray=list(mark.dash) or None, fillColor=None,
        )  # fmt: skip
    return shapes.String(
        mark.x, height - mark.y, fonts.shown(mark.text), fontSize=mark.size, textAnchor=mark.anchor,
        fontName=fonts.bold if mark.bold else fonts.regular, fillColor=HexColor(LIGHT[mark.role]),
    )  # fmt: skip


# The edge of each page --------------------------------------------------------------------------


def _numbered(document: Document, fonts: _Fonts) -> type[Canvas]:
    """A canvas class that writes the edge of every page at the end, when the number of pages is known."""

    class Numbered(Canvas):  # type: ignore[misc]  # the library has no types
        def __init__(self, *arguments: Any, **more: Any) -> None:
            super().__init__(*arguments, **more)
            self._kept: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802
            self._kept.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            for number, page in enumerate(self._kept, start=1):
                self.__dict__.update(page)
                _edge(self, document, fonts, f"page {number} of {len(self._kept)}")
                super().showPage()
            super().save()

    return Numbered


def _edge(canvas: Canvas, document: Document, fonts: _Fonts, number: str) -> None:
    paper, size = document.paper, document.paper.edge_text
    canvas.setFillColor(HexColor(LIGHT["secondary"]))
    canvas.setFont(fonts.regular, size)
    room = paper.text_width - pdfmetrics.stringWidth(number, fonts.regular, size) - 12
    below = paper.bottom - 6
    for said in (f"{document.running}. {document.made}.", document.caution):
        _, height = (flow := _words(said, fonts, fonts.style(size))).wrap(room, 40)
        flow.drawOn(canvas, paper.margin, below - height)
        below -= height + 2
    canvas.drawRightString(paper.width - paper.margin, paper.bottom - 6 - size * 1.2, number)
