"""Draws the lanes as run beside the brief: time runs downwards, one column per lane, with the forms of the lane sheet.

The left part of each column shows the brief as hollow blocks. The right part shows finished work solid and future work
dashed; holds and close-outs carry their word. A thin line leads from the briefed start to the actual start: its slope
shows the drift. A briefed block that was given up is struck through. The forms differ without colour.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from dashboard import words
from dashboard.core.debrief.facts import Debrief, LaneDebrief, Segment, TaskRow
from dashboard.figures.drawing import LINE_HEIGHT, Drawing, Line, Mark, Rect, Words, fitting

PT_A_MIN = 2.9
MOST_MIN = 210  # minutes in one drawing, so that it fits a page
GRID_MIN = 30
HEAD = 34.0
FOOT = 8.0
AXIS = 32.0
LINK = 11.0
TEXT = 6.6
SMALL = 5.8

CAPTION = (
    "Time runs downwards. Hollow, on the left of each column: as briefed. Solid, on the right: as run. Dashed: still to "
    "come, as projected. The thin line leads from the briefed start to the actual start. Struck through: given up, handed "
    "over or not done. A bar on the left edge: not in the brief (contingency, added, get-ahead, other option). Zigzag "
    "bottom edge: broken off. The tables below give the titles that do not fit into a block."
)


@dataclass(frozen=True)
class _Column:
    """The place of one lane (points) and the interval that is drawn (PET minutes)."""

    left: float
    width: float
    from_min: float
    to_min: float

    @property
    def brief_width(self) -> float:
        return min(34.0, 0.24 * self.width)

    @property
    def run_left(self) -> float:
        return self.left + self.brief_width + LINK

    @property
    def run_width(self) -> float:
        return self.width - self.brief_width - LINK - 4

    def y(self, pet_min: float) -> float:
        return HEAD + (min(max(pet_min, self.from_min), self.to_min) - self.from_min) * PT_A_MIN

    def shows(self, segment: Segment) -> bool:
        return segment.from_pet_min < self.to_min and segment.to_pet_min > self.from_min

    def box(self, segment: Segment) -> tuple[float, float]:
        top = self.y(segment.from_pet_min)
        return top, self.y(segment.to_pet_min) - top


def as_run(facts: Debrief, width: float) -> list[Drawing]:
    """Draw the lanes.

    Parameters
    ----------
    facts : Debrief
    width : float
        Width of a drawing, points.

    Returns
    -------
    list of Drawing
        One drawing for each part of the sortie that fits a page. Empty when nothing is briefed or done.
    """
    ends = [s.to_pet_min for lane in facts.lanes.values() for s in (*lane.segments, *lane.briefed)]
    if not ends:
        return []
    begin = min([0.0, *(s.from_pet_min for lane in facts.lanes.values() for s in lane.segments)])
    begin, end = GRID_MIN * math.floor(begin / GRID_MIN), 10.0 * math.ceil(max(ends) / 10 - 1e-9)
    count = max(1, math.ceil((end - begin) / MOST_MIN))
    step = GRID_MIN * math.ceil((end - begin) / count / GRID_MIN)
    starts = [begin + step * part for part in range(count)]
    return [_part(facts, width, start, min(start + step, end)) for start in starts if start < end]


def _part(facts: Debrief, width: float, from_min: float, to_min: float) -> Drawing:
    height = HEAD + (to_min - from_min) * PT_A_MIN + FOOT
    column_width = (width - AXIS) / len(facts.lanes)
    columns = {
        name: _Column(AXIS + column_width * place, column_width, from_min, to_min) for place, name in enumerate(facts.lanes)
    }
    marks: list[Mark] = [*_axis(width, from_min, to_min)]
    for name, column in columns.items():
        marks += _lane(name, facts.lanes[name], column)
    label = f"Lanes as run against the brief, {words.pet_named(from_min)} to {words.pet_named(to_min)}"
    return Drawing(width, height, tuple(marks), label)


def _axis(width: float, from_min: float, to_min: float) -> Iterator[Mark]:
    yield Words(0, HEAD - 4, "PET", SMALL, "secondary")
    for minute in range(int(from_min), int(to_min) + 1, 10):
        y = HEAD + (minute - from_min) * PT_A_MIN
        if minute % GRID_MIN:
            yield Line(((AXIS - 5, y), (AXIS - 2, y)), "soft", 0.5)
            continue
        yield Line(((AXIS - 5, y), (width, y)), "grid", 0.6)
        yield Words(AXIS - 8, y + 2.4, words.pet(minute), TEXT, "secondary", "end")


def _lane(name: str, lane: LaneDebrief, column: _Column) -> Iterator[Mark]:
    bottom = column.y(column.to_min)
    yield Line(((column.left, HEAD - 24), (column.left, bottom)), "line", 0.6)
    yield Words(column.left + 4, HEAD - 15, name, 9, "text", bold=True)
    yield Words(column.left + 2, HEAD - 4, "briefed", SMALL, "secondary")
    yield Words(column.run_left, HEAD - 4, "as run", SMALL, "secondary")
    rows = {row.task: row for row in lane.tasks}
    begun = _first_starts(lane)
    for segment in lane.briefed:
        if segment.task is not None:
            yield from _link(segment, begun.get(segment.task), column)
    for segment in lane.briefed:
        if segment.task is not None and column.shows(segment):
            yield from _briefed(segment, segment.task in begun, column)
    for segment in lane.segments:
        if segment.kind != "idle" and column.shows(segment):
            yield from _done(name, segment, rows.get(segment.task or ""), column)


def _first_starts(lane: LaneDebrief) -> dict[str, float | None]:
    """When each task began in this lane, PET minutes; None: it was done, but its start is not known."""
    found: dict[str, float | None] = {}
    for segment in lane.segments:
        if segment.task is not None and segment.kind in ("work", "projected", "start not known"):
            found.setdefault(segment.task, None if segment.kind == "start not known" else segment.from_pet_min)
    return found


def _link(segment: Segment, start: float | None, column: _Column) -> Iterator[Mark]:
    """The line from the briefed to the actual start, clipped to the interval of this drawing."""
    if start is None:
        return
    low, high = sorted((segment.from_pet_min, start))
    if high < column.from_min or low > column.to_min:
        return
    x_from, x_to, late = column.left + column.brief_width, column.run_left, start - segment.from_pet_min

    def point(share: float) -> tuple[float, float]:
        clipped = min(max(segment.from_pet_min + share * late, column.from_min), column.to_min)
        along = (clipped - segment.from_pet_min) / late if late else share
        return x_from + (x_to - x_from) * along, column.y(clipped)

    yield Line((point(0.0), point(1.0)), "briefed", 0.7)


def _briefed(segment: Segment, begun: bool, column: _Column) -> Iterator[Mark]:
    top, height = column.box(segment)
    left, width = column.left + 2, column.brief_width - 2
    yield Rect(left, top, width, height, None, "briefed", 0.8)
    yield from _text([segment.task or ""], left, top, width, height, SMALL, "text")
    if not begun:
        yield Line(((left, top + height), (left + width, top)), "text", 0.8)


def _done(lane: str, segment: Segment, row: TaskRow | None, column: _Column) -> Iterator[Mark]:
    top, height = column.box(segment)
    left, width = column.run_left, column.run_width
    fill, edge, dash, role = _FORMS[segment.kind]
    yield Rect(left, top, width, height, fill, edge, 0.8, dash)
    if row is not None and segment.kind in ("work", "projected") and _beyond_brief(lane, row):
        yield Rect(left, top, 2.4, height, "strong-edge")
    if row is not None and row.state == "broken off" and segment.kind == "work" and segment.to_pet_min <= column.to_min:
        yield _torn(left, top + height, width)
    yield from _text(_said(lane, segment, row), left + 2, top, width - 4, height, TEXT, role)


_FORMS: dict[str, tuple[str | None, str, tuple[float, ...], str]] = {
    "work": ("done-fill", "done-edge", (), "done-text"),
    "projected": ("projected-fill", "projected-edge", (3, 2), "projected-text"),
    "close-out": ("panel", "done-edge", (1, 1.5), "text"),
    "hold": ("panel", "hold-edge", (1, 1.5), "text"),
    "start not known": ("panel", "done-edge", (4, 2), "text"),
}


def _beyond_brief(lane: str, row: TaskRow) -> bool:
    return row.origin != "briefed" or row.get_ahead or row.briefed_start_pet_min is None


def _torn(left: float, y: float, width: float) -> Line:
    """A zigzag: the task was broken off here."""
    teeth = max(4, int(width / 6))
    return Line(
        tuple((left + width * i / teeth, y - (2.2 if i % 2 else 0.0)) for i in range(teeth + 1)), "strong-edge", 1.1
    )


def _said(lane: str, segment: Segment, row: TaskRow | None) -> list[str]:
    """The possible texts of a block, the longest first."""
    name, title = segment.task or "", f" {row.title}" if row is not None and row.title else ""
    match segment.kind:
        case "hold":
            why = f": {segment.why}" if segment.why else ""
            return [f"{name} on hold{why}".strip(), f"{name} on hold".strip(), "hold"]
        case "close-out":
            return [f"{name} close-out", "close-out"]
        case "start not known":
            return [f"{name}{title} (start not entered)", f"{name} start not entered", name]
    marks = []
    if row is not None:
        others = [other for other in row.lanes if other != lane]
        marks += [f"with {', '.join(others)}"] if others else []
        marks += [row.origin] if row.origin != "briefed" else []
        marks += ["broken off"] if row.state == "broken off" else []
        marks += [words.took(row.worked_min, row.briefed_min)] if row.state == "done" else []
    tail = f" ({', '.join(marks)})" if marks else ""
    return [f"{name}{title}{tail}", f"{name}{title}", name]


def _text(
    choices: list[str], left: float, top: float, width: float, height: float, size: float, role: str
) -> Iterator[Mark]:
    lines = fitting(choices, width - 2, height, size)
    for place, line in enumerate(lines):
        yield Words(left + 2, top + size * (0.95 + LINE_HEIGHT * place), line, size, role)
