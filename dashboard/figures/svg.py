"""Writes a drawing as an inline SVG element that holds the colours of the light theme and needs no other file."""

from __future__ import annotations

from dashboard.figures.drawing import Drawing, Line, Mark, Rect, Words
from dashboard.figures.theme import LIGHT, SIZES
from dashboard.markup import Markup, tag, text


def svg(drawing: Drawing) -> Markup:
    """The drawing as one SVG element. It fills the width of its place and keeps its proportions.

    Parameters
    ----------
    drawing
        Its label describes it for readers who cannot see it.

    Returns
    -------
    Markup
    """
    return tag(
        "svg", *(_mark(mark) for mark in drawing.marks), xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {_n(drawing.width)} {_n(drawing.height)}", width="100%", role="img", aria_label=drawing.label,
        font_family=SIZES["font"],
    )  # fmt: skip


def _mark(mark: Mark) -> Markup:
    if isinstance(mark, Rect):
        return tag(
            "rect", x=_n(mark.x), y=_n(mark.y), width=_n(mark.width), height=_n(mark.height),
            fill=LIGHT[mark.fill] if mark.fill else "none", **(_stroke(mark.edge, mark.line, mark.dash) if mark.edge else {}),
        )  # fmt: skip
    if isinstance(mark, Line):
        points = " ".join(f"{_n(x)},{_n(y)}" for x, y in mark.points)
        return tag("polyline", points=points, fill="none", **_stroke(mark.role, mark.line, mark.dash))
    return _words(mark)


def _words(mark: Words) -> Markup:
    return tag(
        "text", text(mark.text), x=_n(mark.x), y=_n(mark.y), font_size=_n(mark.size), fill=LIGHT[mark.role],
        text_anchor=mark.anchor if mark.anchor != "start" else None, font_weight="bold" if mark.bold else None,
    )  # fmt: skip


def _stroke(role: str, width: float, dash: tuple[float, ...]) -> dict[str, str | None]:
    return {
        "stroke": LIGHT[role], "stroke_width": _n(width),
        "stroke_dasharray": " ".join(_n(part) for part in dash) if dash else None,
    }  # fmt: skip


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
