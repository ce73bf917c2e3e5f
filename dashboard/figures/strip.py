"""Draws the drift of a replay as a small area: the further the crew was behind, the deeper it is below the briefed line.

``strip_svg(values, span, said) -> Markup`` is one inline SVG element that is stretched to fill its place; its lines keep
their width. A value holds until the next one. The style sheet gives the colours by class.
"""

from __future__ import annotations

from collections.abc import Sequence

from dashboard.markup import Markup, tag

WIDE, HIGH = 1000.0, 100.0
LEAST_DEPTH_MIN = 10.0
LEAST_RISE_SHARE = 0.25  # least room above the briefed line, as a share of the depth below it
FOOT = 22.0  # room below the deepest point, for the marks of events

Value = tuple[float, float | None]


def strip_svg(values: Sequence[Value], span: tuple[float, float], said: str) -> Markup:
    """Draw the drift.

    Parameters
    ----------
    values : sequence of (float, float or None)
        PET minutes, and minutes ahead (positive) or behind from then on; None leaves a gap.
    span : (float, float)
        PET minutes at the left and the right edge.
    said : str
        Description of the drawing in words.

    Returns
    -------
    Markup
    """
    known = [value for _, value in values if value is not None]
    depth = max([LEAST_DEPTH_MIN, *(-value for value in known)])
    rise = max([LEAST_RISE_SHARE * depth, *known])
    per_min = (HIGH - FOOT) / (depth + rise)

    def x(pet_min: float) -> float:
        return round(WIDE * (pet_min - span[0]) / ((span[1] - span[0]) or 1.0), 1)

    def y(value: float) -> float:
        return round((rise - value) * per_min, 1)

    parts = [tag("line", class_="strip-brief", x1=0, x2=f"{WIDE:g}", y1=y(0), y2=y(0))]
    for run in _runs(values, span[1]):
        steps = f"{x(run[0][0])} {y(run[0][1])}" + "".join(f"V{y(value)}H{x(pet)}" for pet, value in run[1:])
        parts.insert(0, tag("path", class_="strip-area", d=f"M{x(run[0][0])} {y(0)}L{steps}V{y(0)}Z"))
        parts.append(tag("path", class_="strip-edge", d=f"M{steps}"))
    view = f"0 0 {WIDE:g} {HIGH:g}"
    return tag("svg", *parts, class_="strip", role="img", aria_label=said, preserveAspectRatio="none", viewBox=view)


def _runs(values: Sequence[Value], until: float) -> list[list[tuple[float, float]]]:
    """Step lines without gaps: the start of the line with its value, then the end of each step with its value."""
    runs: list[list[tuple[float, float]]] = []
    joined = False
    for place, (pet, value) in enumerate(values):
        if value is None:
            joined = False
            continue
        if not joined:
            runs.append([(pet, value)])
        runs[-1].append((values[place + 1][0] if place + 1 < len(values) else until, value))
        joined = True
    return runs
