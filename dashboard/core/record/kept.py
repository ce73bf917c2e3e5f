"""The fold of a log that grows: only what is new is applied, and the result is that of `reconcile`.

Rules of this file
------------------
1. What is new and plain (it counts, it answers nothing, it sets no clock and brings in no task, and nothing answers it) goes into
   the events that count at its place. For anything else all events are judged anew.
2. The record is kept after every `every` events, more sparsely the further back. It is taken up at the last place before which
   all events that count are the same ones, and the rest is applied anew: a late entry goes back no further than that.
3. With another PET zero, or with other added tasks, it begins anew: both concern all events.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from operator import attrgetter
from typing import NamedTuple

from dashboard.core.base.findings import Discrepancy
from dashboard.core.events.add import Add
from dashboard.core.events.ahead_of_now import ahead_discrepancies, dated_ahead
from dashboard.core.events.answers import Answer
from dashboard.core.events.clock import ClockSet
from dashboard.core.events.event import Event
from dashboard.core.events.far_off import far_off
from dashboard.core.events.names import KnownNames
from dashboard.core.plan.model import Plan
from dashboard.core.record.counted import CountedEvents, events_that_count
from dashboard.core.record.fold import added_of, begun, clocks_of, finished
from dashboard.core.record.order import Order
from dashboard.core.record.record import Record
from dashboard.core.record.writer import RecordWriter, take

EVERY = 64
SPARSER = 8
_AT = attrgetter("at")


class KeptFold:
    """Folds a log again and again as it grows. Not safe to use from several threads at once.

    Parameters
    ----------
    plan
        As briefed.
    every
        How many events are applied before the record is kept once more.
    """

    def __init__(self, plan: Plan, every: int = EVERY) -> None:
        self._plan, self._every = plan, every
        self._count: _Count | None = None
        self._fold: _Fold | None = None

    def reconcile(self, events: Iterable[Event], now: datetime) -> Record:
        """Fold the events that count at `now`, as `fold.reconcile` does.

        Parameters
        ----------
        events
            As a rule those of the last time and what came in since; other events cost a whole fold.
        now
            Aware. As a rule not before that of the last time.

        Returns
        -------
        Record
            One of its own: it may be changed.
        """
        events = list(events)
        count, self._count = self._count, None  # where an event breaks the fold, or it is interrupted, nothing is kept of it
        fold, self._fold = self._fold, None
        more = None if count is None else count.with_more(events, now)
        count = more or _Count.of(self._plan, events, now)
        if fold is None or not fold.fits(count):
            fold = _Fold(self._plan, count, self._every)
        fold.go_to(count.counted.events)
        self._count, self._fold = count, fold
        return finished(fold.record.copied(), count.counted, now)


    def record_at(self, instant: datetime) -> Record | None:
        """The record of the log that was folded last at an earlier instant, without folding it whole.

        Parameters
        ----------
        instant
            Aware.

        Returns
        -------
        Record or None
            Of one's own. Discrepancies and unread events of the log as a whole stand in it. None where something that came
            after the instant changes what counted at it: a clock, an added task, an answer; or where nothing was folded yet.
        """
        count, fold = self._count, self._fold
        if count is None or fold is None or not count.reaches_back_to(instant):
            return None
        counted = count.counted.events
        place = bisect_right(counted, instant, key=_AT)
        ahead = dated_ahead(counted[place:], instant)
        return finished(fold.record_of(place), replace(count.counted, events=counted[:place], ahead=ahead), instant)


@dataclass(frozen=True)
class _Count:
    """The events that count, what they were judged by, and what a plain new event is judged by."""

    plan: Plan
    events: list[Event]
    now: datetime
    counted: CountedEvents
    clocks: list[ClockSet]
    added: list[Add]
    order: Order
    names: KnownNames
    answered: frozenset[str]
    lasting: list[Discrepancy]
    to_come: list[Event]
    by_id: dict[str, Event]
    is_settled: bool

    @classmethod
    def of(cls, plan: Plan, events: list[Event], now: datetime) -> _Count:
        """Judge all events."""
        counted = events_that_count(plan, events, now)
        order = Order()
        order.add(counted.events)
        dated = [e for e in counted.left_out if not isinstance(e, Answer) and e.id not in counted.withdrawn_by]
        pending = [e for e in counted.left_out if isinstance(e, Answer) and e.at > now]
        to_come = [*(e for e in dated if e.at > now and e.id not in counted.set_aside), *pending]
        return cls(
            plan, events, now, counted, clocks_of(counted.events), added_of(counted.events), order,
            KnownNames.of(plan, counted.events),
            frozenset(e.event for e in counted.left_out if isinstance(e, Answer)),
            counted.discrepancies[: len(counted.discrepancies) - len(counted.ahead)],
            to_come, dict(counted.by_id), _is_settled(plan, counted),
        )

    @property
    def zero(self) -> datetime:
        """PET zero, by which times far off are judged."""
        return self.clocks[-1].at if self.clocks else self.plan.sortie.start

    def with_more(self, events: list[Event], now: datetime) -> _Count | None:
        """The same with what came in since; None: everything has to be judged anew."""
        had = len(self.events)
        if now < self.now or not self.is_settled or events[:had] != self.events:
            return None
        if any(event.at <= now for event in self.counted.left_out if event.at > self.now):
            return None
        new = events[had:]
        if not all(self._is_plain(event, now) for event in new) or len({event.id for event in new}) < len(new):
            return None
        self.by_id.update((event.id, event) for event in new)
        counted = self.counted.events
        if new:
            self.order.add(new)
            first = bisect_left(counted, min(event.at for event in new), key=_AT)
            counted = [*counted[:first], *sorted([*counted[first:], *new], key=self.order.place)]
        ahead = dated_ahead(self.to_come, now)
        found = replace(
            self.counted, events=counted, by_id=self.by_id, ahead=ahead,
            can_take_back={} if new else self.counted.can_take_back,
            discrepancies=[*self.lasting, *ahead_discrepancies(ahead, now)],
        )
        return replace(self, events=events, now=now, counted=found)

    def reaches_back_to(self, instant: datetime) -> bool:
        """Whether what counted at an instant is the beginning of what counts now."""
        return (
            self.is_settled and not self.to_come and bool(self.clocks) and instant <= self.now
            and all(event.at <= instant for event in (*self.clocks, *self.added))
            and all(event.at <= instant for event in self.counted.left_out if isinstance(event, Answer))
        )

    def _is_plain(self, event: Event, now: datetime) -> bool:
        return (
            event.at <= now
            and not isinstance(event, Answer | ClockSet | Add)
            and event.id not in self.by_id
            and event.id not in self.answered
            and self.names.unknown(event) is None
            and (event.may_be_far_off or far_off(self.plan, self.zero, event) is None)
        )


def _is_settled(plan: Plan, counted: CountedEvents) -> bool:
    """Whether a plain event cannot change how others are judged: PET zero is set, or some work agrees with the planned start.

    A `clock` event that is still to come or not understood counts in judging times far off, and such an added task in judging
    names; while there is one, everything is judged anew.
    """
    if any(isinstance(event, ClockSet | Add) and event.id not in counted.withdrawn_by for event in counted.left_out):
        return False
    events = counted.events
    return any(isinstance(event, ClockSet) for event in events) or any(
        event.is_work and event.id not in counted.set_aside and far_off(plan, plan.sortie.start, event) is None
        for event in events
    )


class _Kept(NamedTuple):
    """The record after so many events, and what its writer knows."""

    place: int
    record: Record
    in_work: dict[str, set[str]]

    def taken_up(self) -> tuple[Record, RecordWriter]:
        """A record to which further events can be applied."""
        record = self.record.copied()
        return record, RecordWriter(record, {lane: set(tasks) for lane, tasks in self.in_work.items()})


class _Fold:
    """A record to which events are applied one after another, with earlier ones to go back to."""

    def __init__(self, plan: Plan, count: _Count, every: int) -> None:
        self.record, self._writer = begun(plan, count.clocks, count.added)
        self._clocks, self._added, self._every = count.clocks, count.added, every
        self._applied: list[Event] = []
        self._kept = [self._keep(0)]

    def fits(self, count: _Count) -> bool:
        """Whether PET zero and the added tasks are still the same."""
        return self._clocks == count.clocks and self._added == count.added

    def go_to(self, events: list[Event]) -> None:
        """Have exactly these events applied."""
        same = _common(self._applied, events)
        if same < len(self._applied):
            self._go_back(same)
        for place in range(len(self._applied), len(events)):
            if place >= self._kept[-1].place + self._every:
                self._kept = _thinned([*self._kept, self._keep(place)])
            take(self._writer, events[place])
        self._applied = events

    def record_of(self, count: int) -> Record:
        """The record after the first so many of the events that were applied."""
        kept = next(one for one in reversed(self._kept) if one.place <= count)
        record, writer = kept.taken_up()
        for event in self._applied[kept.place : count]:
            take(writer, event)
        return record

    def _go_back(self, most: int) -> None:
        while self._kept[-1].place > most:
            self._kept.pop()
        self.record, self._writer = self._kept[-1].taken_up()
        self._applied = self._applied[: self._kept[-1].place]

    def _keep(self, place: int) -> _Kept:
        return _Kept(place, self.record.copied(), {lane: set(tasks) for lane, tasks in self._writer.in_work.items()})


def _common(before: Sequence[Event], events: Sequence[Event]) -> int:
    """How many events, from the first on, are the same."""
    for place, (one, other) in enumerate(zip(before, events, strict=False)):
        if one is not other and one != other:
            return place
    return min(len(before), len(events))


def _thinned(kept: list[_Kept]) -> list[_Kept]:
    """Those to keep: the first, the last, and between them fewer the further back they are."""
    newest = kept[-1].place
    found = [kept[-1]]
    for one in reversed(kept[1:-1]):
        if found[-1].place - one.place >= (newest - one.place) // SPARSER:
            found.append(one)
    return [kept[0], *reversed(found)]
