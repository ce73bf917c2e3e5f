"""A task is handed over to another lane, or takes another place in the order."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Literal

from pydantic import Field, model_validator

from dashboard.core.events.entry import AnyOf, Form, FormField, Spoken
from dashboard.core.events.event import Named, TaskEvent, TaskName
from dashboard.core.events.recorder import Recorder
from dashboard.core.plan.model import Identifier


class Move(TaskEvent):
    """Hand over to `lane`, or go `before` another task, or both."""

    kind: Literal["move"]
    lane: Identifier | None = Field(default=None, description="the lane that it is handed to; absent: it stays in its lane")
    before: Identifier | None = Field(default=None, description="the task that it goes before; absent: it keeps its place")

    is_decision: ClassVar[bool] = True
    needs_lead: ClassVar[bool] = True
    form: ClassVar[Form | None] = Form(
        "Hand over or reorder",
        (
            FormField("task", "Task", "movable"),
            FormField("lane", "To lane (of those that can do it)", "can_move_to@task?"),
            FormField("before", "Before which task", "before?"),
        ),
        changes_plan=True,
        any_of=AnyOf(("lane", "before"), "Hand over or reorder: expected a lane or what it goes before; found neither."),
    )
    spoken: ClassVar[Spoken | None] = Spoken(
        ("hand over", "hands over", "handed over", "handing over"), "task and lane",
        change=r"hand(?:s|ed|ing)?\s(?:\S+\s){0,3}?over",
    )

    @model_validator(mode="after")
    def _says_something(self) -> Move:
        if self.lane is None and self.before is None:
            raise ValueError("'lane', 'before' or both")
        return self

    def names(self) -> Iterator[Named]:
        yield from super().names()
        if self.before is not None:
            yield Named("task", self.before)
        if self.lane is not None:
            yield Named("lane", self.lane)

    def apply(self, record: Recorder) -> None:
        run = record.so_far(self.task)
        if run is None:
            return
        if run.is_over:
            record.complain(self, f"{self.task} not over yet", f"{self.task} {run.state}; not moved")
            return
        record.mark(self, self.task)
        if self.lane is not None:
            record.hand_over(self, self.task, self.lane)
        if self.before is not None:
            record.put_before(self, self.task, self.before)

    def in_words(self, name: TaskName) -> str:
        to = f" to {self.lane}" if self.lane else ""
        before = f" before {name(self.before)}" if self.before else ""
        return f"move {name(self.task)}{to}{before}"
