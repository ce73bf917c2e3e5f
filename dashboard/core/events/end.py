"""The sortie is over."""

from __future__ import annotations

from typing import ClassVar, Literal

from dashboard.core.events.entry import Form, Question
from dashboard.core.events.event import Event, TaskName
from dashboard.core.events.recorder import Recorder


class End(Event):
    """The airlock is repressurised."""

    kind: Literal["end"]

    needs_lead: ClassVar[bool] = True
    is_timed: ClassVar[bool] = True
    form: ClassVar[Form | None] = Form("Sortie over: airlock repressurised", asked=Question("end_words"))
    spoken_alone: ClassVar[tuple[str, ...]] = ("end", "end of sortie", "sortie over", "sortie ended")
    undoes: ClassVar[str | None] = "the sortie is not over: projection and advice start again"

    def apply(self, record: Recorder) -> None:
        record.end(self)

    def in_words(self, name: TaskName) -> str:
        return "sortie over"
