"""Figures of earlier instants: computed again at each instant, with the events known at that instant."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import NamedTuple

from dashboard.core.base.times import minutes_between
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.kept import KeptFold
from dashboard.core.record.record import Record
from dashboard.core.state.plan_pace_figures import figures_of

MOST_POINTS = 120
MOST_BETWEEN = 60
JUST_BEFORE = timedelta(seconds=1)


class DriftPoint(NamedTuple):
    """The figures that the board showed at one instant.

    Parameters
    ----------
    pet_min : float
        The instant.
    ahead_min : dict of str to float or None
        For each crew lane; positive is ahead, None is unknown.
    end_pet_min : float or None
        Projected end at plan pace.
    limit_pet_min : float
    """

    pet_min: float
    ahead_min: dict[str, float | None]
    end_pet_min: float | None
    limit_pet_min: float


def drift(plan: Plan, events: Iterable[Event], now: datetime, points: int = MOST_POINTS) -> list[DriftPoint]:
    """Ahead or behind of each crew lane, projected end at plan pace, and limit, from PET zero to `now`.

    An event counts from the instant at which it was known, see `known_from`. The last point is at `now` with all events,
    so that it agrees with the current state.

    Parameters
    ----------
    plan : Plan
        As briefed.
    events : iterable of event models
        In any order.
    now : datetime
        Aware.
    points : int
        Maximum number of points, at least 2. If more instants are known, an even selection is taken.

    Returns
    -------
    list of DriftPoint
        In order of time. `pet_min` counts from PET zero as known at `now`. Empty before PET zero.
    """
    all_events = list(events)
    newest = reconcile(plan, all_events, now)
    zero = newest.pet_zero
    if now < zero:
        return []
    instants = {instant for event in all_events if zero <= (instant := known_from(event)) < now}
    before = _points_at(plan, all_events, thinned(sorted(instants), points - 1), zero)
    return [*before.values(), _point(newest, now, zero)]


def drift_between(
    plan: Plan, events: Iterable[Event], first: datetime, last: datetime, zero: datetime, most: int = MOST_BETWEEN
) -> list[DriftPoint]:
    """As `drift`, for an interval of a finished sortie, with more points where a crew lane is furthest behind.

    A lane falls further behind while a task overruns, and is furthest behind just before the next event. Therefore a
    quarter of the points is placed around the point that is furthest behind: at the events there, and one second before
    each of them.

    Parameters
    ----------
    plan : Plan
        As briefed.
    events : iterable of event models
        Of the whole sortie, in any order.
    first, last : datetime
        The interval; the last point is at `last`.
    zero : datetime
        PET zero, from which `pet_min` counts.
    most : int
        Maximum number of points, at least 8.

    Returns
    -------
    list of DriftPoint
        In order of time.
    """
    all_events = list(events)
    begin = max(first, zero)
    known = sorted({instant for event in all_events if begin <= (instant := known_from(event)) < last})
    instants = [*thinned(known, most * 3 // 4 - 1), last]
    points = _points_at(plan, all_events, instants, zero)
    deepest = most_behind(list(points.values()))
    if deepest is not None:
        place = next(place for place, instant in enumerate(instants) if points[instant] is deepest)
        low, high = instants[max(place - 1, 0)], instants[min(place + 1, len(instants) - 1)]
        near = [instant for instant in [*known, last] if low < instant <= high]
        closer = {*near, *(instant - JUST_BEFORE for instant in near if instant - JUST_BEFORE > low)} - set(points)
        points |= _points_at(plan, all_events, thinned(sorted(closer), most - len(points)), zero)
    return [points[instant] for instant in sorted(points)]


def most_behind(points: Iterable[DriftPoint]) -> DriftPoint | None:
    """The first point at which a crew lane is furthest behind.

    Parameters
    ----------
    points
        In order of time.

    Returns
    -------
    DriftPoint or None
        None when no crew lane is behind at any point.
    """
    behind = [point for point in points if (worse := worse_ahead_min(point)) is not None and worse < 0]
    return min(behind, key=lambda point: worse_ahead_min(point) or 0.0, default=None)


def worse_ahead_min(point: DriftPoint) -> float | None:
    """Ahead or behind of the crew lane that is furthest behind.

    Parameters
    ----------
    point
        The figures of one instant.

    Returns
    -------
    float or None
        Minutes, positive is ahead; None when no lane has a known value.
    """
    return min((value for value in point.ahead_min.values() if value is not None), default=None)


def _points_at(plan: Plan, events: list[Event], instants: Iterable[datetime], zero: datetime) -> dict[datetime, DriftPoint]:
    """The point at each of these instants, which are in order: the log is then folded once, and not once for each of them."""
    fold, came = KeptFold(plan), sorted(events, key=known_from)
    points = {}
    for instant in instants:
        known = came[: bisect_right(came, instant, key=known_from)]
        points[instant] = _point(fold.reconcile(known, instant), instant, zero)
    return points


def _point(record: Record, instant: datetime, zero: datetime) -> DriftPoint:
    figures = figures_of(record)
    return DriftPoint(minutes_between(zero, instant), dict(figures.ahead_min), figures.end_pet_min, figures.limit_pet_min)


def known_from(event: Event) -> datetime:
    """The instant from which an event was known: the later of when it happened and when it was received.

    Parameters
    ----------
    event
        An event that was never received counts from when it happened.

    Returns
    -------
    datetime
        Aware.
    """
    return max(event.at, event.came_in)


def thinned(instants: list[datetime], most: int) -> list[datetime]:
    """An even selection of the instants.

    Parameters
    ----------
    instants : list of datetime
        In order.
    most : int
        Maximum number of instants to keep.

    Returns
    -------
    list of datetime
        With the first and the last instant; only the last when `most` is 1.
    """
    if len(instants) <= most:
        return instants
    if most < 2:
        return instants[-1:] if most == 1 else []
    last = len(instants) - 1
    return [instants[round(place * last / (most - 1))] for place in range(most)]
