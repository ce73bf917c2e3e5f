"""The events of the log: one frozen model a kind, and reading one from a plain mapping.

A field that does not fit its event makes the event unreadable; whether it fits the sortie's state is
judged later, in `dashboard.core.record.fold`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    TypeAdapter,
    ValidationError,
    field_validator,
    model_validator,
)

from dashboard.core.base.problems import did_you_mean
from dashboard.core.plan.model import LONGEST_MIN, Identifier, Instant, Minutes, Task

EventId = Annotated[str, Field(min_length=1, max_length=200)]


class BaseEvent(BaseModel):
    """What every event carries. `received` and `seq` are added by the store."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    id: EventId
    at: Instant
    by: str | None = None
    note: str | None = None
    sortie: str | None = Field(default=None, description="sortie the event belongs to; None: the one being followed")
    received: Instant | None = None
    seq: int | None = None


class Clock(BaseEvent):
    kind: Literal["clock"]


class Start(BaseEvent):
    kind: Literal["start"]
    task: Identifier
    lanes: tuple[Identifier, ...] | None = Field(default=None, min_length=1)


class Done(BaseEvent):
    kind: Literal["done"]
    task: Identifier


class _Scoped(BaseEvent):
    """Speaks of one task, one lane, or everything: exactly one of the three."""

    task: Identifier | None = None
    lane: Identifier | None = None
    all: bool = False

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
    def _exactly_one(self) -> _Scoped:
        if (self.task is not None) + (self.lane is not None) + self.all != 1:
            raise ValueError("exactly one of 'task', 'lane' or 'all'")
        return self


class Hold(_Scoped):
    kind: Literal["hold"]
    reason: str | None = None


class Resume(_Scoped):
    kind: Literal["resume"]


class BreakOff(BaseEvent):
    kind: Literal["break_off"]
    task: Identifier


class Estimate(BaseEvent):
    kind: Literal["estimate"]
    task: Identifier
    remaining: Minutes = Field(ge=0, le=LONGEST_MIN)


class Defer(BaseEvent):
    kind: Literal["defer"]
    tasks: tuple[Identifier, ...] = Field(min_length=1)


class Reinstate(BaseEvent):
    kind: Literal["reinstate"]
    tasks: tuple[Identifier, ...] = Field(min_length=1)


class Trim(BaseEvent):
    kind: Literal["trim"]
    task: Identifier
    duration: Minutes = Field(ge=0, le=LONGEST_MIN)


class Insert(BaseEvent):
    kind: Literal["insert"]
    contingency: Identifier


class Choose(BaseEvent):
    kind: Literal["choose"]
    alternative: Identifier
    option: str


class Add(BaseEvent):
    kind: Literal["add"]
    task: Task
    before: Identifier | None = None


class Move(BaseEvent):
    kind: Literal["move"]
    task: Identifier
    lane: Identifier | None = None
    before: Identifier | None = None

    @model_validator(mode="after")
    def _says_something(self) -> Move:
        if self.lane is None and self.before is None:
            raise ValueError("'lane', 'before' or both")
        return self


class Reading(BaseEvent):
    kind: Literal["reading"]
    suit: Identifier
    oxygen: float | None = Field(default=None, ge=0)
    co2: float | None = Field(default=None, ge=0)
    battery: float | None = Field(default=None, ge=0)
    water: float | None = Field(default=None, ge=0)

    @model_validator(mode="after")
    def _reads_something(self) -> Reading:
        if self.oxygen is None and self.co2 is None and self.battery is None and self.water is None:
            raise ValueError("at least one of 'oxygen', 'co2', 'battery', 'water'")
        return self


class CheckMade(BaseEvent):
    kind: Literal["check"]
    check: Identifier
    lane: Identifier


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


class Decision(BaseEvent):
    kind: Literal["decision"]
    text: str
    defer: tuple[Identifier, ...] = ()
    trim: dict[str, Minutes] = Field(default_factory=dict)
    chosen: Any = None
    figures: DecisionFigures | None = None

    @field_validator("text")
    @classmethod
    def _says_what(cls, value: str) -> str:
        if not value.strip():
            raise ValueError("what was decided, in words; found none")
        return value


