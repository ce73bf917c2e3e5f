"""What did not fit and what could not be understood, and the base of every part of the state.

A finding is a value: it names the event or line that it speaks of, what was expected, and what was found.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Annotated

from pydantic import BaseModel, ConfigDict, PlainSerializer

from dashboard.core.base.times import instant_text

MOST_JOINED = 5  # complaints of one event that are said in full
StateInstant = Annotated[datetime, PlainSerializer(instant_text, when_used="json")]


class StateModel(BaseModel):
    """Base of the parts of the state."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Discrepancy(StateModel):
    """An event that was understood but does not fit; it was applied as `found` says. At most one per event."""

    event: str
    expected: str
    found: str
    at: StateInstant | None = None
    pet_min: float | None = None


def one_per_event(findings: Iterable[Discrepancy]) -> list[Discrepancy]:
    """At most one discrepancy per event, in the order of the first: what was expected and found of it, in the same order."""
    by_event: dict[str, list[Discrepancy]] = {}
    for one in findings:
        by_event.setdefault(one.event, []).append(one)
    return [of_event[0] if len(of_event) == 1 else _joined(of_event) for of_event in by_event.values()]


def _joined(of_event: list[Discrepancy]) -> Discrepancy:
    pairs = list(dict.fromkeys((one.expected, one.found) for one in of_event))
    shown, more = pairs[:MOST_JOINED], len(pairs) - MOST_JOINED
    rest = [f"and {more} more"] if more > 0 else []
    return Discrepancy(
        event=of_event[0].event,
        expected="; ".join([*(expected for expected, _ in shown), *rest]),
        found="; ".join([*(found for _, found in shown), *rest]),
        at=next((one.at for one in of_event if one.at is not None), None),
        pet_min=next((one.pet_min for one in of_event if one.pet_min is not None), None),
    )


class Unread(StateModel):
    """An event that could not be understood, kept as it came."""

    line: str
    why: str
    where: str | None = None
