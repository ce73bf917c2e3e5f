"""Draws a value as a mark on a small horizontal scale.

How to use it
-------------
``scale_mark(value, low, high, normal=(a, b), spread=(p10, p90), limit=0.0) -> Mark`` gives places in percent
of the width. ``svg(mark, label) -> Markup`` turns it into an inline SVG element whose parts are styled by class:
``mark-line``, ``mark-normal``, ``mark-spread``, ``mark-limit``, ``mark-value``, ``mark-beyond``. The headline uses two
scales:

- ``margin_mark(margin_min, p10_margin_min, p90_margin_min)``: -30 to +60 min, the limit at 0;
- ``ahead_mark(ahead_min)``: -30 to +30 min, the brief at 0, normal within 5 min of it.

Further right is always better. A value beyond the scale is a triangle at its end that points outwards (``beyond``). A
value of None gives a scale without a mark. The browser inserts the text of `svg` unchanged. The style sheet gives the
colours by role.
"""

from __future__ import annotations

from typing import Literal, TypedDict

from dashboard.markup import Markup, tag

HEIGHT = 18
AHEAD_SPAN_MIN = 30.0
AHEAD_NORMAL_MIN = 5.0
MARGIN_LOW_MIN = -30.0
MARGIN_HIGH_MIN = 60.0


class Mark(TypedDict):
    """Places in percent of the width, 0 left to 100 right."""

    at: float | None
    beyond: Literal["left", "right"] | None
    normal: tuple[float, float] | None
    spread: tuple[float, float] | None
    limit: float | None


def scale_mark(
    value: float | None,
    low: float,
    high: float,
    normal: tuple[float, float] | None = None,
    spread: tuple[float | None, float | None] | None = None,
    limit: float | None = None,
) -> Mark:
    """Place a value, its normal range, its spread and a limit on a scale from `low` to `high`.

    Parameters
    ----------
    value : float or None
        None: unknown, no mark is drawn.
    low, high : float
        Ends of the scale, in the unit of `value`.
    normal : (float, float), optional
        The range that needs no attention.
    spread : (float or None, float or None), optional
        P10 and P90 in either order; not drawn when one is unknown.
    limit : float, optional
        The value that `value` is compared with.

    Returns
    -------
    Mark

    Raises
    ------
    ValueError
        When `low` is not below `high`.
    """
    if not high > low:
        raise ValueError(f"expected a scale with low under high; found {low:g} to {high:g}")

    def place(at: float) -> float:
        return round(100 * (min(max(at, low), high) - low) / (high - low), 2)

    def stretch(ends: tuple[float | None, float | None] | None) -> tuple[float, float] | None:
        if ends is None or ends[0] is None or ends[1] is None:
            return None
        first, second = sorted((ends[0], ends[1]))
        return place(first), place(second)

    beyond: Literal["left", "right"] | None = None
    if value is not None and not low <= value <= high:
        beyond = "left" if value < low else "right"
    return Mark(
        at=None if value is None else place(value),
        beyond=beyond,
        normal=stretch(normal),
        spread=stretch(spread),
        limit=None if limit is None else place(limit),
    )


def margin_mark(
    margin_min: float | None, p10_margin_min: float | None = None, p90_margin_min: float | None = None
) -> Mark:
    """The mark for the margin of the projected end.

    Parameters
    ----------
    margin_min, p10_margin_min, p90_margin_min : float or None
        Limit less end, minutes; positive is in hand. At plan pace, and for the P10 and P90 end.

    Returns
    -------
    Mark
    """
    return scale_mark(
        margin_min,
        MARGIN_LOW_MIN,
        MARGIN_HIGH_MIN,
        (0.0, MARGIN_HIGH_MIN),
        (p10_margin_min, p90_margin_min),
        0.0,
    )


def ahead_mark(ahead_min: float | None) -> Mark:
    """The mark for how far a lane is ahead of the brief, or behind it.

    Parameters
    ----------
    ahead_min
        Minutes, positive is ahead; None: not known, no mark is drawn.

    Returns
    -------
    Mark
    """
    return scale_mark(
        ahead_min, -AHEAD_SPAN_MIN, AHEAD_SPAN_MIN, (-AHEAD_NORMAL_MIN, AHEAD_NORMAL_MIN), limit=0.0
    )


def svg(mark: Mark, label: str) -> Markup:
    """The mark as one inline SVG element.

    Parameters
    ----------
    mark
        The places to draw.
    label
        The mark in words, for readers who cannot see it.

    Returns
    -------
    Markup
    """
    parts = [_box("mark-line", 0, 100, 8, 2)]
    if mark["normal"]:
        parts.append(_box("mark-normal", *mark["normal"], 6, 6))
    if mark["spread"]:
        parts.append(_box("mark-spread", *mark["spread"], 4, 10))
    if mark["limit"] is not None:
        parts.append(_line("mark-limit", mark["limit"], 1, 17, 2))
    if mark["at"] is not None:
        parts.append(_beyond(mark["beyond"]) if mark["beyond"] else _line("mark-value", mark["at"], 0, 18, 5))
    return tag("svg", *parts, class_="mark", role="img", aria_label=label, width="100%", height=HEIGHT)


def _box(name: str, left: float, right: float, top: float, height: float) -> Markup:
    width = round(right - left, 2)
    return tag("rect", class_=name, x=f"{left:g}%", width=f"{width:g}%", y=f"{top:g}", height=f"{height:g}")


def _line(name: str, at: float, top: float, bottom: float, width: float) -> Markup:
    return tag(
        "line", class_=name, x1=f"{at:g}%", x2=f"{at:g}%", y1=f"{top:g}", y2=f"{bottom:g}", stroke_width=f"{width:g}"
    )


def _beyond(side: str) -> Markup:
    """A triangle at the end of the scale. It is a nested element, because a path cannot use percentages."""
    place, path = ("0", "M10 1 L10 17 L1 9 Z") if side == "left" else ("100%", "M-10 1 L-10 17 L-1 9 Z")
    return tag("svg", tag("path", d=path), class_="mark-beyond", x=place, overflow="visible")
