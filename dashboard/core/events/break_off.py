"""A task in work ends early."""

from __future__ import annotations

from typing import ClassVar, Literal

from dashboard.core.events.entry import Form, FormField, Spoken
from dashboard.core.events.event import TaskEvent, TaskName, Work
from dashboard.core.events.recorder import Recorder


class BreakOff(TaskEvent):
    """A task in work ends early; its close-out minutes follow in the same lanes.

    It changes the plan of record, and needs no lead: the crew breaks off, and who logs reports it. What comes `after` the
    task stays in the plan of record; an alert asks for that decision.
    """

    kind: Literal["break_off"]

    is_decision: ClassVar[bool] = True
    is_timed: ClassVar[bool] = True
    work: ClassVar[Work | None] = "ends"
    form: ClassVar[Form | None] = Form(
        "Break off a task", (FormField("task", "Task", "in_hand", refused="required"),), changes_plan=True
    )
    spoken: ClassVar[Spoken | None] = Spoken(
        ("break off", "breaks off", "breaking off", "broken off", "broke off"), "task",
        change=r"br(?:eaks?|eaking|oke|oken)\s+off",
    )

    def gives_up(self) -> tuple[str, ...]:
        return (self.task,)

    def apply(self, record: Recorder) -> None:
        if not record.step(self, self.task, "break_off") or (run := record.so_far(self.task)) is None:
            return
        if run.task.required:
            record.complain(self, f"{self.task} not to be broken off (required)", "break off; applied")
        if run.task.closeout is None:
            record.complain(
                self, f"a close-out time for {self.task} in the plan", "none; taken as nothing to leave safe"
            )

    def in_words(self, name: TaskName) -> str:
        return f"break off {name(self.task)}"
