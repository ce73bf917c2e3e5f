"""The fold: the events that count become a `Record`, in their order.

`reconcile(plan, events, now)` is pure. Each event is applied by its own class, through the verbs of `writer.py` and the
table of the life cycle. What does not fit is applied as the room meant it and listed, one discrepancy per event.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from dashboard.core.base.findings import one_per_event
from dashboard.core.base.minutes import length
from dashboard.core.base.times import minutes_between
from dashboard.core.events.add import Add
from dashboard.core.events.clock import ClockSet
from dashboard.core.events.event import Event
from dashboard.core.events.start import Start
from dashboard.core.plan.model import Plan
from dashboard.core.record.counted import CountedEvents, events_that_count
from dashboard.core.record.record import Record, briefed_order, out_of_plan, run_of
from dashboard.core.record.writer import RecordWriter, take

LATE_START_MIN = 30.0


def reconcile(plan: Plan, events: Iterable[Event], now: datetime) -> Record:
    """Fold the events that count at `now` into a `Record`.

    Parameters
    ----------
    plan
        As briefed.
    events
        In any order; the result does not depend on it.
    now
        Aware. Events after it do not count yet.

    Returns
    -------
    Record
        Its PET stops at the end of the sortie.
    """
    counted = events_that_count(plan, events, now)
    record, writer = begun(plan, clocks_of(counted.events), added_of(counted.events))
    for event in counted.events:
        take(writer, event)
    return finished(record, counted, now)


def clocks_of(events: Iterable[Event]) -> list[ClockSet]:
    """The events that set PET zero.

    Parameters
    ----------
    events
        Those that count, in order.

    Returns
    -------
    list of ClockSet
        In the same order; the last one sets PET zero.
    """
    return [event for event in events if isinstance(event, ClockSet)]


def added_of(events: Iterable[Event]) -> list[Add]:
    """The events that bring in tasks.

    Parameters
    ----------
    events
        Those that count, in order.

    Returns
    -------
    list of Add
        In the same order.
    """
    return [event for event in events if isinstance(event, Add)]


def begun(plan: Plan, clocks: Sequence[ClockSet], added: Sequence[Add]) -> tuple[Record, RecordWriter]:
    """A record before the first event is applied, and what writes into it.

    Parameters
    ----------
    plan
        As briefed.
    clocks, added
        Of the events that count, those that concern all others whatever their order.

    Returns
    -------
    tuple of (Record, RecordWriter)
        The record is `finished` once all events were applied.
    """
    record = Record(
        plan=plan,
        counted=CountedEvents([], [], []),
        pet_zero=clocks[-1].at if clocks else plan.sortie.start,
        pet_zero_from="clock event" if clocks else "planned start",
        pet_min=0.0,
        pet_zero_doubt=None,
        runs={task.id: run_of(task, "briefed") for task in plan.tasks},
        order=briefed_order(plan),
    )
    writer = RecordWriter(record)
    for clock in clocks[1:]:
        writer.complain(clock, "one clock event", "another one; the last sets PET zero")
    for event in added:
        event.bring_in(writer)  # an added task is known to every event, whatever their order
    return record, writer


def finished(record: Record, counted: CountedEvents, now: datetime) -> Record:
    """The same record at an instant, once all events were applied.

    Parameters
    ----------
    record
        Filled in place.
    counted
        The events that were applied, and what became of the others.
    now
        Aware.

    Returns
    -------
    Record
        Its PET stops at the end of the sortie.
    """
    record.counted = counted
    pet_min = minutes_between(record.pet_zero, now)
    if record.pet_zero_from == "planned start":
        record.pet_zero_doubt = _zero_doubt(record.plan, counted.events, pet_min)
    record.pet_min = pet_min if record.end_pet_min is None else min(pet_min, record.end_pet_min)
    record.out_because = out_of_plan(record)
    record.discrepancies = one_per_event([*counted.discrepancies, *record.discrepancies])
    return record


def _zero_doubt(plan: Plan, events: Sequence[Event], pet_min: float) -> str | None:
    """Why the planned start cannot be PET zero, in words; None: nothing in the log speaks against it.

    The planned start stands for PET zero until a `clock` event says better. It is not believed when it is past and no
    work is reported, when work is reported before it, or when the first start of the log comes more than
    `LATE_START_MIN` after the brief has that task.

    Parameters
    ----------
    plan
        Gives the planned start.
    events
        Those that count, in order; no `clock` event is among them.
    pet_min
        Now, PET minutes from the planned start.

    Returns
    -------
    str or None
        A clause without a full stop.
    """
    first_work = next((e for e in events if e.is_work), None)
    if first_work is None:
        return "the sortie has not begun by the log" if pet_min > 0 else None
    if first_work.at < plan.sortie.start:
        return "work is logged before the planned start"
    first = next((e for e in events if isinstance(e, Start)), None)
    briefed = {task.id: task.start for task in plan.tasks}
    planned = None if first is None else briefed.get(first.task)
    if first is not None and planned is not None:
        late_min = minutes_between(plan.sortie.start, first.at) - planned
        if late_min > LATE_START_MIN:
            return f"the first start of the log, {first.task}, is {length(late_min)} after its brief"
    return None
