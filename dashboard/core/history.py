"""How the figures stood before: the sortie followed once more at earlier instants, with what was known at each."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, NamedTuple

from dashboard.core.plan import Plan
from dashboard.core.state import follow
from dashboard.core.times import minutes_between

MOST_POINTS = 120


class DriftPoint(NamedTuple):
    """What the room could read off at one instant. PET minutes; positive `ahead_min` is ahead, None is unknown."""

    pet_min: float
    ahead_min: dict[str, float | None]
    end_pet_min: float | None
    limit_pet_min: float


def drift(plan: Plan, events: Iterable[Any], now: datetime, points: int = MOST_POINTS) -> list[DriftPoint]:
    """Ahead or behind of each crew lane, projected end at plan pace, and limit, from PET zero to `now`.

    An event counts from the instant at which it was known: when it was received, or when it happened where that is not
    said or lies later. The last point is at `now` with all events, so that it agrees with the state of now.

    Parameters
    ----------
    plan : Plan
        As briefed.
    events : iterable of event models
        In any order.
    now : datetime
        Aware.
    points : int
        Most points, at least 2. Where more instants are known, some are left out evenly.

    Returns
    -------
    list of DriftPoint
        In the order of time, `pet_min` counted from PET zero as it is known now. Empty before PET zero.
    """
    all_events = list(events)
    newest = follow(plan, all_events, now, draws=0)
    zero = newest.basis.pet_zero
    if now < zero:
        return []
    instants = {instant for event in all_events if zero <= (instant := known_from(event)) < now}
    found = []
    for instant in [*thinned(sorted(instants), points - 1), now]:
        known = [event for event in all_events if known_from(event) <= instant]
        state = newest if instant == now else follow(plan, known, instant, draws=0)
        ahead = {name: lane.ahead_min for name, lane in state.lanes.items() if lane.kind == "crew"}
        found.append(
            DriftPoint(minutes_between(zero, instant), ahead, state.end.plan_pace_pet_min, state.limit.pet_min)
        )
    return found


def known_from(event: Any) -> datetime:
    """The instant from which an event counts: it has happened, and the room has it."""
    instant: datetime = event.at if event.received is None else max(event.at, event.received)
    return instant


def thinned(instants: list[datetime], most: int) -> list[datetime]:
    """At most so many of them, evenly by their number, the first and the last kept."""
    if len(instants) <= most:
        return instants
    if most < 2:
        return instants[-1:] if most == 1 else []
    last = len(instants) - 1
    return [instants[round(place * last / (most - 1))] for place in range(most)]
