"""Draws what a plan can bear: how late each task may start, and the chance in time after time lost at each hour.

PET runs to the right. A block is a task as projected at plan pace. The line behind it ends with a tick at its latest start: the
block may slide so far. A task that is too late as briefed has a thick edge and its word. Below, for each hour, the hollow bar is
the chance without lost time and the solid bar the chance after it. The dashed line is the wanted chance.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from dashboard import words
from dashboard.core.outlook.bear_model import Bears, LostTime, TaskBears
from dashboard.figures.drawing import LINE_HEIGHT, Drawing, Line, Mark, Rect, Words, text_width, wrapped

ROW = 10.5
HEAD = 26.0
LEFT = 74.0
RIGHT = 78.0
CHART = 64.0
BETWEEN = 30.0
FOOT = 6.0
TEXT = 6.4
SMALL = 5.8
MOST_ROWS = 60
GRID_MIN = 60

CAPTION = (
    "PET runs to the right. A block is a task as projected at plan pace; the line behind it ends at its latest start that still "
    "meets the limit, with the minutes between the two at the right. Thick edge: too late as briefed. Below: the chance of being "
    "in by the limit without (hollow) and after (solid) time lost at each hour, of a sortie that has gone as planned until then; "
    "the dashed line is the wanted chance."
)


@dataclass(frozen=True)
class _Axis:
    """The scale of PET: points from the left edge of the drawing."""

    width: float
    until_min: float

    def x(self, pet_min: float) -> float:
        return LEFT + (self.width - LEFT - RIGHT) * min(max(pet_min, 0.0), self.until_min) / self.until_min


def bear_sheet(bears: Bears, width: float) -> Drawing | None:
    """Draw the sheet.

    Parameters
    ----------
    bears : Bears
        Of a plan with more than `MOST_ROWS` tasks, those with the least slack are drawn.
    width : float
        Width of the drawing, points.

    Returns
    -------
    Drawing or None
        None when no task is in the plan of record.
    """
    tasks = _drawn(bears.tasks)
    if not tasks:
        return None
    latest = [task.latest_start_pet_min for task in tasks if task.latest_start_pet_min is not None]
    until = max([bears.limit_pet_min, *(task.finish_pet_min for task in tasks), *latest])
    axis = _Axis(width, GRID_MIN * math.ceil(until / GRID_MIN))
    bottom = HEAD + ROW * len(tasks)
    chart = bottom + BETWEEN
    marks: list[Mark] = [*_grid(axis, bottom, chart, bool(bears.lost)), *_limits(bears, axis, bottom)]
    for place, task in enumerate(tasks):
        marks += _row(task, axis, HEAD + ROW * place)
    if bears.lost:
        marks += _chart(bears.lost, bears.confidence, axis, chart)
    foot = (chart + CHART if bears.lost else bottom) + FOOT
    caution = wrapped(bears.caution, width, SMALL)
    marks += [Words(0, foot + SMALL * LINE_HEIGHT * (place + 1), line, SMALL) for place, line in enumerate(caution)]
    height = foot + SMALL * LINE_HEIGHT * (len(caution) + 1)
    return Drawing(width, height, tuple(marks), f"What the plan of sortie {bears.sortie} can bear: {len(tasks)} tasks over PET")


def _drawn(tasks: Sequence[TaskBears]) -> list[TaskBears]:
    if len(tasks) <= MOST_ROWS:
        return list(tasks)
    least = sorted(tasks, key=lambda task: math.inf if task.slack_min is None else task.slack_min)[:MOST_ROWS]
    return sorted(least, key=lambda task: task.start_pet_min)


def _grid(axis: _Axis, bottom: float, chart: float, with_chart: bool) -> Iterator[Mark]:
    yield Words(LEFT - 16, HEAD - 5, "PET", SMALL, "secondary", "end")
    for pet_min in range(0, int(axis.until_min) + 1, GRID_MIN):
        x = axis.x(pet_min)
        yield Line(((x, HEAD - 3), (x, bottom)), "grid", 0.6)
        yield Words(x, HEAD - 5, words.pet(pet_min), TEXT, "secondary", "middle")
        if with_chart:
            yield Line(((x, chart), (x, chart + CHART)), "grid", 0.6)


def _limits(bears: Bears, axis: _Axis, bottom: float) -> Iterator[Mark]:
    """The limit and the turn-back time, each as a line with its word; the words stand on two lines above."""
    said: list[tuple[str, float, str, tuple[float, ...]]] = [("limit less reserve", bears.limit_pet_min, "strong-edge", ())]
    if bears.turn_back_pet_min is not None:
        said.append(("turn back", bears.turn_back_pet_min, "briefed", (4.0, 2.0)))
    for place, (word, pet_min, role, dash) in enumerate(said):
        x = axis.x(pet_min)
        yield Line(((x, HEAD - 3), (x, bottom)), role, 1.1, dash)
        label = f"{word} {words.pet_named(pet_min)}"
        left = min(x, axis.width - text_width(label, SMALL))
        yield Words(max(left, 0.0), SMALL * (1.1 + 1.15 * place), label, SMALL, "text")


def _row(task: TaskBears, axis: _Axis, top: float) -> Iterator[Mark]:
    middle, height = top + ROW / 2, ROW - 3.0
    left, right = axis.x(task.start_pet_min), axis.x(task.finish_pet_min)
    label = f"{task.task} {' '.join(task.lanes)}"
    most = int((LEFT - 8) / (TEXT * 0.62))
    yield Words(LEFT - 6, middle + TEXT * 0.36, label if len(label) <= most else task.task[:most], TEXT, "text", "end")
    latest, slack = task.latest_start_pet_min, task.slack_min
    late = slack is not None and slack < 0
    if latest is not None and not late:
        yield Line(((left, middle), (axis.x(latest), middle)), "soft", 1.4)
        yield Line(((axis.x(latest), middle - height / 2), (axis.x(latest), middle + height / 2)), "soft", 1.4)
    yield Rect(left, middle - height / 2, max(right - left, 1.0), height, "done-fill", "strong-edge" if late else "done-edge",
               1.8 if late else 0.7)
    said = "no limit" if slack is None else f"{words.duration(-slack, 'up')} late" if late else words.duration(slack, "down")
    yield Words(axis.width - RIGHT + 6, middle + TEXT * 0.36, said, TEXT, "text" if late else "secondary", bold=late)


def _chart(lost: Sequence[LostTime], confidence: float, axis: _Axis, top: float) -> Iterator[Mark]:
    bottom = top + CHART - 12
    scale = bottom - top
    minutes = words.duration(lost[0].lost_min)
    yield Words(0, top - 14, f"Chance in time without and after {minutes} lost at this PET", TEXT + 0.6, "text", bold=True)
    wanted = bottom - scale * confidence
    yield Line(((LEFT, wanted), (axis.width - RIGHT, wanted)), "text", 0.8, (3, 2))
    yield Words(LEFT - 6, wanted + 2.2, f"wanted {words.chance(confidence)}", SMALL, "secondary", "end")
    yield Line(((LEFT, bottom), (axis.width - RIGHT, bottom)), "line", 0.8)
    bar = min(14.0, (axis.width - LEFT - RIGHT) / (axis.until_min / GRID_MIN) / 3)
    for one in lost:
        x = axis.x(one.pet_min)
        if one.in_by_limit_before is not None:
            height = scale * one.in_by_limit_before
            yield Rect(x + 1, bottom - height, bar, height, None, "briefed", 1.0)
        if one.in_by_limit_after is not None:
            height = scale * one.in_by_limit_after
            yield Rect(x + 2 + bar, bottom - height, bar, height, "done-fill", "done-edge", 0.8)
            yield Words(x + 1, bottom + SMALL * 1.3, words.chance(one.in_by_limit_after), SMALL, "text")
