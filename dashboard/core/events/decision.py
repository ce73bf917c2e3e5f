"""What was decided, in words, and on which figures; the deferrals and trims that it names take effect."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field, JsonValue, ValidationError, field_validator

from dashboard.core.base.minutes import clock, length
from dashboard.core.events.change import Change, Lengths, Names, change_in
from dashboard.core.events.entry import Form, FormField
from dashboard.core.events.event import Event, Named, TaskName
from dashboard.core.events.recorder import Recorder
from dashboard.core.events.trim import trim

THEN = "then"  # the key, among the figures of a decision entered late, of those of its own time


class DecisionFigures(BaseModel):
    """The figures that a decision was made on. The server adds them; a sender may give its own. None: not known."""

    model_config = ConfigDict(frozen=True, extra="allow", allow_inf_nan=False)

    pet_min: float | None = None
    end_plan_pace_pet_min: float | None = None
    end_p10_pet_min: float | None = None
    end_p50_pet_min: float | None = None
    end_p90_pet_min: float | None = None
    in_by_limit: float | None = None
    limit_pet_min: float | None = None
    limit_set_by: str | None = None
    margin_min: dict[str, float | None] = Field(default_factory=dict, description="suit: margin of its limiting consumable")
    plan: str | None = Field(default=None, description="the plan of record they rest on, in words")
    events: int | None = Field(default=None, description="events that counted")
    version: int | None = Field(default=None, description="version of the board that showed them")

    @property
    def of_its_own_time(self) -> DecisionFigures | None:
        """The figures of the time of a decision that was entered late. None: it was entered in time, or they are not known."""
        then = (self.model_extra or {}).get(THEN)
        try:
            return None if then is None else DecisionFigures.model_validate(then)
        except ValidationError:
            return None

    def in_words(self) -> str:
        """The figures in words: times that are late and needs round up, what is left rounds down."""
        parts = [f"the figures of PET {clock(self.pet_min)}"] if self.pet_min is not None else []
        if self.end_p50_pet_min is not None:
            parts.append(f"end P50 PET {clock(self.end_p50_pet_min, 'up')}")
        elif self.end_plan_pace_pet_min is not None:
            parts.append(f"end at plan pace PET {clock(self.end_plan_pace_pet_min, 'up')}")
        if self.limit_pet_min is not None:
            by = f" ({self.limit_set_by})" if self.limit_set_by else ""
            parts.append(f"limit PET {clock(self.limit_pet_min)}{by}")
        if self.in_by_limit is not None:
            parts.append(f"chance in time {min(99, math.floor(100 * self.in_by_limit))} %")
        parts += [f"suit {suit} {_margin(math.floor(m))}" for suit, m in self.margin_min.items() if m is not None]
        return ", ".join(parts) or "no figures"


def _margin(whole_min: int) -> str:
    return f"{length(abs(whole_min))} {'short' if whole_min < 0 else 'in hand'}"


class Decision(Event):
    """A decision of the lead."""

    kind: Literal["decision"]
    text: str = Field(description="what was decided, in words")
    defer: Names = Field(default=(), description="tasks that it takes out of this sortie")
    trim: Lengths = Field(default_factory=dict, description="task: new whole length, minutes")
    chosen: JsonValue = Field(default=None, description="the whole change, and the figures that it was chosen by")
    figures: DecisionFigures | None = Field(default=None, description="the figures that it was made on; the server adds them")

    spoken_as: ClassVar[str] = "decided: carry on"
    is_decision: ClassVar[bool] = True
    needs_lead: ClassVar[bool] = True
    form: ClassVar[Form | None] = Form(
        "Decision",
        (
            FormField("text", "What was decided, and why", "text"),
            FormField("defer", "Defers", "many?:before", refused="kept"),
        ),
    )
    undoes: ClassVar[str | None] = (
        "what it defers and trims goes back into the plan of record; the events that came with it stay"
    )
    own_words: ClassVar[str | None] = "text"

    @field_validator("text")
    @classmethod
    def _says_what(cls, value: str) -> str:
        if not value.strip():
            raise ValueError("what was decided, in words; found none")
        return value

    def names(self) -> Iterator[Named]:
        return (Named("task", task) for task in self.gives_up())

    def defers(self) -> tuple[str, ...]:
        return self.defer

    def gives_up(self) -> tuple[str, ...]:
        return (*self.defer, *self.trim)

    def apply(self, record: Recorder) -> None:
        for task in self.defer:
            record.defer(self, task)
        for task, minutes in self.trim.items():
            trim(record, self, task, minutes)

    def change(self) -> Change:
        """Everything that was decided: what the decision itself carries, and what its events carry out."""
        chosen = change_in(self.chosen)
        return chosen.model_copy(update={"defer": self.defer, "trim": self.trim})

    def in_words(self, name: TaskName) -> str:
        effects = [f"defer {name(task)}" for task in self.defer]
        effects += [f"trim {name(task)} to {minutes:g} min" for task, minutes in self.trim.items()]
        said = f"decided: {self.text}" + (f" ({'; '.join(effects)})" if effects else "")
        return said if self.figures is None else f"{said} [on {self.figures.in_words()}]"
