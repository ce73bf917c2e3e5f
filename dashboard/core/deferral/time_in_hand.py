"""Time in hand: which get-aheads fit by the same rules, and until when each can be started."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import replace

from dashboard.core.deferral.home import way_home
from dashboard.core.lifecycle import DONE, NOT_STARTED
from dashboard.core.projection import remaining_tasks
from dashboard.core.record import Record, TaskRun


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
    untried = sorted(waiting, key=lambda r: (r.task.priority, -r.task.value, r.task.id))
    while (run := next((r for r in untried if _can_follow(record, r, fitting)), None)) is not None:
        untried.remove(run)
        if fits(with_get_aheads(record, [*fitting, run.task.id])):
            fitting[run.task.id] = _latest(record, list(fitting), run.task.id, fits, until_pet_min)
    return fitting


def _can_follow(record: Record, run: TaskRun, fitting: Collection[str]) -> bool:
    """Whether all that it comes after is done, will be done, or is a get-ahead that fits."""
    with_them = with_get_aheads(record, fitting)
    sure = set(remaining_tasks(with_them))
    return run.kept or all(needed in sure or record.runs[needed].state == DONE for needed in run.task.after)


def _latest(
    record: Record, taken: list[str], task_id: str, fits: Callable[[Record], bool], until_pet_min: float
) -> float:
    """Latest start to the whole minute, rounded down, between now (which fits) and the limit."""
    low, beyond = int(max(0.0, record.pet_min)), int(until_pet_min) + 1
    while beyond - low > 1:
        middle = (low + beyond) // 2
        if fits(with_get_aheads(record, [*taken, task_id], {task_id: float(middle)})):
            low = middle
        else:
            beyond = middle
    return float(low)


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
