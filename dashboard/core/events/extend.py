"""A task is let run longer."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from dashboard.core.events.entry import Form, FormField, Least, Spoken
from dashboard.core.events.event import TaskEvent, TaskName
from dashboard.core.events.recorder import Recorder
from dashboard.core.plan.model import LONGEST_MIN, Minutes, Task


class Extend(TaskEvent):
    """A boxed or open-ended task is let run to a new whole length above the planned one."""

    kind: Literal["extend"]
    duration: Minutes = Field(gt=0, le=LONGEST_MIN, description="the new whole length, minutes")

    is_decision: ClassVar[bool] = True
    needs_lead: ClassVar[bool] = True
    form: ClassVar[Form | None] = Form(
        "Let a task run longer",
        (
            FormField("task", "Task", "extendable"),
            FormField(
                "duration", "New whole length, minutes", "minutes", least=Least("longer", "task", "above the planned length")
            ),
        ),
        changes_plan=True,
    )
    spoken: ClassVar[Spoken | None] = Spoken(
        ("extend", "extends", "extended", "extending"), "task and length", change=r"extend\w*"
    )

    def apply(self, record: Recorder) -> None:
        run = record.so_far(self.task)
        if run is None:
            return
        if run.is_over:
            record.complain(self, f"{self.task} not over yet", f"{self.task} {run.state}; the extend was set aside")
            return
        if self.duration <= run.planned_min:
            record.complain(
                self, f"a whole length above the planned {run.planned_min:g} min of {self.task} (a trim cuts it short)",
                f"extend to {self.duration:g} min; set aside",
            )
            return
        if self.duration > run.task.likely_min and not may_be_extended(run.task):
            record.complain(
                self, f"a boxed or open-ended task to extend (an estimate says that {self.task} takes longer)",
                f"extend to {self.duration:g} min; applied",
            )
        record.set_length(self, self.task, self.duration)

    def in_words(self, name: TaskName) -> str:
        return f"extend {name(self.task)} to {self.duration:g} min"


def may_be_extended(task: Task) -> bool:
    """Whether the room sets how long a task lasts: a boxed stop, or an open-ended task, which has a shortest length.

    Parameters
    ----------
    task
        As briefed, or as added.

    Returns
    -------
    bool
        False for a task that takes as long as it takes: an estimate then says that it takes longer.
    """
    return task.boxed or task.shortest is not None
