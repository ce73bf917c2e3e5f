"""The log as readers see it: every readable event in words, marked when it is late, amended, withdrawn or pending."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from functools import cached_property
from itertools import islice
from operator import attrgetter

from dashboard.core.base.minutes import clock
from dashboard.core.base.times import minutes_between
from dashboard.core.events.answers import Answer
from dashboard.core.events.clock import ClockSet
from dashboard.core.events.decision import Decision
from dashboard.core.events.event import Event
from dashboard.core.events.far_off import far_off, work_agrees
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.order import sort_key
from dashboard.core.record.record import Record
from dashboard.core.record.take_back import came_with, is_in_force, reversal
from dashboard.core.state.model import LogEntry

LATE_AFTER_MIN = 3.0
_AT = attrgetter("at")


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
        self._record, self._now, self._all = record, now, list(events)
        self._titles = {task_id: run.task.title for task_id, run in record.runs.items()}
        self._taken_back = {withdrawal: event for event, withdrawal in record.counted.withdrawn_by.items()}
        self._beside = sorted(filter(self._is_shown, record.counted.left_out), key=self._place)
        self._hidden = {one for one, event in record.counted.amended.items() if not self._is_shown(event)}

    def __len__(self) -> int:
        counted = self._record.counted.events
        hidden = sum(event.id in self._hidden for event in counted) if self._hidden else 0
        return len(counted) - hidden + len(self._beside)

    def __iter__(self) -> Iterator[LogEntry]:
        return map(self._entry, self._last(len(self._record.counted.events)))

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
        shown = self._last(most)
        until_now = bisect_right(shown, self._now, key=_AT)
        found = shown[:until_now][-most:] + [event for event in shown[until_now:] if not self._is_pending(event)]
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
        found = (event for event in self._beside if self._is_pending(event))
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
        counted = self._record.counted
        if event_id is None or event_id not in counted.by_id:
            return None
        event = counted.amended.get(event_id, counted.by_id[event_id])
        return self._entry(event) if self._is_shown(event) else None

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

    def _last(self, most: int) -> list[Event]:
        """The last of the events that count, at least `most` where there are as many, and all others; in order."""
        counted = self._record.counted.events
        first = max(0, len(counted) - most - len(self._hidden))
        while first > 0 and counted[first - 1].at == counted[first].at:  # in one instant the log has another order
            first -= 1
        shown = (event for event in counted[first:] if event.id not in self._hidden)
        return sorted([*shown, *self._beside], key=self._place)

    def _place(self, event: Event) -> tuple[datetime, int, tuple[datetime, int, str]]:
        """By the time that is shown, then as the events came."""
        return event.at, event.seq or 0, sort_key(self._record.counted.by_id[event.id])

    def _is_shown(self, event: Event) -> bool:
        original = self._record.counted.by_id[event.id]
        came_in = original.received is not None and original.received <= self._now
        return original.at <= self._now or came_in or self._far_off(event) is not None

    def _far_off(self, event: Event) -> str | None:
        plan, pet_zero = self._record.plan, self._record.pet_zero
        said = far_off(plan, pet_zero, event)
        if said is None or not isinstance(event, ClockSet):
            return said
        return far_off(plan, pet_zero, event, agreed=self._agreed)

    @cached_property
    def _agreed(self) -> bool:
        """Whether most of the work of the log agrees with PET zero: only asked of a `clock` event far off the planned start."""
        return work_agrees(self._record.plan, self._record.pet_zero, self._record.counted.by_id.values())

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
            text=_answer(event, counted.by_id, self._titles, pet_zero) or event_text(event, self._titles, along),
            late_min=late if late is not None and late >= LATE_AFTER_MIN else None,
            amended_by=counted.amended_by.get(event.id, []),
            withdrawn_by=counted.withdrawn_by.get(event.id),
            far_off=self._far_off(event),
            pending=self._is_pending(event),
            came_with=[one.id for one in along],
            can_take_back=isinstance(event, Decision) and self._can_take_back(event, along),
        )

    def _can_take_back(self, decision: Decision, along: Sequence[Event]) -> bool:
        known = self._record.counted.can_take_back
        if decision.id not in known:
            found = None
            if decision.id not in self._record.counted.withdrawn_by and is_in_force(self._record, decision, along):
                found = reversal(self._record, self._all, decision.id, self._now)
            known[decision.id] = found is not None and bool(found.steps)
        return known[decision.id]


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
