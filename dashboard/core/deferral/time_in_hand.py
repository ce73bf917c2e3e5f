"""Time in hand: which get-aheads still fit, where in the lanes, and until when each can be started."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import NamedTuple

from dashboard.core.record.lifecycle import DONE, NOT_STARTED
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.network import remaining_tasks
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.way_home import way_home

Fits = Callable[[Record], bool]
# Get-ahead -> the task that it goes before; None: before the way home of its lanes.
Before = Mapping[str, str | None]


class GetAheadPlace(NamedTuple):
    """The earliest place of a get-ahead in its lanes.

    Parameters
    ----------
    after : str or None
        Task before it in its lanes; None: it would be the next.
    from_pet_min : float
        Start at that place, PET minutes.
    until_pet_min : float
        Latest start at which it still fits, PET minutes.
    """

    after: str | None
    from_pet_min: float
    until_pet_min: float


def get_aheads(record: Record, fits: Fits, limit_pet_min: float) -> dict[str, GetAheadPlace]:
    """Get-aheads that fit together, most valuable first.

    Each is tried at every place in the order of its lanes, from now to the way home, and takes the first that fits.

    Parameters
    ----------
    record : Record
    fits : callable
        Whether a record still reaches the wanted confidence.
    limit_pet_min : float
        Each is over by then, that of a lane without a crew member too.

    Returns
    -------
    dict of str to GetAheadPlace
        Get-ahead -> its place when all of them are done.
    """
    waiting = [
        run for run in record.runs.values()
        if run.task.get_ahead and run.state == NOT_STARTED and record.in_plan(run.task.id)
    ]
    taken: dict[str, str | None] = {}
    until: dict[str, float] = {}
    untried = sorted(waiting, key=lambda r: (r.task.priority, -r.task.value, r.task.id))
    while (run := next((r for r in untried if _can_follow(record, r, taken)), None)) is not None:
        untried.remove(run)
        found = _placed(record, taken, run, fits, limit_pet_min)
        if found is not None:
            taken[run.task.id], until[run.task.id] = found
    return _places_with_all(record, taken, until)


def _can_follow(record: Record, run: TaskRun, taken: Before) -> bool:
    """Whether every task that it comes `after` is done, will be done, or is a get-ahead that fits."""
    sure = set(remaining_tasks(_with_get_aheads(record, taken)))
    return run.kept or all(needed in sure or record.runs[needed].state == DONE for needed in run.task.after)


def _placed(
    record: Record, taken: Before, run: TaskRun, fits: Fits, limit_pet_min: float
) -> tuple[str | None, float] | None:
    """The first place that fits, and the latest start there or at the following places that also fit. None: no place fits."""
    task_id = run.task.id
    in_turn = set(project(_with_get_aheads(record, taken)).out_of_turn)

    def holds(before: str | None, not_before: float | None = None) -> bool:
        changed = _with_get_aheads(record, {**taken, task_id: before}, {} if not_before is None else {task_id: not_before})
        projection = project(changed)
        in_time = projection.slots[task_id].finish_pet_min <= limit_pet_min
        return in_time and set(projection.out_of_turn) <= in_turn and fits(changed)

    places = _places(record, taken, run)
    fitting = [next((i for i, before in enumerate(places) if holds(before)), len(places))]
    if fitting[0] == len(places):
        return None
    while fitting[-1] + 1 < len(places) and holds(places[fitting[-1] + 1]):
        fitting.append(fitting[-1] + 1)
    last = places[fitting[-1]]
    begins = project(_with_get_aheads(record, {**taken, task_id: last})).slots[task_id].start_pet_min
    low, beyond = int(begins), int(limit_pet_min) + 1
    while beyond - low > 1:
        middle = (low + beyond) // 2
        low, beyond = (middle, beyond) if holds(last, float(middle)) else (low, middle)
    return places[fitting[0]], max(float(low), begins)


def _places(record: Record, taken: Before, run: TaskRun) -> list[str | None]:
    """Tasks before which it could go, in order: those of its lanes that have not begun; None, for the way home, is last."""
    changed = _with_get_aheads(record, taken)
    home = way_home(changed, changed.order, run.lanes)
    remaining = set(remaining_tasks(changed))
    ahead = [
        t for t in changed.order[:home]
        if t in remaining and changed.runs[t].start_pet_min is None and set(run.lanes) & set(changed.runs[t].lanes)
    ]
    return [*ahead, None]


def _places_with_all(record: Record, taken: Before, until: Mapping[str, float]) -> dict[str, GetAheadPlace]:
    """The place of each get-ahead when all of them are in the plan."""
    changed = _with_get_aheads(record, taken)
    slots = project(changed).slots
    found = {}
    for task_id in taken:
        lanes = set(changed.runs[task_id].lanes)
        place = changed.order.index(task_id)
        ahead = [t for t in changed.order[:place] if t in slots and lanes & set(changed.runs[t].lanes)]
        begins = slots[task_id].start_pet_min
        found[task_id] = GetAheadPlace(ahead[-1] if ahead else None, begins, max(begins, until[task_id]))
    return found


def _with_get_aheads(record: Record, before: Before, not_before: Mapping[str, float] | None = None) -> Record:
    """The record with these get-aheads as ordinary work, each placed before the task that `before` names.

    Tasks that come `after` one of them stay out of the plan. Get-aheads at the same place keep the order of `before`.
    """
    runs = {task_id: replace(run) for task_id, run in record.runs.items()}
    for task_id in before:
        task = runs[task_id].task
        held = max(not_before[task_id], task.not_before or 0.0) if not_before and task_id in not_before else task.not_before
        runs[task_id].task = task.model_copy(update={"get_ahead": False, "not_before": held})
    order = list(record.order)
    for task_id, other in before.items():
        order.remove(task_id)
        place = way_home(record, order, runs[task_id].lanes) if other is None else order.index(other)
        order.insert(place, task_id)
    return replace(record, runs=runs, order=order)
