"""Draws the drift over PET: each crew lane ahead or behind the brief, and the projected end against the limit.

``drift_svg(points) -> Markup`` is one inline SVG element of a fixed size with two strips over one PET axis. Lanes differ by
the form of their line (broad solid, thin dashed, dotted) and carry a label at their right end. A line steps at each
instant and has a gap where the value was unknown. The style sheet gives the colours by class.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from dashboard import words
from dashboard.core.state.history import DriftPoint
from dashboard.markup import NOTHING, Markup, tag, text

WIDTH, HEIGHT = 960, 350
LEFT, RIGHT = 120, 760  # edges of the strips; the labels are to the right of them
TEXT_PX = 14
LABEL_APART = 18.0
LEAST_SPAN_MIN = 30.0
LEAST_DRIFT_MIN = 5.0
STEPS_MIN = (5, 10, 15, 30, 60, 120, 240, 480)
LINE_FORMS = 3

_Value = tuple[float, float | None]


class _Strip(NamedTuple):
    """The place of a strip (px) and its range of values (minutes)."""

    top: float
    bottom: float
    low: float
    high: float
    until_pet_min: float

    def x(self, pet_min: float) -> float:
        return round(LEFT + (RIGHT - LEFT) * pet_min / self.until_pet_min, 1)

    def y(self, value: float) -> float:
        return round(self.bottom - (self.bottom - self.top) * (value - self.low) / (self.high - self.low), 1)


def drift_svg(points: Sequence[DriftPoint]) -> Markup:
    """Draw the two strips.

    Parameters
    ----------
    points : sequence of DriftPoint
        In order of time.

    Returns
    -------
    Markup
        Empty when there is no point.
    """
    if not points:
        return NOTHING
    until = max(points[-1].pet_min, LEAST_SPAN_MIN)
    lanes = list(points[-1].ahead_min)
    label = "; ".join(f"{name}: {words.ahead(points[-1].ahead_min[name])}" for name in lanes)
    parts = [*_lanes(points, lanes, until), *_end(points, until), *_pet_axis(until)]
    return tag(
        "svg", *parts, class_="drift", role="img", aria_label=label, width=WIDTH, height=HEIGHT,
        viewBox=f"0 0 {WIDTH} {HEIGHT}",
    )  # fmt: skip


def _lanes(points: Sequence[DriftPoint], lanes: Sequence[str], until: float) -> list[Markup]:
    seen = [value for point in points for value in point.ahead_min.values() if value is not None]
    strip = _strip(26, 186, [*seen, -LEAST_DRIFT_MIN, LEAST_DRIFT_MIN], until)
    parts = [_text("drift-head", 0, 16, "Ahead or behind")]
    for tick in _ticks(strip.low, strip.high):
        parts += _level(strip, tick, str(words.ahead(tick)), "drift-brief" if tick == 0 else "drift-grid")
    labels = []
    for place, name in enumerate(lanes):
        values = [(point.pet_min, point.ahead_min.get(name)) for point in points]
        form = f"drift-line drift-line-{min(place, LINE_FORMS - 1)}"
        parts += _steps(strip, values, form)
        last = values[-1][1]
        at = strip.y(last if last is not None else 0.0)
        labels.append((at, f"{name} {words.ahead(last)}", form))
    return [*parts, *_labels(labels)]


def _end(points: Sequence[DriftPoint], until: float) -> list[Markup]:
    ends: list[_Value] = [(point.pet_min, point.end_pet_min) for point in points]
    limits: list[_Value] = [(point.pet_min, point.limit_pet_min) for point in points]
    seen = [value for _, value in (*ends, *limits) if value is not None]
    strip = _strip(230, 310, seen, until)
    parts = [_text("drift-head", 0, 220, "Projected end at plan pace and limit, PET")]
    for tick in _ticks(strip.low, strip.high):
        parts += _level(strip, tick, words.pet(tick), "drift-grid")
    parts += _steps(strip, limits, "drift-limit")
    parts += _steps(strip, ends, "drift-line drift-line-end")
    labels = [(strip.y(points[-1].limit_pet_min), f"limit {words.pet_named(points[-1].limit_pet_min)}", "drift-limit")]
    if (end := points[-1].end_pet_min) is not None:
        labels.append((strip.y(end), f"end {words.pet_named(end, 'up')}", "drift-line drift-line-end"))
    return [*parts, *_labels(labels)]


def _strip(top: float, bottom: float, values: Sequence[float], until: float) -> _Strip:
    low, high = min(values), max(values)
    room = max(high - low, 2 * LEAST_DRIFT_MIN) * 0.08
    return _Strip(top, bottom, low - room, high + room, until)


def _ticks(low: float, high: float, most: int = 5) -> list[float]:
    """Round values from `low` to `high`, at most about `most` of them."""
    step = next((s for s in STEPS_MIN if (high - low) / s <= most), math.ceil((high - low) / most))
    return [float(n * step) for n in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _level(strip: _Strip, value: float, said: str, form: str) -> list[Markup]:
    at = strip.y(value)
    line = tag("line", class_=form, x1=LEFT, x2=RIGHT, y1=at, y2=at)
    return [line, _text("drift-text", LEFT - 8, at + 5, said, "end")]


def _pet_axis(until: float) -> list[Markup]:
    strip = _Strip(26, 310, 0, 1, until)
    parts = [_text("drift-head", LEFT - 24, 332, "PET", "end")]
    for tick in _ticks(0, until, 8):
        at = strip.x(tick)
        parts.append(tag("line", class_="drift-grid", x1=at, x2=at, y1=310, y2=316))
        parts.append(_text("drift-text", at, 332, words.pet(tick), "middle"))
    return parts


def _steps(strip: _Strip, values: Sequence[_Value], form: str) -> list[Markup]:
    """A step line; each value holds until the next one."""
    path, drawing = [], False
    for (pet, value), (until, _) in zip(values, values[1:], strict=False):
        if value is None:
            drawing = False
            continue
        path.append(f"{'V' if drawing else f'M{strip.x(pet)} '}{strip.y(value)}H{strip.x(until)}")
        drawing = True
    last_pet, last = values[-1]
    if last is not None and drawing:
        path.append(f"V{strip.y(last)}")
    drawn = [tag("path", class_=form, d="".join(path))] if path else []
    dot = [] if last is None else [tag("circle", class_="drift-dot", cx=strip.x(last_pet), cy=strip.y(last), r=4)]
    return drawn + dot


def _labels(labels: Sequence[tuple[float, str, str]]) -> list[Markup]:
    """Labels at the right, each with a sample of its line, moved apart where they would overlap."""
    parts, free = [], -math.inf
    for at, said, form in sorted(labels):
        place = max(at, free)
        free = place + LABEL_APART
        parts.append(tag("line", class_=form, x1=RIGHT + 10, x2=RIGHT + 34, y1=place, y2=place))
        parts.append(_text("drift-label", RIGHT + 40, place + 5, said))
    return parts


def _text(form: str, x: float, y: float, said: str, anchor: str = "start") -> Markup:
    return tag("text", text(said), class_=form, x=x, y=y, text_anchor=anchor, font_size=TEXT_PX)
