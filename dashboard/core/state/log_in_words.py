"""The log as readers see it: every readable event in words, marked when it is late, amended, withdrawn or pending."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import islice

from dashboard.core.base.minutes import clock
from dashboard.core.base.times import minutes_between
from dashboard.core.events.answers import Answer
from dashboard.core.events.decision import Decision
from dashboard.core.events.event import Event
from dashboard.core.events.far_off import far_off, work_agrees
from dashboard.core.plan.model import Plan
from dashboard.core.record.counted import sort_key
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.record.take_back import came_with, reversal
from dashboard.core.state.model import LogEntry

LATE_AFTER_MIN = 3.0


class Logbook:
    """Every readable event up to an instant, oldest first. The text of an entry is made only when it is asked for.

    An amended event shows its amended content. A withdrawn event keeps its place and is marked. An event dated after `now`
    (it counts later) or far off the sortie (it never counts) is shown from when it was received, and is marked.

    Parameters
    ----------
    record : Record
        The result of `reconcile` for these events at `now`.
    events : iterable of event models
        In any order.
    now : datetime
        Aware.
    """

    def __init__(self, record: Record, events: Iterable[Event], now: datetime) -> None:
        in_order = sorted(events, key=sort_key)
        self._record, self._now, self._all = record, now, in_order
        self._agreed = work_agrees(record.plan, record.pet_zero, in_order)
        self._titles = {task_id: run.task.title for task_id, run in record.runs.items()}
        self._as_came = {event.id: event for event in reversed(in_order)}
        self._events = sorted(self._shown(in_order), key=lambda event: (event.at, event.seq or 0))
        self._until_now = bisect_right(self._events, now, key=lambda event: event.at)
        self._by_id = {event.id: event for event in self._events}
        self._taken_back = {withdrawal: event for event, withdrawal in record.counted.withdrawn_by.items()}

    def __len__(self) -> int:
        return len(self._events)

    def __iter__(self) -> Iterator[LogEntry]:
        return map(self._entry, self._events)

    def newest(self, most: int) -> list[LogEntry]:
        """The last entries that are not pending.

        Parameters
        ----------
        most
            The largest number of entries, at least 1.

        Returns
        -------
        list of LogEntry
            Oldest first.
        """
        before, after = self._events[: self._until_now], self._events[self._until_now :]
        found = before[-most:] + [event for event in after if not self._is_pending(event)]
        return [self._entry(event) for event in found[-most:]]

    def pending(self, most: int) -> list[LogEntry]:
        """The first pending entries: they count from a later time.

        Parameters
        ----------
        most
            The largest number of entries.

        Returns
        -------
        list of LogEntry
            In order of the time from which they count.
        """
        found = (event for event in self._events[self._until_now :] if self._is_pending(event))
        return [self._entry(event) for event in islice(found, most)]

    def of(self, event_id: str | None) -> LogEntry | None:
        """The entry of an event.

        Parameters
        ----------
        event_id
            None: there is no event.

        Returns
        -------
        LogEntry or None
            None when the log does not show the event.
        """
        event = None if event_id is None else self._by_id.get(event_id)
        return None if event is None else self._entry(event)

    def taken_back_by(self, withdrawal: str) -> LogEntry | None:
        """The entry that a withdrawal takes back.

        Parameters
        ----------
        withdrawal
            Id of the withdrawing event.

        Returns
        -------
        LogEntry or None
            None when the withdrawal is not in force, or the event is not shown.
        """
        return self.of(self._taken_back.get(withdrawal))

    def _shown(self, in_order: Iterable[Event]) -> Iterator[Event]:
        """Each event once, with its amendments."""
        counted = self._record.counted
        bodies = {event.id: event for event in counted.events}
        seen: set[str] = set()
        for original in in_order:
            event = bodies.get(original.id) or counted.amended.get(original.id, original)
            came_in = original.received is not None and original.received <= self._now
            if original.id not in seen and (original.at <= self._now or came_in or self._far_off(event) is not None):
                seen.add(original.id)
                yield event

    def _far_off(self, event: Event) -> str | None:
        return far_off(self._record.plan, self._record.pet_zero, event, agreed=self._agreed)

    def _is_pending(self, event: Event) -> bool:
        return event.at > self._now and self._far_off(event) is None

    def _entry(self, event: Event) -> LogEntry:
        counted, pet_zero = self._record.counted, self._record.pet_zero
        late = None if event.received is None else minutes_between(event.at, event.received)
        along = came_with(event, counted) if isinstance(event, Decision) else []
        return LogEntry(
            id=event.id,
            kind=event.kind,
            at=event.at,
            received=event.received,
            pet_min=minutes_between(pet_zero, event.at),
            seq=event.seq,
            by=event.by,
            entered_by=event.entered_by,
            text=_answer(event, self._as_came, self._titles, pet_zero) or event_text(event, self._titles, along),
            late_min=late if late is not None and late >= LATE_AFTER_MIN else None,
            amended_by=counted.amended_by.get(event.id, []),
            withdrawn_by=counted.withdrawn_by.get(event.id),
            far_off=self._far_off(event),
            pending=self._is_pending(event),
            came_with=[one.id for one in along],
            can_take_back=isinstance(event, Decision) and self._can_take_back(event, along),
        )

    def _can_take_back(self, decision: Decision, along: Sequence[Event]) -> bool:
        if not (decision.defer or decision.trim or along):
            return False
        found = reversal(self._record, self._all, decision.id, self._now)
        return found is not None and bool(found.steps)


def logbook(plan: Plan, events: Iterable[Event], now: datetime) -> Logbook:
    """The log of these events at `now`. When a record already exists, make its `Logbook` directly.

    Parameters
    ----------
    plan
        As briefed.
    events
        In any order.
    now
        Aware.

    Returns
    -------
    Logbook
    """
    everything = list(events)
    return Logbook(reconcile(plan, everything, now), everything, now)


def _answer(event: Event, by_id: Mapping[str, Event], titles: Mapping[str, str], pet_zero: datetime) -> str:
    """What an `amend` or `withdraw` does to its event, in words; empty for other kinds, and when that event is unknown."""
    answered = by_id.get(event.event) if isinstance(event, Answer) else None
    if answered is None or not isinstance(event, Answer):
        return ""

    def pet(instant: datetime) -> str:
        return f"PET {clock(minutes_between(pet_zero, instant))}"

    said = event.answering(f"'{event_text(answered, titles)}' of {pet(answered.at)}", pet)
    return f"{said}. {event.note}" if event.note else said


def event_text(event: Event, titles: Mapping[str, str], along: Sequence[Event] = ()) -> str:
    """One event in words, with its note.

    Parameters
    ----------
    event : Event
    titles : mapping of str to str
        Title of each task.
    along : sequence of Event
        Events that were recorded together with a decision; they are added to the text.

    Returns
    -------
    str
    """
    text = event.in_words(lambda task_id: f"{task_id} {titles.get(task_id, '')}".rstrip())
    with_it = f"; with it: {'; '.join(event_text(one, titles) for one in along)}" if along else ""
    return f"{text}{with_it}. {event.note}" if event.note else f"{text}{with_it}"
