"""A task, a lane or everything stops with the intention to go on, and goes on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, ClassVar, Literal

from pydantic import Field, model_validator

from dashboard.core.events.entry import Form, FormField, Question, Spoken
from dashboard.core.events.event import Event, Named, TaskName, Work
from dashboard.core.events.recorder import Recorder
from dashboard.core.plan.model import Identifier, Plan


class ScopedEvent(Event):
    """Speaks of one task, one lane, or everything: exactly one of the three."""

    task: Identifier | None = Field(default=None, description="the task that stops or goes on; absent: not one task")
    lane: Identifier | None = Field(default=None, description="the lane that stops or goes on; absent: not one lane")
    all: bool = Field(default=False, description="whether everything stops or goes on")

    is_timed: ClassVar[bool] = True
    work: ClassVar[Work | None] = "within"

    @model_validator(mode="before")
    @classmethod
    def _word_all(cls, value: Any) -> Any:
        if isinstance(value, Mapping):
            for key in ("task", "lane"):
                if value.get(key) == "all":
                    rest = {name: part for name, part in value.items() if name != key}
                    return {**rest, "all": True}
        return value

    @model_validator(mode="after")
    def _exactly_one(self) -> ScopedEvent:
        if (self.task is not None) + (self.lane is not None) + self.all != 1:
            raise ValueError("exactly one of 'task', 'lane' or 'all'")
        return self

    def own_task(self) -> str | None:
        return self.task

    def names(self) -> Iterator[Named]:
        if self.task is not None:
            yield Named("task", self.task)
        if self.lane is not None:
            yield Named("lane", self.lane)

    def covers(self, lane: str) -> bool:
        """Whether it speaks of this lane as a whole.

        Parameters
        ----------
        lane
            Id of a lane.

        Returns
        -------
        bool
            False for an event that speaks of one task, even if the task is done in this lane.
        """
        return self.all or self.lane == lane

    def _lanes(self, plan: Plan) -> tuple[str, ...]:
        """The lanes of which it speaks as a whole."""
        return tuple(lane for lane in plan.lane_ids() if self.covers(lane))

    def _subject(self, name: TaskName) -> str:
        """What stops or goes on, in words."""
        return "everything" if self.all else name(self.task) if self.task else f"lane {self.lane}"


class Hold(ScopedEvent):
    """A stop with the intention to go on. Holding a task frees its lanes for other work."""

    kind: Literal["hold"]
    reason: str | None = Field(default=None, description="why it stops")

    form: ClassVar[Form | None] = Form(
        "Hold a task, a lane or all",
        (FormField("subject", "What", "scopes"), FormField("reason", "Reason", "text?")),
        asked=Question("hold_words", "subject"),
    )
    spoken: ClassVar[Spoken | None] = Spoken(
        ("hold", "held", "on hold", "put on hold", "paused", "pause"), "scope", change=r"on\s+hold"
    )
    own_words: ClassVar[str | None] = "reason"

    def apply(self, record: Recorder) -> None:
        if self.task is not None:
            record.hold_task(self, self.task, "task", self.reason)
        else:
            record.hold_lanes(self, self._lanes(record.plan), "all" if self.all else f"lane {self.lane}", self.reason)

    def in_words(self, name: TaskName) -> str:
        return f"hold {self._subject(name)}" + (f": {self.reason}" if self.reason else "")


class Resume(ScopedEvent):
    """What was held goes on.

    Resuming a lane or everything ends the hold of that scope. What was held for a reason of its own stays on hold.
    """

    kind: Literal["resume"]

    form: ClassVar[Form | None] = Form(
        "Resume a task, a lane or all", (FormField("subject", "What is on hold", "held"),), changes_plan=True
    )
    spoken: ClassVar[Spoken | None] = Spoken(("resume", "resumed", "resumes", "continued", "going on"), "scope")

    def apply(self, record: Recorder) -> None:
        if self.task is not None:
            record.resume_task(self, self.task)
        else:
            record.resume_lanes(self, self._lanes(record.plan))

    def in_words(self, name: TaskName) -> str:
        return f"resume {self._subject(name)}"
