"""Tasks are taken out of this sortie, and put back."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Literal

from pydantic import Field

from dashboard.core.events.change import Names
from dashboard.core.events.entry import Form, FormField, Spoken
from dashboard.core.events.event import Event, Named, TaskName
from dashboard.core.events.recorder import Recorder


class TasksEvent(Event):
    """Speaks of several tasks."""

    tasks: Names = Field(min_length=1, description="the tasks that it is about")

    is_decision: ClassVar[bool] = True
    needs_lead: ClassVar[bool] = True

    def names(self) -> Iterator[Named]:
        return (Named("task", task) for task in self.tasks)

    def _listed(self, name: TaskName) -> str:
        """The tasks in words."""
        return ", ".join(name(task) for task in self.tasks)


class Defer(TasksEvent):
    """Tasks that are not started leave the plan of record."""

    kind: Literal["defer"]

    form: ClassVar[Form | None] = Form(
        "Defer tasks", (FormField("tasks", "Tasks", "many:before", refused="kept"),), changes_plan=True
    )
    spoken: ClassVar[Spoken | None] = Spoken(
        ("defer", "defers", "deferred", "deferring", "skip", "skips", "skipped", "skipping"), "tasks", change=r"(?:defer|skip)\w*"
    )
    undoes: ClassVar[str | None] = "the tasks go back into the plan of record"

    def defers(self) -> tuple[str, ...]:
        return self.tasks

    def apply(self, record: Recorder) -> None:
        for task in self.tasks:
            record.defer(self, task)

    def in_words(self, name: TaskName) -> str:
        return f"defer {self._listed(name)}"


class Reinstate(TasksEvent):
    """Deferred tasks are put back into the plan of record."""

    kind: Literal["reinstate"]

    form: ClassVar[Form | None] = Form(
        "Reinstate deferred tasks", (FormField("tasks", "Tasks", "many:deferred"),), changes_plan=True
    )
    spoken: ClassVar[Spoken | None] = Spoken(
        ("reinstate", "reinstates", "reinstated", "reinstating"), "tasks", change=r"reinstat\w*"
    )

    def apply(self, record: Recorder) -> None:
        record.reinstate(self, self.tasks)

    def in_words(self, name: TaskName) -> str:
        return f"reinstate {self._listed(name)}"
