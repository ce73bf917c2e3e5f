"""A recurring call was made."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Literal

from pydantic import Field

from dashboard.core.events.entry import Form, FormField
from dashboard.core.events.event import Event, Named, TaskName
from dashboard.core.events.recorder import Recorder
from dashboard.core.plan.model import Identifier


class CheckMade(Event):
    """A recurring call was made in a lane."""

    kind: Literal["check"]
    check: Identifier = Field(description="the recurring call that was made")
    lane: Identifier = Field(description="the lane that answered")

    is_timed: ClassVar[bool] = True
    form: ClassVar[Form | None] = Form(
        "Recurring call made", (FormField("check", "Call", "checks"), FormField("lane", "Lane", "lanes"))
    )

    def names(self) -> Iterator[Named]:
        yield Named("check", self.check)
        yield Named("lane", self.lane)

    def apply(self, record: Recorder) -> None:
        record.check_made(self, self.check, self.lane)

    def in_words(self, name: TaskName) -> str:
        return f"check {self.check} made, {self.lane}"
