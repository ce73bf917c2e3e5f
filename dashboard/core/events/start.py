"""Work on a task begins."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Literal

from pydantic import Field

from dashboard.core.events.change import Names
from dashboard.core.events.entry import Form, FormField, Spoken
from dashboard.core.events.event import Named, TaskEvent, TaskName, Work
from dashboard.core.events.recorder import Recorder


class Start(TaskEvent):
    """Work begins in `lanes`; without them in the lanes of the task."""

    kind: Literal["start"]
    lanes: Names | None = Field(default=None, min_length=1, description="lanes in which it begins; absent: those of the task")

    is_timed: ClassVar[bool] = True
    work: ClassVar[Work | None] = "begins"
    form: ClassVar[Form | None] = Form("Start a task", (FormField("task", "Task", "to_start"),))
    spoken: ClassVar[Spoken | None] = Spoken(
        ("start", "started", "starts", "starting", "begin", "begins", "began", "begun", "commence", "commences", "commenced"),
        "task",
    )

    def names(self) -> Iterator[Named]:
        yield from super().names()
        yield from (Named("lane", lane) for lane in self.lanes or ())

    def apply(self, record: Recorder) -> None:
        record.start(self, self.task, self.lanes)

    def in_words(self, name: TaskName) -> str:
        return f"start {name(self.task)}" + (f" in {', '.join(self.lanes)}" if self.lanes else "")
