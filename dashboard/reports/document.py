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
    """A column of a table: its heading, its share of the width, and whether it holds figures (aligned right)."""

    head: str
    share: float
    figures: bool = False


@dataclass(frozen=True)
class Table:
    """A table. A line break in a cell begins a new line. `strong` holds the numbers of the bold rows."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    strong: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Picture:
    """Drawings that belong together, one below the other, and their caption."""

    drawings: tuple[Drawing, ...]
    caption: str


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
    """

    title: str
    subtitle: str
    made: str
    caution: str
    running: str
    parts: tuple[Part, ...] = field(default=())
