"""PET zero is the time of this event."""

from __future__ import annotations

from typing import ClassVar, Literal

from dashboard.core.events.entry import Form
from dashboard.core.events.event import Event, TaskName


class ClockSet(Event):
    """Sets PET zero. It does nothing else: every other event needs PET zero before it is applied."""

    kind: Literal["clock"]

    needs_lead: ClassVar[bool] = True
    may_be_far_off: ClassVar[bool] = True
    form: ClassVar[Form | None] = Form("Set PET zero: suits on battery power", by_utc=True)
    spoken_alone: ClassVar[tuple[str, ...]] = (
        "pet zero", "pet 0", "pet 0 00", "pet 00 00", "pet 0 00 00", "clock", "clock start",
        "suits on battery", "suits on battery power",
    )
    undoes: ClassVar[str | None] = (
        "PET zero goes back to the clock event before it, else to the planned start: every PET of the board changes"
    )

    def in_words(self, name: TaskName) -> str:
        return "PET zero: suits on battery power"
