"""A drawing as plain values: rectangles, lines and words on a page. Colours are roles of the theme.

The SVG writer (`svg.py`) and the PDF writer of the reports draw the same marks. Lengths are points (1/72 inch); y runs
downwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Anchor = Literal["start", "middle", "end"]
EM_WIDTH = 0.62  # mean width of a character of the widest font in use, as a share of the font size
LINE_HEIGHT = 1.18


@dataclass(frozen=True)
class Rect:
    """A rectangle. Without `fill` or `edge` that part is not drawn."""

    x: float
    y: float
    width: float
    height: float
    fill: str | None = None
    edge: str | None = None
    line: float = 0.7
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Line:
    """A line through points."""

    points: tuple[tuple[float, float], ...]
    role: str
    line: float = 0.7
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Words:
    """One line of text; `y` is its baseline."""

    x: float
    y: float
    text: str
    size: float = 7.0
    role: str = "text"
    anchor: Anchor = "start"
    bold: bool = False


Mark = Rect | Line | Words


@dataclass(frozen=True)
class Drawing:
    """Marks on a page of a given size. `label` describes the drawing in words."""

    width: float
    height: float
    marks: tuple[Mark, ...]
    label: str


def text_width(text: str, size: float) -> float:
    """An upper estimate of the width of a text.

    Parameters
    ----------
    text
        One line.
    size
        Font size, points.

    Returns
    -------
    float
        Points.
    """
    return len(text) * size * EM_WIDTH


def wrapped(text: str, width: float, size: float) -> list[str]:
    """Break a text into lines.

    Parameters
    ----------
    text : str
    width : float
        Maximum width of a line, points. A longer word is split.
    size : float
        Font size, points.

    Returns
    -------
    list of str
    """
    most = max(1, int(width / (size * EM_WIDTH)))
    lines: list[str] = []
    for word in text.split():
        if lines and len(lines[-1]) + 1 + len(word) <= most:
            lines[-1] += f" {word}"
            continue
        lines += [word[at : at + most] for at in range(0, len(word), most)]
    return lines


def fitting(choices: Sequence[str], width: float, height: float, size: float) -> list[str]:
    """Choose the first text that fits a box.

    Parameters
    ----------
    choices : sequence of str
        In order of preference.
    width, height : float
        Of the box, points.
    size : float
        Font size, points.

    Returns
    -------
    list of str
        Its lines; empty when no text fits.
    """
    for text in choices:
        lines = wrapped(text, width, size)
        if lines and len(lines) * size * LINE_HEIGHT <= height:
            return lines
    return []
