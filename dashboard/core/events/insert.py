"""A contingency happens: its steps go into the plan of record."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Literal

from pydantic import Field

from dashboard.core.events.entry import Form, FormField, Question, Spoken
from dashboard.core.events.event import Event, Named, TaskName
from dashboard.core.events.recorder import Recorder
from dashboard.core.plan.model import Identifier


class Insert(Event):
    """The tasks of a contingency join the plan of record at once; what it holds is put on hold.

    What it holds is projected to go on after its tasks. The log says when it really does (`resume`).
    """

    kind: Literal["insert"]
    contingency: Identifier = Field(description="the contingency that happens")

    is_decision: ClassVar[bool] = True
    needs_lead: ClassVar[bool] = True
    is_timed: ClassVar[bool] = True
    form: ClassVar[Form | None] = Form(
        "Insert a contingency",
        (FormField("contingency", "Contingency", "contingencies"),),
        changes_plan=True,
        asked=Question("insert_words", "contingency"),
    )
    spoken: ClassVar[Spoken | None] = Spoken(
        ("insert", "inserts", "inserted", "inserting"), "contingency", change=r"insert\w*"
    )
    undoes: ClassVar[str | None] = (
        "the tasks of the contingency leave the plan of record, and what it held is no longer held by it"
    )

    def names(self) -> Iterator[Named]:
        yield Named("contingency", self.contingency)

    def apply(self, record: Recorder) -> None:
        record.insert(self, self.contingency)

    def in_words(self, name: TaskName) -> str:
        return f"insert contingency {self.contingency}"
