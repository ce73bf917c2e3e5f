"""The log as a reader sees it: every event that can be read, in plain words, with what became of it."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from itertools import islice
from typing import Any

from dashboard.core.base.minutes import Towards, clock, length
from dashboard.core.base.times import minutes_between, parse_instant
from dashboard.core.events.far_off import far_off, work_agrees
from dashboard.core.plan.model import CONSUMABLE_UNITS, Plan
from dashboard.core.record.counted import sort_key
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.record.take_back import came_with, reversal
from dashboard.core.state.model import LogEntry

LATE_AFTER_MIN = 3.0


class Logbook:
    """Every readable event up to an instant, oldest first. An entry is put into words when asked for: of many, few are.

    An amended event shows its amended content; a withdrawn one stays in its place and says so. One that is dated after
    now, or far off the sortie, stands there as soon as it came in, and says so: it counts later, or never.

    Parameters
    ----------
    record : Record
        What `reconcile` made of the events at `now`.
    events : iterable of event models
        In any order.
    now : datetime
        Aware.
    """

    def __init__(self, record: Record, events: Iterable[Any], now: datetime) -> None:
        in_order = sorted(events, key=sort_key)
        self._record, self._now, self._all = record, now, in_order
        self._agreed = work_agrees(record.plan, record.pet_zero, in_order)
        self._titles = {task_id: run.task.title for task_id, run in record.runs.items()}
        self._as_came = {event.id: event for event in reversed(in_order)}
        self._events = sorted(self._shown(in_order), key=lambda event: (event.at, event.seq or 0))
        self._until_now = bisect_right(self._events, now, key=lambda event: event.at)
        self._by_id = {event.id: event for event in self._events}
        self._taken_back = {withdrawal: event for event, withdrawal in record.standing.withdrawn_by.items()}

    def __len__(self) -> int:
        return len(self._events)

    def __iter__(self) -> Iterator[LogEntry]:
        return map(self._entry, self._events)

    def newest(self, most: int) -> list[LogEntry]:
        """The last entries that are not pending, at most so many."""
        before, after = self._events[: self._until_now], self._events[self._until_now :]
        found = before[-most:] + [event for event in after if not self._is_pending(event)]
        return [self._entry(event) for event in found[-most:]]

    def pending(self, most: int) -> list[LogEntry]:
        """The first entries that count from a later time on, at most so many."""
        found = (event for event in self._events[self._until_now :] if self._is_pending(event))
        return [self._entry(event) for event in islice(found, most)]

    def of(self, event_id: str | None) -> LogEntry | None:
        """The entry of an event; None: the log does not show it."""
        event = self._by_id.get(event_id)
        return None if event is None else self._entry(event)

    def taken_back_by(self, withdrawal: str) -> LogEntry | None:
        """What a withdrawal in force takes back; None: nothing."""
        return self.of(self._taken_back.get(withdrawal))

    def _shown(self, in_order: Iterable[Any]) -> Iterator[Any]:
        """Each event once, as it reads now."""
        standing = self._record.standing
        bodies = {event.id: event for event in standing.events}
        seen: set[str] = set()
        for original in in_order:
            event = bodies.get(original.id) or standing.amended.get(original.id, original)
            came_in = original.received is not None and original.received <= self._now
            if original.id not in seen and (original.at <= self._now or came_in or self._far_off(event) is not None):
                seen.add(original.id)
                yield event

    def _far_off(self, event: Any) -> str | None:
        return far_off(self._record.plan, self._record.pet_zero, event, agreed=self._agreed)

    def _is_pending(self, event: Any) -> bool:
        return event.at > self._now and self._far_off(event) is None

    def _entry(self, event: Any) -> LogEntry:
        standing, pet_zero = self._record.standing, self._record.pet_zero
        late = None if event.received is None else minutes_between(event.at, event.received)
        along = came_with(event, standing) if event.kind == "decision" else []
        return LogEntry(
            id=event.id,
            kind=event.kind,
            at=event.at,
            received=event.received,
            pet_min=minutes_between(pet_zero, event.at),
            seq=event.seq,
            by=event.by,
            text=_answer(event, self._as_came, self._titles, pet_zero) or event_text(event, self._titles, along),
            late_min=late if late is not None and late >= LATE_AFTER_MIN else None,
            amended_by=standing.amended_by.get(event.id, []),
            withdrawn_by=standing.withdrawn_by.get(event.id),
            far_off=self._far_off(event),
            pending=self._is_pending(event),
            came_with=[one.id for one in along],
            can_take_back=event.kind == "decision" and self._can_take_back(event, along),
        )

    def _can_take_back(self, decision: Any, along: Sequence[Any]) -> bool:
        if not (decision.defer or decision.trim or along):
            return False
        found = reversal(self._record, self._all, decision.id, self._now)
        return found is not None and bool(found.steps)


def logbook(plan: Plan, events: Iterable[Any], now: datetime) -> Logbook:
    """The log of these events at `now`; with a record at hand make the `Logbook` of that."""
    everything = list(events)
    return Logbook(reconcile(plan, everything, now), everything, now)


def _answer(event: Any, by_id: dict[str, Any], titles: dict[str, str], pet_zero: datetime) -> str:
    """What an `amend` or a `withdraw` answers and changes, in words; empty for any other event and for one not known."""
    answered = by_id.get(event.event) if event.kind in ("amend", "withdraw") else None
    if answered is None:
        return ""
    named = f"{event.kind} '{event_text(answered, titles)}' of {_pet(minutes_between(pet_zero, answered.at))}"
    if event.kind == "withdraw":
        return named + (f". {event.note}" if event.note else "")
    changes = ", ".join(
        f"time to {_pet(minutes_between(pet_zero, _instant(value)))}" if field == "at" else f"{field} to {value}"
        for field, value in event.changed().items()
    )
    return f"{named}: {changes}" + (f". {event.note}" if event.note else "")


def _instant(value: Any) -> datetime:
    return value if isinstance(value, datetime) else parse_instant(value)


def _pet(minutes: float, towards: Towards = "down") -> str:
    """A PET of the log, to the minute that had begun."""
    return f"PET {clock(minutes, towards)}"


def event_text(event: Any, titles: dict[str, str], along: Sequence[Any] = ()) -> str:
    """One event in plain words, its note included, and the events that came `along` with a decision."""
    say = _TEXTS.get(event.kind)
    text = say(event, lambda task_id: f"{task_id} {titles.get(task_id, '')}".rstrip()) if say else event.kind
    with_it = f"; with it: {'; '.join(event_text(one, titles) for one in along)}" if along else ""
    return f"{text}{with_it}. {event.note}" if event.note else f"{text}{with_it}"


_Name = Callable[[str], str]


def _what(event: Any, name: _Name) -> str:
    return "everything" if event.all else name(event.task) if event.task else f"lane {event.lane}"


def _reading(event: Any, name: _Name) -> str:
    left = [f"{c} {value:g} {unit}" for c, unit in CONSUMABLE_UNITS.items() if (value := getattr(event, c)) is not None]
    return f"suit {event.suit} left: {', '.join(left)}"


def _decision(event: Any, name: _Name) -> str:
    effects = [f"defer {name(t)}" for t in event.defer] + [f"trim {name(t)} to {m:g} min" for t, m in event.trim.items()]
    said = f"decided: {event.text}" + (f" ({'; '.join(effects)})" if effects else "")
    return said if event.figures is None else f"{said} [on {_figures(event.figures)}]"


def _figures(figures: Any) -> str:
    """What a decision was made on: what was late or needed rounds up, what is left down."""
    parts = [f"the figures of {_pet(figures.pet_min)}"] if figures.pet_min is not None else []
    if figures.end_p50_pet_min is not None:
        parts.append(f"end P50 {_pet(figures.end_p50_pet_min, 'up')}")
    elif figures.end_plan_pace_pet_min is not None:
        parts.append(f"end at plan pace {_pet(figures.end_plan_pace_pet_min, 'up')}")
    if figures.limit_pet_min is not None:
        by = f" ({figures.limit_set_by})" if figures.limit_set_by else ""
        parts.append(f"limit {_pet(figures.limit_pet_min)}{by}")
    if figures.in_by_limit is not None:
        parts.append(f"{min(99, math.floor(100 * figures.in_by_limit))} % sure")
    parts += [f"suit {suit} {_margin(math.floor(m))}" for suit, m in figures.margin_min.items() if m is not None]
    return ", ".join(parts) or "no figures"


def _margin(whole_min: int) -> str:
    return f"{length(abs(whole_min))} {'short' if whole_min < 0 else 'in hand'}"


_TEXTS: dict[str, Callable[[Any, _Name], str]] = {
    "clock": lambda e, name: "PET zero: suits on battery power",
    "start": lambda e, name: f"start {name(e.task)}" + (f" in {', '.join(e.lanes)}" if e.lanes else ""),
    "done": lambda e, name: f"done {name(e.task)}",
    "hold": lambda e, name: f"hold {_what(e, name)}" + (f": {e.reason}" if e.reason else ""),
    "resume": lambda e, name: f"resume {_what(e, name)}",
    "break_off": lambda e, name: f"break off {name(e.task)}",
    "estimate": lambda e, name: f"{name(e.task)}: {e.remaining:g} min remain by estimate",
    "defer": lambda e, name: f"defer {', '.join(name(t) for t in e.tasks)}",
    "reinstate": lambda e, name: f"reinstate {', '.join(name(t) for t in e.tasks)}",
    "trim": lambda e, name: f"trim {name(e.task)} to {e.duration:g} min",
    "insert": lambda e, name: f"insert contingency {e.contingency}",
    "choose": lambda e, name: f"{e.alternative}: take '{e.option}'",
    "add": lambda e, name: f"add {e.task.id} {e.task.title} ({e.task.likely_min:g} min, {', '.join(e.task.lanes)})",
    "move": lambda e, name: f"move {name(e.task)}" + (f" to {e.lane}" if e.lane else "")
    + (f" before {name(e.before)}" if e.before else ""),
    "reading": _reading,
    "check": lambda e, name: f"check {e.check} made, {e.lane}",
    "decision": _decision,
    "note": lambda e, name: e.text,
    "amend": lambda e, name: f"amend {e.event}: {', '.join(e.changed())}",
    "withdraw": lambda e, name: f"withdraw {e.event}",
    "end": lambda e, name: "sortie over",
}
