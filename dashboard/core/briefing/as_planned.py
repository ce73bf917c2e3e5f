"""The sortie run as planned up to a PET: the events that a log would hold if everything went at plan pace."""

from __future__ import annotations

from collections.abc import Iterable

from dashboard.core.base.times import plus_minutes
from dashboard.core.briefing.briefed import Briefed
from dashboard.core.events.done import Done
from dashboard.core.events.event import Event
from dashboard.core.events.start import Start
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record


def events_until(briefed: Briefed, pet_min: float) -> list[Event]:
    """Starts and finishes as projected at plan pace.

    Parameters
    ----------
    briefed
        The plan with its forecast.
    pet_min
        PET minutes; what is projected at this time has happened.

    Returns
    -------
    list of Event
        In no particular order.
    """
    zero = briefed.plan.sortie.start
    events: list[Event] = []
    for task_id, slot in briefed.projection.slots.items():
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
    events = [*events_until(briefed, pet_min), *more]
    return reconcile(briefed.plan, events, plus_minutes(briefed.plan.sortie.start, pet_min))
