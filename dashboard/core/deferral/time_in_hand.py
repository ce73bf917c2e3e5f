"""Time in hand: which get-aheads fit by the same rules, and until when each can be started."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import replace

from dashboard.core.deferral.home import way_home
from dashboard.core.lifecycle import NOT_STARTED
from dashboard.core.record import Record


def get_aheads(record: Record, fits: Callable[[Record], bool], until_pet_min: float) -> dict[str, float]:
    """Get-aheads that fit, most valuable first, one upon the other: name -> latest PET it can be started, minutes.

    Parameters
    ----------
    record : Record
    fits : callable
        Whether a record still reaches the wanted confidence.
    until_pet_min : float
        No start later than this is looked at.
    """
    waiting = [
        run for run in record.runs.values()
        if run.task.get_ahead and run.state == NOT_STARTED and record.in_plan(run.task.id)
    ]
    fitting: dict[str, float] = {}
    taken: list[str] = []
    for run in sorted(waiting, key=lambda r: (r.task.priority, -r.task.value, r.task.id)):
        task_id = run.task.id
        if not fits(with_get_aheads(record, [*taken, task_id])):
            continue
        fitting[task_id] = _latest(record, taken, task_id, fits, until_pet_min)
        taken.append(task_id)
    return fitting


def _latest(
    record: Record, taken: list[str], task_id: str, fits: Callable[[Record], bool], until_pet_min: float
) -> float:
    """Latest start to the whole minute, between now (which fits) and the limit."""
    low, high = max(0.0, record.pet_min), until_pet_min
    while high - low > 1.0:
        middle = (low + high) / 2
        if fits(with_get_aheads(record, [*taken, task_id], {task_id: middle})):
            low = middle
        else:
            high = middle
    return float(int(low))


def with_get_aheads(record: Record, task_ids: Collection[str], not_before: Mapping[str, float] | None = None) -> Record:
    """The record with these get-aheads counted as ordinary work, ahead of the way home of their lanes.

    What can only be done after one of them is left out as before; each is worked in the order given.
    """
    runs = {task_id: replace(run) for task_id, run in record.runs.items()}
    for task_id in task_ids:
        task = runs[task_id].task
        held = max(not_before[task_id], task.not_before or 0.0) if not_before and task_id in not_before else task.not_before
        runs[task_id].task = task.model_copy(update={"get_ahead": False, "not_before": held})
    order = list(record.order)
    for task_id in task_ids:
        order.remove(task_id)
        order.insert(way_home(record, order, runs[task_id].lanes), task_id)
    return replace(record, runs=runs, order=order)
