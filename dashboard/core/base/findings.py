"""What did not fit and what could not be understood, and the base of every part of the state.

A finding is a value: it names the event or line that it speaks of, what was expected, and what was found.
"""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from pydantic import BaseModel, ConfigDict, PlainSerializer

from dashboard.core.base.times import instant_text

StateInstant = Annotated[datetime, PlainSerializer(instant_text, when_used="json")]


class StateModel(BaseModel):
    """Base of the parts of the state."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Discrepancy(StateModel):
    """An event that was understood but does not fit; it was applied as `found` says."""

    event: str
    expected: str
    found: str
    at: StateInstant | None = None
    pet_min: float | None = None


class Unread(StateModel):
    """An event that could not be understood, kept as it came."""

    line: str
    why: str
    where: str | None = None
