"""A document as a list of plain parts, in reading order. The writers (`html.py`, `pdf.py`) work for any document."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from dashboard.figures.drawing import Drawing

_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


def clean(text: str) -> str:
    """The text with each control character and each invalid character replaced.

    Parameters
    ----------
    text
        Tabs and line feeds stay.

    Returns
    -------
    str
        The replacement is U+FFFD.
    """
    return _CONTROL.sub("\ufffd", text)


@dataclass(frozen=True)
class Heading:
    """A heading; level 2 begins a section, level 3 a part of it."""

    text: str
    level: int = 2
    new_page: bool = False


@dataclass(frozen=True)
class Paragraph:
    """A paragraph. `kind` is ``normal``, ``small``, or ``caution``."""

    text: str
    kind: str = "normal"


@dataclass(frozen=True)
class Column:
    """A column of a table: its heading, its share of the width, and whether it holds figures (aligned right) or boxes to tick."""

    head: str
    share: float
    figures: bool = False
    ticks: bool = False


@dataclass(frozen=True)
class Table:
    """A table. A line break in a cell begins a new line.

    Parameters
    ----------
    columns, rows : tuple
    strong : frozenset of int
        Numbers of the bold rows.
    changed : frozenset of int
        Numbers of the rows with a change bar in the margin.
    """

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    strong: frozenset[int] = frozenset()
    changed: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Picture:
    """Drawings that belong together, one below the other, and their caption."""

    drawings: tuple[Drawing, ...]
    caption: str


@dataclass(frozen=True)
class Paper:
    """A page: its size, its margins and its font sizes, points. The page number and the caution stand in the bottom margin."""

    width: float
    height: float
    margin: float
    top: float
    bottom: float
    edge_text: float = 7.0  # font size of what stands in the bottom margin
    text: float = 9.0  # font size of paragraphs
    table: float = 7.4  # font size of tables and captions
    heading: float = 16.0  # font size of the title; the others follow from it

    @property
    def text_width(self) -> float:
        """Width between the margins, points."""
        return self.width - 2 * self.margin


A4 = Paper(width=595.27, height=841.89, margin=36.0, top=40.0, bottom=50.0)
CUFF = Paper(  # 95 mm by 127 mm
    width=269.3, height=360.0, margin=13.0, top=12.0, bottom=40.0, edge_text=5.2, text=9.5, table=9.5, heading=14.0
)

Part = Heading | Paragraph | Table | Picture


@dataclass(frozen=True)
class Document:
    """A document.

    Parameters
    ----------
    title, subtitle : str
    made : str
        When and by which version it was made, in words.
    caution : str
        Shown at the top, and on every printed page.
    running : str
        Short title for the edge of each page.
    parts : tuple of Part
    paper : Paper
        What it is printed on.
    """

    title: str
    subtitle: str
    made: str
    caution: str
    running: str
    parts: tuple[Part, ...] = field(default=())
    paper: Paper = A4
