"""The work on a task is complete."""

from __future__ import annotations

from typing import ClassVar, Literal

from dashboard.core.events.entry import Form, FormField, Spoken
from dashboard.core.events.event import TaskEvent, TaskName, Work
from dashboard.core.events.recorder import Recorder


class Done(TaskEvent):
    """Work is complete."""

    kind: Literal["done"]

    is_timed: ClassVar[bool] = True
    work: ClassVar[Work | None] = "ends"
    form: ClassVar[Form | None] = Form("Task done", (FormField("task", "Task", "tasks"),))
    spoken: ClassVar[Spoken | None] = Spoken(("done", "complete", "completed", "finished", "finish", "fin", "compl"), "task")

    def apply(self, record: Recorder) -> None:
        record.step(self, self.task, "done")

    def in_words(self, name: TaskName) -> str:
        return f"done {name(self.task)}"
