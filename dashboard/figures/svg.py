"""A drawing as an inline SVG element that needs nothing from outside: colours of the light theme stand in it."""

from __future__ import annotations

from html import escape

from dashboard.figures.drawing import Drawing, Line, Mark, Rect, Words
from dashboard.figures.theme import LIGHT, SIZES


def svg(drawing: Drawing) -> str:
    """The element. It fills the width of its place and keeps its shape."""
    size = f'viewBox="0 0 {_n(drawing.width)} {_n(drawing.height)}"'
    font = escape(SIZES["font"], quote=True)
    marks = "".join(_mark(mark) for mark in drawing.marks)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} width="100%" role="img" '
        f'aria-label="{escape(drawing.label)}" font-family="{font}">{marks}</svg>'
    )


def _mark(mark: Mark) -> str:
    if isinstance(mark, Rect):
        fill = LIGHT[mark.fill] if mark.fill else "none"
        edge = f' stroke="{LIGHT[mark.edge]}" stroke-width="{_n(mark.line)}"{_dash(mark.dash)}' if mark.edge else ""
        return (
            f'<rect x="{_n(mark.x)}" y="{_n(mark.y)}" width="{_n(mark.width)}" height="{_n(mark.height)}" '
            f'fill="{fill}"{edge}/>'
        )
    if isinstance(mark, Line):
        points = " ".join(f"{_n(x)},{_n(y)}" for x, y in mark.points)
        stroke = f'stroke="{LIGHT[mark.role]}" stroke-width="{_n(mark.line)}"{_dash(mark.dash)}'
        return f'<polyline points="{points}" fill="none" {stroke}/>'
    return _words(mark)


def _words(mark: Words) -> str:
    weight = ' font-weight="bold"' if mark.bold else ""
    anchor = f' text-anchor="{mark.anchor}"' if mark.anchor != "start" else ""
    return (
        f'<text x="{_n(mark.x)}" y="{_n(mark.y)}" font-size="{_n(mark.size)}" fill="{LIGHT[mark.role]}"{anchor}{weight}>'
        f"{escape(mark.text)}</text>"
    )


def _dash(dash: tuple[float, ...]) -> str:
    return f' stroke-dasharray="{" ".join(_n(part) for part in dash)}"' if dash else ""


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
