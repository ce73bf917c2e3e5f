"""The sortie run as planned up to a PET: the events that a log would hold if everything went at plan pace."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from dashboard.core.base.times import plus_minutes
from dashboard.core.events.done import Done
from dashboard.core.events.event import Event
from dashboard.core.events.start import Start
from dashboard.core.outlook.briefed import Briefed
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.schedule.plan_pace import Projection, project


def events_until(plan: Plan, projection: Projection, pet_min: float) -> list[Event]:
    """Starts and finishes as projected at plan pace.

    Parameters
    ----------
    plan
        As briefed.
    projection
        Of the plan at PET zero.
    pet_min
        PET minutes; what is projected at this time has happened.

    Returns
    -------
    list of Event
        In no particular order.
    """
    zero = plan.sortie.start
    events: list[Event] = []
    for task_id, slot in projection.slots.items():
        if slot.start_pet_min <= pet_min:
            begun = plus_minutes(zero, slot.start_pet_min)
            events.append(Start(kind="start", id=f"start of {task_id}"[:200], at=begun, task=task_id))
        if slot.finish_pet_min <= pet_min:
            over = plus_minutes(zero, slot.finish_pet_min)
            events.append(Done(kind="done", id=f"end of {task_id}"[:200], at=over, task=task_id))
    return events


def record_at(briefed: Briefed, pet_min: float, more: Iterable[Event] = ()) -> Record:
    """The record at a PET of a sortie that went as planned.

    Parameters
    ----------
    briefed
        The plan with its forecast.
    pet_min
        PET minutes.
    more
        Events besides those of the plan.

    Returns
    -------
    Record
    """
    events = [*events_until(briefed.plan, briefed.projection, pet_min), *more]
    return reconcile(briefed.plan, events, plus_minutes(briefed.plan.sortie.start, pet_min))


def record_with_delay(briefed: Briefed, task_id: str, start_pet_min: float, seen_pet_min: float) -> Record:
    """The record of a sortie that goes as planned, but for one task that begins late.

    Parameters
    ----------
    briefed
        The plan with its forecast.
    task_id
        A task of the plan of record.
    start_pet_min
        PET minutes before which the task does not begin.
    seen_pet_min
        PET minutes of the record: the delay is seen then, and the task has not begun.

    Returns
    -------
    Record
    """
    delayed = _delayed(briefed.record, task_id, start_pet_min)
    events = events_until(briefed.plan, project(delayed), seen_pet_min)
    record = reconcile(briefed.plan, events, plus_minutes(briefed.plan.sortie.start, seen_pet_min))
    return _delayed(record, task_id, start_pet_min)


def _delayed(record: Record, task_id: str, start_pet_min: float) -> Record:
    """The record with a task that does not begin before a PET."""
    run = record.runs[task_id]
    task = run.task.model_copy(update={"not_before": max(start_pet_min, run.task.not_before or 0.0)})
    return replace(record, runs={**record.runs, task_id: replace(run, task=task)})
