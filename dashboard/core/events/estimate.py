"""Crew or room say how many minutes of a task remain."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from dashboard.core.events.entry import Form, FormField
from dashboard.core.events.event import TaskEvent, TaskName, Work
from dashboard.core.events.recorder import Recorder
from dashboard.core.plan.model import LONGEST_MIN, Minutes


class Estimate(TaskEvent):
    """So many minutes of work remain."""

    kind: Literal["estimate"]
    remaining: Minutes = Field(ge=0, le=LONGEST_MIN, description="minutes of work that remain")

    is_timed: ClassVar[bool] = True
    work: ClassVar[Work | None] = "within"
    form: ClassVar[Form | None] = Form(
        "Estimate of what remains", (FormField("task", "Task", "tasks"), FormField("remaining", "Minutes left", "minutes"))
    )

    def apply(self, record: Recorder) -> None:
        record.estimate(self, self.task, self.remaining)

    def in_words(self, name: TaskName) -> str:
        return f"{name(self.task)}: {self.remaining:g} min remain by estimate"
