"""One of the endings that the brief left open is taken."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Literal

from pydantic import Field

from dashboard.core.events.entry import Form, FormField, Spoken
from dashboard.core.events.event import Event, Named, TaskName
from dashboard.core.events.recorder import Recorder
from dashboard.core.plan.model import Identifier


class Choose(Event):
    """An option of an alternative is taken; the tasks of its other options leave the plan of record.

    They are not called deferred. What comes `after` such a task leaves the plan of record too.
    """

    kind: Literal["choose"]
    alternative: Identifier = Field(description="the alternative that is settled")
    option: str = Field(description="the option that is taken")

    is_decision: ClassVar[bool] = True
    needs_lead: ClassVar[bool] = True
    form: ClassVar[Form | None] = Form(
        "Choose alternative",
        (FormField("alternative", "Alternative", "alternatives"), FormField("option", "Option", "options@alternative")),
        changes_plan=True,
    )
    spoken: ClassVar[Spoken | None] = Spoken(("choose", "chooses", "chose", "chosen"), "option")
    undoes: ClassVar[str | None] = "the ending goes back to what was taken before"

    def names(self) -> Iterator[Named]:
        yield Named("alternative", self.alternative)
        yield Named("option", self.option, of=self.alternative)

    def apply(self, record: Recorder) -> None:
        record.choose(self, self.alternative, self.option)

    def in_words(self, name: TaskName) -> str:
        return f"{self.alternative}: take '{self.option}'"
