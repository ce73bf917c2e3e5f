"""How the figures stood before: the sortie followed once more at earlier instants, with what was known at each."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import NamedTuple

from dashboard.core.base.times import minutes_between
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.core.state.follow import follow
from dashboard.core.state.model import SortieState

MOST_POINTS = 120
MOST_BETWEEN = 60
JUST_BEFORE = timedelta(seconds=1)


class DriftPoint(NamedTuple):
    """What the room could read off at one instant. PET minutes; positive `ahead_min` is ahead, None is unknown."""

    pet_min: float
    ahead_min: dict[str, float | None]
    end_pet_min: float | None
    limit_pet_min: float


def drift(plan: Plan, events: Iterable[Event], now: datetime, points: int = MOST_POINTS) -> list[DriftPoint]:
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
    before = [_followed(plan, all_events, instant, zero) for instant in thinned(sorted(instants), points - 1)]
    return [*before, _point(newest, zero)]


def drift_between(
    plan: Plan, events: Iterable[Event], first: datetime, last: datetime, zero: datetime, most: int = MOST_BETWEEN
) -> list[DriftPoint]:
    """As `drift`, of a stretch of a sortie that is over, and closer where a crew lane is most behind.

    A lane falls behind while a task runs over, and what is behind is deepest just before an event says better. So some
    of the points are spent near the deepest of the others: at the events there, and a second before each.

    Parameters
    ----------
    plan : Plan
        As briefed.
    events : iterable of event models
        Of the whole sortie, in any order.
    first, last : datetime
        The stretch; the last point is at `last`.
    zero : datetime
        From which `pet_min` counts.
    most : int
        Most points, at least 8.

    Returns
    -------
    list of DriftPoint
        In the order of time.
    """
    all_events = list(events)
    begin = max(first, zero)
    known = sorted({instant for event in all_events if begin <= (instant := known_from(event)) < last})
    instants = [*thinned(known, most * 3 // 4 - 1), last]
    points = {instant: _followed(plan, all_events, instant, zero) for instant in instants}
    deepest = most_behind(list(points.values()))
    if deepest is not None:
        place = next(place for place, instant in enumerate(instants) if points[instant] is deepest)
        low, high = instants[max(place - 1, 0)], instants[min(place + 1, len(instants) - 1)]
        near = [instant for instant in [*known, last] if low < instant <= high]
        closer = {*near, *(instant - JUST_BEFORE for instant in near if instant - JUST_BEFORE > low)} - set(points)
        for instant in thinned(sorted(closer), most - len(points)):
            points[instant] = _followed(plan, all_events, instant, zero)
    return [points[instant] for instant in sorted(points)]


def most_behind(points: Iterable[DriftPoint]) -> DriftPoint | None:
    """The first of the points at which a crew lane is furthest behind; None when none is behind in any."""
    behind = [point for point in points if (worse := worse_ahead_min(point)) is not None and worse < 0]
    return min(behind, key=lambda point: worse_ahead_min(point) or 0.0, default=None)


def worse_ahead_min(point: DriftPoint) -> float | None:
    """Ahead or behind of the crew lane that is worse off; None when it is known of none."""
    return min((value for value in point.ahead_min.values() if value is not None), default=None)


def _followed(plan: Plan, events: list[Event], instant: datetime, zero: datetime) -> DriftPoint:
    known = [event for event in events if known_from(event) <= instant]
    return _point(follow(plan, known, instant, draws=0), zero)


def _point(state: SortieState, zero: datetime) -> DriftPoint:
    ahead = {name: lane.ahead_min for name, lane in state.lanes.items() if lane.kind == "crew"}
    return DriftPoint(minutes_between(zero, state.now), ahead, state.end.plan_pace_pet_min, state.limit.pet_min)


def known_from(event: Event) -> datetime:
    """The instant from which an event counts: it has happened, and the room has it."""
    return max(event.at, event.came_in)


def thinned(instants: list[datetime], most: int) -> list[datetime]:
    """At most so many of them, evenly by their number, the first and the last kept."""
    if len(instants) <= most:
        return instants
    if most < 2:
        return instants[-1:] if most == 1 else []
    last = len(instants) - 1
    return [instants[round(place * last / (most - 1))] for place in range(most)]
