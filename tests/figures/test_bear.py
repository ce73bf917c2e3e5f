"""The picture of what a plan can bear: inside its frame, told by form, with its caution."""

from __future__ import annotations

import pytest

from dashboard.core.base.caution import CAUTION
from dashboard.core.outlook.bear import what_it_bears
from dashboard.core.outlook.bear_model import Bears
from dashboard.figures.bear import MOST_ROWS, bear_sheet
from dashboard.figures.drawing import Line, Rect, Words, text_width
from tests.core.outlook.plans import SOUND, briefed

WIDTH = 520.0


@pytest.fixture(scope="module")
def bears() -> Bears:
    return what_it_bears(briefed(SOUND.replace('limit = "7:00"', 'limit = "3:15"')))


def with_slack(bears: Bears, minutes: float) -> Bears:
    first, *rest = bears.tasks
    late = first.model_copy(update={"slack_min": minutes, "latest_start_pet_min": first.start_pet_min + minutes})
    return bears.model_copy(update={"tasks": [late, *rest]})


def test_every_mark_lies_inside(bears: Bears):
    """Nothing is cut."""
    drawing = bear_sheet(bears, WIDTH)
    for mark in drawing.marks:
        if isinstance(mark, Rect):
            corners = [(mark.x, mark.y), (mark.x + mark.width, mark.y + mark.height)]
        elif isinstance(mark, Line):
            corners = list(mark.points)
        else:
            width = text_width(mark.text, mark.size)
            left = mark.x - {"start": 0, "middle": width / 2, "end": width}[mark.anchor]
            corners = [(max(left, 0), mark.y - mark.size), (left + width * 0.9, mark.y)]
        for x, y in corners:
            assert -2 <= x <= drawing.width + 1 and -2 <= y <= drawing.height + 1, mark


def test_each_task_says_its_slack_and_the_caution_is_there(bears: Bears):
    """A row for each task with its minutes; whoever has only the picture reads that it is advisory."""
    said = [mark.text for mark in bear_sheet(bears, WIDTH).marks if isinstance(mark, Words)]
    assert {"T1 EV1", "T32 EV2", "HOME EV1 EV2"} <= set(said) and any(text.endswith(" min") for text in said)
    assert " ".join(said).endswith(CAUTION)


def test_a_task_that_is_too_late_is_told_by_form_and_word(bears: Bears):
    """A thick edge and the word; no line for a slide that there is not."""
    in_time, late = bear_sheet(with_slack(bears, 5.0), WIDTH), bear_sheet(with_slack(bears, -5.0), WIDTH)
    assert not [m for m in in_time.marks if isinstance(m, Rect) and m.line > 1.5]
    assert len([m for m in late.marks if isinstance(m, Rect) and m.line > 1.5]) == 1
    assert "5 min late" in [m.text for m in late.marks if isinstance(m, Words)]
    assert sum(isinstance(m, Line) for m in late.marks) == sum(isinstance(m, Line) for m in in_time.marks) - 2


def test_a_plan_with_many_tasks_shows_those_with_the_least_slack(bears: Bears):
    """As many as fit a page."""
    row = bears.tasks[0]
    many = [row.model_copy(update={"task": f"X{n}", "slack_min": float(n)}) for n in range(2 * MOST_ROWS)]
    drawing = bear_sheet(bears.model_copy(update={"tasks": many}), WIDTH)
    rows = [m.text for m in drawing.marks if isinstance(m, Words) and m.text.startswith("X")]
    assert len(rows) == MOST_ROWS and rows[-1].startswith(f"X{MOST_ROWS - 1} ")
    assert bear_sheet(bears.model_copy(update={"tasks": []}), WIDTH) is None
