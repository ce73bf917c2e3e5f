"""What every kind of event has in common, and what each kind says of itself.

A kind is one class. Its fields carry their limits; the class attributes below say how it counts; its methods say which
names it uses, what it does to the record, and how the log words it. `dashboard.core.events.kinds` lists the kinds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Annotated, ClassVar, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, Field

from dashboard.core.events.entry import Form, Spoken
from dashboard.core.events.recorder import Recorder
from dashboard.core.plan.model import Identifier, Instant

EventId = Annotated[str, Field(min_length=1, max_length=200)]
NameSort = Literal["task", "lane", "suit", "contingency", "check", "alternative", "option"]
Work = Literal["begins", "within", "ends"]
TaskName = Callable[[str], str]  # a task's id -> the task as the log names it


class Named(NamedTuple):
    """A name that an event uses, and what it is the name of. An option also says `of` which alternative."""

    sort: NameSort
    name: str
    of: str = ""


class Event(BaseModel):
    """One event of the log. `received` and `seq` are added by the store, `entered_by` by the server."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    id: EventId = Field(description="name of the event; the same id twice is the same event")
    at: Instant = Field(description="when it happened")
    by: str | None = Field(default=None, description="who says it")
    entered_by: str | None = Field(
        default=None, description="whose key it was entered with, where `by` names another; given by the server alone"
    )
    note: str | None = Field(default=None, description="what is said beside it")
    sortie: str | None = Field(default=None, description="sortie the event belongs to; absent: the one being followed")
    received: Instant | None = Field(default=None, description="when the store took it in; given by the store")
    seq: int | None = Field(default=None, ge=0, description="its number in the store; given by the store")
    kind: str = Field(description="the kind of event")

    is_decision: ClassVar[bool] = False
    """It changes the plan of record. Counted as a decision in the debrief, the basis of the figures, replay and scores."""

    needs_lead: ClassVar[bool] = False
    """Only the lead may enter it. Who logs may enter all the rest, including changes that the crew made without asking."""

    work: ClassVar[Work | None] = None
    """Where it stands in the work on a task, if it reports work. Decides the order of what is logged for one instant."""

    is_timed: ClassVar[bool] = False
    """Figures are computed from its time. Dated far off the sortie, it does not count."""

    may_be_far_off: ClassVar[bool] = False
    """Its time is never compared with that of the sortie."""

    form: ClassVar[Form | None] = None
    """The fields that the entry form asks for. None: it is entered from the row of the event that it answers."""

    spoken: ClassVar[Spoken | None] = None
    """Its verbs on a log sheet. None: it has none."""

    spoken_alone: ClassVar[tuple[str, ...]] = ()
    """Whole phrases of a log sheet that mean it."""

    spoken_as: ClassVar[str] = ""
    """An example of its words on a log sheet, where they have a form of their own. A reader of log sheets knows the form."""

    undoes: ClassVar[str | None] = None
    """What withdrawing it undoes, asked about beforehand. None: nothing important."""

    own_words: ClassVar[str | None] = None
    """The field with words of the sender, which a correction may change."""

    @property
    def came_in(self) -> datetime:
        """When the room received it; where it does not say, when it happened."""
        return self.at if self.received is None else self.received

    @property
    def is_work(self) -> bool:
        """Whether it reports work: that tells whether PET zero is right."""
        return self.work is not None

    def own_task(self) -> str | None:
        """The task on which it reports work. None: it reports none, or speaks of whole lanes."""
        return None

    def names(self) -> Iterator[Named]:
        """The names that it uses, in the order in which they are judged."""
        return iter(())

    def defers(self) -> tuple[str, ...]:
        """The tasks that it takes out of the plan of record by name."""
        return ()

    def gives_up(self) -> tuple[str, ...]:
        """The tasks that lose something by it: deferred, cut short or broken off."""
        return self.defers()

    def bring_in(self, record: Recorder) -> None:
        """Make known what it brings in. Done for all events before the first one is applied.

        Parameters
        ----------
        record
            No event has been applied to it yet.
        """

    def apply(self, record: Recorder) -> None:
        """Do to the record what the event says.

        Parameters
        ----------
        record
            All earlier events have been applied to it. What does not fit is listed there as a discrepancy.
        """

    def in_words(self, name: TaskName) -> str:
        """What it says, in plain words, without its note.

        Parameters
        ----------
        name
            Gives the words for a task, from its id.

        Returns
        -------
        str
            A phrase without the time of the event.
        """
        return self.kind


class TaskEvent(Event):
    """An event that speaks of one task."""

    task: Identifier = Field(description="the task that it is about")

    def own_task(self) -> str | None:
        return self.task if self.is_work else None

    def names(self) -> Iterator[Named]:
        yield Named("task", self.task)
