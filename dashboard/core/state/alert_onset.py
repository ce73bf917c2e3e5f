"""Finds since when an alert stands, for alerts whose rule does not give the time.

The state is computed again at earlier instants with the same events, and searched for the first instant with the alert.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from dashboard.core.base.times import minutes_between
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.core.state.follow import follow
from dashboard.core.state.model import SortieState

JUST_BEFORE = timedelta(seconds=1)
CLOSE_ENOUGH = timedelta(minutes=1)


class Looked(NamedTuple):
    """What was found at one instant, so that a later search can start from it.

    Parameters
    ----------
    now : datetime
        The instant.
    counted : frozenset of str
        Ids of the events up to that instant.
    since : dict of str to datetime
        For each alert whose rule gives no time: since when it stood.
    """

    now: datetime
    counted: frozenset[str]
    since: dict[str, datetime]


def with_since(
    plan: Plan, events: Iterable[Event], state: SortieState, last: Looked | None = None
) -> tuple[SortieState, Looked]:
    """Fill in since when each alert stands.

    The search steps back by 1, 2, 4 and so on events until the alert does not stand. It then bisects to the event that
    raised the alert, or to within a minute when no event raised it. An interval without the alert is missed when it lies
    between two of the instants that were searched. Before PET zero the time stays unknown.

    Parameters
    ----------
    plan : Plan
        As briefed.
    events : iterable of event models
        Those that the state was made from, in any order.
    state : SortieState
        The result of `follow`.
    last : Looked or None
        The result of an earlier search. It is used only if the same events counted at its instant.

    Returns
    -------
    tuple of (SortieState, Looked)
        The state with `since_pet_min` of its alerts, and what a later search may start from.
    """
    all_events, now, zero = list(events), state.now, state.basis.pet_zero
    waiting = [alert.id for alert in state.alerts if alert.since_pet_min is None] if now > zero else []
    if last is None or not zero <= last.now <= now or _counted(all_events, last.now) != last.counted:
        last = None
    begin = zero if last is None else last.now
    marks = [begin, *sorted({event.at for event in all_events if begin < event.at < now}), now]
    looks = _Looks(plan, all_events, {now: set(waiting), **({last.now: set(last.since)} if last else {})})
    since = {}
    for name in waiting:
        found = looks.first(name, marks)
        since[name] = last.since[name] if last is not None and found == last.now else found
    alerts = [
        alert.model_copy(update={"since_pet_min": minutes_between(zero, since[alert.id])}) if alert.id in since else alert
        for alert in state.alerts
    ]
    return state.model_copy(update={"alerts": alerts}), Looked(now, _counted(all_events, now), since)


def _counted(events: Iterable[Event], now: datetime) -> frozenset[str]:
    return frozenset(event.id for event in events if event.at <= now)


class _Looks:
    """Which alerts stand at an instant. The state of each instant is computed once."""

    def __init__(self, plan: Plan, events: list[Event], known: dict[datetime, set[str]]) -> None:
        self._plan, self._events, self._known = plan, events, known

    def stands(self, name: str, instant: datetime) -> bool:
        if instant not in self._known:
            self._known[instant] = {alert.id for alert in follow(self._plan, self._events, instant).alerts}
        return name in self._known[instant]

    def first(self, name: str, marks: Sequence[datetime]) -> datetime:
        """The instant since which the alert stands. It must stand at the last of the marks."""
        high, step = len(marks) - 1, 1
        low = max(0, high - step)
        while self.stands(name, marks[low]):
            if low == 0:
                return marks[0]
            high, step = low, 2 * step
            low = max(0, high - step)
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if self.stands(name, marks[middle]) else (middle, high)
        return self._between(name, marks[low], marks[high])

    def _between(self, name: str, without: datetime, standing: datetime) -> datetime:
        """The instant between two neighbouring marks; the alert stands at the second and not at the first."""
        if standing - JUST_BEFORE <= without or not self.stands(name, standing - JUST_BEFORE):
            return standing
        while standing - without > CLOSE_ENOUGH:
            middle = without + (standing - without) / 2
            without, standing = (without, middle) if self.stands(name, middle) else (middle, standing)
        return standing
