"""A drawing as plain values: rectangles, lines and words on a page, y downwards, colours as roles of the theme.

One drawing serves every document: `svg.py` and the PDF writer of the reports put the same marks on paper. Lengths are
points (1/72 inch).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Anchor = Literal["start", "middle", "end"]
EM_WIDTH = 0.62  # mean width of a character of the widest font that may be used, in its size
LINE_HEIGHT = 1.18


@dataclass(frozen=True)
class Rect:
    """A rectangle. `fill` or `edge` None: none."""

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
    """One line of text; `y` is its base line."""

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
    """Marks on a page of a given size; `label` says in words what is drawn."""

    width: float
    height: float
    marks: tuple[Mark, ...]
    label: str


def text_width(text: str, size: float) -> float:
    """An upper estimate of the width of a text."""
    return len(text) * size * EM_WIDTH


def wrapped(text: str, width: float, size: float) -> list[str]:
    """The text in lines of at most `width`; a longer word is broken."""
    most = max(1, int(width / (size * EM_WIDTH)))
    lines: list[str] = []
    for word in text.split():
        if lines and len(lines[-1]) + 1 + len(word) <= most:
            lines[-1] += f" {word}"
            continue
        lines += [word[at : at + most] for at in range(0, len(word), most)]
    return lines


def fitting(choices: Sequence[str], width: float, height: float, size: float) -> list[str]:
    """The first of the texts that fits a box, in lines; none when not even the last fits."""
    for text in choices:
        lines = wrapped(text, width, size)
        if lines and len(lines) * size * LINE_HEIGHT <= height:
            return lines
    return []