class Note(BaseEvent):
    kind: Literal["note"]
    text: str


class Amend(BaseEvent):
    """Changes fields of an earlier event. The fields that change stand in `changes`.

    They may also stand beside it, except `id`, `kind`, `at`, `by` and `note`, which speak of the amendment
    itself. An amendment that changes nothing else corrects the time of the event to its own `at`.
    """

    model_config = ConfigDict(frozen=True, extra="allow")
    kind: Literal["amend"]
    event: EventId
    changes: dict[str, Any] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _keeps_identity(self) -> Amend:
        for key in ("id", "kind", "seq", "received"):
            if key in self.changes:
                raise ValueError(f"'{key}' to stay as it is (withdraw the event and enter a new one instead)")
        return self

    def changed(self) -> dict[str, Any]:
        """The fields that change, with their new values as given."""
        fields = {**(self.model_extra or {}), **self.changes}
        return fields or {"at": self.at}


class Withdraw(BaseEvent):
    kind: Literal["withdraw"]
    event: EventId


class End(BaseEvent):
    kind: Literal["end"]


Event = Annotated[
    Clock | Start | Done | Hold | Resume | BreakOff | Estimate | Defer | Reinstate | Trim | Insert | Choose | Add
    | Move | Reading | CheckMade | Decision | Note | Amend | Withdraw | End,
    Field(discriminator="kind"),
]

KINDS: tuple[str, ...] = (
    "clock", "start", "done", "hold", "resume", "break_off", "estimate", "defer", "reinstate", "trim", "insert",
    "choose", "add", "move", "reading", "check", "decision", "note", "amend", "withdraw", "end",
)
# What counts as a decision, everywhere: in the debrief, in what the figures rest on, in a replay and in a rehearsal.
DECISIONS: tuple[str, ...] = ("defer", "reinstate", "trim", "insert", "choose", "add", "move", "break_off", "decision")

EVENT_ADAPTER: TypeAdapter[Any] = TypeAdapter(Event)


class UnreadableEvent(ValueError):
    """An event that cannot be understood; the text says why, in words."""


def parse_event(raw: object) -> Any:
    """Read one event from a plain mapping (as JSON gives it).

    Returns
    -------
    one of the event models of this module

    Raises
    ------
    UnreadableEvent
        With what was expected and found.
    """
    if not isinstance(raw, Mapping):
        raise UnreadableEvent(f"expected one JSON object an event; found {type(raw).__name__}")
    kind = raw.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        found = "none" if kind is None else f"'{kind}'"
        raise UnreadableEvent(f"expected a known 'kind'; found {found}. {did_you_mean(str(kind), KINDS)}")
    try:
        return EVENT_ADAPTER.validate_python(dict(raw))
    except ValidationError as wrong:
        raise UnreadableEvent(describe_validation(wrong, skip=kind)) from None


def describe_validation(wrong: ValidationError, skip: str | None = None) -> str:
    """Pydantic's complaints as one readable line, field by field."""
    parts = []
    for error in wrong.errors(include_url=False):
        place = [str(p) for p in error["loc"] if p != skip]
        parts.append(f"{'.'.join(place) or 'event'}: {complaint(error)}")
    return "; ".join(parts)


def complaint(error: Mapping[str, Any]) -> str:
    """One pydantic error as 'expected ...; found ...'."""
    kind, found = error["type"], error.get("input")
    if kind == "missing":
        return "expected a value; found none"
    if kind == "extra_forbidden":
        return "expected no such key"
    if kind == "value_error":
        return f"expected {str(error['msg']).removeprefix('Value error, ')}"
    message = str(error["msg"])
    message = message.removeprefix("Input should be ").removeprefix("Input should have ")
    return f"expected {message[:1].lower() + message[1:]}; found {_short(found)}"


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
