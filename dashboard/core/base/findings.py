"""Discrepancies and unread events, and the base class of every part of the state.

A discrepancy names its event, what was expected, and what was found. An unread event keeps its line and the reason.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Annotated

from pydantic import BaseModel, ConfigDict, PlainSerializer

from dashboard.core.base.times import instant_text

MOST_JOINED = 5  # findings about one event that are written out; further ones are only counted
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
    """Join the discrepancies of each event into one.

    Parameters
    ----------
    findings : iterable of Discrepancy
        Any number per event.

    Returns
    -------
    list of Discrepancy
        At most one per event, in the order in which each event first occurs. The texts of `expected` and `found` are
        joined in the same order.
    """
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
    """An event that could not be understood: its line as received, and why it could not be read."""

    line: str
    why: str
    where: str | None = None
