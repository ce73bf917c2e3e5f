"""A task is cut short."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from dashboard.core.events.entry import Form, FormField, Least, Spoken
from dashboard.core.events.event import Event, TaskEvent, TaskName
from dashboard.core.events.recorder import Recorder
from dashboard.core.plan.model import LONGEST_MIN, Minutes


class Trim(TaskEvent):
    """A task gets a new whole length, from the plan's `shortest` up."""

    kind: Literal["trim"]
    duration: Minutes = Field(ge=0, le=LONGEST_MIN, description="the new whole length, minutes")

    is_decision: ClassVar[bool] = True
    needs_lead: ClassVar[bool] = True
    form: ClassVar[Form | None] = Form(
        "Trim a task",
        (
            FormField("task", "Task", "trimmable", refused="required"),
            FormField(
                "duration", "New length, minutes", "minutes", least=Least("shortest", "task", "the shortest that is useful")
            ),
        ),
        changes_plan=True,
    )
    spoken: ClassVar[Spoken | None] = Spoken(
        ("trim", "trims", "trimmed", "trimming"), "task and length", change=r"trim\w*"
    )

    def gives_up(self) -> tuple[str, ...]:
        return (self.task,)

    def apply(self, record: Recorder) -> None:
        trim(record, self, self.task, self.duration)

    def in_words(self, name: TaskName) -> str:
        return f"trim {name(self.task)} to {self.duration:g} min"


def trim(record: Recorder, event: Event, task_id: str, duration_min: float) -> None:
    """Cut a task short for the sake of an event; what does not fit is applied and listed.

    A task that is over keeps its length: the trim is set aside and listed.

    Parameters
    ----------
    record
        Changed: the task gets its new length.
    event
        The trim, or the decision that carries it; a discrepancy names it.
    task_id
        Nothing happens when the record does not know it.
    duration_min
        New whole length, minutes.
    """
    run = record.so_far(task_id)
    if run is None:
        return
    if run.is_over:
        record.complain(event, f"{task_id} not over yet", f"{task_id} {run.state}; the trim was set aside")
        return
    applied = f"trim to {duration_min:g} min; applied"
    if run.task.required:
        record.complain(event, f"{task_id} not to be trimmed (required)", applied)
    elif duration_min > run.planned_min:
        record.complain(
            event, f"a length below the planned {run.planned_min:g} min of {task_id} (an extend lets it run longer)", applied
        )
    elif run.task.shortest is None:
        if duration_min < run.task.likely_min:
            record.complain(event, f"{task_id} not to be trimmed (no shortest length in the plan)", applied)
    elif duration_min < run.task.shortest:
        record.complain(event, f"at least {run.task.shortest:g} min for {task_id}", applied)
    record.set_length(event, task_id, duration_min)
