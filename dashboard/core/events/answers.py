"""Answers to an earlier event of the log: it is amended or withdrawn. Nothing is ever removed.

Answers are applied before anything else (`dashboard.core.record.counted`). Entering one needs what entering the event
that it answers needs.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from datetime import datetime
from typing import Any, ClassVar, Literal

from pydantic import ConfigDict, Field, model_validator

from dashboard.core.base.times import parse_instant
from dashboard.core.events.event import Event, EventId, TaskName


class Answer(Event):
    """Answers the event that `event` names."""

    event: EventId = Field(description="id of the earlier event that it answers")

    may_be_far_off: ClassVar[bool] = True

    @abstractmethod
    def answering(self, said: str, pet: Callable[[datetime], str]) -> str:
        """What it makes of the event that it answers, in words.

        Parameters
        ----------
        said
            The event that it answers, in words with its time.
        pet
            Gives an instant as PET, in words.

        Returns
        -------
        str
            For example ``withdraw 'done T010' of PET 1:05``.
        """


class Amend(Answer):
    """Changes fields of an earlier event. The fields that change stand in `changes`.

    They may also stand beside it, except `id`, `kind`, `at`, `by` and `note`, which speak of the amendment
    itself. An amendment that changes nothing else corrects the time of the event to its own `at`.
    """

    model_config = ConfigDict(frozen=True, extra="allow")
    kind: Literal["amend"]
    changes: dict[str, Any] = Field(default_factory=dict, description="the fields that change, with their new values")

    @model_validator(mode="after")
    def _keeps_identity(self) -> Amend:
        for key in ("id", "kind", "seq", "received", "entered_by"):
            if key in self.changes:
                raise ValueError(f"'{key}' to stay as it is (withdraw the event and enter a new one instead)")
        if "at" in self.changes:
            try:
                parse_instant(self.changes["at"])
            except ValueError as wrong:
                raise ValueError(f"'at' in 'changes' to be {wrong}") from None
        return self

    def changed(self) -> dict[str, Any]:
        """The fields that change, with their new values as given."""
        fields = {**(self.model_extra or {}), **self.changes}
        return fields or {"at": self.at}

    def answering(self, said: str, pet: Callable[[datetime], str]) -> str:
        changes = ", ".join(
            f"time to {pet(parse_instant(value))}" if field == "at"
            else f"{field} to {value}"
            for field, value in self.changed().items()
        )
        return f"amend {said}: {changes}"

    def in_words(self, name: TaskName) -> str:
        return f"amend {self.event}: {', '.join(self.changed())}"


class Withdraw(Answer):
    """Takes an earlier event back: it does not count."""

    kind: Literal["withdraw"]

    def answering(self, said: str, pet: Callable[[datetime], str]) -> str:
        return f"withdraw {said}"

    def in_words(self, name: TaskName) -> str:
        return f"withdraw {self.event}"
