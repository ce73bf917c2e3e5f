"""Draws the drift of the crew lanes and the ends that were projected during the sortie against the actual end.

There are two strips over one PET axis. The upper one shows each crew lane ahead or behind the brief; lanes differ by the
form of their line. The lower one shows the end as it was projected every quarter of an hour: a vertical bar from P10 to P90, a
tick at P50, and a hollow square at plan pace. The actual end is a solid level line, the briefed end dashed, the limit dotted.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from dashboard import words
from dashboard.core.debrief.facts import Debrief, ProjectionPoint
from dashboard.figures.drawing import Drawing, Line, Mark, Rect, Words

LEFT, RIGHT_ROOM = 62.0, 118.0
TEXT = 7.0
_Form = tuple[float, tuple[float, ...]]
FORMS: tuple[_Form, ...] = ((2.2, ()), (1.1, (5, 2)), (1.1, (1, 2)))
STEPS_MIN = (5, 10, 15, 30, 60, 120, 240, 480)
APART = 9.0

CAPTION = (
    "Above: each crew lane ahead of the brief (up) or behind it (down). Below: the end as projected at each time, from the "
    "events that the room had received by then: a vertical bar from P10 to P90, a tick at P50, a hollow square at plan "
    "pace. Solid line: actual end. Dashed line: briefed end. Dotted line: limit at that time."
)


class _Strip(NamedTuple):
    """The place of a strip (points) and its range of values (minutes)."""

    top: float
    bottom: float
    low: float
    high: float
    right: float
    until: float

    def x(self, pet_min: float) -> float:
        return LEFT + (self.right - LEFT) * pet_min / self.until

    def y(self, value: float) -> float:
        return self.bottom - (self.bottom - self.top) * (value - self.low) / (self.high - self.low)


def foreseen(facts: Debrief, width: float) -> Drawing | None:
    """Draw the two strips.

    Parameters
    ----------
    facts : Debrief
    width : float
        Width of the drawing, points.

    Returns
    -------
    Drawing or None
        None when nothing was projected.
    """
    points = facts.projections
    if not points:
        return None
    right, until = width - RIGHT_ROOM, max(30.0, points[-1].pet_min, facts.pet_min)
    marks = [*_ahead(points, right, until), *_ends(facts, points, right, until), *_pet_axis(right, until)]
    return Drawing(width, 358, tuple(marks), "Drift of the crew lanes, and the projected end against what happened")


def _ahead(points: Sequence[ProjectionPoint], right: float, until: float) -> Iterator[Mark]:
    values = [v for point in points for v in point.ahead_min.values() if v is not None]
    strip = _Strip(16, 136, *_span([*values, -5.0, 5.0]), right, until)
    yield Words(0, 9, "Ahead or behind of the brief", TEXT + 1, bold=True)
    for tick in _ticks(strip.low, strip.high):
        yield from _level(strip, tick, str(words.ahead(tick)), "soft" if tick == 0 else "grid")
    labels = []
    for place, name in enumerate(points[-1].ahead_min):
        line, dash = FORMS[min(place, len(FORMS) - 1)]
        for run in _runs([(p.pet_min, p.ahead_min.get(name)) for p in points]):
            yield Line(tuple((strip.x(pet), strip.y(value)) for pet, value in run), "text", line, dash)
        last = points[-1].ahead_min[name]
        labels.append((strip.y(last or 0.0), f"{name} {words.ahead(last)}", (line, dash)))
    yield from _labels(labels, right)


def _ends(facts: Debrief, points: Sequence[ProjectionPoint], right: float, until: float) -> Iterator[Mark]:
    levels = [v for v in (facts.end.briefed_pet_min, facts.end.pet_min) if v is not None]
    seen = [
        v for p in points for v in (p.p10_pet_min, p.p90_pet_min, p.plan_pace_pet_min, p.limit_pet_min) if v is not None
    ]
    strip = _Strip(170, 326, *_span([*seen, *levels]), right, until)
    yield Words(0, 160, "End of the sortie as projected at each time, PET", TEXT + 1, bold=True)
    for tick in _ticks(strip.low, strip.high):
        yield from _level(strip, tick, words.pet(tick), "grid")
    for point in points:
        yield from _upright(strip, point)
    for run in _runs([(p.pet_min, p.limit_pet_min) for p in points]):
        yield Line(tuple((strip.x(pet), strip.y(value)) for pet, value in run), "text", 1.2, (1, 2))
    limit = points[-1].limit_pet_min
    labels: list[tuple[float, str, _Form]] = [(strip.y(limit), f"limit {words.pet_named(limit)}", (1.2, (1.0, 2.0)))]
    ends: tuple[tuple[float | None, str, _Form], ...] = (
        (facts.end.pet_min, "projected" if facts.so_far else "actual", (1.6, ())),
        (facts.end.briefed_pet_min, "briefed", (1.0, (5.0, 2.0))),
    )
    for value, what, form in ends:
        if value is not None:
            yield Line(((LEFT, strip.y(value)), (right, strip.y(value))), "briefed" if what == "briefed" else "text", *form)
            towards: words.Towards = "up" if facts.so_far and what == "projected" else "nearest"
            labels.append((strip.y(value), f"{what} {words.pet_named(value, towards)}", form))
    yield from _labels(labels, right)


def _upright(strip: _Strip, point: ProjectionPoint) -> Iterator[Mark]:
    x = strip.x(point.pet_min)
    if point.p10_pet_min is not None and point.p90_pet_min is not None and point.p50_pet_min is not None:
        yield Line(((x, strip.y(point.p10_pet_min)), (x, strip.y(point.p90_pet_min))), "soft", 3.2)
        y = strip.y(point.p50_pet_min)
        yield Line(((x - 4, y), (x + 4, y)), "strong-edge", 1.2)
    if point.plan_pace_pet_min is not None:
        yield Rect(x - 1.8, strip.y(point.plan_pace_pet_min) - 1.8, 3.6, 3.6, "panel", "text", 0.7)


def _pet_axis(right: float, until: float) -> Iterator[Mark]:
    strip = _Strip(326, 326, 0, 1, right, until)
    for tick in _ticks(0.0, until):
        yield Line(((strip.x(tick), 326), (strip.x(tick), 330)), "soft", 0.6)
        yield Words(strip.x(tick), 339, words.pet(tick), TEXT, "secondary", "middle")
    yield Words((LEFT + right) / 2, 352, "PET at which it was projected", TEXT, "secondary", "middle")


def _level(strip: _Strip, value: float, label: str, role: str) -> Iterator[Mark]:
    yield Line(((LEFT, strip.y(value)), (strip.right, strip.y(value))), role, 0.6)
    yield Words(LEFT - 4, strip.y(value) + 2.4, label, TEXT, "secondary", "end")


def _labels(labels: list[tuple[float, str, _Form]], right: float) -> Iterator[Mark]:
    """Labels at the right end, moved apart from each other, each with a sample of its line."""
    at = -math.inf
    for y, text, (line, dash) in sorted(labels):
        at = max(y, at + APART)
        yield Line(((right + 4, at), (right + 18, at)), "text", line, dash)
        yield Words(right + 21, at + 2.4, text, TEXT)


def _runs(values: Sequence[tuple[float, float | None]]) -> Iterator[list[tuple[float, float]]]:
    """Step lines without gaps: each value holds until the next. An unknown value ends a line."""
    run: list[tuple[float, float]] = []
    for pet, value in values:
        if value is None:
            if run:
                yield [*run, (pet, run[-1][1])]
            run = []
            continue
        if run:
            run.append((pet, run[-1][1]))
        run.append((pet, value))
    if run:
        yield run


def _span(values: Sequence[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    room = max(0.08 * (high - low), 1.0)
    return low - room, high + room


def _ticks(low: float, high: float) -> list[float]:
    step = next((step for step in STEPS_MIN if (high - low) / step <= 7), 960)
    return [float(step * i) for i in range(math.ceil(low / step), math.floor(high / step) + 1)]
