"""Words of the room that change nothing."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from dashboard.core.events.entry import Form, FormField
from dashboard.core.events.event import Event, TaskName


class Note(Event):
    """A note."""

    kind: Literal["note"]
    text: str = Field(description="the words of the note")

    may_be_far_off: ClassVar[bool] = True
    form: ClassVar[Form | None] = Form("Note", (FormField("text", "Text", "text"),))
    own_words: ClassVar[str | None] = "text"

    def in_words(self, name: TaskName) -> str:
        return self.text
