"""A task that was not briefed goes into the plan of record."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Literal

from pydantic import Field

from dashboard.core.events.entry import Form, FormField
from dashboard.core.events.event import Event, Named, TaskName
from dashboard.core.events.recorder import Recorder
from dashboard.core.plan.model import Identifier, Task


class Add(Event):
    """An unplanned task, as a whole table of the plan.

    It goes before the task named, else by its `start`, else ahead of what remains in its lanes. It changes the plan of
    record, and needs no lead: the crew does what has to be done, and who logs reports it.
    """

    kind: Literal["add"]
    task: Task = Field(description="the whole table of the task, as in the plan file")
    before: Identifier | None = Field(default=None, description="the task that it goes before; absent: its start places it")

    is_decision: ClassVar[bool] = True
    form: ClassVar[Form | None] = Form(
        "Add an unplanned task",
        (
            FormField("title", "Title", "text"), FormField("lanes", "Lanes", "many:lanes"),
            FormField("duration", "Minutes", "minutes", above=0), FormField("before", "Before which task", "before?"),
        ),
        changes_plan=True,
    )

    def names(self) -> Iterator[Named]:
        yield from (Named("lane", lane) for lane in self.task.lanes)
        if self.before is not None:
            yield Named("task", self.before)

    def bring_in(self, record: Recorder) -> None:
        record.add(self, self.task, self.before)

    def apply(self, record: Recorder) -> None:
        record.place_added(self, self.task, self.before)

    def in_words(self, name: TaskName) -> str:
        return f"add {self.task.id} {self.task.title} ({self.task.likely_min:g} min, {', '.join(self.task.lanes)})"
