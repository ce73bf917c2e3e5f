"""Finds since when an alert stands, for alerts whose rule does not give the time.

The state is computed again at earlier instants with the same events, and searched for the first instant with the alert.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from typing import NamedTuple

from dashboard.core.base.times import minutes_between
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.core.record.record import Record
from dashboard.core.state.follow import follow, state_of
from dashboard.core.state.model import SortieState

JUST_BEFORE = timedelta(seconds=1)
CLOSE_ENOUGH = timedelta(minutes=1)
GRID = timedelta(minutes=10)
SECOND = timedelta(seconds=1)


class Looked(NamedTuple):
    """What was found at one instant, so that a later search can start from it.

    Parameters
    ----------
    now : datetime
        The instant.
    events : list of Event
        The events of which it was found.
    since : dict of str to datetime
        For each alert whose rule gives no time: since when it stood, as far as that was found.
    seen : dict of datetime to set of str, or None
        What a search that was cut short has seen: instants -> the alerts that stood; None: it found all.
    """

    now: datetime
    events: list[Event]
    since: dict[str, datetime]
    seen: dict[datetime, set[str]] | None = None


def with_since(
    plan: Plan, events: Iterable[Event], state: SortieState, last: Looked | None = None,
    record_at: Callable[[datetime], Record | None] = lambda instant: None, enough: Callable[[], bool] = lambda: False,
) -> tuple[SortieState, Looked]:
    """Fill in since when each alert stands.

    The search goes back from now by whole tens of minutes of PET, until the alert does not stand. From there it goes on to the
    first event with which it stands, and bisects to the second when no event raised it. The instants that it looks at do not
    depend on now, so what it finds does not move as time goes on; an event moves it only if the alert does not stand at one of
    them any more. An interval without the alert is missed when it lies between two of them. Before PET zero the time stays
    unknown.

    Parameters
    ----------
    plan : Plan
        As briefed.
    events : iterable of event models
        Those that the state was made from, in any order.
    state : SortieState
        The result of `follow`.
    last : Looked or None
        The result of an earlier search. Of it is used what lies before the first event that came in since.
    record_at
        Gives the record of these events at an earlier instant where it has it at hand; None: it is folded anew.
    enough
        Asked before each instant that is computed. Once it says so, the times that are not found yet stay unknown, and the
        next search goes on from where this one stopped.

    Returns
    -------
    tuple of (SortieState, Looked)
        The state with `since_pet_min` of its alerts, and what a later search may start from.
    """
    all_events, now, zero = list(events), state.now, state.basis.pet_zero
    waiting = [alert.id for alert in state.alerts if alert.since_pet_min is None] if now > zero else []
    kept = None if last is None else _kept(last, all_events, zero, now)
    since: dict[str, datetime] = {}
    seen: dict[datetime, set[str]] | None = None
    if waiting:
        before = (last.seen or {}) if last is not None and kept is not None else {}
        known = {at: names for at, names in before.items() if kept is not None and at <= kept.until}
        looks = _Looks(plan, all_events, {**known, now: set(waiting)}, kept, record_at, enough)
        for name in waiting:
            with suppress(_Enough):
                since[name] = looks.stands_since(name, zero, now)
        seen = looks.seen_before(now) if len(since) < len(waiting) else None
    alerts = [
        alert.model_copy(update={"since_pet_min": minutes_between(zero, since[alert.id])}) if alert.id in since else alert
        for alert in state.alerts
    ]
    return state.model_copy(update={"alerts": alerts}), Looked(now, all_events, since, seen)


class _Enough(Exception):
    """Raised when no more instants are to be looked at."""


class _Kept(NamedTuple):
    """What holds of an earlier search: since when alerts stood that still stood at `until`; `all_of_them`: no other did."""

    until: datetime
    since: dict[str, datetime]
    all_of_them: bool


def _kept(last: Looked, events: Sequence[Event], zero: datetime, now: datetime) -> _Kept | None:
    """What still holds of an earlier search. The state of an instant does not depend on what comes in at a later one."""
    if not zero <= last.now <= now:
        return None
    new = _came_since(last.events, events)
    if new is None:
        return None
    until = min((max(zero, min(event.at, event.came_in)) - JUST_BEFORE for event in new), default=last.now)
    if until >= last.now:
        return _Kept(last.now, last.since, last.seen is None)
    return _Kept(until, {name: at for name, at in last.since.items() if at <= until}, False) if until >= zero else None


def _came_since(before: Sequence[Event], events: Sequence[Event]) -> Sequence[Event] | None:
    """The events that are not among those `before`; None: some of those are no longer there."""
    if events[: len(before)] == before:  # as a rule the same objects, so this costs next to nothing
        return events[len(before):]
    had, have = {event.id for event in before}, {event.id for event in events}
    return [event for event in events if event.id not in had] if had <= have else None


class _Looks:
    """Which alerts stand at an instant. The state of each instant is computed once."""

    def __init__(
        self, plan: Plan, events: list[Event], known: dict[datetime, set[str]], kept: _Kept | None,
        record_at: Callable[[datetime], Record | None], enough: Callable[[], bool],
    ) -> None:
        self._plan, self._events, self._known, self._kept, self._record_at = plan, events, known, kept, record_at
        self._enough = enough
        if kept is not None and kept.all_of_them:
            known.setdefault(kept.until, set(kept.since))

    def stands_since(self, name: str, zero: datetime, now: datetime) -> datetime:
        """The instant since which an alert stands that stands now."""
        kept = self._kept
        stood = None if kept is None else kept.since.get(name)
        if kept is None or (stood is None and not kept.all_of_them):
            return self.first(name, zero, zero, now)
        if stood is not None and now - kept.until <= CLOSE_ENOUGH:
            return stood
        found = self.first(name, zero, kept.until, now)
        return stood if stood is not None and found == kept.until else found

    def stands(self, name: str, instant: datetime) -> bool:
        """Whether an alert stands at an instant."""
        if self._kept is not None and name in self._kept.since and self._kept.since[name] <= instant <= self._kept.until:
            return True
        if instant not in self._known:
            if self._enough():
                raise _Enough
            record = self._record_at(instant)
            state = follow(self._plan, self._events, instant) if record is None else state_of(record, instant)
            self._known[instant] = {alert.id for alert in state.alerts}
        return name in self._known[instant]

    def seen_before(self, now: datetime) -> dict[datetime, set[str]]:
        """What was seen, but for now, of which only the alerts that are searched for are known."""
        return {at: names for at, names in self._known.items() if at < now}

    def first(self, name: str, zero: datetime, begin: datetime, now: datetime) -> datetime:
        """The instant since which the alert stands, not before `begin`. It must stand now."""
        high = now
        low = max(begin, _grid_before(zero, now))
        while self.stands(name, low):
            if low == begin:
                return begin
            high, low = low, max(begin, _grid_before(zero, low))
        for event_at in sorted({event.at for event in self._events if low < event.at < high}):
            if self.stands(name, event_at):
                return self._between(name, zero, low, event_at)
            low = event_at
        return self._between(name, zero, low, high)

    def _between(self, name: str, zero: datetime, without: datetime, standing: datetime) -> datetime:
        """The instant between two neighbouring marks; the alert stands at the second and not at the first."""
        if standing - SECOND <= without or not self.stands(name, standing - SECOND):
            return standing
        while standing - without > SECOND:
            middle = zero + timedelta(seconds=((without + (standing - without) / 2) - zero) // SECOND)
            if middle <= without:
                break
            without, standing = (without, middle) if self.stands(name, middle) else (middle, standing)
        return standing


def _grid_before(zero: datetime, instant: datetime) -> datetime:
    """The last of the instants that lie a multiple of `GRID` after PET zero, before an instant."""
    steps = (instant - zero) // GRID
    return zero + GRID * (steps if zero + GRID * steps < instant else steps - 1)
